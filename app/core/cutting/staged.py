"""Quick, nearly best layouts: cuts only where a whole piece's width or height is split off.

The exact recursion of :mod:`unlimited` tries every place for a cut. Here each cut splits off a
part as wide (or as high) as some piece, and cuts across and down are worked out in turns, for
all rectangles of one width or height at once: stages of strips within strips, as in the staged
cutting of Gilmore and Gomory (Oper. Res. 13, 1965). Four turns leave almost nothing out and take
a fraction of the time. Where sizes are so odd that there are too many places, pieces are
planned with sizes rounded up to a coarser step: what comes out can always be cut.

The same table with sizes rounded down, worked out exactly, can only overrate a sheet: that is
the bound of :func:`most_by_rounding`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from app.core.cutting.layout import joined
from app.core.cutting.unlimited import Best, Ints, Lying, Table, normal_points
from app.core.errors import DomainError

TURNS = 4
BOUND_POINTS = 150
"""Places along a side for the bound by rounding; more would be closer and slower."""


class Pricer:
    """The places to cut one sheet for a fixed set of pieces, worked out once for many worths."""

    def __init__(
        self, width_nm: int, height_nm: int, lying: Sequence[Lying], kerf_nm: int, points: int
    ) -> None:
        self.width, self.height, self.kerf = width_nm + kerf_nm, height_nm + kerf_nm, kerf_nm
        self.fitting = [
            index
            for index, p in enumerate(lying)
            if p.width_nm <= width_nm and p.height_nm <= height_nm
        ]
        self.lying = [lying[index] for index in self.fitting]
        self.cells = rounded_cells(self.width, self.height, self.lying, kerf_nm, points)
        self.xs = normal_points(self.width, [w for w, _ in self.cells])
        self.ys = normal_points(self.height, [h for _, h in self.cells])
        self.downs = _splits_off(self.xs, [w for w, _ in self.cells])
        self.acrosses = _splits_off(self.ys, [h for _, h in self.cells])

    def best(
        self, values: Sequence[int], origin: tuple[int, int] = (0, 0), most: int = 1
    ) -> list[Best]:
        """Up to ``most`` good layouts at these worths (one for each way a piece may lie).

        The best comes first; the others begin with another first cut, so that they differ.
        """
        worth = [values[index] for index in self.fitting]
        if not any(worth):
            return []
        table = StagedTable(self, worth)
        whole = Best(table.value, joined(table.tree(*origin, self.width, self.height)))
        return [whole, *self._others(table, origin, most - 1)]

    def _others(self, table: StagedTable, origin: tuple[int, int], most: int) -> list[Best]:
        """Good layouts by their first cuts, the most valuable first."""
        if most <= 0:
            return []
        x, y = origin
        cuts: list[tuple[int, str, int]] = []
        for way, splits, line, points in (
            ("down", self.downs, table.best[:, -1], self.xs),
            ("across", self.acrosses, table.best[-1], self.ys),
        ):
            if splits and splits[-1][0] == len(points) - 1:
                _, usable, rest = splits[-1]
                sums = line[usable] + line[rest]
                cuts += [(int(v), way, int(points[at])) for v, at in zip(sums, usable, strict=True)]
        cuts.sort(key=lambda cut: (-cut[0], cut[1], cut[2]))
        found: list[Best] = []
        for value, way, at in cuts[1 : most + 1]:
            part = table.divided(x, y, self.width, self.height, way, at)
            found.append(Best(value, joined(part)))
        return found


Splits = list[tuple[int, Ints, Ints]]
"""Row, the parts that may be split off it, and what then remains."""


def _splits_off(points: Ints, sizes: Sequence[int]) -> Splits:
    parts = np.unique(np.searchsorted(points, [s for s in sizes if s <= points[-1]]))
    found: Splits = []
    for row in range(1, len(points)):
        usable = parts[: np.searchsorted(parts, row)]
        if len(usable):
            rest = np.searchsorted(points, points[row] - points[usable], side="right") - 1
            found.append((row, usable, rest))
    return found


class StagedTable(Table):
    """The table filled in turns of cuts across and down at the widths and heights of pieces."""

    def __init__(self, places: Pricer, worth: Sequence[int]) -> None:
        self.kerf, self.cells, self.xs, self.ys = places.kerf, places.cells, places.xs, places.ys
        self.lying = [
            Lying(p.name, p.width_nm, p.height_nm, value, p.turned)
            for p, value in zip(places.lying, worth, strict=True)
        ]
        self.places = places
        self.best = np.zeros((len(self.xs), len(self.ys)), dtype=np.int64)
        self._single_pieces()
        self._cuts()

    def _cuts(self) -> None:
        for turn in range(TURNS):
            if turn % 2 == 0:
                turned = self.best.T.copy()
                _split_rows(turned, self.places.acrosses)
                self.best = turned.T.copy()
            else:
                _split_rows(self.best, self.places.downs)


def _split_rows(best: Ints, splits: Splits) -> None:
    """Improve every row by splitting a part off it, rows rising."""
    for row, usable, rest in splits:
        np.maximum(best[row], (best[usable] + best[rest]).max(axis=0), out=best[row])


def coarse_step(length: int, sizes: Sequence[int], most_points: int) -> int:
    """A step to round sizes to, for about ``most_points`` places at the most; 1 for none."""
    try:
        if len(normal_points(length, sizes)) <= most_points:
            return 1
    except DomainError:
        pass
    return -(-length // most_points)


def rounded_cells(
    width: int, height: int, lying: Sequence[Lying], kerf: int, most_points: int
) -> list[tuple[int, int]]:
    """Sizes to plan with: as they are, or rounded up to a coarser step, never past the sheet."""
    sizes = [(p.width_nm + kerf, p.height_nm + kerf) for p in lying]
    step_x = coarse_step(width, [w for w, _ in sizes], most_points)
    step_y = coarse_step(height, [h for _, h in sizes], most_points)
    return [
        (min(-(-w // step_x) * step_x, width), min(-(-h // step_y) * step_y, height))
        for w, h in sizes
    ]


def most_by_rounding(
    width_nm: int, height_nm: int, lying: Sequence[Lying], kerf_nm: int = 0
) -> int:
    """A value that no layout of the sheet can exceed; exact where there are few places to cut."""
    width, height = width_nm + kerf_nm, height_nm + kerf_nm
    fitting = [
        p for p in lying if p.value > 0 and p.width_nm <= width_nm and p.height_nm <= height_nm
    ]
    if not fitting:
        return 0
    sizes = [(p.width_nm + kerf_nm, p.height_nm + kerf_nm) for p in fitting]
    step_x = coarse_step(width, [w for w, _ in sizes], BOUND_POINTS)
    step_y = coarse_step(height, [h for _, h in sizes], BOUND_POINTS)
    shrunk = [
        Lying(p.name, max(w // step_x, 1), max(h // step_y, 1), p.value)
        for p, (w, h) in zip(fitting, sizes, strict=True)
    ]
    return Table(width // step_x, height // step_y, shrunk, 0).value
