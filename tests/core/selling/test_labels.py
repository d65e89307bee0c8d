"""Sheets of labels: margins and pitch as published, and where each label lies."""

from __future__ import annotations

from fractions import Fraction

import pytest

from app.core.errors import DomainError
from app.core.length import INCH, MM
from app.core.selling.labels import PAGES, SHEETS, LabelSheet


@pytest.mark.parametrize(
    ("name", "left", "top", "pitch"),
    [
        # a label layout page: 7.25 and 15.15, pitch 66.0 × 38.1 (it prints 7.2)
        ("A4, 21 labels", "7.25", "15.15", ("66.0", "38.1")),
        # sizes common practice, no source; margins computed
        ("A4, 14 labels", "4.65", "15.15", ("101.6", "38.1")),
        ("A4, 24 labels", "7.25", "12.9", ("66.0", "33.9")),
        ("A4, 65 labels", "4.75", "10.7", ("40.6", "21.2")),
    ],
)
def test_margins_of_a4_sheets(name: str, left: str, top: str, pitch: tuple[str, str]) -> None:
    sheet = SHEETS[name]
    assert sheet.left_nm == pytest.approx(float(left) * MM, abs=1)
    assert sheet.top_nm == pytest.approx(float(top) * MM, abs=1)
    assert sheet.pitch_nm == tuple(round(float(side) * MM) for side in pitch)


def test_p2_a_letter_sheet() -> None:
    """A template page: 3 × 10 of 2 5/8 × 1 in, gap 1/8: 3/16 and 1/2, pitch 2.75 and 1."""
    sheet = SHEETS["Letter, 30 labels"]
    assert (sheet.left_nm, sheet.top_nm) == (3 * INCH // 16, INCH // 2)
    assert sheet.pitch_nm == (11 * INCH // 4, INCH)


def test_p1_with_a_finer_gap() -> None:
    """The same page's gap of 2.54 mm: 7.21 and 66.04."""
    sheet = LabelSheet("finer", "A4", 3, 7, 63_500_000, 38_100_000, 2_540_000)
    assert sheet.left_nm / MM == pytest.approx(7.21)
    assert sheet.pitch_nm[0] / MM == pytest.approx(66.04)


@pytest.mark.parametrize("name", SHEETS)
def test_labels_lie_apart_on_their_page(name: str) -> None:
    sheet = SHEETS[name]
    places = list(sheet.places(sheet.labels))
    assert len(set(places)) == sheet.labels == sheet.across * sheet.down
    wide, high = PAGES[sheet.page]
    assert {page for page, _, _ in places} == {0}
    assert max(x for _, x, _ in places) + sheet.width_nm == wide - sheet.left_nm
    assert max(y for _, _, y in places) + sheet.height_nm == high - sheet.top_nm


def test_begins_at_any_label_and_goes_on() -> None:
    sheet = SHEETS["A4, 21 labels"]
    places = list(sheet.places(20, start=5))
    assert places[0] == (0, sheet.left_nm + sheet.pitch_nm[0], sheet.top_nm + sheet.pitch_nm[1])
    assert [page for page, _, _ in places] == [0] * 17 + [1] * 3
    assert places[17] == (1, sheet.left_nm, sheet.top_nm)
    for start in (0, 22):
        with pytest.raises(DomainError, match="labels 1 to 21"):
            list(sheet.places(1, start))


def test_what_does_not_fit_is_refused() -> None:
    with pytest.raises(DomainError, match="do not fit"):
        LabelSheet("too many", "A4", 4, 7, 63_500_000, 38_100_000)
    with pytest.raises(DomainError, match="do not fit"):
        LabelSheet("too high", "A4", 2, 9, 63_500_000, 38_100_000)


@pytest.mark.parametrize(
    ("name", "labels", "left", "top"),
    [
        ("A4, 21 labels", 21, "7.25", "15.15"), ("A4, 14 labels", 14, "4.65", "15.15"),
        ("A4, 24 labels", 24, "7.25", "12.9"), ("A4, 65 labels", 65, "4.75", "10.7"),
        ("A4, 8 swing tags", 8, "7.5", "53.5"), ("Letter, 30 labels", 30, "4.7625", "12.7"),
        ("Letter, 10 labels", 10, "3.96875", "12.7"),
        ("Letter, 8 swing tags", 8, "14.2875", "44.45"),
    ],
)  # fmt: skip
def test_margins_of_each_sheet_by_hand(name: str, labels: int, left: str, top: str) -> None:
    """What the labels and gaps leave of 210 × 297 mm or 8 1/2 × 11 in, halved, in millimetres."""
    sheet = SHEETS[name]
    assert sheet.labels == labels
    assert (Fraction(sheet.left_nm, MM), Fraction(sheet.top_nm, MM)) == (
        Fraction(left), Fraction(top),
    )  # fmt: skip
