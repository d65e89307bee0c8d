"""The best straight-cut layout of one sheet when any number of each piece may be cut.

Exact dynamic programming over the places where a cut can matter: a cut may always be pushed
towards the left or the top until it lies at a sum of piece widths or heights, so only those
sums (*normal patterns*, Herz 1972; Christofides and Whitlock, Oper. Res. 25, 1977) are looked
at. For every pair of such sums the best value of a rectangle of that size is the best of one
piece, a cut down and a cut across; rows are worked out whole with numpy, since Beasley's
recursion (J. Oper. Res. Soc. 36, 1985) looks at each of them many times.

Kerf: each cut eats ``kerf``; enlarging every piece and the sheet by it gives the same problem
without one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from app.core.cutting.layout import Part, Placed, joined
from app.core.errors import DomainError

Ints = npt.NDArray[np.int64]

MOST_STATES = 1_500_000
"""Rectangles looked at in one search; more would take longer than anybody waits."""
MOST_SUMS = 8_000_000


@dataclass(frozen=True)
class Lying:
    """A piece one way up: its size as it lies, its worth (a whole number) and its name."""

    name: str
    width_nm: int
    height_nm: int
    value: int
    turned: bool = False


@dataclass(frozen=True)
class Best:
    """The most value from one rectangle and the tree that gives it."""

    value: int
    tree: Part


def best_layout(
    width_nm: int,
    height_nm: int,
    lying: Sequence[Lying],
    kerf_nm: int = 0,
    origin: tuple[int, int] = (0, 0),
) -> Best:
    """The most valuable straight-cut layout of a rectangle; pieces may repeat without limit.

    Refuses problems with more than :data:`MOST_STATES` rectangles to look at.
    """
    fitting = [p for p in lying if p.width_nm <= width_nm and p.height_nm <= height_nm]
    x, y = origin
    if not fitting:
        return Best(0, Part(x, y, width_nm, height_nm))
    table = Table(width_nm + kerf_nm, height_nm + kerf_nm, fitting, kerf_nm)
    tree = table.tree(x, y, width_nm + kerf_nm, height_nm + kerf_nm)
    return Best(table.value, joined(tree))


def normal_points(length: int, sizes: Sequence[int]) -> Ints:
    """Every sum of ``sizes`` (each as often as one likes) up to ``length``, with nought."""
    points = np.zeros(1, dtype=np.int64)
    for size in sorted(set(sizes)):
        if size > length:
            continue
        times = np.arange(length // size + 1, dtype=np.int64) * size
        if len(points) * len(times) > MOST_SUMS:
            raise DomainError("The pieces are too many and too small for the sheet to be searched.")
        sums = (points[:, None] + times[None, :]).ravel()
        points = np.unique(sums[sums <= length])
    return points


class Table:
    """The recursion's table over normal points, sizes enlarged by the kerf.

    ``cells`` may give each piece a larger size to be planned with (rounded up, so that there
    are fewer points to look at); the piece itself is cut free at its own size.
    """

    def __init__(
        self,
        width: int,
        height: int,
        lying: Sequence[Lying],
        kerf: int,
        cells: Sequence[tuple[int, int]] | None = None,
    ) -> None:
        self.kerf = kerf
        self.lying = lying
        self.cells = cells or [(p.width_nm + kerf, p.height_nm + kerf) for p in lying]
        self.xs = normal_points(width, [w for w, _ in self.cells])
        self.ys = normal_points(height, [h for _, h in self.cells])
        shape = (len(self.xs), len(self.ys))
        if shape[0] * shape[1] > MOST_STATES:
            raise DomainError("The pieces are too many and too small for the sheet to be searched.")
        self.best = np.zeros(shape, dtype=np.int64)
        self._single_pieces()
        self._cuts()

    @property
    def value(self) -> int:
        """The most value of the whole rectangle."""
        return int(self.best[-1, -1])

    def _single_pieces(self) -> None:
        for (cell_width, cell_height), piece in zip(self.cells, self.lying, strict=True):
            i = int(np.searchsorted(self.xs, cell_width))
            j = int(np.searchsorted(self.ys, cell_height))
            block = self.best[i:, j:]
            np.maximum(block, piece.value, out=block)

    def _cuts(self) -> None:
        """Every place for a cut, rows rising; only values are kept, cuts are found again later."""
        splits = [_splits(self.ys, j) for j in range(len(self.ys))]
        for i in range(1, len(self.xs)):
            first, rest = _splits(self.xs, i)
            row = self.best[i]
            if len(first):
                sums = self.best[1 : len(first) + 1] + self.best[rest]
                np.maximum(row, sums.max(axis=0), out=row)
            for j in range(1, len(self.ys)):
                above, below = splits[j]
                if len(above):
                    most = (row[1 : len(above) + 1] + row[below]).max()
                    if most > row[j]:
                        row[j] = most

    def tree(self, x: int, y: int, width: int, height: int) -> Part:
        """The cuts of a rectangle whose width and height are enlarged by the kerf."""
        i = int(np.searchsorted(self.xs, width, side="right")) - 1
        j = int(np.searchsorted(self.ys, height, side="right")) - 1
        value = int(self.best[i, j])
        real = (x, y, width - self.kerf, height - self.kerf)
        if not value:
            return Part(*real)
        piece = self._piece_worth(value, int(self.xs[i]), int(self.ys[j]))
        if piece is not None:
            return cut_free(piece, *real, self.kerf)
        at = _place(self.best[:, j], self.xs, i, value)
        if at is not None:
            return self.divided(x, y, width, height, "down", at)
        at = _place(self.best[i], self.ys, j, value)
        if at is None:
            raise AssertionError("a value comes from a piece or from a cut")
        return self.divided(x, y, width, height, "across", at)

    def divided(self, x: int, y: int, width: int, height: int, cut: str, at: int) -> Part:
        """A rectangle cut in two at a place, both halves cut further.

        Where nothing but the kerf would remain beyond the cut there is no second half.
        """
        if cut == "down":
            parts = [self.tree(x, y, at, height)]
            if width - at > self.kerf:
                parts.append(self.tree(x + at, y, width - at, height))
        else:
            parts = [self.tree(x, y, width, at)]
            if height - at > self.kerf:
                parts.append(self.tree(x, y + at, width, height - at))
        return Part(x, y, width - self.kerf, height - self.kerf, cut, tuple(parts))

    def _piece_worth(self, value: int, width: int, height: int) -> Lying | None:
        """A single piece worth that much that fits, if there is one."""
        for (cell_width, cell_height), piece in zip(self.cells, self.lying, strict=True):
            if piece.value >= value and cell_width <= width and cell_height <= height:
                return piece
        return None


def _place(values: Ints, points: Ints, index: int, value: int) -> int | None:
    """A place to cut so that both parts together are worth ``value``."""
    first, rest = _splits(points, index)
    if not len(first):
        return None
    # The last such place halves best, which keeps the tree low.
    good = np.nonzero(values[first] + values[rest] >= value)[0]
    return int(points[first[good[-1]]]) if len(good) else None


def cut_free(piece: Lying, x: int, y: int, width: int, height: int, kerf: int) -> Part:
    """A part with one piece in its corner, freed by a cut down and a cut across as needed."""
    placed = Placed(piece.name, x, y, piece.width_nm, piece.height_nm, piece.turned)
    strip = Part(x, y, piece.width_nm, height, piece=placed)
    if height > piece.height_nm:
        own = Part(x, y, piece.width_nm, piece.height_nm, piece=placed)
        left = height - piece.height_nm - kerf
        parts = (
            (own, Part(x, y + piece.height_nm + kerf, piece.width_nm, left)) if left > 0 else (own,)
        )
        strip = Part(x, y, piece.width_nm, height, "across", parts)
    left = width - piece.width_nm - kerf
    if width == piece.width_nm:
        return strip
    rest = (Part(x + piece.width_nm + kerf, y, left, height),) if left > 0 else ()
    return Part(x, y, width, height, "down", (strip, *rest))


def _splits(points: Ints, index: int) -> tuple[Ints, Ints]:
    """Ways to cut ``points[index]`` in two: index of the smaller part, index of what remains."""
    whole = points[index]
    last = int(np.searchsorted(points, whole // 2, side="right"))
    first = np.arange(1, last, dtype=np.int64)
    rest = np.searchsorted(points, whole - points[first], side="right") - 1
    return first, rest.astype(np.int64)
