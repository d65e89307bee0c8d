"""Layouts of four plain grids by hand: what is worth nothing, and what only kerf is left of."""

from __future__ import annotations

import numpy as np
import pytest

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.blocks import Blocks, block_places
from app.core.cutting.one_sheet.unlimited import Lying


def blocks_for(width: int, height: int, rows: list[tuple[int, int]], kerf: int = 0) -> Blocks:
    lying = [Lying(f"{i}", w, h, 1) for i, (w, h) in enumerate(rows)]
    return Blocks((width, height), lying, range(len(rows)), len(rows), Cutter(kerf))


@pytest.mark.parametrize("left", [None, np.array([9, 9])])
def test_what_is_worth_nothing_is_not_cut(left: np.ndarray | None) -> None:
    # The second would fit beside and above the first, but nobody gives anything for it.
    blocks = blocks_for(10, 10, [(6, 6), (4, 4)])
    for layout in blocks.best([5, 0], 4, left):
        assert layout.counts.tolist() == [1, 0]
        assert {p.piece.name for p in blocks.tree(layout).leaves() if p.piece} == {"0"}
    assert blocks.best([0, 0], 4, left) == []
    # As soon as anybody does, it is.
    assert blocks.best([5, 1], 1, left)[0].counts.tolist()[1] >= 1


@pytest.mark.parametrize(("width", "cuts"), [(20, 1), (21, 1), (22, 2), (23, 2)])
def test_a_strip_no_wider_than_the_kerf_is_not_cut_off(width: int, cuts: int) -> None:
    # Two of 10 beside each other less a kerf of 1 between them: 21 are used, and the kerf of the
    # last may run off the sheet; of 22 a strip is left that is no piece.
    rows = [(10, 10)] if width > 20 else [(10, 10), (9, 10)]
    blocks = blocks_for(width, 10, rows, kerf=1)
    [layout] = blocks.best([5] + [4] * (len(rows) - 1), 1)
    tree = blocks.tree(layout)
    assert tree.cuts() == blocks.cuts(layout) == cuts
    assert layout.counts.sum() == 2


def test_places_are_where_whole_numbers_of_a_piece_end_from_either_end() -> None:
    # Threes in ten: at 3, 6, 9 and from the other end; 9 and 1 leave room for none.
    assert block_places(10, [3]).tolist() == [0, 3, 4, 6, 7, 10]
    assert block_places(10, [5, 11]).tolist() == [0, 5, 10]
    assert block_places(10, [10]).tolist() == [0, 10]
    assert block_places(10, [11]).tolist() == [0, 10]


@pytest.mark.parametrize(("width", "height"), [(3, 3), (4, 3), (3, 5)])
def test_cuts_are_counted_to_the_thinnest_block(width: int, height: int) -> None:
    blocks = blocks_for(width, height, [(3, 1), (3, 2)])
    for values in ([1, 5], [3, 5], [1, 1]):
        found = blocks.best(values, 9)
        assert found
        for layout in found:
            assert blocks.tree(layout).cuts() == blocks.cuts(layout)
