"""Pictures of orders: kept small, upright and without where they were taken; gone when asked."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.services.orders.orders import move_order
from app.services.orders.personal_data import erase
from app.services.orders.photos import add_photo, photos_of, remove_photo
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "photos"


def picture(colour: str = "navy", size: tuple[int, int] = (400, 300), turned: int = 1) -> bytes:
    """A JPEG that says where it was taken, by whom and with what."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = turned, "Camera of Ines"
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 1.0, 2.0), 3: "E", 4: (1.0, 2.0, 3.0)})
    out = BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG", exif=exif, comment=b"at the quay")
    return out.getvalue()


def test_only_the_picture_itself_is_kept(session: Session, folder: Path) -> None:
    order = Bench(session).order()
    raw = picture(size=(4000, 2000), turned=6)
    assert b"Camera of Ines" in raw
    assert Image.open(BytesIO(raw)).getexif().get_ifd(0x8825)
    photo = add_photo(session, folder, order, raw, " the old one ")
    file = folder / photo.file
    kept = file.read_bytes()
    assert b"Camera" not in kept
    assert b"quay" not in kept
    with Image.open(file) as found:
        assert dict(found.getexif()) == {}
        # Turned upright and no larger than it is of use for.
        assert found.size == (photo.width, photo.height) == (800, 1600)
    assert (photo.says, file.stat().st_mode & 0o077) == ("the old one", 0)
    assert [path.name for path in (folder).iterdir()] == [photo.file]


def test_one_file_for_the_same_picture_until_the_last_order_lets_it_go(
    session: Session, folder: Path
) -> None:
    bench = Bench(session)
    one, two = bench.order(), bench.order()
    first, second = (add_photo(session, folder, order, picture(), "") for order in (one, two))
    assert first.file == second.file
    remove_photo(session, folder, first)
    session.commit()
    assert (folder / second.file).exists()
    assert (photos_of(session, one), photos_of(session, two)) == ([], [second])
    remove_photo(session, folder, second)
    session.commit()
    assert list(folder.iterdir()) == []


def test_a_picture_stays_where_its_going_is_undone(session: Session, folder: Path) -> None:
    order = Bench(session).order()
    photo = add_photo(session, folder, order, picture(), "")
    session.commit()
    remove_photo(session, folder, photo)
    session.rollback()
    session.commit()
    assert [kept.file for kept in photos_of(session, order)] == [f.name for f in folder.iterdir()]


@pytest.mark.parametrize(
    "data", [b"", b"<svg/>", b"%PDF-1.4", picture()[:300], b"\x89PNG\r\n\x1a\n" + b"x" * 40]
)
def test_what_is_no_picture_is_refused(session: Session, folder: Path, data: bytes) -> None:
    with pytest.raises(DomainError, match="This is no JPEG"):
        add_photo(session, folder, Bench(session).order(), data, "")


def test_too_large_and_too_many_are_refused(session: Session, folder: Path) -> None:
    order = Bench(session).order()
    huge = BytesIO()
    Image.new("1", (9000, 9000)).save(huge, "PNG")
    with pytest.raises(DomainError, match="too many pixels"):
        add_photo(session, folder, order, huge.getvalue(), "")
    for number in range(8):
        add_photo(session, folder, order, picture(size=(10 + number, 10)), "")
    with pytest.raises(DomainError, match="room for 8 pictures"):
        add_photo(session, folder, order, picture(), "")


def test_they_go_when_what_is_personal_goes(session: Session, folder: Path) -> None:
    order = Bench(session).order(1)
    add_photo(session, folder, order, picture(), "Ines on the quay")
    move_order(session, order, "declined", DAY, None)
    assert order.paid == Decimal(0)
    erase(session, order.customer, datetime(2027, 3, 2, tzinfo=UTC), photos=folder)
    session.commit()
    assert photos_of(session, order) == []
    assert list(folder.iterdir()) == []


def test_what_is_see_through_is_white(session: Session, folder: Path) -> None:
    out = BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    photo = add_photo(session, folder, Bench(session).order(), out.getvalue(), "")
    with Image.open(folder / photo.file) as found:
        assert found.getpixel((5, 5)) == (255, 255, 255)


def test_nothing_new_is_kept_of_whoever_was_taken_out(session: Session, folder: Path) -> None:
    order = Bench(session).order(1)
    move_order(session, order, "declined", DAY, None)
    erase(session, order.customer, datetime(2027, 3, 2, tzinfo=UTC), photos=folder)
    with pytest.raises(DomainError, match="taken out on request"):
        add_photo(session, folder, order, picture(), "Ines")
