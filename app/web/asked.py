"""What a list is asked for: the markets that count, and whether kinds of pieces are cut apart."""

from __future__ import annotations

from collections.abc import Iterable

from werkzeug.datastructures import MultiDict

from app.models import Market


def markets_asked(values: MultiDict[str, str], coming: Iterable[Market] = ()) -> set[int] | None:
    """The markets ticked, or those to come where nothing was asked; None for all of them."""
    asked = {int(m) for m in values.getlist("market") if m.isdecimal() and len(m) < 10}
    if asked or "chosen" in values:
        return asked
    return {market.id for market in coming} or None


def apart_asked(values: MultiDict[str, str]) -> bool:
    """Whether every kind of piece is to be cut from sheets of its own."""
    return "apart" in values
