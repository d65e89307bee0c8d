"""What a list is asked for: the markets that count, kinds cut apart, where a page begins."""

from __future__ import annotations

from werkzeug.datastructures import MultiDict


def markets_asked(values: MultiDict[str, str]) -> set[int] | None:
    """The markets ticked; None, for all of them, where nothing was asked."""
    asked = {int(m) for m in values.getlist("market") if m.isdecimal() and len(m) < 10}
    return asked if asked or "chosen" in values else None


def apart_asked(values: MultiDict[str, str]) -> bool:
    """Whether every kind of piece is to be cut from sheets of its own."""
    return "apart" in values


def number_asked(values: MultiDict[str, str], name: str) -> int | None:
    """A whole number in an address; None where there is none, or none that could be meant."""
    typed = values.get(name, "")
    return int(typed) if typed.isdecimal() and len(typed) < 10 else None
