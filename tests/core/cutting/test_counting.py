"""Layouts that count how often each kind is cut: against the unlimited best, and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.one_sheet.counting import CountingTable, serves
from app.core.cutting.one_sheet.unlimited import Lying, Places, best_layout
from app.core.cutting.tree import Layout, is_whole
from tests.core.brute_force import check_layout

Rows = list[tuple[int, int, int]]


def table_for(
    width: int, height: int, rows: Rows, kerf: int = 0, kind_of: list[int] | None = None
) -> CountingTable:
    lying = [Lying(f"{i}", w, h, v) for i, (w, h, v) in enumerate(rows)]
    places = Places(width, height, lying, Cutter(kerf), raster=True)
    return CountingTable(places, kind_of or list(range(len(rows))))


@settings(max_examples=60)
@given(
    st.integers(8, 40), st.integers(8, 40), st.integers(0, 2),
    st.lists(st.tuples(st.integers(3, 15), st.integers(3, 15), st.integers(1, 60)),
             min_size=1, max_size=4),
    st.integers(0, 2),
)  # fmt: skip
def test_layouts_are_whole_and_the_best_where_no_limit_binds(
    width: int, height: int, kerf: int, rows: Rows, number: int
) -> None:
    rows = [(w, h, v) for w, h, v in rows if w <= width and h <= height]
    if not rows:
        return
    table = table_for(width, height, rows, kerf)
    values = np.array([v for *_, v in rows])
    tree = table.attempt(values, np.full(len(rows), 999), number, (3, 4))
    assert (tree.x_nm, tree.y_nm) == (3, 4)
    tree = table.attempt(values, np.full(len(rows), 999), number)
    layout = Layout(width, height, 0, tree)
    assert is_whole(layout, kerf)
    check_layout(layout, {(w, h) for w, h, _ in rows}, kerf)
    worth = sum(rows[int(p.name)][2] for p in layout.pieces)
    lying = [Lying(f"{i}", w, h, v) for i, (w, h, v) in enumerate(rows)]
    best = best_layout(width, height, lying, Cutter(kerf)).value
    assert worth == best if number == 0 else worth <= best


def names(table: CountingTable, worth: list[int], limits: list[int], number: int = 0) -> list[str]:
    tree = table.attempt(np.array(worth), np.array(limits), number)
    return sorted(leaf.piece.name for leaf in tree.leaves() if leaf.piece)


def test_no_more_than_the_limit_counts() -> None:
    # Four places, and what is beyond a limit is worth nothing, though it may lie there.
    table = table_for(10, 10, [(5, 5, 10), (5, 5, 9)])
    assert names(table, [10, 9], [9, 9]) == ["0"] * 4
    assert names(table, [10, 9], [2, 9]) == ["0"] * 4
    assert names(table, [10, 9], [1, 9]) == ["0"]
    assert names(table, [10, 9], [0, 2]) == ["1"] * 4
    assert names(table, [10, 9], [0, 9]) == ["1"] * 4
    # What is worth nothing is not cut, nor what may not be.
    assert names(table, [0, 9], [9, 3])[:3] == ["1"] * 3


def test_of_two_as_good_the_first_is_taken() -> None:
    assert names(table_for(5, 5, [(5, 5, 7), (5, 5, 7)]), [7, 7], [3, 3]) == ["0"]


def test_worths_go_astray_by_a_tenth_at_the_most_and_each_number_its_own_way() -> None:
    table = table_for(5, 5, [(5, 5, 100), (5, 5, 103)])
    assert {names(table, [100, 103], [1, 1], n)[0] for n in range(1, 30)} == {"0", "1"}
    assert names(table, [100, 103], [1, 1]) == ["1"]
    assert {names(table, [100, 111], [1, 1], n)[0] for n in range(1, 60)} == {"1"}
    assert names(table, [100, 103], [1, 1], 5) == names(table, [100, 103], [1, 1], 5)


def test_its_work() -> None:
    table = table_for(100, 80, [(7, 9, 1), (9, 7, 1), (11, 5, 1)], kind_of=[0, 0, 1])
    pairs, rows = table.places.pairs, table.places.rows
    assert pairs > 680
    assert table.steps == pairs * 2 // 680 + 9 * rows + 500


@pytest.mark.parametrize(
    ("longest", "stages", "good"), [(None, None, True), (20, None, True), (19, None, False), (None, 2, False)]
)  # fmt: skip
def test_it_serves_a_free_cutter(longest: int | None, stages: int | None, good: bool) -> None:
    places = Places(10, 20, [Lying("a", 5, 5, 1)], Cutter(kerf_nm=2), raster=True)
    assert serves(places, Cutter(2, longest, stages), 3) is good
    places = Places(20, 10, [Lying("a", 5, 5, 1)], Cutter(kerf_nm=2), raster=True)
    assert serves(places, Cutter(2, longest, stages), 3) is good


def test_it_serves_as_far_as_there_is_room(monkeypatch: pytest.MonkeyPatch) -> None:
    places = Places(10, 20, [Lying("a", 5, 5, 1)], KNIFE, raster=True)
    for room, good in ((places.states * 3, True), (places.states * 3 - 1, False)):
        monkeypatch.setattr("app.core.cutting.one_sheet.counting.MOST_COUNTS", room)
        assert serves(places, KNIFE, 3) is good
