"""The bench's capacity: how late each piece of work may start so that all is done in time.

Latest starts run backwards. A job that has to wait after the bench (pressed, dried) must leave it
that many days earlier. Taken in the order of the days they must leave the bench by, the last
first, each job fills the latest bench minutes that are still free. That order is best: no other
one lets the first job start later (earliest due date, Jackson 1955, read backwards).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

LONGEST_DAYS = 3650
"""No work is begun more than ten years before it is wanted."""

MinutesOn = Callable[[date], int]
"""Bench minutes of a day; none on a closed one."""


@dataclass(frozen=True)
class Job:
    """Bench minutes wanted for something by a day; ``waiting_days`` pass after them at no cost."""

    key: str
    due: date
    minutes: Fraction
    waiting_days: int = 0

    @property
    def last_bench_day(self) -> date:
        """The last day the bench may work on it: the due day itself is for handing over."""
        return self.due - timedelta(days=max(self.waiting_days, 1))


@dataclass(frozen=True)
class LatestStart:
    """When a job must begin and leave the bench; ``next_key`` is the job that follows it there.

    ``next_key`` is empty where its own day decides and no other job's start.
    """

    job: Job
    start: date
    end: date
    next_key: str = ""


class _Bench:
    """Free bench minutes, used up from the end: all days before ``day``, and ``free`` of it."""

    def __init__(self, minutes_on: MinutesOn) -> None:
        self.minutes_on = minutes_on
        self.day = date.max
        self.free = Fraction(0)
        self.used: dict[date, Fraction] = {}
        """Minutes filled, by day."""

    def back_to(self, last: date) -> bool:
        """Go back to a day where that is earlier; whether it is."""
        if last >= self.day:
            return False
        self.day, self.free = last, Fraction(self.minutes_on(last))
        return True

    def fill(self, minutes: Fraction) -> tuple[date, date]:
        """Take the latest free minutes; the days of the first and the last of them."""
        earliest = self.day - timedelta(days=LONGEST_DAYS)
        while not self.free and self.day > earliest:
            self._yesterday()
        end = self.day
        while minutes > self.free and self.day > earliest:
            minutes -= self.free
            self._use(self.free)
            self._yesterday()
        self._use(min(minutes, self.free))
        self.free -= min(minutes, self.free)
        return self.day, end

    def _use(self, minutes: Fraction) -> None:
        if minutes:
            self.used[self.day] = self.used.get(self.day, Fraction(0)) + minutes

    def _yesterday(self) -> None:
        self.day -= timedelta(days=1)
        self.free = Fraction(self.minutes_on(self.day))


def latest_starts(jobs: Sequence[Job], minutes_on: MinutesOn) -> dict[str, LatestStart]:
    """The latest day each job may begin so that all are done in time, by the job's key.

    Jobs without minutes take no bench time: they start when they must leave it.
    """
    return _backwards(jobs, _Bench(minutes_on))


def _backwards(jobs: Sequence[Job], bench: _Bench) -> dict[str, LatestStart]:
    found: dict[str, LatestStart] = {}
    following = ""
    for job in sorted(jobs, key=lambda j: (j.last_bench_day, j.due, j.key), reverse=True):
        own = bench.back_to(job.last_bench_day)
        if not job.minutes:
            day = min(job.last_bench_day, bench.day)
            found[job.key] = LatestStart(job, day, day)
            continue
        start, end = bench.fill(job.minutes)
        found[job.key] = LatestStart(job, start, end, "" if own else following)
        following = job.key
    return found


def minutes_overdue(jobs: Sequence[Job], minutes_on: MinutesOn, today: date) -> Fraction:
    """Minutes that should have been worked before today, with every job as late as it may be."""
    bench = _Bench(minutes_on)
    _backwards(jobs, bench)
    return sum((m for day, m in bench.used.items() if day < today), Fraction(0))


@dataclass(frozen=True)
class WeekLoad:
    """A week of the bench: its first day, minutes it has, minutes wanted of it at the latest.

    What should have been worked before today is wanted of the week that today is in.
    """

    first: date
    there: int
    wanted: Fraction

    @property
    def over(self) -> Fraction:
        """How many minutes more are wanted than there are."""
        return max(self.wanted - self.there, Fraction(0))


def weeks_load(
    jobs: Sequence[Job], minutes_on: MinutesOn, today: date, weeks: int, begins: int = 0
) -> list[WeekLoad]:
    """So many weeks from the one of today, every job as late as it may be.

    A week ``begins`` on a Monday, which is 0, or on another day.
    """
    bench = _Bench(minutes_on)
    _backwards(jobs, bench)
    this_week = today - timedelta(days=(today.weekday() - begins) % 7)
    found = []
    for number in range(weeks):
        first = this_week + timedelta(weeks=number)
        days = [first + timedelta(days=n) for n in range(7)]
        wanted = sum((bench.used.get(day, Fraction(0)) for day in days), Fraction(0))
        if not number:
            wanted += sum((m for day, m in bench.used.items() if day < first), Fraction(0))
        there = sum(minutes_on(day) for day in days if day >= today)
        found.append(WeekLoad(first, there, wanted))
    return found


def minutes_free(jobs: Sequence[Job], minutes_on: MinutesOn, today: date, due: date) -> Fraction:
    """Bench minutes that may still be promised for a day without making anything else late.

    For each day from that one on by which something is wanted: what the bench has until then, less
    all that is wanted by then. The least of these is free.
    """
    asked = [*jobs, Job("", due, Fraction(0))]
    found: list[Fraction] = []
    for last in sorted({job.last_bench_day for job in asked}):
        if last < due - timedelta(days=1):
            continue
        days = range(max((last - today).days + 1, 0))
        there = sum(minutes_on(today + timedelta(days=n)) for n in days)
        wanted = sum((j.minutes for j in asked if j.last_bench_day <= last), Fraction(0))
        found.append(there - wanted)
    return max(min(found), Fraction(0))


def minutes_short(
    jobs: Sequence[Job], minutes_on: MinutesOn, today: date
) -> tuple[date, Fraction, int] | None:
    """The first day by which more minutes are wanted than the bench has, and both; None if none.

    Counted from today up to the last day on which the jobs wanted by then may be worked on.
    """
    for day in sorted({job.due for job in jobs}):
        due = [job for job in jobs if job.due <= day]
        last = max(job.last_bench_day for job in due)
        days = range((last - today).days + 1)
        wanted = sum((job.minutes for job in due), Fraction(0))
        there = sum(minutes_on(today + timedelta(days=n)) for n in days)
        if wanted > there:
            return day, wanted, there
    return None
