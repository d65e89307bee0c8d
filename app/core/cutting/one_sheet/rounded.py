"""Coarser sizes for sheets with too many places to cut: rounded up to plan, down to bound.

Rounded up, whatever is planned can be cut; rounded down, a sheet can only be overrated, so the
best value found is one that no layout exceeds.
"""

from __future__ import annotations

from collections.abc import Sequence

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.unlimited import (
    MOST_STATES,
    Lying,
    Places,
    Table,
    fitting,
    normal_points,
    raster_points,
)
from app.core.errors import DomainError

BOUND_POINTS = 400
"""Places along a side for a bound by rounding; more would be closer and slower."""


def coarse_step(length: int, sizes: Sequence[int], most_points: int) -> int:
    """A step to round sizes to, for about ``most_points`` places at the most; 1 for none."""
    try:
        normal_points(length, sizes, most_points)
    except DomainError:
        return -(-length // most_points)
    return 1


def rounded_cells(
    width_nm: int, height_nm: int, lying: Sequence[Lying], kerf: int, most_points: int
) -> list[tuple[int, int]]:
    """Sizes with the kerf, as they are or rounded up to a coarser step, never past the sheet."""
    width, height = width_nm + kerf, height_nm + kerf
    sizes = [(p.width_nm + kerf, p.height_nm + kerf) for p in lying]
    step_x = coarse_step(width, [w for w, _ in sizes], most_points)
    step_y = coarse_step(height, [h for _, h in sizes], most_points)
    return [
        (min(-(-w // step_x) * step_x, width), min(-(-h // step_y) * step_y, height))
        for w, h in sizes
    ]


def states(width_nm: int, height_nm: int, lying: Sequence[Lying], cutter: Cutter) -> int | None:
    """Rectangles that an exact search would look at; None where they are too many to count."""
    kerf = cutter.kerf_nm
    points = normal_points if cutter.longest_nm or cutter.stages is not None else raster_points
    try:
        found = len(points(width_nm + kerf, [p.width_nm + kerf for p in lying])) * len(
            points(height_nm + kerf, [p.height_nm + kerf for p in lying])
        )
    except DomainError:
        return None
    return found if found <= MOST_STATES else None


def most_by_rounding(width_nm: int, height_nm: int, lying: Sequence[Lying], cutter: Cutter) -> int:
    """A value that no layout of the sheet can exceed, whatever the turns of the cutter."""
    kerf = cutter.kerf_nm
    width, height = width_nm + kerf, height_nm + kerf
    useful = [p for p in fitting(width_nm, height_nm, lying, cutter) if p.value > 0]
    if not useful:
        return 0
    sizes = [(p.width_nm + kerf, p.height_nm + kerf) for p in useful]
    area = width * height
    by_area = max(p.value * area // (w * h) for p, (w, h) in zip(useful, sizes, strict=True))
    step_x = coarse_step(width, [w for w, _ in sizes], BOUND_POINTS)
    step_y = coarse_step(height, [h for _, h in sizes], BOUND_POINTS)
    if any(w < step_x or h < step_y for w, h in sizes):
        return by_area  # nothing would be left of such a piece, and any number of it would fit
    shrunk = [
        Lying(p.name, w // step_x, h // step_y, p.value)
        for p, (w, h) in zip(useful, sizes, strict=True)
    ]
    places = Places(width // step_x, height // step_y, shrunk)
    return min(by_area, Table(places, [p.value for p in shrunk]).value)
