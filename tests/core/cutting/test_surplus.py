"""No piece too many, and what is not cut stays in one large rest: by hand, and as a rule.

Sizes are in nanometres and small, so that every rest can be counted on squared paper.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.many_sheets.surplus import Sheets, _close_together, without_too_many
from app.core.cutting.one_sheet.grid import Grid
from app.core.cutting.one_sheet.limits import Kind, counts_of
from app.core.cutting.one_sheet.unlimited import Lying, best_layout
from app.core.cutting.tree import Layout, Part, Placed, is_whole

NAMES = {"a": 0, "b": 1, "c": 2}
Size = tuple[int, int]


def kinds_of(*sizes: Size, turn: bool = False) -> list[Kind]:
    """Kinds a, b, c of these sizes, worth their area."""
    found = []
    for name, (width, height) in zip(NAMES, sizes, strict=False):
        area = width * height
        ways = [Lying(name, width, height, area)]
        if turn and width != height:
            ways.append(Lying(name, height, width, area, turned=True))
        found.append(Kind(tuple(ways), area, 0))
    return found


def fewer(
    cut: Sequence[Sheets], wanted: Sequence[int], kinds: Sequence[Kind], cutter: Cutter = KNIFE,
    sheets: int = 1,
) -> list[Sheets]:  # fmt: skip
    areas = [float(kind.value) for kind in kinds]
    return without_too_many(cut, np.array(wanted), areas, [kinds] * sheets, NAMES, cutter)


def grid(
    sheet: Size, piece: Size, cutter: Cutter = KNIFE, repeats: int = 1, at: Size = (0, 0)
) -> Sheets:
    """Sheets full of one kind in rows and columns."""
    made = Grid.of(Lying("a", *piece, 1), *sheet, cutter)
    return Sheets(0, (made.count,), made.tree(at, *sheet), repeats)


def piece_of(kind: Kind, x: int, y: int) -> Part:
    way = kind.ways[0]
    placed = Placed(way.name, x, y, way.width_nm, way.height_nm, way.turned)
    return Part(x, y, way.width_nm, way.height_nm, piece=placed)


def rests(tree: Part) -> list[Size]:
    """What is left over, the largest first."""
    found = [(part.width_nm, part.height_nm) for part in tree.leaves() if not part.piece]
    return sorted(found, key=lambda size: -size[0] * size[1])


def largest(tree: Part) -> int:
    return max((width * height for width, height in rests(tree)), default=0)


def places(tree: Part) -> list[tuple[int, int, int, int]]:
    return sorted(
        (p.x_nm, p.y_nm, p.width_nm, p.height_nm) for part in tree.leaves() if (p := part.piece)
    )


@pytest.mark.parametrize(
    ("sheet", "piece", "kerf", "wanted", "rest"),
    [
        # Four fives on ten by ten. Two in a row leave 10 × 5, three one place, one 10 × 5 and a place.
        ((10, 10), (5, 5), 0, 2, 50), ((10, 10), (5, 5), 0, 3, 25), ((10, 10), (5, 5), 0, 1, 50),
        # Six fives on fifteen by ten. Two in a column leave 10 × 10 and not the 15 × 5 of two in a row;
        # three in a row leave 15 × 5; four in two columns 5 × 10.
        ((15, 10), (5, 5), 0, 1, 100), ((15, 10), (5, 5), 0, 2, 100), ((15, 10), (5, 5), 0, 3, 75),
        ((15, 10), (5, 5), 0, 4, 50), ((15, 10), (5, 5), 0, 5, 25),
        ((10, 15), (5, 5), 0, 2, 100), ((10, 15), (5, 5), 0, 3, 75), ((10, 15), (5, 5), 0, 4, 50),
        # A blade of one: two fives and it are eleven. Two leave 11 × (11 − 5 − 1).
        ((11, 11), (5, 5), 1, 2, 55), ((11, 11), (5, 5), 1, 3, 25),
        # Seventeen by eleven holds six; two in a column leave (17 − 5 − 1) × 11.
        ((17, 11), (5, 5), 1, 2, 121), ((17, 11), (5, 5), 1, 3, 85),
        # Seven by three holds 3 × 1 of two by three, 1 × 3 left; one less 3 × 3, two less 5 × 3.
        ((7, 3), (2, 3), 0, 2, 9), ((7, 3), (2, 3), 0, 1, 15),
        # Three of 1 × 3 below one another leave 1 × 11 of two by eleven; in rows of two 2 × 5.
        ((2, 11), (1, 3), 0, 3, 11),
    ],
)  # fmt: skip
def test_the_rest_of_a_sheet_is_as_large_as_on_squared_paper(
    sheet: Size, piece: Size, kerf: int, wanted: int, rest: int
) -> None:
    cutter = Cutter(kerf_nm=kerf)
    [row] = fewer([grid(sheet, piece, cutter)], [wanted], kinds_of(piece), cutter)
    assert (row.sheet, row.counts, row.repeats) == (0, (wanted,), 1)
    assert len(places(row.tree)) == wanted
    assert is_whole(Layout(*sheet, 0, row.tree), kerf)
    assert largest(row.tree) == rest


def test_pieces_that_may_turn_are_laid_the_way_that_leaves_most() -> None:
    # Twelve of 2 × 4 stand on 9 × 14. Ten lie in two columns of five, 8 × 10, and leave 9 × 4.
    # Whichever way they are said to lie first.
    for said in ((2, 4), (4, 2)):
        [row] = fewer([grid((9, 14), (2, 4))], [10], kinds_of(said, turn=True))
        assert largest(row.tree) == 36
        assert {(w, h) for _, _, w, h in places(row.tree)} == {(4, 2)}


def test_two_in_a_column_take_two_cuts_and_leave_one_rest() -> None:
    # The column off, its two parted: one rest of 10 × 10 and no other.
    [row] = fewer([grid((15, 10), (5, 5))], [2], kinds_of((5, 5)))
    assert rests(row.tree) == [(10, 10)]
    assert places(row.tree) == [(0, 0, 5, 5), (0, 5, 5, 5)]
    assert row.tree.cuts() == 2


def test_what_is_trimmed_off_stays_off() -> None:
    # Sixteen less three at each edge are ten by ten, from 3 on.
    [row] = fewer([grid((10, 10), (5, 5), at=(3, 3))], [2], kinds_of((5, 5)))
    assert is_whole(Layout(16, 16, 3, row.tree), 0)
    assert largest(row.tree) == 50
    assert all(x >= 3 and x + w <= 13 and y >= 3 and y + h <= 13 for x, y, w, h in places(row.tree))


def test_a_cutter_that_may_not_turn_at_will_leaves_the_surplus_where_it_lies() -> None:
    # The first row keeps two of its three: 5 × 5 beside them and the second row's 15 × 5.
    few_turns, short = Cutter(stages=1), Cutter(longest_nm=14)
    for cutter in (few_turns, short):
        [row] = fewer([grid((15, 10), (5, 5))], [2], kinds_of((5, 5)), cutter)
        assert rests(row.tree) == [(15, 5), (5, 5)]
        assert places(row.tree) == [(0, 0, 5, 5), (5, 0, 5, 5)]
    # One that reaches just fifteen cuts as a knife does.
    [row] = fewer([grid((15, 10), (5, 5))], [2], kinds_of((5, 5)), Cutter(longest_nm=15))
    assert rests(row.tree) == [(10, 10)]


@pytest.mark.parametrize(("count", "rest"), [(400, 2 * 400), (401, 3 * (401 - 134))])
def test_up_to_400_pieces_are_laid_anew(count: int, rest: int) -> None:
    # Ones on three by as many as are wanted: one column of three leaves two. In rows of three they take
    # 134 rows and leave 3 × 266 or 3 × 267, which is what stays where it is not cut anew.
    [row] = fewer([grid((3, count), (1, 1))], [count], kinds_of((1, 1)))
    assert largest(row.tree) == rest
    assert row.counts == (count,)


@pytest.mark.parametrize(
    ("repeats", "wanted", "left"),
    [
        # Four a sheet: what is over comes off the last sheet alone, and off the next one when that is
        # empty.
        (3, 12, [(4, 3)]), (3, 11, [(4, 2), (3, 1)]), (3, 9, [(4, 2), (1, 1)]), (3, 8, [(4, 2)]),
        (3, 7, [(4, 1), (3, 1)]), (2, 4, [(4, 1)]), (2, 3, [(3, 1)]), (1, 3, [(3, 1)]),
        (3, 1, [(1, 1)]), (1, 0, []), (2, 0, []), (2, 5, [(4, 1), (1, 1)]),
    ],
)  # fmt: skip
def test_sheets_cut_alike_lose_what_is_over_one_by_one(
    repeats: int, wanted: int, left: list[tuple[int, int]]
) -> None:
    row = grid((10, 10), (5, 5), repeats=repeats)
    found = fewer([row], [wanted], kinds_of((5, 5)))
    assert [(one.counts[0], one.repeats) for one in found] == left
    for one in found:
        assert counts_of(one.tree, NAMES, 1).tolist() == list(one.counts)
        assert is_whole(Layout(10, 10, 0, one.tree), 0)
    if left and left[0][0] == 4:
        assert found[0].tree == row.tree


def test_nothing_over_changes_nothing() -> None:
    rows = [grid((10, 10), (5, 5)), grid((15, 10), (5, 5), repeats=2)]
    assert fewer(rows, [16], kinds_of((5, 5))) == rows


def test_the_sheet_with_most_of_the_surplus_is_cut_anew() -> None:
    # a is 1 × 1, b 10 × 10. One sheet gives two a, the other one a and one b; one a is wanted. On the
    # second lies a surplus of 101, on the first of 2: the second is not cut at all, the first keeps one.
    kinds = kinds_of((1, 1), (10, 10))
    ones = Part(0, 0, 2, 1, "down", (piece_of(kinds[0], 0, 0), piece_of(kinds[0], 1, 0)))
    mixed = Part(0, 0, 11, 10, "down", (
        piece_of(kinds[1], 0, 0),
        Part(10, 0, 1, 10, "across", (piece_of(kinds[0], 10, 0), Part(10, 1, 1, 9))),
    ))  # fmt: skip
    rows = [Sheets(0, (2, 0), ones, 1), Sheets(1, (1, 1), mixed, 1)]
    found = fewer(rows, [1, 0], kinds, sheets=2)
    assert [(row.sheet, row.counts) for row in found] == [(0, (1, 0))]
    assert rests(found[0].tree) == [(1, 1)]


def test_the_sheets_beside_the_one_that_is_cut_anew_stay_as_they_are() -> None:
    # Four, six and one; of a surplus of five the sheet with six loses five, and the others nothing.
    rows = [grid((10, 10), (5, 5)), grid((15, 10), (5, 5)), grid((5, 9), (5, 5))]
    found = fewer(rows, [6], kinds_of((5, 5)))
    assert [row.counts for row in found] == [(4,), (1,), (1,)]
    assert (found[0], found[1]) == (rows[0], rows[2])
    assert rests(found[2].tree)[0] == (10, 10)


def in_columns(sheet: Size, kinds: Sequence[Kind], columns: Sequence[str]) -> Sheets:
    """A sheet cut into columns, and each of them into the pieces named, from the top."""
    x, parts = 0, []
    for names in columns:
        y, inner = 0, []
        for name in names:
            inner.append(piece_of(kinds[NAMES[name]], x, y))
            y += inner[-1].height_nm
        width = inner[0].width_nm
        inner.append(Part(x, y, width, sheet[1] - y))
        parts.append(Part(x, 0, width, sheet[1], "across", tuple(inner)))
        x += width
    parts.append(Part(x, 0, sheet[0] - x, sheet[1]))
    counts = tuple("".join(columns).count(name) for name in list(NAMES)[: len(kinds)])
    return Sheets(0, counts, Part(0, 0, *sheet, "down", tuple(parts)), 1)


@pytest.mark.parametrize(
    ("sheet", "pieces", "columns", "wanted", "rest"),
    [
        # 2 × 1 over 1 × 6 are a column two wide and leave 11 × 15; beside one another three wide.
        ((13, 15), [(2, 1), (1, 6)], ["a", "a", "b", "b"], [1, 1], 11 * 15),
        # Two of 6465 × 8602 above one another are 17204 of 19610 high and leave 2406: three of
        # 3913 × 815 below one another would be 2445. Two of those beside one another are 7826 wide, and
        # 37382 − 7826 = 29556 are left.
        ((37_382, 19_610), [(6_465, 8_602), (3_913, 815)], ["a", "a", "a", "b", "b", "b", "b"],
         [2, 3], 29_556 * 19_610),
        # Rows of three 6 × 9 and of two 8 × 3 are 12 high: 23 × 13 could be left. At least 23 × 10.
        ((23, 25), [(8, 3), (6, 9)], ["bb", "bb", "aaa"], [2, 3], 23 * 10),
        # Six of 9 × 7 in two columns are 18 × 21, with 1 × 9 beside them: 22 × 17 could be left. At
        # least 22 × 15.
        ((22, 38), [(1, 9), (9, 7)], ["bbbb", "bbb", "aa"], [1, 6], 22 * 15),
    ],
)  # fmt: skip
def test_two_kinds_are_laid_close_together_along_one_edge(
    sheet: Size, pieces: list[Size], columns: list[str], wanted: list[int], rest: int
) -> None:
    kinds = kinds_of(*pieces)
    full = in_columns(sheet, kinds, columns)
    assert is_whole(Layout(*sheet, 0, full.tree), 0)
    [row] = fewer([full], wanted, kinds)
    assert counts_of(row.tree, NAMES, 2).tolist() == list(row.counts) == wanted
    assert is_whole(Layout(*sheet, 0, row.tree), 0)
    assert largest(row.tree) >= rest


sides = st.integers(5, 40)


@given(st.tuples(sides, sides), st.tuples(st.integers(1, 15), st.integers(1, 15)),
       st.integers(0, 3), st.data())  # fmt: skip
def test_upright_pieces_leave_no_less_than_a_plain_grid_of_them(
    sheet: Size, piece: Size, kerf: int, data: st.DataObject
) -> None:
    cutter = Cutter(kerf_nm=kerf)
    # n pieces and a blade between each fit where n × (piece + blade) ≤ sheet + blade.
    columns, rows = ((sheet[i] + kerf) // (piece[i] + kerf) for i in (0, 1))
    assume(1 < columns * rows <= 60)
    wanted = data.draw(st.integers(1, columns * rows - 1))
    [row] = fewer([grid(sheet, piece, cutter)], [wanted], kinds_of(piece), cutter)
    assert is_whole(Layout(*sheet, 0, row.tree), kerf)
    assert {place[2:] for place in places(row.tree)} == {piece}
    assert len(places(row.tree)) == wanted
    in_rows, in_columns = -(-wanted // columns), -(-wanted // rows)
    below = sheet[0] * max(sheet[1] - in_rows * (piece[1] + kerf), 0)
    beside = max(sheet[0] - in_columns * (piece[0] + kerf), 0) * sheet[1]
    assert largest(row.tree) >= max(below, beside)


@given(
    st.tuples(sides, sides), st.lists(st.tuples(st.integers(2, 12), st.integers(2, 12)), min_size=1,
    max_size=3), st.integers(0, 2), st.integers(0, 3), st.integers(1, 3), st.data(),
)  # fmt: skip
def test_kinds_mixed_and_turned_are_cut_exactly_as_wanted(
    sheet: Size, pieces: list[Size], kerf: int, trim: int, repeats: int, data: st.DataObject
) -> None:
    cutter, kinds = Cutter(kerf_nm=kerf), kinds_of(*pieces, turn=True)
    tree = best_layout(
        *sheet, [way for kind in kinds for way in kind.ways], cutter, (trim, trim)
    ).tree
    counts = tuple(int(n) for n in counts_of(tree, NAMES, len(kinds)))
    assume(0 < sum(counts) <= 60)
    wanted = [data.draw(st.integers(0, n * repeats)) for n in counts]
    found = fewer([Sheets(0, counts, tree, repeats)], wanted, kinds, cutter)
    cut = sum(
        (row.repeats * np.array(row.counts) for row in found), np.zeros(len(kinds), dtype=int)
    )
    assert cut.tolist() == wanted
    for row in found:
        assert counts_of(row.tree, NAMES, len(kinds)).tolist() == list(row.counts)
        assert is_whole(Layout(sheet[0] + 2 * trim, sheet[1] + 2 * trim, trim, row.tree), kerf)
        assert row.repeats >= 1
        # Leaving pieces out never makes the rest smaller.
        assert largest(row.tree) >= largest(tree)


def test_pieces_that_may_turn_are_also_tried_all_as_they_are_said_to_lie() -> None:
    # Seven by seven on nine by nine, and two of 2 × 4 standing beside it: 7 × 2 is left below. Where
    # each may turn by itself, the second lies below, and no more than ten is left in one piece.
    whole, kinds = Part(0, 0, 9, 9), kinds_of((2, 4), (7, 7), turn=True)
    found = [largest(tree) for tree in _close_together(whole, [2, 1], kinds, 0)]
    assert max(found) == 14
