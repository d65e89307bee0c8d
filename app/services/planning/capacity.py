"""Bench time by demand: what is still to do for each, by when to begin, and that sum in words."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from app.core.costing import show_minutes
from app.core.errors import DomainError
from app.core.planning.capacity import Job, LatestStart, MinutesOn, latest_starts, minutes_short
from app.core.planning.requirements import Demand, Shortage
from app.core.states import BatchState
from app.dates import weekday_and_day, weekday_and_whole_month
from app.language import say, say_many
from app.models import Batch, BatchLine, Shop
from app.services.designs.journals import load_whole, take_off_of
from app.services.designs.price_book import PriceBook
from app.services.designs.take_off import TakeOff
from app.services.planning.supply import Coming
from app.services.planning.work_left import minutes_left, shares_left

NO_HOURS_SAID = 10**9
"""A bench of which no hours are said is never too short."""


@dataclass(frozen=True)
class InProgress:
    """Journals of one variant being made: how many, and the minutes still to work on each."""

    quantity: int
    minutes_each: Fraction
    waiting_days: int
    own: Mapping[str, Fraction] = field(default_factory=dict)
    """Minutes still to work on each of those that were begun for an order, by its link."""

    def minutes_for(self, link: str) -> Fraction:
        """Minutes still to work on each that a demand gets."""
        return self.own.get(link, self.minutes_each)


def in_progress(session: Session, book: PriceBook) -> dict[str, InProgress]:
    """What is being made, by item key; the minutes are those of the batches it is made in.

    What is done and logged of a batch's operations is worked already; of one without, all counts.
    """
    query = (
        select(BatchLine)
        .join(BatchLine.batch)
        .where(Batch.state == BatchState.IN_PROGRESS)
        .options(joinedload(BatchLine.variant), joinedload(BatchLine.order_line))
    )
    lines = [line for line in session.scalars(query) if line.left]
    load_whole(session, [line.variant for line in lines])
    left = shares_left(session, {line.batch_id for line in lines})
    sums: dict[tuple[str, str], tuple[int, Fraction]] = {}
    waits: dict[str, int] = {}
    for line in lines:
        key, own = f"variant-{line.variant_id}", ""
        if line.order_line is not None:
            own = f"order-{line.order_line.order_id}"
        minutes, waiting = Fraction(0), 0
        try:
            one = take_off_of(book, line.variant)
            waiting = one.waiting_days
            minutes = minutes_left(one, line, left.get(line.batch_id, Fraction(1)))
        except DomainError:
            # What can no longer be worked out has no minutes to plan with; it is made all the same.
            pass
        number, before = sums.get((key, own), (0, Fraction(0)))
        sums[key, own] = number + line.left, before + minutes
        waits[key] = max(waits.get(key, 0), waiting)
    return {key: _in_progress(key, sums, waits[key]) for key in waits}


def _in_progress(
    key: str, sums: Mapping[tuple[str, str], tuple[int, Fraction]], waiting: int
) -> InProgress:
    """Those of a journal, what is begun for orders apart: the rest has its own mean."""
    mine = {own: row for (item, own), row in sums.items() if item == key}
    every = sum(number for number, _ in mine.values())
    rest = mine.get("", (0, Fraction(0)))
    of = rest if rest[0] else (every, sum((m for _, m in mine.values()), Fraction(0)))
    own = {link: minutes / number for link, (number, minutes) in mine.items() if link}
    return InProgress(every, of[1] / of[0], waiting, own)


@dataclass(frozen=True)
class BenchTime:
    """Each demand's bench work with its latest start, by :func:`key_of`; the reasons by key."""

    starts: Mapping[str, LatestStart]
    reasons: Mapping[str, str]
    minutes_on: MinutesOn = lambda day: NO_HOURS_SAID
    """Bench minutes of each day."""

    @property
    def jobs(self) -> list[Job]:
        """All the work there is."""
        return [start.job for start in self.starts.values()]

    def start(self, demand: Demand) -> date:
        """The latest day the bench may begin with a demand; its own day where it takes none."""
        found = self.starts.get(key_of(demand))
        return found.start if found else demand.by

    def first(self, demands: Iterable[Demand]) -> Demand:
        """The demand that the bench must begin with first."""
        return min(demands, key=lambda d: (self.start(d), d.by, d.link))


def key_of(demand: Demand) -> str:
    """What a demand's bench work is known by: its day and where it comes from."""
    return f"{demand.by.isoformat()} {demand.link}"


