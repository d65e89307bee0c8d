"""What the time of an operation is counted by, in words: ``3 signatures``, ``1 thread across``."""

from __future__ import annotations

from collections.abc import Callable

from app.language import say_many, to_say

COUNTED: dict[str, Callable[[int], str]] = {
    to_say("batch"): lambda n: say_many(n, "{n} batch", "{n} batches"),
    to_say("bead"): lambda n: say_many(n, "{n} bead", "{n} beads"),
    to_say("book"): lambda n: say_many(n, "{n} book", "{n} books"),
    to_say("button"): lambda n: say_many(n, "{n} button", "{n} buttons"),
    to_say("case"): lambda n: say_many(n, "{n} case", "{n} cases"),
    to_say("coat"): lambda n: say_many(n, "{n} coat", "{n} coats"),
    to_say("corner"): lambda n: say_many(n, "{n} corner", "{n} corners"),
    to_say("edge"): lambda n: say_many(n, "{n} edge", "{n} edges"),
    to_say("fold"): lambda n: say_many(n, "{n} fold", "{n} folds"),
    to_say("folio"): lambda n: say_many(n, "{n} folio", "{n} folios"),
    to_say("glued side"): lambda n: say_many(n, "{n} glued side", "{n} glued sides"),
    to_say("handful"): lambda n: say_many(n, "{n} handful", "{n} handfuls"),
    to_say("hole"): lambda n: say_many(n, "{n} hole", "{n} holes"),
    to_say("impression"): lambda n: say_many(n, "{n} impression", "{n} impressions"),
    to_say("journal"): lambda n: say_many(n, "{n} journal", "{n} journals"),
    to_say("magnet"): lambda n: say_many(n, "{n} magnet", "{n} magnets"),
    to_say("notebook"): lambda n: say_many(n, "{n} notebook", "{n} notebooks"),
    to_say("piece"): lambda n: say_many(n, "{n} piece", "{n} pieces"),
    to_say("pocket"): lambda n: say_many(n, "{n} pocket", "{n} pockets"),
    to_say("score line"): lambda n: say_many(n, "{n} score line", "{n} score lines"),
    to_say("signature"): lambda n: say_many(n, "{n} signature", "{n} signatures"),
    to_say("station"): lambda n: say_many(n, "{n} station", "{n} stations"),
    to_say("step"): lambda n: say_many(n, "{n} step", "{n} steps"),
    to_say("thread across"): lambda n: say_many(n, "{n} thread across", "{n} threads across"),
    to_say("tie"): lambda n: say_many(n, "{n} tie", "{n} ties"),
    to_say("tip-in"): lambda n: say_many(n, "{n} tip-in", "{n} tip-ins"),
}
"""By the word for one of them, which is in the catalogues as well."""


def many_of(driver: str, n: int) -> str:
    """So many of what an operation counts; of what none counts any more, the number and the word.

    >>> many_of("signature", 3), many_of("score line", 1), many_of("stitch", 2)
    ('3 signatures', '1 score line', '2 × stitch')
    """
    counted = COUNTED.get(driver)
    return counted(n) if counted else f"{n} × {driver}"
