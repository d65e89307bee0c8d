"""A trimmer that reaches only so far, and cuts that may turn only so often: by trying everything."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.json_answer import answer
from app.core.cutting.json_problem import read_problem
from app.core.cutting.one_sheet.limited import best_limited
from app.core.cutting.one_sheet.limits import Kind
from app.core.cutting.one_sheet.pricing import Pricer
from app.core.cutting.one_sheet.rounded import states
from app.core.cutting.one_sheet.staged import StagedTable
from app.core.cutting.one_sheet.unlimited import (
    Best,
    Lying,
    Places,
    best_layout,
    cut_free,
    normal_points,
    raster_points,
)
from app.core.cutting.one_sheet.yields import best_of, yield_of
from app.core.cutting.tree import Layout, Part, is_whole
from app.core.errors import DomainError
from app.core.paper import Piece, Sheet
from app.units import parse_length
from tests.core.brute_force import check_layout
from tests.core.checker import check_answer

Sizes = tuple[tuple[int, int, int], ...]
FREE = 99


def most_by_turns(width: int, height: int, sizes: Sizes, longest: int, turns: int) -> int:
    """The most value by every whole-number cut; a piece must be cut out to its very size."""

    @cache
    def most(w: int, h: int, down: int, left: int) -> int:
        found = max((v for a, b, v in sizes if (a, b) == (w, h)), default=0)
        if left:
            found = max(found, most(w, h, 1 - down, left - 1))
        if down and h <= longest:
            for x in range(1, w):
                found = max(found, most(x, h, down, left) + most(w - x, h, down, left))
        if not down and w <= longest:
            for y in range(1, h):
                found = max(found, most(w, y, down, left) + most(w, h - y, down, left))
        return found

    @cache
    def trimmed(w: int, h: int) -> int:
        found = max(most(w, h, 1, turns), most(w, h, 0, turns))
        if h <= longest and w > 1:
            found = max(found, trimmed(w - 1, h))
        if w <= longest and h > 1:
            found = max(found, trimmed(w, h - 1))
        return found

    return trimmed(width, height)


rows = st.lists(
    st.tuples(st.integers(1, 9), st.integers(1, 9), st.integers(1, 30)), min_size=1, max_size=4
)
sides = st.integers(2, 16)
reach = st.sampled_from([None, None, 5, 8, 12])
turning = st.sampled_from([None, 0, 1, 2, 3])


@settings(max_examples=150)
@given(sides, sides, rows, reach, turning)
@example(12, 2, [(3, 1, 1), (7, 1, 4)], 8, None)
def test_reach_and_turns_equal_brute_force(
    width: int, height: int, pieces: list[tuple[int, int, int]], longest: int | None,
    turns: int | None,
) -> None:  # fmt: skip
    lying = [Lying(f"{i}", a, b, v) for i, (a, b, v) in enumerate(pieces)]
    found = best_of(width, height, lying, Cutter(0, longest, turns))
    expected = most_by_turns(
        width, height, tuple(pieces), longest or FREE, 6 if turns is None else turns
    )
    assert found.value == expected
    check_layout(Layout(width, height, 0, found.tree), {(a, b) for a, b, _ in pieces})


@settings(max_examples=100)
@given(sides, sides, rows, st.lists(st.integers(0, 3), min_size=4, max_size=4), reach, turning,
       st.integers(0, 1))  # fmt: skip
def test_limited_with_reach_and_turns(
    width: int, height: int, pieces: list[tuple[int, int, int]], counts: list[int],
    longest: int | None, turns: int | None, kerf: int,
) -> None:  # fmt: skip
    kinds = [
        Kind((Lying(f"{i}", a, b, v),), v, n)
        for i, ((a, b, v), n) in enumerate(zip(pieces, counts, strict=False))
    ]
    data: dict[str, Any] = {
        "unit": "mm", "goal": "fill", "kerf": kerf, "longest_cut": longest, "stages": turns,
        "sheets": [{"name": "s", "width": width, "height": height, "price": "1"}],
        "pieces": [
            {"name": f"{i}", "width": a, "height": b, "count": n, "value": v}
            for i, ((a, b, v), n) in enumerate(zip(pieces, counts, strict=False))
        ],
    }  # fmt: skip
    try:
        check_answer(data, answer(read_problem(json.dumps(data), parse_length)))
    except DomainError as error:
        assert "fits on no sheet" in error.message  # noqa: PT017
    cutter = Cutter(kerf, longest, turns)
    found = best_limited(width, height, kinds, cutter)
    enough = [Kind(kind.ways, kind.value, 200) for kind in kinds]
    free = best_of(width, height, [k.ways[0] for k in kinds], cutter)
    assert found.value <= free.value
    if width * height <= 60:
        assert best_limited(width, height, enough, cutter).value == free.value


@given(st.integers(5, 60), st.lists(st.integers(2, 30), min_size=1, max_size=5))
def test_raster_points_are_normal_points(length: int, sizes: list[int]) -> None:
    assert set(raster_points(length, sizes)) <= set(normal_points(length, sizes))


def test_places_are_sums_of_sizes_each_once() -> None:
    assert normal_points(5, []).tolist() == normal_points(5, [9]).tolist() == [0]
    assert normal_points(7, [3, 2]).tolist() == [0, 2, 3, 4, 5, 6, 7]
    with pytest.raises(DomainError, match="too many"):
        normal_points(10, [1], most=10)
    assert len(normal_points(9, [1], most=10)) == 10


def test_nothing_that_fits_is_worth_nothing() -> None:
    best = best_layout(5, 5, [Lying("a", 6, 2, 12), Lying("b", 2, 6, 12)], origin=(3, 4))
    assert (best.value, best.tree) == (0, Part(3, 4, 5, 5))


def test_the_first_cut_is_one_that_the_blade_reaches_with_its_kerf() -> None:
    """Two by ten of ten by ten: down first leaves the larger rest, where a cut of 12 is reached."""
    piece = Lying("a", 2, 9, 18)
    assert cut_free(piece, 0, 0, 10, 10, 2).cut == "down"
    assert cut_free(piece, 0, 0, 10, 10, 2, longest=12).cut == "down"
    assert cut_free(piece, 0, 0, 10, 10, 2, longest=11).cut == "across"


def test_across_first_where_a_cut_of_the_width_with_its_kerf_is_reached() -> None:
    # Nine by two of ten by ten: across first leaves the larger rest.
    piece = Lying("a", 9, 2, 18)
    assert cut_free(piece, 0, 0, 10, 10, 2).cut == "across"
    assert cut_free(piece, 0, 0, 10, 10, 2, longest=12).cut == "across"
    assert cut_free(piece, 0, 0, 10, 10, 2, longest=11).cut == "down"


def test_a_layout_begins_at_the_corner_unless_another_is_named() -> None:
    tree = best_layout(5, 5, [Lying("a", 2, 2, 4)]).tree
    assert (tree.x_nm, tree.y_nm) == (0, 0)


def test_with_turns_limited_too_nothing_that_fits_is_worth_nothing() -> None:
    lying = [Lying("a", 2, 2, 4)]
    places = Places(5, 6, lying, Cutter(kerf_nm=1, stages=1), raster=False)
    assert StagedTable(places, [0], 1).best_from((3, 4)) == Best(0, Part(3, 4, 5, 6))


def test_the_next_best_layouts_are_cut_within_the_sheet_and_not_at_its_edge() -> None:
    """A piece as wide as the sheet is split off by no first cut down."""
    lying = [Lying("wide", 10, 4, 40), Lying("high", 4, 10, 40), Lying("small", 3, 3, 9)]
    found = Pricer(10, 10, lying, KNIFE).best([40, 40, 9], (0, 0), most=9)
    assert len(found) > 1
    assert [best.value for best in found] == sorted((b.value for b in found), reverse=True)
    for best in found:
        assert is_whole(Layout(10, 10, 0, best.tree), 0)


def test_all_places_are_looked_at_as_long_as_they_are_not_too_many(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lying = [Lying("wide", 10, 4, 40), Lying("high", 4, 10, 40), Lying("small", 3, 3, 9)]
    there = states(10, 10, lying, KNIFE)
    assert there is not None
    for most, exact in ((there, True), (there - 1, False)):
        monkeypatch.setattr("app.core.cutting.one_sheet.pricing.MOST_EXACT", most)
        pricer = Pricer(10, 10, lying, KNIFE)
        assert pricer.exact is exact
        assert pricer.best([40, 40, 9])[0].value <= 94
        assert pricer.at_most([40, 40, 9]) >= 94


def test_a_sheet_too_long_for_the_trimmer_is_cut_into_bands_first() -> None:
    piece, sheet = Piece("p", 240, 160), Sheet("s", 560, 760)
    assert yield_of(piece, sheet).best == 10
    banded = yield_of(piece, sheet, Cutter(longest_nm=600))
    assert banded.best == 10
    assert banded.layout.tree.cut == "across"
    assert yield_of(piece, sheet, Cutter(longest_nm=500)).best == 0


def test_one_turn_gives_rows_alone() -> None:
    piece, sheet = Piece("p", 9, 12), Sheet("s", 23, 35)
    # A column of turned ones; then rows 12, 12 and 9 high; 5 is the most (test_yields.py, B3).
    assert [yield_of(piece, sheet, Cutter(stages=n)).best for n in (0, 1, 2, 3)] == [3, 5, 5, 5]
