"""Sizes rounded for a quick look: steps, places counted, and a value nothing exceeds. By hand."""

from __future__ import annotations

import pytest

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
