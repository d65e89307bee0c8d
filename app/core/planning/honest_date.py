"""The first date to promise: with the bench's hours as they are, and nothing else made late by it.

Work is done day by day, what must leave the bench first before all else that can be begun. No other
way makes the latest less late (Jackson 1955; where work may begin only when its materials are here,
Horn, Nav. Res. Log. Quart. 21, 1974), so what this finds late would be late in any.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from app.core.planning.capacity import Job, MinutesOn

FURTHEST_DAYS = 730
"""No date is promised further ahead."""


def honest_date(
    jobs: Sequence[Job], new: Job, minutes_on: MinutesOn, today: date, ready: date
) -> date | None:
    """The first day by which ``new`` can be done, begun when its materials are ``ready``.

    The day it is due itself does not matter. None where there is no such day for two years.
    """
    known = set(_late(jobs, minutes_on, today))

    def fits(days: int) -> bool:
        job = replace(new, due=today + timedelta(days=days))
        return set(_late([*jobs, job], minutes_on, today, {job.key: ready})) <= known

    if not fits(FURTHEST_DAYS):
        return None
    low, high = 0, FURTHEST_DAYS
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle + 1, high)
    return today + timedelta(days=low)


def made_late(
    jobs: Sequence[Job], new: Job, minutes_on: MinutesOn, today: date, ready: date | None = None
) -> tuple[str, ...]:
    """The jobs, by their keys, that ``new`` with its due day would make late, itself among them.

    What is late without it is not among them.
    """
    known = set(_late(jobs, minutes_on, today))
    late = _late([*jobs, new], minutes_on, today, {new.key: ready or today})
    return tuple(key for key in late if key not in known)


def _late(
    jobs: Sequence[Job], minutes_on: MinutesOn, today: date, ready: dict[str, date] | None = None
) -> list[str]:
    """Jobs that do not leave the bench by their last day; some are not begun before a day."""
    waits = ready or {}
    left = {job.key: job.minutes for job in jobs}
    going = sorted(jobs, key=lambda j: (j.last_bench_day, j.due, j.key))
    last = today + timedelta(days=FURTHEST_DAYS)
    late = [job.key for job in going if not job.minutes and job.last_bench_day < today]
    going = [job for job in going if job.minutes]
    day = today
    while going and day <= last:
        free = Fraction(minutes_on(day))
        for job in list(going):
            if not free:
                break
            if waits.get(job.key, today) > day:
                continue
            worked = min(left[job.key], free)
            left[job.key] -= worked
            free -= worked
            if not left[job.key]:
                going.remove(job)
                if day > job.last_bench_day:
                    late.append(job.key)
        day += timedelta(days=1)
    return [*late, *(job.key for job in going)]
