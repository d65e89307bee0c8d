"""Layouts of a few plain grids: near the best, and found at once.

One cut divides the sheet, one cut across it each half, and each of the four blocks holds a
grid of one piece; a block may be as large as the whole. Blocks end where whole numbers of a
piece do, counted from either end, so every block beyond a cut ends at such a place as well.
What a block of every size holds at given worths is a table made with one outer product a
piece; the best pairs of blocks are then maxima along its rows and columns.

The exact search of :mod:`unlimited` finds better layouts, but a linear program over these is
within one or two in a hundred of it, after a tenth of the time.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.grid import Grid
from app.core.cutting.one_sheet.unlimited import Ints, Lying, fitting
from app.core.cutting.tree import Part, joined

MOST_PLACES = 120
"""Places to cut along a side; more are thinned out evenly."""
EMPTY = -1
Rectangle = tuple[int, int, int, int]
"""Left, top, width and height, the kerf behind it included."""


def block_places(length: int, sizes: Iterable[int]) -> Ints:
    """Where whole numbers of a size end, from either end; rising, with zero and the length."""
    useful = {size for size in sizes if size <= length}
    if not useful:
        return np.array([0, length], dtype=np.int64)
    ends = [
        np.arange(1, min(length // size, MOST_PLACES) + 1, dtype=np.int64) * size for size in useful
    ]
    near = np.concatenate(ends)
    near = np.minimum(near, length - near)
    # Nothing fits beside a place nearer the edge than the smallest piece.
    near = np.unique(np.append(near[near >= min(useful)], 0))
    if len(near) > MOST_PLACES // 2:
        near = near[np.linspace(0, len(near) - 1, MOST_PLACES // 2).round().astype(np.int64)]
    return np.unique(np.concatenate([near, length - near]))


@dataclass(frozen=True)
class InBlocks:
    """One layout: the first cut and its place, and of each half the place of the cut across
    it and the ways of lying (their numbers) in its two blocks. Places are enlarged by the kerf.
    """

    cut: str
    at: int
    halves: tuple[tuple[int, tuple[int, int]], tuple[int, tuple[int, int]]]
    counts: Ints
    """Pieces of each kind."""


class Blocks:
    """Layouts in blocks of one rectangle for a fixed set of pieces at changing worths.

    ``lying`` are the ways the pieces may lie, ``kinds`` the number of each one's kind.
    """

    def __init__(
        self,
        size: tuple[int, int],
        lying: Sequence[Lying],
        kinds: Sequence[int],
        how_many_kinds: int,
        cutter: Cutter,
    ) -> None:
        self.cutter, self.how_many_kinds = cutter, how_many_kinds
        kerf = self.kerf = cutter.kerf_nm
        self.width, self.height = size[0] + kerf, size[1] + kerf
        fits = {id(way) for way in fitting(*size, lying, cutter)}
        kept = [(way, kind) for way, kind in zip(lying, kinds, strict=True) if id(way) in fits]
        self.lying = [way for way, _ in kept]
        self.kinds = np.array([kind for _, kind in kept], dtype=np.int64)
        widths = np.array([way.width_nm + kerf for way in self.lying], dtype=np.int64)
        heights = np.array([way.height_nm + kerf for way in self.lying], dtype=np.int64)
        self.xs = block_places(self.width, widths.tolist())
        self.ys = block_places(self.height, heights.tolist())
        # Floats, since they only choose layouts; what a layout holds is counted.
        self.columns = (self.xs[None, :] // widths[:, None]).astype(np.float64)
        self.rows = (self.ys[None, :] // heights[:, None]).astype(np.float64)

    @property
    def steps(self) -> int:
        """Work of one search."""
        blocks = len(self.xs) * len(self.ys)
        sides = len(self.xs) + len(self.ys)
        return 150 + blocks * len(self.lying) // 2500 + blocks * sides // 30_000

    def best(self, values: Sequence[int], most: int, left: Ints | None = None) -> list[InBlocks]:
        """Up to ``most`` layouts at worths given by kind, the best first.

        With ``left``, no more of a kind than that counts in any one block.
        """
        worth = np.asarray(values, dtype=np.float64)[self.kinds]
        if not worth.any():
            return []
        limit = None if left is None else left[self.kinds].astype(np.float64)
        single = self._single_blocks(worth, limit)
        downs, inner_downs = _best_pairs(single)
        acrosses, inner_acrosses = _best_pairs(single.T)
        ranked = [
            (-value, cut, at)
            for cut, values_at in (("down", downs), ("across", acrosses))
            for at, value in _highest(values_at + values_at[::-1], most)
        ]
        found = []
        for _, cut, at in sorted(ranked)[:most]:
            inner = inner_downs if cut == "down" else inner_acrosses
            halves = [(half, int(inner[half])) for half in (at, len(inner) - 1 - at)]
            found.append(self._layout(cut, at, halves, worth, limit))
        return found

    def _single_blocks(self, worth: np.ndarray, limit: np.ndarray | None) -> np.ndarray:
        """The most that one grid brings in a block of each size."""
        best = np.zeros((len(self.xs), len(self.ys)))
        one = np.empty_like(best)
        for way in np.nonzero(worth > 0)[0]:
            np.multiply(self.columns[way][:, None], self.rows[way][None, :], out=one)
            if limit is not None:
                np.minimum(one, limit[way], out=one)
            np.multiply(one, worth[way], out=one)
            np.maximum(best, one, out=best)
        return best

    def _layout(
        self,
        cut: str,
        at: int,
        halves: Sequence[tuple[int, int]],
        worth: np.ndarray,
        limit: np.ndarray | None,
    ) -> InBlocks:
        """A layout by its cuts: which grid goes into each block, and what they hold together."""
        along, inward = (self.xs, self.ys) if cut == "down" else (self.ys, self.xs)
        outer = [half for half, _ in halves for _ in range(2)]
        inner = [place for _, j in halves for place in (j, len(inward) - 1 - j)]
        i, j = (outer, inner) if cut == "down" else (inner, outer)
        here = self.columns[:, i] * self.rows[:, j]
        best = (here * worth[:, None]).argmax(axis=0).tolist()
        counts = np.zeros(self.how_many_kinds, dtype=np.int64)
        chosen = []
        for block, way in enumerate(best):
            if limit is not None:
                # What one block holds is of no use in the next.
                left = np.maximum(limit - counts[self.kinds], 0.0)
                way = int((np.minimum(here[:, block], left) * worth).argmax())
                useful = left[way] > 0 and worth[way] > 0
            else:
                useful = worth[way] > 0
            holds = int(here[way, block]) if useful else 0
            counts[self.kinds[way]] += holds
            chosen.append(way if holds else EMPTY)
        first, second = (int(inward[place]) for _, place in halves)
        return InBlocks(
            cut, int(along[at]),
            ((first, (chosen[0], chosen[1])), (second, (chosen[2], chosen[3]))), counts,
        )  # fmt: skip

    def tree(self, layout: InBlocks, origin: tuple[int, int] = (0, 0)) -> Part:
        """The cuts of a layout."""
        whole = (*origin, self.width, self.height)
        other = "across" if layout.cut == "down" else "down"
        halves = []
        places = self._split(whole, layout.cut, layout.at)
        for half, (at, ways) in zip(places, layout.halves, strict=True):
            inner = self._split(half, other, at)
            blocks = [self._block(b, way) for b, way in zip(inner, ways, strict=True)]
            halves.append(self._divided(half, other, blocks))
        return joined(self._divided(whole, layout.cut, halves) or Part(*self._real(whole)))

    def cuts(self, layout: InBlocks) -> int:
        """How many cuts a layout takes, without making its tree."""
        whole = (0, 0, self.width, self.height)
        other = "across" if layout.cut == "down" else "down"
        total = int(layout.at > 0)
        places = self._split(whole, layout.cut, layout.at)
        for half, (at, ways) in zip(places, layout.halves, strict=True):
            total += int(at > 0 and min(half[2:]) > self.kerf)
            for block, way in zip(self._split(half, other, at), ways, strict=True):
                _, _, width, height = self._real(block)
                if way != EMPTY:
                    grid = Grid.of(self.lying[way], width, height, self.cutter)
                    total += grid.cuts(width, height)
        return total

    def _split(self, rectangle: Rectangle, cut: str, at: int) -> tuple[Rectangle, Rectangle]:
        """Both sides of a cut, each with the kerf behind it."""
        x, y, width, height = rectangle
        if cut == "down":
            return (x, y, at, height), (x + at, y, width - at, height)
        return (x, y, width, at), (x, y + at, width, height - at)

    def _divided(self, rectangle: Rectangle, cut: str, sides: Sequence[Part | None]) -> Part | None:
        """A rectangle cut in two; uncut where one side takes all of it."""
        parts = tuple(side for side in sides if side is not None)
        if not parts:
            return None
        real, first = self._real(rectangle), parts[0]
        if (first.width_nm, first.height_nm) == real[2:]:
            return first
        return Part(*real, cut, parts)

    def _block(self, rectangle: Rectangle, way: int) -> Part | None:
        """A block with its grid, or what is left over; none where only kerf remains."""
        x, y, width, height = self._real(rectangle)
        if width <= 0 or height <= 0:
            return None
        if way == EMPTY:
            return Part(x, y, width, height)
        return Grid.of(self.lying[way], width, height, self.cutter).tree((x, y), width, height)

    def _real(self, rectangle: Rectangle) -> Rectangle:
        """A rectangle without the kerf; nothing of it may be left then."""
        x, y, width, height = rectangle
        return x, y, width - self.kerf, height - self.kerf


def _best_pairs(single: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For each row the most that two blocks in it bring together, and where they are cut."""
    pairs = single + single[:, ::-1]
    half = pairs[:, : (pairs.shape[1] + 1) // 2]
    at = half.argmax(axis=1)
    return half[np.arange(len(half)), at], at


def _highest(values: np.ndarray, most: int) -> list[tuple[int, float]]:
    """Places and values of the highest in the first half; the second half mirrors it."""
    half = values[: (len(values) + 1) // 2]
    order = np.argsort(-half, kind="stable")[:most]
    return [(int(at), float(half[at])) for at in order]
