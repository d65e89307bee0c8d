"""Parts in a row, and the first trims: freeing a rectangle that lies in the corner of a sheet.

Sizes are enlarged by the kerf, as in :mod:`unlimited`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from app.core.cutting.tree import Part

Size = TypeVar("Size", int, npt.NDArray[np.int64])


def trims_reach(
    width: Size, height: Size, whole_width: int, whole_height: int, longest: int
) -> npt.NDArray[np.bool_]:
    """Whether cuts no longer than ``longest`` trim the whole to this size, in either order."""
    beside, below = width < whole_width, height < whole_height
    across_first = (whole_width <= longest) & ((height <= longest) | ~np.asarray(beside))
    down_first = (whole_height <= longest) & ((width <= longest) | ~np.asarray(below))
    only_across = ~np.asarray(beside) & (whole_width <= longest)
    only_down = ~np.asarray(below) & (whole_height <= longest)
    nothing = ~np.asarray(beside) & ~np.asarray(below)
    return np.asarray(
        nothing | only_across | only_down | (beside & below & (across_first | down_first))
    )


def trimmed_free(part: Part, whole: tuple[int, int], kerf: int, longest: int | None) -> Part:
    """The whole with ``part`` in its corner, what is beside and below it cut off.

    The first cut is the one that leaves the larger remainder whole, if the cutter reaches.
    """
    beside = whole[0] - part.width_nm - kerf
    below = whole[1] - part.height_nm - kerf
    down_first = beside * whole[1] >= below * whole[0]
    if longest is not None and beside and below:
        if down_first:
            down_first = whole[1] <= longest and part.width_nm + kerf <= longest
        else:
            down_first = not (whole[0] <= longest and part.height_nm + kerf <= longest)
    x, y = part.x_nm, part.y_nm
    for cut in ("across", "down") if down_first else ("down", "across"):
        size = (whole[0], part.height_nm + kerf)
        if cut == "across":
            size = (part.width_nm + kerf, whole[1])
        part = in_a_row(cut, x, y, *size, [part], kerf)
    return part


def in_a_row(
    cut: str, x: int, y: int, width: int, height: int, parts: Sequence[Part], kerf: int
) -> Part:
    """Parts side by side (or above one another), and what is left beyond them."""
    used = sum((p.width_nm if cut == "down" else p.height_nm) + kerf for p in parts)
    left = (width if cut == "down" else height) - used
    if not left and len(parts) == 1:
        return parts[0]
    real = (width - kerf, height - kerf)
    every = list(parts)
    if left > kerf:
        at = (x + used, y) if cut == "down" else (x, y + used)
        size = (left - kerf, real[1]) if cut == "down" else (real[0], left - kerf)
        every.append(Part(*at, *size))
    return Part(x, y, *real, cut, tuple(every))
