"""What brings layouts to the planner, what each is charged for it, and worths in whole numbers."""

from __future__ import annotations

from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.effort import Work
from app.core.cutting.many_sheets import columns
from app.core.cutting.many_sheets.columns import (
    BlockPricers,
    CountedPricers,
    PlainPricers,
    Pool,
    SheetPricers,
    renamed,
    whole,
)
from app.core.cutting.model import Break, SheetOffer, Wanted, supplies
from app.core.cutting.one_sheet.limits import Start
from app.core.cutting.tree import Part, Placed
from app.core.length import MM
from app.core.paper import Piece, Sheet

Kinds = list[tuple[int, int, int]]


def pool_for(
    kinds: Kinds, sides: tuple[int, ...] = (100,), trim: int = 0, cutter: Cutter = KNIFE,
    most: int = 10**9,
) -> Pool:  # fmt: skip
    wanted = [
        Wanted(f"p{i}", Piece(f"p{i}", w * MM, h * MM, may_turn=False), n)
        for i, (w, h, n) in enumerate(kinds)
    ]
    offers = [
        SheetOffer(f"s{n}", Sheet(f"s{n}", side * MM, side * MM, trim_nm=trim * MM), 1,
                   (Break(1, 7),), value=Fraction(7))
        for n, side in enumerate(sides)
    ]  # fmt: skip
    return Pool(wanted, supplies(offers), cutter, Work(most))


