"""Why a piece comes out of none of a paper's sheets: by how much it is too large, or the grain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.yields import lying_ways, yield_of
from app.core.length import show_length, show_size
from app.core.paper import Piece, Sheet
from app.language import say, to_say
from app.models import Shop


def why_it_does_not_fit(piece: Piece, sheets: Sequence[Sheet], shop: Shop, cutter: Cutter) -> str:
    """By how much a piece is too large for the nearest sheet, or the grain that bars it."""
    unit = shop.unit
    size = show_size(piece.width_nm, piece.height_nm, unit)
    about = {"piece": piece.named(1), "size": size}
    anyhow = replace(piece, grain=None)
    for sheet in sheets:
        if yield_of(anyhow, replace(sheet, pattern_up=False, reach_nm=None), cutter).best:
            if (
                sheet.reach_nm is not None
                and not yield_of(anyhow, replace(sheet, pattern_up=False), cutter).best
            ):
                largest = show_size(sheet.width_nm, sheet.reach_nm, unit)
                return say(
                    "The {piece} is {size}; a {sheet} gives none larger than {largest}.",
                    sheet=sheet.name, largest=largest, **about,
                )  # fmt: skip
            if sheet.pattern_up and yield_of(piece, replace(sheet, pattern_up=False)).best:
                return say(
                    "The {piece} is {size} and fits a {sheet} sheet only on its side, where the "
                    "pattern would lie wrong. Take a sheet without a pattern, or a smaller size.",
                    sheet=sheet.name, **about,
                )  # fmt: skip
            return say(_ACROSS[sheet.grain], sheet=sheet.name, **about)
    tries = [
        (max(way.width_nm - w, 0) + max(way.height_nm - h, 0), way, sheet, w, h)
        for sheet in sheets
        for way in lying_ways(piece, sheet)
        for w, h in (sheet.usable,)
    ]
    if not tries:
        return say(
            "The {piece} is {size} and lies on none of the sheets the way its grain must run.",
            **about,
        )
    _, way, sheet, w, h = min(tries, key=lambda t: t[0])
    over = way.width_nm - w, way.height_nm - h
    wide, high = reversed(over) if way.turned else over
    nearest = say("{sheet} once trimmed", sheet=sheet.name) if sheet.trim_nm else sheet.name
    return say(
        _TOO_LARGE[wide > 0, high > 0],
        sheet=nearest, wide=show_length(wide, unit), high=show_length(high, unit), **about,
    )  # fmt: skip


_ACROSS: dict[str | None, str] = {
    "width": to_say(
        "The {piece} is {size} and fits a {sheet} sheet only with its fold across the grain, which "
        "runs along the sheet's width: it would crack. Take a sheet with the grain along its "
        "height, a smaller size, or let the grain run either way."
    ),
    "height": to_say(
        "The {piece} is {size} and fits a {sheet} sheet only with its fold across the grain, which "
        "runs along the sheet's height: it would crack. Take a sheet with the grain along its "
        "width, a smaller size, or let the grain run either way."
    ),
}
_TOO_LARGE = {
    (True, True): to_say(
        "The {piece} is {size}; even on the sheet that comes nearest, {sheet}, it is {wide} too "
        "much in width and {high} too much in height. Make it {wide} narrower and {high} lower, or "
        "add a larger sheet."
    ),
    (True, False): to_say(
        "The {piece} is {size}; even on the sheet that comes nearest, {sheet}, it is {wide} too "
        "much in width. Make it {wide} narrower, or add a larger sheet."
    ),
    (False, True): to_say(
        "The {piece} is {size}; even on the sheet that comes nearest, {sheet}, it is {high} too "
        "much in height. Make it {high} lower, or add a larger sheet."
    ),
    (False, False): to_say(
        "The {piece} is {size}; even on the sheet that comes nearest, {sheet}, the cutter cannot "
        "free it."
    ),
}
