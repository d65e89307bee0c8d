"""A good layout of one sheet within limits, quickly: a recursion that counts pieces.

Like :mod:`unlimited`, but every rectangle keeps the pieces of its one best layout, and two
rectangles that are put together are worth their pieces of each kind up to its limit only. With one
layout kept for each rectangle the best can be missed (a state-space relaxation turned round:
Christofides and Hadjiconstantinou, Eur. J. Oper. Res. 83, 1995, relax what this restricts), so it
is tried again with worths a little astray, which keeps other layouts.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.unlimited import Ints, Places, cut_free
from app.core.cutting.tree import Part, joined

Floats = npt.NDArray[np.float64]
Counts = npt.NDArray[np.float32]
PIECE, DOWN, ACROSS = 1, 2, 3
ASTRAY = 0.1
"""How far worths go astray at the most."""
MOST_COUNTS = 4_000_000
"""Counts of pieces in a table; they are what it needs memory for."""


def serves(places: Places, cutter: Cutter, kinds: int) -> bool:
    """Whether there is a table: the cutter is free, and there is room for the counts."""
    size = (places.width - places.kerf, places.height - places.kerf)
    return cutter.is_free(*size) and places.states * kinds <= MOST_COUNTS


class CountingTable:
    """One layout for every rectangle of ``places``, of pieces whose kinds have limits.

    ``kind_of`` says of which kind each way of lying is; see :func:`serves`.
    """

    def __init__(self, places: Places, kind_of: Sequence[int]) -> None:
        self.places, self.kind_of = places, kind_of

    @property
    def steps(self) -> int:
        """Work of one attempt, if every kind is of use."""
        kinds = len(set(self.kind_of))
        return self.places.pairs * kinds // 680 + 9 * self.places.rows + 500

    def attempt(
        self, worth: Floats, limits: Ints, number: int = 0, origin: tuple[int, int] = (0, 0)
    ) -> Part:
        """A layout at these worths of the kinds; it may still hold more of one than its limit.

        Every number but zero sends the worths astray in its own way.
        """
        astray = np.random.default_rng(number).uniform(1.0, 1.0 + ASTRAY, len(worth))
        values = worth * astray if number else worth
        # Only kinds that are of use are counted.
        kinds = np.nonzero((limits > 0) & (worth > 0))[0]
        self.at_kind = {int(kind): at for at, kind in enumerate(kinds)}
        self.values, self.limits = (a[kinds].astype(np.float32) for a in (values, limits))
        shape = (len(self.places.xs), len(self.places.ys))
        self.counts = np.zeros((*shape, len(kinds)), dtype=np.float32)
        self.best = np.zeros(shape, dtype=np.float32)
        self.how = np.zeros(shape, dtype=np.int8)
        self.where = np.zeros(shape, dtype=np.int32)
        self._single_pieces()
        self._cuts()
        return joined(self._tree(*origin, self.places.width, self.places.height))

    def _single_pieces(self) -> None:
        for at, (width, height) in enumerate(self.places.cells):
            kind = self.at_kind.get(self.kind_of[at])
            if kind is None:
                continue
            i = int(np.searchsorted(self.places.xs, width))
            j = int(np.searchsorted(self.places.ys, height))
            better = self.best[i:, j:] < self.values[kind]
            self.best[i:, j:][better] = self.values[kind]
            self.how[i:, j:][better] = PIECE
            self.where[i:, j:][better] = at
            one = np.zeros(len(self.values), dtype=np.float32)
            one[kind] = 1
            self.counts[i:, j:][better] = one

    def _cuts(self) -> None:
        """Bands of rows that do not depend on each other, as in :class:`unlimited.Table`."""
        xs, ys = self.places.xs, self.places.ys
        start = 1
        while start < len(xs):
            end = int(np.searchsorted(xs, xs[start] + xs[1]))
            for i in range(start, end):
                first, rest = self.places.downs[i]
                if len(first):
                    self._take_best(self.counts[first], self.counts[rest], (i, slice(None)), DOWN)
            band = slice(start, end)
            for j in range(1, len(ys)):
                first, rest = self.places.acrosses[j]
                if len(first):
                    beside = self.counts[band]
                    self._take_best(
                        beside[:, first].swapaxes(0, 1), beside[:, rest].swapaxes(0, 1),
                        (band, j), ACROSS,
                    )  # fmt: skip
            start = end

    def _take_best(
        self, first: Counts, rest: Counts, at: tuple[int | slice, int | slice], how: int
    ) -> None:
        """Let rectangles keep the best way to cut them in two, if it is better than they have."""
        both = np.minimum(first + rest, self.limits)
        values = both @ self.values
        cut = values.argmax(axis=0)
        rows = np.arange(len(cut))
        most = values[cut, rows]
        better = most > self.best[at]
        if better.any():
            self.best[at] = np.where(better, most, self.best[at])
            self.counts[at][better] = both[cut, rows][better]
            self.how[at][better] = how
            self.where[at][better] = cut[better]

    def _tree(self, x: int, y: int, width: int, height: int) -> Part:
        places = self.places
        i = int(np.searchsorted(places.xs, width, side="right")) - 1
        j = int(np.searchsorted(places.ys, height, side="right")) - 1
        how, where, kerf = int(self.how[i, j]), int(self.where[i, j]), places.kerf
        whole = (x, y, width - kerf, height - kerf)
        if not how:
            return Part(*whole)
        if how == PIECE:
            return cut_free(places.lying[where], *whole, kerf)
        if how == DOWN:
            # The first part is the smaller one, so that the other is more than the blade takes.
            at = self._place(places.xs, places.downs[i], where)
            beside = self._tree(x + at, y, width - at, height)
            return Part(*whole, "down", (self._tree(x, y, at, height), beside))
        at = self._place(places.ys, places.acrosses[j], where)
        below = self._tree(x, y + at, width, height - at)
        return Part(*whole, "across", (self._tree(x, y, width, at), below))

    @staticmethod
    def _place(points: Ints, splits: tuple[Ints, Ints], where: int) -> int:
        return int(points[splits[0][where]])
