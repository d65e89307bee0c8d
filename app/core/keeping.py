"""Which backups to keep: dense for what is near, thin for what is long ago."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime

ALL_OF_DAYS, DAYS, WEEKS, MONTHS = 2, 14, 8, 12


def to_keep(
    made: Iterable[datetime], days: int = DAYS, weeks: int = WEEKS, months: int = MONTHS
) -> set[datetime]:
    """The newest of each of the last ``days`` days, ``weeks`` weeks and ``months`` months.

    Of the last two days all are kept: one was perhaps made before something was tried.
    Only days, weeks and months that have one are counted, so neither a pause nor a clock that was
    set wrong for a while makes an old one go. Weeks are those of ISO 8601.
    """
    newest_first = sorted(made, reverse=True)
    last = sorted({at.date() for at in newest_first})[-ALL_OF_DAYS:]
    kept = {at for at in newest_first if at.date() in last}
    spans: tuple[tuple[int, Callable[[datetime], object]], ...] = (
        (days, lambda at: at.date()),
        (weeks, lambda at: at.isocalendar()[:2]),
        (months, lambda at: (at.year, at.month)),
    )
    for most, span in spans:
        seen: set[object] = set()
        for at in newest_first:
            if len(seen) < most and span(at) not in seen:
                seen.add(span(at))
                kept.add(at)
    return kept
