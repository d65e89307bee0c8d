"""How many pieces a sheet gives, against published counts, brute force and its own invariants."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.unlimited import best_layout, normal_points
from app.core.cutting.one_sheet.yields import Line, best_of, lying_ways, stairs, yield_of
from app.core.errors import DomainError
from app.core.length import INCH, MM
from app.core.paper import Piece, Sheet
from tests.core.brute_force import check_layout, most_by_trying


def inch(text: str) -> int:
    return int(Fraction(text) * INCH)


def sheet_of(size: str, **more: object) -> Sheet:
    width, height = (inch(side) for side in size.split("x"))
    return Sheet(size, width, height, **more)  # type: ignore[arg-type]


def piece_of(size: str, grain: str | None = None, *, turn: bool = True) -> Piece:
    width, height = (inch(side) for side in size.split("x"))
    return Piece("piece", width, height, 1, grain, turn)


@pytest.mark.parametrize(
    ("sheet", "piece", "grid", "best"),
    [
        pytest.param("17x22", "8.5x11", 4, 4, id="B1 common practice"),
        pytest.param("23x35", "8.5x11", 8, 8, id="B2 print-cost guide"),
        # Grid and pinwheel computed; 5 by straight cuts published in a print-cost guide.
        pytest.param("23x35", "9x12", 4, 5, id="B3 print-cost guide"),
        pytest.param("8.5x11", "2.25x3.5", 9, 10, id="B4 computed by an independent exact method"),
        pytest.param("8.5x11", "2.5x3.5", 9, 10, id="B5 trading-card cutting guide"),
        pytest.param("12x12", "2.5x3.5", 12, 14, id="B6 trading-card cutting guide"),
        pytest.param("22x28", "2.5x3.5", 66, 70, id="B7 trading-card cutting guide"),
        # Birgin, Lobato and Morabito on packing identical rectangles: 54, 56 and 57 by area.
        pytest.param("49x28", "8x3", 54, 56, id="B8 Birgin, Lobato, Morabito"),
        pytest.param("39x37", "16x20", 2, 3, id="B9 computed (a pinwheel would give 4)"),
        pytest.param("133x95", "6.5x4.5", 420, 429, id="B10 computed"),
        pytest.param("52x38", "5x5", 70, 70, id="B11 computed"),
        pytest.param("25x38", "7x15", 6, 7, id="B12 computed"),
        pytest.param("22x30", "12x8", 4, 5, id="B13a computed"),
        pytest.param("22x30", "8x6", 10, 13, id="B13b computed"),
        pytest.param("22x30", "7x4.5", 18, 19, id="B13c computed"),
        pytest.param("22x30", "5.25x8.25", 12, 14, id="B13d computed"),
    ],
)
def test_published_yields(sheet: str, piece: str, grid: int, best: int) -> None:
    wanted = piece_of(piece)
    found = yield_of(wanted, sheet_of(sheet))
    assert (found.grid, found.best) == (grid, best)
    sides = (wanted.width_nm, wanted.height_nm)
    check_layout(found.layout, {sides, sides[::-1]})
    assert len(found.layout.pieces) == best


def test_published_waste_of_letter_pages_from_23_by_35() -> None:
    # Print-cost guide: about 7% of the sheet is wasted.
    used, whole = yield_of(piece_of("8.5x11"), sheet_of("23x35")).used_share
    assert round(100 * (1 - used / whole)) == 7


def test_published_bound_by_area() -> None:
    # Birgin, Lobato and Morabito: no more than 57 by area.
    assert yield_of(piece_of("8x3"), sheet_of("49x28")).by_area == 57


def test_each_grain_alone_on_25_by_38() -> None:
    # B12, computed: one grain gives 5, the other 6.
    piece = piece_of("7x15", "height")
    assert yield_of(piece, sheet_of("25x38", grain="height")).best == 6
    assert yield_of(piece, sheet_of("25x38", grain="width")).best == 5


def test_each_way_alone_on_a_letter_page() -> None:
    # B4, computed: 8 one way, 9 the other.
    sheet = sheet_of("8.5x11")
    assert yield_of(piece_of("2.25x3.5", turn=False), sheet).best == 9
    assert yield_of(piece_of("3.5x2.25", turn=False), sheet).best == 8


def test_eight_strips_of_two_and_a_sixteenth_fit_sixteen_and_a_half() -> None:
    strip = Piece("strip", 33 * INCH // 16, inch("10"), may_turn=False)
    assert yield_of(strip, Sheet("s", inch("16.5"), inch("10"))).best == 8


def test_a_nanometre_too_much_does_not_fit() -> None:
    strip = Piece("strip", 33 * INCH // 16 + 1, inch("10"), may_turn=False)
    assert yield_of(strip, Sheet("s", inch("16.5"), inch("10"))).best == 7


def test_grain_that_cannot_be_kept_gives_nothing() -> None:
    sheet = Sheet("s", 300, 100, "width")
    assert yield_of(Piece("p", 200, 90, 1, "height", may_turn=False), sheet).best == 0
    assert yield_of(Piece("p", 200, 90, 1, "height"), sheet).best == 0
    assert yield_of(Piece("p", 90, 200, 1, "height"), sheet).best == 1


def test_a_pattern_keeps_pieces_upright() -> None:
    plain, printed = Sheet("s", 100, 60), Sheet("s", 100, 60, pattern_up=True)
    piece = Piece("p", 50, 100)
    assert yield_of(piece, plain).best == 1
    assert yield_of(piece, printed).best == 0


sides = st.integers(1, 16)


@given(sides, sides, sides, sides, st.booleans(), st.integers(0, 2))
def test_equals_brute_force_on_small_sheets(
    width: int, height: int, a: int, b: int, turn: bool, kerf: int
) -> None:
    found = yield_of(Piece("p", a, b, may_turn=turn), Sheet("s", width, height), Cutter(kerf))
    sizes = frozenset({(a, b), (b, a)} if turn else {(a, b)})
    assert found.best == most_by_trying(width, height, sizes, kerf)
    check_layout(found.layout, set(sizes), kerf)


@given(
    st.integers(50, 1200), st.integers(50, 1200), st.integers(20, 400), st.integers(20, 400),
    st.sampled_from([None, "width", "height"]), st.sampled_from([None, "width", "height"]),
    st.integers(0, 15), st.integers(0, 3),
)  # fmt: skip
def test_never_below_the_grid_nor_above_the_area(
    width: int, height: int, a: int, b: int, grain: str | None, runs: str | None, trim: int,
    kerf: int,
) -> None:  # fmt: skip
    sheet = Sheet("s", width * MM, height * MM, grain, trim_nm=trim * MM)
    piece = Piece("p", a * MM, b * MM, 1, runs)
    found = yield_of(piece, sheet, Cutter(kerf * MM))
    assert found.grid <= found.best <= found.by_area
    assert len(found.layout.pieces) == found.best
    check_layout(found.layout, {(w.width_nm, w.height_nm) for w in lying_ways(piece, sheet)},
                 kerf * MM)  # fmt: skip


@settings(max_examples=30)
@given(
    st.integers(300, 900), st.integers(300, 900), st.integers(60, 250),
    st.sampled_from([None, "height"]), st.integers(0, 20), st.integers(0, 3),
)  # fmt: skip
def test_stairs_equal_a_scan(
    width: int, height: int, leaf: int, grain: str | None, square: int, kerf: int
) -> None:
    sheet = Sheet("s", width * MM, height * MM, grain)
    piece = Piece("p", 2 * leaf * MM, 100 * MM, 1, "height")
    across, along = Line(2, square * MM // 2), Line(0, (100 + square) * MM)
    cutter = Cutter(kerf * MM)
    low, high = leaf * MM, (leaf + 40) * MM
    steps = stairs(piece, across, along, sheet, (low, high), cutter)
    assert steps[-1].up_to_nm == high
    assert all(a.count > b.count for a, b in itertools.pairwise(steps))

    def count_at(x: int) -> int:
        return yield_of(Piece("p", across.at(x), along.at(x), 1, "height"), sheet, cutter).best

    for x in range(low, high + 1, MM):
        assert next(s.count for s in steps if x <= s.up_to_nm) == count_at(x)
    for step in steps[:-1]:
        assert count_at(step.up_to_nm) == step.count
        assert count_at(step.up_to_nm + 1) < step.count


def test_many_kinds_of_piece_share_a_sheet() -> None:
    from app.core.cutting.one_sheet.unlimited import Lying

    best = best_layout(10, 10, [Lying("a", 6, 10, 60), Lying("b", 4, 5, 20)])
    assert best.value == 100
    assert sorted(leaf.piece.name for leaf in best.tree.leaves() if leaf.piece) == ["a", "b", "b"]


def test_hopelessly_fine_problems_are_refused() -> None:
    with pytest.raises(DomainError, match="too many and too small"):
        normal_points(10**9, [7, 11])


@pytest.mark.parametrize(
    ("sheet", "piece", "turn", "cutter", "exact"),
    [
        # Seven fit and a grid has six: only a search can say so; it is not asked where it is quick.
        ((25, 38), (7, 15), True, Cutter(), False), ((25, 38), (7, 15), False, Cutter(), True),
        # A grid that fills the sheet by area is the best, whatever else there may be.
        ((28, 30), (7, 15), True, Cutter(), True), ((30, 30), (5, 5), True, Cutter(), True),
        ((25, 38), (7, 15), False, Cutter(stages=1), False), ((28, 30), (7, 15), True, Cutter(stages=2), True),
        ((3, 3), (7, 15), True, Cutter(), True),
    ],
)  # fmt: skip
def test_a_quick_look_says_whether_it_is_exact(
    sheet: tuple[int, int], piece: tuple[int, int], turn: bool, cutter: Cutter, exact: bool
) -> None:
    wanted, whole = Piece("p", *piece, may_turn=turn), Sheet("s", *sheet)
    quick, found = yield_of(wanted, whole, cutter, quick=True), yield_of(wanted, whole, cutter)
    assert (quick.exact, found.exact) == (exact, True)
    assert quick.best == quick.grid == found.grid <= found.best
    if exact:
        assert quick.best == found.best


def test_twenty_thousand_pieces_on_a_sheet_are_searched_and_no_more() -> None:
    # 20,000 by area is the most: 2 by 1 on 200 by 200.
    assert yield_of(Piece("p", 2, 1), Sheet("s", 200, 200), quick=True).by_area == 20_000
    with pytest.raises(DomainError, match="too many and too small"):
        yield_of(Piece("p", 2, 1), Sheet("s", 200, 201), quick=True)


def test_a_stair_at_the_very_first_and_last_length() -> None:
    # Four of ten on 40; at eleven three. Over lengths from ten to ten there is one step.
    sheet, flat = Sheet("s", 40, 10), Line(0, 10)
    piece = Piece("p", 10, 10, may_turn=False)
    assert [(s.up_to_nm, s.count) for s in stairs(piece, Line(1, 0), flat, sheet, (10, 10))] == [
        (10, 4)
    ]
    assert [(s.up_to_nm, s.count) for s in stairs(piece, Line(1, 0), flat, sheet, (9, 14))] == [
        (10, 4), (13, 3), (14, 2),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("sheet", "piece", "turn", "stages", "searched"),
    [
        # One way to lie is a grid, and a grid that fills the sheet is not bettered.
        ((25, 38), (7, 15), True, None, 1), ((25, 38), (7, 15), False, None, 0),
        ((28, 30), (7, 15), True, None, 0), ((25, 38), (7, 15), False, 2, 1),
        ((28, 30), (7, 15), False, 2, 0),
    ],
)  # fmt: skip
def test_a_search_is_made_only_where_it_can_find_more(
    monkeypatch: pytest.MonkeyPatch, sheet: tuple[int, int], piece: tuple[int, int], turn: bool,
    stages: int | None, searched: int,
) -> None:  # fmt: skip
    asked = []

    def told(*args: object) -> object:
        asked.append(args)
        return best_of(*args)  # type: ignore[arg-type]

    monkeypatch.setattr("app.core.cutting.one_sheet.yields.best_of", told)
    yield_of(Piece("p", *piece, may_turn=turn), Sheet("s", *sheet), Cutter(stages=stages))
    assert len(asked) == searched


@pytest.mark.parametrize(
    ("grain", "row", "length"),
    [
        # 260 along the roll: four a row, five rows, 1300 mm; 340 along it: five, four, 1360 mm.
        ("height", 4, 1300), ("width", 5, 1360),
    ],
)  # fmt: skip
def test_pieces_from_a_length_of_a_roll_with_its_direction_kept(
    grain: str, row: int, length: int
) -> None:
    """Eighteen pieces of 340 by 260 from a roll 1400 mm wide, worked out row by row."""
    piece = Piece("cover", 340 * MM, 260 * MM, 18, grain)
    roll = Sheet("roll", 1400 * MM, length * MM, "height")
    assert yield_of(piece, roll).best >= 18
    assert yield_of(piece, Sheet("short", 1400 * MM, length * MM - 1, "height")).best < 18
    one_row = Sheet("a row", 1400 * MM, (260 if grain == "height" else 340) * MM, "height")
    assert yield_of(piece, one_row).best == row
