"""Pictures of finished journals: large and small, kept while anything shows them."""

from __future__ import annotations

from contextlib import suppress
from datetime import timedelta
from io import BytesIO
from pathlib import Path

import pdfplumber
import pytest
from PIL import Image
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.models import Variant
from app.services.designs.pictures import (
    MOST_PICTURES,
    add_picture,
    first_pictures,
    pictures_of,
    remove_picture,
    stand_first,
)
from app.services.orders import documents
from app.services.orders.photos import add_photo, remove_photo
from app.services.shop.letterhead import letterhead, save_letterhead
from tests.conftest import DAY
from tests.factories import Bench
from tests.services.orders.test_photos import picture


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "photos"


def made(bench: Bench, name: str) -> Variant:
    return bench.begin(name).current.variants[0]


def files(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_a_picture_is_kept_large_and_small_and_says_nothing_of_its_place(
    session: Session, folder: Path
) -> None:
    variant = made(Bench(session), "Dune")
    kept = add_picture(session, folder, variant, picture(size=(4000, 2000)), " from above ")
    assert (kept.says, kept.width, kept.height) == ("from above", 1600, 800)
    assert files(folder) == {kept.file, kept.small}
    with Image.open(folder / kept.small) as small:
        assert small.size == (320, 160)
        assert dict(small.getexif()) == {}
    assert b"Camera" not in (folder / kept.small).read_bytes()
    assert (folder / kept.small).stat().st_mode & 0o077 == 0


def test_the_first_stands_for_a_journal_and_another_can_take_its_place(
    session: Session, folder: Path
) -> None:
    bench = Bench(session)
    one, bare = made(bench, "Dune"), made(bench, "Reed")
    navy = add_picture(session, folder, one, picture("navy"), "navy").file
    teal = add_picture(session, folder, one, picture("teal"), "teal")
    assert first_pictures(session, [one, bare])[one.id].file == navy
    assert bare.id not in first_pictures(session, [one, bare])
    stand_first(session, teal)
    assert [p.says for p in pictures_of(session, one)] == ["teal", "navy"]
    assert first_pictures(session, [one])[one.id].file != navy


def test_a_journal_has_room_for_so_many(session: Session, folder: Path) -> None:
    variant = made(Bench(session), "Dune")
    for n in range(MOST_PICTURES):
        add_picture(session, folder, variant, picture(size=(20 + n, 20)), "")
    with pytest.raises(DomainError, match="room for 6 pictures"):
        add_picture(session, folder, variant, picture("teal"), "")
    remove_picture(session, folder, pictures_of(session, variant)[0])
    with pytest.raises(DomainError, match="no JPEG"):
        add_picture(session, folder, variant, b"<svg/>", "")


def test_its_file_goes_once_no_order_and_no_journal_shows_it(
    session: Session, folder: Path
) -> None:
    bench = Bench(session)
    variant, order = made(bench, "Dune"), bench.order()
    kept = add_picture(session, folder, variant, picture(), "")
    photo = add_photo(session, folder, order, picture(), "")
    assert photo.file == kept.file
    small = kept.small
    remove_picture(session, folder, kept)
    # Until that is kept, everything still has its picture.
    assert files(folder) == {photo.file, small}
    session.commit()
    assert files(folder) == {photo.file}
    remove_photo(session, folder, photo)
    session.commit()
    assert files(folder) == set()


def images(pdf: bytes) -> int:
    with pdfplumber.open(BytesIO(pdf)) as found:
        return sum(len(page.images) for page in found.pages)


def test_a_quote_shows_the_picture_it_was_written_with(session: Session, folder: Path) -> None:
    order = Bench(session).order()
    variant = order.lines[0].variant
    until = DAY + timedelta(days=30)
    without = documents.write_quote(session, order, DAY, until)
    kept = add_picture(session, folder, variant, picture(), "")
    quote = documents.write_quote(session, order, DAY, until)
    assert images(documents.document_pdf(session, without, folder)) == 0
    assert images(documents.document_pdf(session, quote, folder)) == 1
    was = documents.document_pdf(session, quote, folder)
    # Taken off the journal, it still stands on the quote.
    remove_picture(session, folder, kept)
    session.commit()
    assert documents.document_pdf(session, quote, folder) == was
    # A picture whose file is damaged or lost leaves the paper without it.
    for file in folder.iterdir():
        file.write_bytes(was[:40])
    assert images(documents.document_pdf(session, quote, folder)) == 0
    for file in folder.iterdir():
        file.unlink()
    assert images(documents.document_pdf(session, quote, folder)) == 0


def test_a_shop_may_quote_without_pictures(session: Session, folder: Path) -> None:
    order = Bench(session).order()
    add_picture(session, folder, order.lines[0].variant, picture(), "")
    save_letterhead(session, {"quote_pictures": False}, letterhead(session).version or 0)
    quote = documents.write_quote(session, order, DAY, DAY)
    assert images(documents.document_pdf(session, quote, folder)) == 0


@pytest.mark.parametrize("at", range(0, 120, 7))
def test_a_picture_whose_own_words_are_damaged_is_refused_or_kept(
    session: Session, folder: Path, at: int
) -> None:
    raw = bytearray(picture())
    begins = raw.index(b"Exif")
    raw[begins + at : begins + at + 4] = b"\xff\x00\xfe\xff"
    with suppress(DomainError):
        add_picture(session, folder, made(Bench(session), f"Dune {at}"), bytes(raw), "")
