"""A quick, nearly best layout: cuts only where a whole piece's width or height is split off.

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
FINE_POINTS = 900
"""Places along a side up to which sizes are taken as they are."""
BOUND_POINTS = 150
"""Places along a side for the bound by rounding; more would be closer and slower."""


class StagedTable(Table):
    """The table filled in turns of cuts across and down at the widths and heights of pieces."""

    def _cuts(self) -> None:
        widths = sorted({w for w, _ in self.cells})
        heights = sorted({h for _, h in self.cells})
        for turn in range(TURNS):
            if turn % 2 == 0:
                turned = self.best.T.copy()
                _split_off(self.ys, heights, turned)
                self.best = turned.T.copy()
            else:
                _split_off(self.xs, widths, self.best)


def _split_off(points: Ints, sizes: Sequence[int], best: Ints) -> None:
    """Improve every row by splitting a part of one of ``sizes`` off it, rows rising."""
    parts = np.searchsorted(points, [s for s in sizes if s <= points[-1]])
    for row in range(1, len(points)):
        usable = parts[: np.searchsorted(parts, row)]
        if len(usable):
            rest = np.searchsorted(points, points[row] - points[usable], side="right") - 1
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


def quick_layout(
    width_nm: int,
    height_nm: int,
    lying: Sequence[Lying],
    kerf_nm: int = 0,
    origin: tuple[int, int] = (0, 0),
    points: int = FINE_POINTS,
) -> Best | None:
    """A layout of nearly the most value; None where nothing worth anything fits.

    Fewer ``points`` along a side are quicker and coarser.
    """
    fitting = [
        p for p in lying if p.value > 0 and p.width_nm <= width_nm and p.height_nm <= height_nm
    ]
    if not fitting:
        return None
    width, height = width_nm + kerf_nm, height_nm + kerf_nm
    cells = rounded_cells(width, height, fitting, kerf_nm, points)
    table = StagedTable(width, height, fitting, kerf_nm, cells)
    return Best(table.value, joined(table.tree(*origin, width, height)))


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
