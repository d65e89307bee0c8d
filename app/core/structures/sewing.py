"""Stations along a fold and the thread's way through them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate, pairwise

from app.core.structures.thread import Stitch


def even_stations(height_nm: int, count: int, end_nm: int) -> tuple[int, ...]:
    """Stations from the head: the outer two ``end_nm`` from the ends, the rest evenly between."""
    span = height_nm - 2 * end_nm
    return tuple(end_nm + (2 * span * i + count - 1) // (2 * (count - 1)) for i in range(count))


def middles(thick: Sequence[int]) -> tuple[int, ...]:
    """How far the middle of each signature lies from that of the first, one on another."""
    return (0, *accumulate((below + above) // 2 for below, above in pairwise(thick)))


def row_offsets(rows: int, pitch_nm: int) -> tuple[int, ...]:
    """How far each row of holes lies from the middle of the spine.

    Row i lies at (i − (rows − 1)/2) × pitch, so two rows straddle the middle and the second of
    three lies on it. Rounded towards the middle by less than a nanometre.
    """
    # int() cuts towards zero, the middle.
    return tuple(int(Fraction((2 * i - (rows - 1)) * pitch_nm, 2)) for i in range(rows))


def pamphlet_path(stations: int, row: int, *, knot_inside: bool) -> tuple[Stitch, ...]:
    """The pamphlet stitch through an odd number of stations, beginning and ending in the middle.

    From the middle the thread works out to the head and back, passes over the middle station to
    the other half, works out to the tail and returns. Every stretch between neighbouring
    stations is run twice, once on each side of the fold. For three stations the order is
    2-1-3-2, for five 3-2-1-2-4-5-4-3 (the mirror image of beginning towards the tail), as in
    book-repair manuals.
    """
    middle = stations // 2
    out_and_back = [*range(middle - 1, -1, -1), *range(1, middle)]
    mirrored = [stations - 1 - s for s in out_and_back]
    order = [middle, *out_and_back, *mirrored, middle]
    points: list[Stitch] = []
    inside = knot_inside
    for station in order:
        points.append(Stitch(row, station, inside))
        inside = not inside
        points.append(Stitch(row, station, inside))
    return tuple(points)
