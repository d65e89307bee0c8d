"""Papers redone by hand: weights, sizes, folios, the way a piece may lie."""

from __future__ import annotations

from fractions import Fraction

import pytest

from app.core.errors import DomainError
from app.core.length import (
    INCH,
    MM,
)
from app.core.paper import (
    BASIC_SIZES,
    Piece,
    Sheet,
    check_sheet,
    grammage_from_pounds,
    iso_tolerance,
    named_sizes,
    ways_to_lie,
    weight_mg,
)


@pytest.mark.parametrize(
    ("name", "pounds", "grams"),
    [
        # Trade paper tables: pounds × 3.760, 2.704, 1.627, 1.480, 2.193, 1.808 by basic size.
        ("bond", 20, "75.2"), ("cover", 100, "270.4"), ("tag", 100, "162.7"),
        ("text", 90, "133.2"), ("bristol", 100, "219.3"), ("index", 100, "180.8"),
        # Computed from 1406.14 ÷ (22 × 30) = 2.1305.
        ("watercolour", 140, "298.3"),
    ],
)  # fmt: skip
def test_every_basic_size_gives_the_weight_of_the_trade(name: str, pounds: int, grams: str) -> None:
    exact = grammage_from_pounds(pounds, *BASIC_SIZES[name])
    assert abs(exact - Fraction(grams)) <= Fraction(1, 20)
    assert len(BASIC_SIZES) == 7


def test_a_sheet_of_a4_weighs_five_grams() -> None:
    # Computed: 0.21 × 0.297 = 0.06237 m², at 80 g/m² 4.9896 g.
    assert weight_mg(210 * MM, 297 * MM, Fraction(80)) == Fraction("4989.6")


@pytest.mark.parametrize(
    ("name", "size"),
    [
        # Encyclopædia Britannica, 11th edition (1911), vol. 20, p. 735.
        ("Imperial", ("22", "30")), ("Double elephant", ("26.5", "40")), ("Royal", ("19", "24")),
        # Common practice, no source.
        ("Letter", ("8.5", "11")), ("Legal", ("8.5", "14")), ("Tabloid", ("11", "17")),
    ],
)  # fmt: skip
def test_sizes_in_inches_can_be_picked_by_name(name: str, size: tuple[str, str]) -> None:
    assert named_sizes()[name] == tuple(int(Fraction(side) * INCH) for side in size)
    # A0 to A6, B0 to B5, RA0 to RA4, SRA0 to SRA4 (ISO 216 and 217), and these six.
    assert len(named_sizes()) == 7 + 6 + 5 + 5 + 6


def test_a_side_just_over_150_and_600_may_stray_further() -> None:
    # ISO 216: up to 150 mm ±1.5, up to 600 ±2, over that ±3.
    assert [iso_tolerance(nm) for nm in (150 * MM, 150 * MM + 1, 600 * MM, 600 * MM + 1)] == [
        1_500_000, 2 * MM, 2 * MM, 3 * MM
    ]  # fmt: skip


def test_trimming_comes_off_all_four_edges() -> None:
    # 560 − 2 × 5 and 760 − 2 × 5.
    assert Sheet("s", 560, 760, trim_nm=5).usable == (550, 750)
    assert Sheet("s", 560, 760).usable == (560, 760)


def test_a_sheet_may_shrink_to_a_single_nanometre_and_no_further() -> None:
    for sheet in (Sheet("s", 1, 1), Sheet("s", 11, 15, trim_nm=5), Sheet("s", 15, 11, trim_nm=5),
                  Sheet("s", 9, 9, "width"), Sheet("s", 9, 9, "height")):  # fmt: skip
        check_sheet(sheet)
    for sheet in (Sheet("s", 0, 5), Sheet("s", 5, 0), Sheet("s", -1, 5), Sheet("s", 5, -1)):
        with pytest.raises(DomainError, match="above zero"):
            check_sheet(sheet)
    for sheet in (Sheet("s", 10, 15, trim_nm=5), Sheet("s", 15, 10, trim_nm=5),
                  Sheet("s", 9, 9, trim_nm=-1)):  # fmt: skip
        with pytest.raises(DomainError, match="trim less"):
            check_sheet(sheet)
    for grain in ("across", ""):
        with pytest.raises(DomainError, match="Grain"):
            check_sheet(Sheet("s", 9, 9, grain))


def test_a_piece_may_be_a_nanometre_wide_and_no_less() -> None:
    assert Piece("strip", 1, 5).count == 1
    assert Piece("strip", 5, 1).grain is None
    for size in ((0, 5), (5, 0), (-1, 5)):
        with pytest.raises(DomainError, match="no width or no height"):
            Piece("strip", *size)


def test_one_leaf_two_leaves_and_two_folios() -> None:
    leaf, folio = Piece("leaf", 1, 1), Piece("folio", 1, 1)
    assert [leaf.named(n) for n in (0, 1, 2)] == ["leaves", "leaf", "leaves"]
    assert [folio.named(n) for n in (0, 1, 2)] == ["folios", "folio", "folios"]


@pytest.mark.parametrize(
    ("sheet_grain", "piece_grain", "ways"),
    [
        ("width", "width", (True, False)), ("width", "height", (False, True)),
        ("height", "height", (True, False)), (None, "width", (True, True)),
        ("width", None, (True, True)), (None, None, (True, True)),
    ],
)  # fmt: skip
def test_a_piece_lies_straight_with_the_grain_and_turned_against_it(
    sheet_grain: str | None, piece_grain: str | None, ways: tuple[bool, bool]
) -> None:
    piece = Piece("p", 1, 2, 1, piece_grain)
    assert ways_to_lie(piece, Sheet("s", 9, 9, sheet_grain)) == ways
    # A print with a top, or a piece that must stand, is never turned.
    assert ways_to_lie(piece, Sheet("s", 9, 9, sheet_grain, pattern_up=True)) == (ways[0], False)
    upright = Piece("p", 1, 2, 1, piece_grain, may_turn=False)
    assert ways_to_lie(upright, Sheet("s", 9, 9, sheet_grain)) == (ways[0], False)