def bench_time(
    shop: Shop,
    to_make: Mapping[str, Shortage],
    taken: Mapping[str, TakeOff],
    made_now: Mapping[str, Mapping[str, int]],
    progress: Mapping[str, InProgress],
    away: Collection[date] = (),
) -> BenchTime:
    """Minutes still to work for every demand: what is to make, and what is in progress for it.

    What a demand wants of one journal is made as one batch, set up for once. On days ``away``, at
    a market, nobody is at the bench.

    ``made_now`` says how many journals in progress each demand gets, by item key and demand.
    """
    jobs: dict[str, Job] = {}
    reasons: dict[str, str] = {}

    def work(demand: Demand, minutes: Fraction, waiting: int) -> None:
        key = key_of(demand)
        before = jobs.get(key, Job(key, demand.by, Fraction(0)))
        jobs[key] = replace(
            before,
            minutes=before.minutes + minutes,
            waiting_days=max(before.waiting_days, waiting),
        )
        reasons[key] = demand.reason

    for item, short in to_make.items():
        if one := taken.get(item):
            together: dict[str, tuple[Demand, int]] = {}
            for peg in short.pegs:
                key = key_of(peg.demand)
                before = together.get(key, (peg.demand, 0))[1]
                together[key] = peg.demand, before + peg.quantity
            for demand, quantity in together.values():
                work(demand, one.minutes_for(quantity), one.waiting_days)
        if being_made := progress.get(item):
            for demand in short.demands:
                if quantity := made_now.get(item, {}).get(key_of(demand), 0):
                    minutes = being_made.minutes_for(demand.link) * quantity
                    work(demand, minutes, being_made.waiting_days)
    hours = minutes_on(shop, away)
    return BenchTime(latest_starts(list(jobs.values()), hours), reasons, hours)


def minutes_on(shop: Shop, away: Collection[date] = ()) -> MinutesOn:
    """The bench minutes of each day, by the shop's week; none on days ``away``."""
    week = shop.week_minutes
    if not any(week):
        return lambda day: NO_HOURS_SAID
    return lambda day: 0 if day in away else week[day.weekday()]


def day_said(day: date, beside: date | None = None) -> str:
    """A day in a sentence; with its year where that is not the year of the day ``beside`` it."""
    return weekday_and_day(day, year=beside is not None and beside.year != day.year)


def start_in_words(times: BenchTime, demand: Demand) -> list[str]:
    """How a demand's latest start comes about, a sentence a step."""
    found = times.starts.get(key_of(demand))
    said = [_wanted_in_words(demand)]
    if found is None:
        return said
    if found.job.waiting_days:
        said.append(_waiting_in_words(found.job, demand))
    if found.next_key:
        said.append(
            say(
                "From {day} on the bench is needed for {reason}.",
                day=day_said(times.starts[found.next_key].start, demand.by),
                reason=times.reasons[found.next_key],
            )
        )
    if found.job.minutes:
        no_hours = times.minutes_on(found.start) >= NO_HOURS_SAID
        said.append(_work_in_words(found, day_said(found.start, demand.by), no_hours=no_hours))
    return said


def _wanted_in_words(demand: Demand) -> str:
    reason, day = demand.reason, day_said(demand.by)
    if demand.link.startswith(("sheet-", "material-")):
        return say("{reason} is to be begun by {day}.", reason=reason, day=day)
    return say("{reason} is wanted by {day}.", reason=reason, day=day)


def _waiting_in_words(job: Job, demand: Demand) -> str:
    if job.waiting_days == 1:
        return say(
            "It is pressed overnight after {day} at the latest.", day=day_said(job.last_bench_day)
        )
    return say_many(
        job.waiting_days,
        "It waits {n} day to press and dry, so it leaves the bench by {day}.",
        "It waits {n} days to press and dry, so it leaves the bench by {day}.",
        day=day_said(job.last_bench_day, demand.by),
    )


def _work_in_words(found: LatestStart, day: str, *, no_hours: bool) -> str:
    time = show_minutes(found.job.minutes)
    if no_hours:
        return say(
            "{time} at the bench. Your week has no bench hours in the settings yet, so all of it "
            "is put down for {day}.",
            time=time, day=day,
        )  # fmt: skip
    return say(
        "{time} at the bench, in the hours of your week but market days, begin on {day} at the "
        "latest.",
        time=time, day=day,
    )  # fmt: skip


def goods_under_way(coming: Mapping[str, Sequence[Coming]], on: date) -> list[Job]:
    """The work of goods in the making, of which it is not known how much is done already."""
    return [
        Job(c.said, max(c.expected_on, on + timedelta(days=1)), Fraction(line.minutes), 1)
        for rows in coming.values()
        for c in rows
        if c.batch is not None
        for line in c.batch.goods
    ]


def too_much_for_the_bench(times: BenchTime, on: date, more: Sequence[Job] = ()) -> str | None:
    """The first day by which more is wanted than the bench has hours for, in words.

    ``more`` is work beside that of the journals.
    """
    found = minutes_short([*times.jobs, *more], times.minutes_on, on)
    if found is None:
        return None
    day, wanted, there = found
    return say(
        "By {day} the bench is wanted for {wanted} and has {there}: make fewer, find more hours, "
        "or agree later days.",
        day=weekday_and_whole_month(day),
        wanted=show_minutes(wanted), there=show_minutes(Fraction(there)),
    )  # fmt: skip
