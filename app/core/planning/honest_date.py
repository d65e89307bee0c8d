"""The first date to promise: with the bench's hours as they are, and nothing else made late by it.

All work is done as late as may be (:mod:`capacity`): so a new job fits by a day if and only if it
and all others begin no earlier than today. A later day never fits worse: it is found by halving.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from app.core.planning.capacity import Job, MinutesOn, latest_starts, minutes_overdue

FURTHEST_DAYS = 730
"""No date is promised further ahead."""


def honest_date(
    jobs: Sequence[Job], new: Job, minutes_on: MinutesOn, today: date, ready: date
) -> date | None:
    """The first day by which ``new`` can be done, begun when its materials are ``ready``.

    The day it is due itself does not matter. None where there is no such day for two years.
    """
    before = minutes_overdue(jobs, minutes_on, today)

    def fits(days: int) -> bool:
        job = replace(new, due=today + timedelta(days=days))
        starts = latest_starts([*jobs, job], minutes_on)
        if starts[job.key].start < max(ready, today):
            return False
        return minutes_overdue([*jobs, job], minutes_on, today) <= before

    if not fits(FURTHEST_DAYS):
        return None
    low, high = 0, FURTHEST_DAYS
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle + 1, high)
    return today + timedelta(days=low)


def made_late(jobs: Sequence[Job], new: Job, minutes_on: MinutesOn, today: date) -> tuple[str, ...]:
    """The jobs, by their keys, that ``new`` with its due day would make late, itself among them.

    Worked from today on, the earliest due first: no order makes the latest of them less late
    (Jackson 1955). What is late without it is not among them.
    """
    late = _late(jobs, minutes_on, today)
    return tuple(key for key in _late([*jobs, new], minutes_on, today) if key not in late)


def _late(jobs: Sequence[Job], minutes_on: MinutesOn, today: date) -> list[str]:
    """Jobs that do not leave the bench by their last day, one worked after the other."""
    day, free = today, Fraction(minutes_on(today))
    found = []
    last = today + timedelta(days=FURTHEST_DAYS)
    for job in sorted(jobs, key=lambda j: (j.last_bench_day, j.due, j.key)):
        left = job.minutes
        while left > free and day < last:
            left -= free
            day += timedelta(days=1)
            free = Fraction(minutes_on(day))
        free -= min(left, free)
        if day > job.last_bench_day:
            found.append(job.key)
    return found
