"""Why a piece comes out of none of a paper's sheets: by how much it is too large, or the grain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.yields import lying_ways, yield_of
from app.core.length import show_length, show_size
from app.core.paper import Piece, Sheet
from app.models import Shop


def why_it_does_not_fit(piece: Piece, sheets: Sequence[Sheet], shop: Shop, cutter: Cutter) -> str:
    """By how much a piece is too large for the nearest sheet, or the grain that bars it."""
    unit = shop.unit
    size = show_size(piece.width_nm, piece.height_nm, unit)
    what = f"The {piece.name} is {size}"
    anyhow = replace(piece, grain=None)
    for sheet in sheets:
        if yield_of(anyhow, replace(sheet, pattern_up=False, reach_nm=None), cutter).best:
            if (
                sheet.reach_nm is not None
                and not yield_of(anyhow, replace(sheet, pattern_up=False), cutter).best
            ):
                largest = show_size(sheet.width_nm, sheet.reach_nm, unit)
                return f"{what}; a {sheet.name} gives none larger than {largest}."
            if sheet.pattern_up and yield_of(piece, replace(sheet, pattern_up=False)).best:
                return (
                    f"{what} and fits a {sheet.name} sheet only on its side, where the pattern "
                    "would lie wrong. Take a sheet without a pattern, or a smaller size."
                )
            return (
                f"{what} and fits a {sheet.name} sheet only with its fold across the grain, "
                f"which runs along the sheet's {sheet.grain}: it would crack. Take a sheet with "
                f"the grain along its {_other(sheet.grain)}, a smaller size, or let the grain "
                "run either way."
            )
    tries = [
        (max(way.width_nm - w, 0) + max(way.height_nm - h, 0), way, sheet, w, h)
        for sheet in sheets
        for way in lying_ways(piece, sheet)
        for w, h in (sheet.usable,)
    ]
    if not tries:
        return f"{what} and lies on none of the sheets the way its grain must run."
    _, way, sheet, w, h = min(tries, key=lambda t: t[0])
    wide, high = ("height", "width") if way.turned else ("width", "height")
    over = {wide: way.width_nm - w, high: way.height_nm - h}
    said, mends = [], []
    for side in ("width", "height"):
        if over[side] > 0:
            much = show_length(over[side], unit)
            said.append(f"{much} too much in {side}")
            mends.append(f"{much} {'narrower' if side == 'width' else 'lower'}")
    usable = " once trimmed" if sheet.trim_nm else ""
    return (
        f"{what}; even on the sheet that comes nearest, {sheet.name}{usable}, it is "
        f"{' and '.join(said)}. Make it {' and '.join(mends)}, or add a larger sheet."
    )


def _other(grain: str | None) -> str:
    return "height" if grain == "width" else "width"
