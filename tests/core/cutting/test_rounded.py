"""Sizes rounded for a quick look: steps, places counted, and a value nothing exceeds. By hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.one_sheet.rounded import (
    coarse_step,
    most_by_rounding,
    rounded_cells,
    states,
)
from app.core.cutting.one_sheet.unlimited import Lying


def test_sizes_are_rounded_only_where_there_are_too_many_places() -> None:
    # Ones up to ten have eleven places; as many may be, and one fewer asks for steps of two.
    assert coarse_step(10, [1], 11) == 1
    assert coarse_step(10, [1], 5) == 2
    assert coarse_step(10, [1], 3) == 4
    assert coarse_step(10, [7, 5], 5) == 1


def test_cells_are_whole_steps_with_the_kerf_and_never_past_the_sheet() -> None:
    lying = [Lying("a", 1, 2, 2), Lying("b", 9, 3, 27)]
    assert rounded_cells(9, 9, lying, 1, 1_000) == [(2, 3), (10, 4)]
    # Ten in three places is steps of four: two is four, ten is no more than the sheet has.
    assert rounded_cells(9, 9, lying, 1, 3) == [(4, 4), (10, 4)]


@pytest.mark.parametrize(
    ("size", "piece", "cutter", "count"),
    [
        # Every eighth of 25 and every sixth of 19, with nothing: four by four.
        ((25, 19), (8, 6), KNIFE, 16), ((24, 18), (8, 6), KNIFE, 16), ((23, 17), (8, 6), KNIFE, 9),
        # A blade of one is added to sheet and piece: 26 by eights and 20 by sixes.
        ((25, 19), (7, 5), Cutter(kerf_nm=1), 16), ((23, 17), (7, 5), Cutter(kerf_nm=1), 16),
        ((22, 16), (7, 5), Cutter(kerf_nm=1), 9),
        ((10**9, 10**9), (1, 1), KNIFE, None),
    ],
)  # fmt: skip
def test_the_places_of_an_exact_search_are_counted(
    size: tuple[int, int], piece: tuple[int, int], cutter: Cutter, count: int | None
) -> None:
    assert states(*size, [Lying("a", *piece, 1)], cutter) == count


@pytest.mark.parametrize(
    ("size", "pieces", "kerf", "most"),
    [
        ((10, 10), [(5, 5, 25)], 0, 100), ((11, 11), [(5, 5, 25)], 1, 100),
        ((10, 11), [(5, 5, 25)], 1, 50), ((11, 10), [(5, 5, 25)], 1, 50),
        ((10, 10), [(11, 5, 99), (5, 5, 25)], 0, 100), ((4, 4), [(5, 5, 25)], 0, 0),
        ((10, 10), [(5, 5, 0)], 0, 0), ((10, 10), [(5, 5, 1), (10, 10, 3)], 0, 4),
    ],
)  # fmt: skip
def test_with_few_places_the_bound_is_the_best_itself(
    size: tuple[int, int], pieces: list[tuple[int, int, int]], kerf: int, most: int
) -> None:
    lying = [Lying(f"p{n}", w, h, value) for n, (w, h, value) in enumerate(pieces)]
    assert most_by_rounding(*size, lying, Cutter(kerf_nm=kerf)) == most


def test_all_places_are_needed_where_a_cutter_is_limited() -> None:
    # Eights and elevens in 25 meet at 0, 8, 11, 16, 19, 22 and 24; sixes in 19 at four places.
    # A free cutter needs only five of them: what 22 leaves, 24 leaves as well, and so on.
    lying = [Lying("a", 8, 6, 1), Lying("b", 11, 6, 1)]
    assert states(25, 19, lying, KNIFE) == 5 * 4
    for cutter in (Cutter(longest_nm=30), Cutter(stages=2), Cutter(longest_nm=30, stages=2)):
        assert states(25, 19, lying, cutter) == 7 * 4


def test_places_are_counted_up_to_the_most_there_is_room_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lying = [Lying("a", 8, 6, 1)]
    monkeypatch.setattr("app.core.cutting.one_sheet.rounded.MOST_STATES", 16)
    assert states(25, 19, lying, KNIFE) == 16
    monkeypatch.setattr("app.core.cutting.one_sheet.rounded.MOST_STATES", 15)
    assert states(25, 19, lying, KNIFE) is None


@pytest.mark.parametrize(
    ("size", "pieces", "most"),
    [
        # 401 and more places are too many: steps of three, in which 14 wide is four, 15 five.
        # Beside each other 250 of four go into 333 steps of three 83 times, by area 71 times.
        ((1_000, 14), [(14, 14, 1), (15, 15, 1)], 71),
        # 301 wide is 100 steps: three of 200, and 33 of one step each; by area it were 664.
        ((1_000, 14), [(301, 14, 200), (4, 14, 1), (5, 14, 1), (7, 14, 1)], 633),
        ((14, 1_000), [(14, 301, 200), (14, 4, 1), (14, 5, 1), (14, 7, 1)], 633),
        ((1_000, 14), [(301, 14, 200), (3, 14, 1)], 633),
        ((14, 1_000), [(14, 301, 200), (14, 3, 1)], 633),
        # What is worth nothing makes no steps: three of 334 do not go into 1000.
        ((1_000, 20), [(334, 20, 100), (1, 20, 0)], 200),
        ((20, 1_000), [(20, 334, 100), (20, 1, 0)], 200),
        # Of a piece thinner than a step nothing would be left: area alone tells.
        ((1_000, 1), [(1, 1, 1)], 1_000), ((1, 1_000), [(1, 1, 1)], 1_000),
        ((1_000, 20), [(2, 20, 1), (300, 20, 1)], 500),
    ],
)  # fmt: skip
def test_with_many_places_the_bound_is_by_steps_or_by_area(
    size: tuple[int, int], pieces: list[tuple[int, int, int]], most: int
) -> None:
    lying = [Lying(f"p{n}", w, h, value) for n, (w, h, value) in enumerate(pieces)]
    assert most_by_rounding(*size, lying, KNIFE) == most


@given(
    st.tuples(st.integers(300, 3_000), st.integers(1, 40)),
    st.lists(st.tuples(st.integers(1, 60), st.integers(1, 20), st.integers(0, 50)), min_size=1, max_size=4),
    st.integers(0, 3),
)  # fmt: skip
def test_no_grid_of_one_kind_exceeds_the_bound(
    size: tuple[int, int], pieces: list[tuple[int, int, int]], kerf: int
) -> None:
    lying = [Lying(f"p{n}", w, h, value) for n, (w, h, value) in enumerate(pieces)]
    most = most_by_rounding(*size, lying, Cutter(kerf_nm=kerf))
    for w, h, value in pieces:
        across, up = (size[0] + kerf) // (w + kerf), (size[1] + kerf) // (h + kerf)
        assert value * across * up <= most