@pytest.mark.parametrize(
    ("worth", "values", "unit"),
    [
        ([1.0, 0.5, 0.0], [columns.WORTH, columns.WORTH // 2, 0], 1 / columns.WORTH),
        ([4.0, -1.0], [columns.WORTH, 0], 4 / columns.WORTH),
        ([0.0, 0.0], [0, 0], 1e-12 / columns.WORTH),
    ],
)
def test_worths_in_whole_numbers(worth: list[float], values: list[int], unit: float) -> None:
    assert whole(np.array(worth)) == (values, pytest.approx(unit))


def test_worths_are_rounded_up_so_that_a_bound_stays_one() -> None:
    worth = np.array([1.0, 1 / 3, 1e-9])
    values, unit = whole(worth)
    assert all(value * unit >= d for value, d in zip(values, worth, strict=True))
    assert values[2] == 1


def test_a_layout_is_renamed_to_its_last_piece() -> None:
    piece = Placed("a", 1, 2, 3, 4, turned=True)
    tree = Part(0, 0, 9, 9, "down", (Part(0, 0, 3, 4, piece=piece), Part(3, 0, 6, 9)))
    found = renamed(tree, "b")
    assert found.parts[0].piece == Placed("b", 1, 2, 3, 4, turned=True)
    assert (found.parts[1].piece, found.cut, found.parts[1].width_nm) == (None, "down", 6)


def test_each_search_is_charged_by_its_size() -> None:
    pool = pool_for([(30, 20, 5), (40, 30, 7)])
    blocks = BlockPricers(pool)
    blocks.best(0, [3, 5], 4)
    assert pool.work.done == blocks.by_sheet[0][0].steps + 4 * columns.A_BLOCK_LAYOUT
    exact = SheetPricers(pool, None)
    pool.work.done = 0
    exact.best(0, [3, 5], 3)
    assert pool.work.done == exact.by_sheet[0][0].steps + 2 * columns.A_TREE
    pool.work.done = 0
    exact.at_most(0, [3, 5])
    assert pool.work.done == exact.by_sheet[0][0].steps


def test_states_are_of_all_sheets_and_exact_means_all() -> None:
    kinds: Kinds = [(30, 20, 5), (41, 29, 7)]
    both = SheetPricers(pool_for(kinds, (100, 150)), None)
    each = [SheetPricers(pool_for(kinds, (side,)), None).states for side in (100, 150)]
    assert both.states == sum(each) > each[1] > 0
    assert both.all_exact
    assert not SheetPricers(pool_for(kinds, (100, 150)), 5).all_exact


def test_a_sheet_that_holds_nothing_has_no_states() -> None:
    pool = pool_for([(30, 20, 5)], (100, 10))
    found = SheetPricers(pool, None)
    assert found.best(1, [1], 2) == []
    assert found.at_most(1, [1]) == 0


def test_blocks_suit_where_every_sheet_is_cut_freely() -> None:
    kinds: Kinds = [(30, 20, 5)]
    for longest, good in ((150, True), (149, False)):
        pool = pool_for(kinds, (100, 150), cutter=Cutter(longest_nm=longest * MM))
        assert BlockPricers.suit(pool) is good


class Charged:
    """Quick layouts of these values, each at so many steps."""

    def __init__(self, *values: int, counting: bool = True) -> None:
        self.values, self.steps, self.counting = values, 10, counting or None
        self.looked = 0

    def layouts(self) -> Any:
        for number, value in enumerate(self.values):
            self.looked += 1
            piece = Placed("p0", 0, 0, 30 * MM, 20 * MM, turned=False)
            part = Part(0, 0, 30 * MM, 20 * MM, piece=piece)
            rest = Part(0, 0, 1 + number, 1)
            yield Start(value, Part(0, 0, 100, 100, "down", (part, rest)), (1,))


@pytest.mark.parametrize(
    ("values", "most", "left", "looked", "best"),
    [
        ((5, 9, 9, 7), 9, 10**6, 4, 1), ((5, 9), 1, 10**6, 1, 0), ((5, 9, 7), 2, 10**6, 2, 1),
        # Once the work is done it ends, having looked at one.
        ((5, 9, 11), 9, columns.A_CHARGING + 20, 2, 1), ((5, 9), 9, 1, 1, 0), ((0, 0), 9, 10**6, 2, None),
    ],
)  # fmt: skip
def test_the_best_of_so_many_counted_layouts(
    monkeypatch: pytest.MonkeyPatch, values: tuple[int, ...], most: int, left: int, looked: int,
    best: int | None,
) -> None:  # fmt: skip
    pool = pool_for([(30, 20, 5)], most=left)
    counted, charged = CountedPricers(pool, 40), Charged(*values)
    monkeypatch.setattr(counted, "_charging", lambda *asked: charged)
    found = counted.best(0, [1], most)
    assert charged.looked == looked
    assert pool.work.done == columns.A_CHARGING + 10 * looked
    assert [f.draw().parts[1].width_nm - 1 for f in found] == ([] if best is None else [best])


def test_counted_layouts_serve_where_every_sheet_can_be_counted() -> None:
    kinds: Kinds = [(30, 20, 5), (41, 29, 7)]
    assert CountedPricers(pool_for(kinds, (100, 150)), 40).serve
    short = Cutter(longest_nm=149 * MM)
    pool = pool_for(kinds, (100, 150), cutter=short)
    assert not CountedPricers(pool, 40).serve
    assert CountedPricers(pool, 40).best(1, [1, 1], 3) == []
    assert pool.work.done == columns.A_CHARGING


@pytest.mark.parametrize(
    ("left", "counts"),
    [
        # Three by two of 30 × 40 go on a hundred by a hundred, and 30 × 20 below them.
        (None, [5, 0]), ([2, 2], [2, 2]), ([0, 9], [0, 9]), ([0, 0], [0, 0]), ([1, 0], [1, 0]),
    ],
)  # fmt: skip
def test_plain_layouts_take_the_dearest_first(left: list[int] | None, counts: list[int]) -> None:
    pool = pool_for([(30, 40, 5), (30, 20, 9)], (104,), trim=2)
    if left is None:
        pool = pool_for([(30, 40, 5), (30, 20, 0)], (104,), trim=2)
    found = PlainPricers(pool).best(0, [9, 4], 1, None if left is None else np.array(left))
    placed = sum(counts)
    assert pool.work.done == placed * (columns.A_COUNT + columns.A_GAP * min(placed, 20))
    if not placed:
        assert found == []
        return
    [layout] = found
    assert layout.counts.tolist() == counts
    tree = layout.draw()
    assert (tree.x_nm, tree.y_nm, tree.width_nm) == (2 * MM, 2 * MM, 100 * MM)
    assert len([leaf for leaf in tree.leaves() if leaf.piece]) == placed


def test_many_small_pieces_are_charged_for_twenty_gaps_each() -> None:
    pool = pool_for([(10, 10, 50)])
    [found] = PlainPricers(pool).best(0, [1], 1)
    assert found.counts.tolist() == [50]
    assert pool.work.done == 50 * (columns.A_COUNT + columns.A_GAP * 20)


def test_kinds_worth_nothing_or_not_wanted_are_left_out() -> None:
    pool = pool_for([(30, 40, 5), (30, 20, 9), (10, 10, 3)])
    found = pool.kinds(0, [9, 0, 4], np.array([5, 9, 0]))
    assert [(k.value, k.count, k.ways[0].value) for k in found] == [(9, 5, 9)]
    ways, kinds = pool.ways(0)
    assert (len(ways), kinds) == (3, [0, 1, 2])
    assert SimpleNamespace(names={w.name for w in ways}).names == {"p0", "p1", "p2"}
