"""Labels measured in the PDF: each on its sheet's grid, and what stands on one within its edges."""

from __future__ import annotations

from io import BytesIO

import pdfplumber
import pytest

from app.core.errors import DomainError
from app.core.length import INCH, MM
from app.core.selling.labels import PAGES, SHEETS
from app.documents.labels import PAD_NM, Label, labels_pdf, wrapped
from app.documents.letters import PLAIN, letters
from app.documents.tally_sheet import TallyRow, tally_pdf

PT = INCH / 72
TENTH = MM / 10
ONE = Label("Heron field journal, Brown", "£44.00", ("Page 120 mm × 160 mm", "Saltmarsh Bindery"))
SHORT = Label("Reed", "£35", ())


def read(made: bytes) -> pdfplumber.PDF:
    return pdfplumber.open(BytesIO(made))


@pytest.mark.parametrize("name", SHEETS)
def test_every_label_lies_on_its_grid(name: str) -> None:
    """To 0.1 mm, by the rectangles that are drawn, in the sheet's own order."""
    sheet = SHEETS[name]
    start = sheet.labels // 2
    with read(labels_pdf(sheet, [SHORT] * sheet.labels, start, outlined=True)) as found:
        wide, high = PAGES[sheet.page]
        assert len(found.pages) == 2
        drawn = [(n, rect) for n, page in enumerate(found.pages) for rect in page.rects]
        for page in found.pages:
            assert page.width * PT == pytest.approx(wide, abs=TENTH / 10)
            assert page.height * PT == pytest.approx(high, abs=TENTH / 10)
    assert len(drawn) == sheet.labels
    places = sheet.places(sheet.labels, start)
    for (n, rect), (page, left, top) in zip(drawn, places, strict=True):
        assert n == page
        assert rect["x0"] * PT == pytest.approx(left, abs=TENTH)
        assert rect["top"] * PT == pytest.approx(top, abs=TENTH)
        assert (rect["x1"] - rect["x0"]) * PT == pytest.approx(sheet.width_nm, abs=TENTH)
        assert (rect["bottom"] - rect["top"]) * PT == pytest.approx(sheet.height_nm, abs=TENTH)


@pytest.mark.parametrize("name", [n for n in SHEETS if n != "A4, 65 labels"])
def test_what_stands_on_a_label_stays_within_it(name: str) -> None:
    sheet = SHEETS[name]
    with read(labels_pdf(sheet, [ONE] * 3)) as found:
        [page] = found.pages
        letters = page.chars
        assert not page.rects
    [*places] = sheet.places(3)
    text = "".join(c["text"] for c in letters).replace(" ", "")
    assert text.count("Heronfieldjournal,Brown") == text.count("£44.00") == 3
    for letter in letters:
        middle = (letter["x0"] + letter["x1"]) / 2 * PT, (letter["top"] + letter["bottom"]) / 2 * PT
        assert any(
            left + PAD_NM - TENTH <= middle[0] <= left + sheet.width_nm - PAD_NM + TENTH
            and top + PAD_NM / 2 <= middle[1] <= top + sheet.height_nm - PAD_NM / 2
            for _, left, top in places
        )


def test_a_tag_leaves_its_head_for_the_hole() -> None:
    sheet = SHEETS["A4, 8 swing tags"]
    with read(labels_pdf(sheet, [ONE], outlined=True)) as found:
        [page] = found.pages
        [hole] = page.curves
        first = min(c["top"] for c in page.chars)
    assert hole["bottom"] < first
    assert (hole["x0"] + hole["x1"]) / 2 * PT == pytest.approx(
        sheet.left_nm + sheet.width_nm / 2, abs=TENTH
    )


def test_more_than_there_is_room_for_is_said() -> None:
    long = Label("Heron", "£44.00", ("one word " * 60,))
    with pytest.raises(DomainError, match="Heron holds more than a label of “A4, 65 labels”"):
        labels_pdf(SHEETS["A4, 65 labels"], [long])


def test_letters_are_made_smaller_before_that() -> None:
    sheet = SHEETS["A4, 21 labels"]
    much = Label("Heron field journal, Brown", "£44.00", ("care " * 75,))
    with read(labels_pdf(sheet, [much])) as found:
        sizes = {round(c["size"], 2) for c in found.pages[0].chars}
    assert max(sizes) < 14
    assert min(sizes) > 4


def test_lines_break_between_words_and_within_long_ones() -> None:
    letters()
    assert wrapped("a b\nc", PLAIN, 8, 100) == ["a b", "c"]
    assert wrapped("one two", PLAIN, 8, 20) == ["one", "two"]
    assert "".join(wrapped("x" * 50, PLAIN, 8, 40)) == "x" * 50
    assert wrapped("W", PLAIN, 8, 1) == ["W"]


@pytest.mark.parametrize(("rows", "pages"), [(0, 1), (14, 1), (15, 2), (40, 3)])
def test_the_tally_sheet_has_every_journal(rows: int, pages: int) -> None:
    made = tally_pdf(
        "Quay fair, 1 March 2027", [TallyRow(f"Journal {n}", "£40", n) for n in range(rows)]
    )
    with read(made) as found:
        assert len(found.pages) == pages
        text = "\n".join(page.extract_text() for page in found.pages)
        feet = [("Cash counted" in (page.extract_text() or "")) for page in found.pages]
        for page in found.pages:
            assert all(c["x0"] >= 0 and c["x1"] <= page.width for c in page.chars)
    assert feet == [False] * (pages - 1) + [True]
    for n in range(rows):
        assert f"Journal {n}" in text


def test_a_long_word_without_blanks_takes_no_time() -> None:
    letters()
    found = wrapped("語" * 4000, PLAIN, 8, 100)
    assert "".join(found) == "語" * 4000
