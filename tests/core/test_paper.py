"""Paper sizes, weights and thicknesses against published tables."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.length import INCH, MM
from app.core.paper import (
    TRADITIONAL_SIZES,
    Piece,
    Sheet,
    caliper_from_bulk,
    check_sheet,
    grammage_from_pounds,
    iso_sizes,
    iso_tolerance,
    stack_thickness,
    ways_to_lie,
    weight_mg,
)


def mm(*sides: int) -> tuple[int, ...]:
    return tuple(side * MM for side in sides)


@pytest.mark.parametrize(
    ("name", "size"),
    [
        # ISO 216, A series.
        ("A0", (841, 1189)), ("A1", (594, 841)), ("A2", (420, 594)), ("A3", (297, 420)),
        ("A4", (210, 297)), ("A5", (148, 210)), ("A6", (105, 148)),
        # ISO 216, B series.
        ("B0", (1000, 1414)), ("B1", (707, 1000)), ("B2", (500, 707)), ("B3", (353, 500)),
        ("B4", (250, 353)), ("B5", (176, 250)),
        # ISO 217, tables of RA and SRA.
        ("RA0", (860, 1220)), ("RA1", (610, 860)), ("RA2", (430, 610)), ("RA3", (305, 430)),
        ("RA4", (215, 305)), ("SRA0", (900, 1280)), ("SRA1", (640, 900)), ("SRA2", (450, 640)),
        ("SRA3", (320, 450)), ("SRA4", (225, 320)),
    ],
)  # fmt: skip
def test_iso_216_and_217_sizes(name: str, size: tuple[int, int]) -> None:
    assert iso_sizes()[name] == mm(*size)


@pytest.mark.parametrize(
    ("side", "tolerance"),
    [(105, "1.5"), (150, "1.5"), (151, "2"), (600, "2"), (601, "3"), (1189, "3")],
)
def test_iso_216_tolerance_by_side(side: int, tolerance: str) -> None:
    # ISO 216: up to 150 mm ±1.5, over 150 to 600 ±2, over 600 ±3.
    assert iso_tolerance(side * MM) == int(Fraction(tolerance) * MM)


@pytest.mark.parametrize(
    ("width", "height", "factor"),
    [
        ("17", "22", "3.760"), ("20", "26", "2.704"), ("24", "36", "1.627"), ("25", "38", "1.480"),
        ("22.5", "28.5", "2.193"), ("25.5", "30.5", "1.808"),
    ],
)  # fmt: skip
def test_one_pound_to_the_ream_in_grams(width: str, height: str, factor: str) -> None:
    # Trade paper tables, conversion factors by basic size; exact 1406.14 ÷ area in square inches.
    exact = grammage_from_pounds(1, Fraction(width), Fraction(height))
    assert abs(exact - Fraction(factor)) <= Fraction(1, 2000)
    assert round(exact * Fraction(width) * Fraction(height), 2) == Fraction("1406.14")


@pytest.mark.parametrize(
    ("pounds", "basis", "grams"),
    [
        # Trade paper tables: 20 lb bond, 90 lb offset, 100 lb cover.
        (20, (17, 22), "75.2"), (90, (25, 38), "133.2"), (100, (20, 26), "270.4"),
        # Computed from the definition; sold as 300, 190 and 640 (labels: common practice, no
        # source).
        (140, (22, 30), "298.3"), (90, (22, 30), "191.7"), (300, (22, 30), "639.2"),
    ],
)  # fmt: skip
def test_pounds_become_grams(pounds: int, basis: tuple[int, int], grams: str) -> None:
    exact = grammage_from_pounds(pounds, *basis)
    assert abs(exact - Fraction(grams)) <= Fraction(1, 20)


@pytest.mark.parametrize(("bulk", "thickness"), [("1.0", "0.10"), ("1.5", "0.15")])
def test_caliper_from_bulk(bulk: str, thickness: str) -> None:
    # Definition of bulk, ISO 534: thickness ÷ grammage.
    assert caliper_from_bulk(Fraction(100), Fraction(bulk)) == Fraction(thickness) * MM


def test_thickness_of_840_pages() -> None:
    # A reference article on pages per inch: 840 pages of 86 µm leaves are 36.12 mm.
    assert stack_thickness(840 // 2, 86_000) == Fraction("36.12") * MM


@pytest.mark.parametrize(
    ("name", "size"),
    [("Imperial", ("22", "30")), ("Double elephant", ("26.5", "40")), ("Royal", ("19", "24"))],
)
def test_old_drawing_sizes(name: str, size: tuple[str, str]) -> None:
    # Encyclopædia Britannica, 11th edition (1911), vol. 20, p. 735.
    assert TRADITIONAL_SIZES[name] == tuple(int(Fraction(side) * INCH) for side in size)


def test_a_square_metre_weighs_its_grammage() -> None:
    assert weight_mg(1000 * MM, 1000 * MM, Fraction(80)) == 80_000


@given(st.sampled_from(["width", "height", None]), st.sampled_from(["width", "height", None]),
       st.booleans(), st.booleans())  # fmt: skip
def test_a_piece_lies_only_along_its_grain(
    sheet_grain: str | None, piece_grain: str | None, turn: bool, pattern: bool
) -> None:
    sheet = Sheet("s", 100, 200, sheet_grain, pattern)
    straight, turned = ways_to_lie(Piece("p", 10, 20, 1, piece_grain, turn), sheet)
    if turned:
        assert turn
        assert not pattern
    if sheet_grain and piece_grain:
        assert straight == (sheet_grain == piece_grain)
        assert not (straight and turned)
    else:
        assert straight


def test_a_sheet_that_trimming_takes_away_is_refused() -> None:
    with pytest.raises(DomainError, match="trim less"):
        check_sheet(Sheet("s", 100 * MM, 200 * MM, trim_nm=50 * MM))
    with pytest.raises(DomainError, match="above zero"):
        check_sheet(Sheet("s", 0, 200 * MM))
    with pytest.raises(DomainError, match="Grain"):
        check_sheet(Sheet("s", 1, 2, "across"))
