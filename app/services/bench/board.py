"""What the bench does next: batches in progress, batches to begin, and the load of the weeks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from app.core.errors import DomainError
from app.core.planning.capacity import WeekLoad, weeks_load
from app.core.planning.requirements import Demand, Peg
from app.core.states import BatchState
from app.models import Batch, BatchLine, Design, Paper, Variant
from app.services.designs.journals import take_off_of
from app.services.designs.price_book import PriceBook, read_prices
from app.services.designs.take_off import TakeOff
from app.services.planning.capacity import (
    NO_HOURS_SAID,
    goods_under_way,
    key_of,
    start_in_words,
    too_much_for_the_bench,
)
from app.services.planning.requirements import Needs, needs
from app.services.planning.work_left import minutes_left, shares_left
from app.services.shop.settings import the_shop
from app.services.stock.ledger import item_key

WEEKS = 8
TOGETHER_DAYS = 7
"""Journals of one paper are proposed together where they begin no further apart."""


@dataclass(frozen=True)
class Going:
    """A batch in progress: minutes left by the shop's times, whom it is for, by when."""

    batch: Batch
    minutes: Fraction
    waiting_days: int
    demands: tuple[Demand, ...]
    leave_by: date | None
    """The last day at the bench for the first of those who want it; None where nobody does."""
    late: bool


@dataclass(frozen=True)
class Part:
    """So many of a journal in a proposed batch."""

    variant: Variant
    quantity: int
    minutes: Fraction


@dataclass(frozen=True)
class Proposal:
    """Journals to make together next: of one paper, begun by a day at the latest."""

    parts: tuple[Part, ...]
    paper: Paper | None
    pegs: tuple[Peg, ...]
    start_by: date
    sums: tuple[str, ...]
    """How that day comes about, a sentence a step."""
    late: bool

    @property
    def minutes(self) -> Fraction:
        """At the bench, each journal set up for once."""
        return sum((part.minutes for part in self.parts), Fraction(0))

    @property
    def orders(self) -> tuple[int, ...]:
        """The orders that some of them are for, by their id."""
        links = (peg.demand.link for peg in self.pegs)
        return tuple(dict.fromkeys(int(x[6:]) for x in links if x.startswith("order-")))


@dataclass(frozen=True)
class Board:
    """All of the bench at a glance."""

    needs: Needs
    going: tuple[Going, ...]
    proposals: tuple[Proposal, ...]
    weeks: tuple[WeekLoad, ...]
    has_hours: bool
    overfull: str | None

    @property
    def next(self) -> Going | Proposal | None:
        """What to do first: what must leave the bench, or be begun, before all else."""
        rows: list[tuple[date, int, Going | Proposal]] = [
            (one.leave_by or date.max, 0, one) for one in self.going
        ]
        rows += [(one.start_by, 1, one) for one in self.proposals]
        return min(rows, key=lambda row: row[:2])[2] if rows else None


def the_bench(session: Session, on: date) -> Board:
    """What is in progress and what to begin, the most pressing first, and the weeks' load."""
    found, book = needs(session, on), read_prices(session, on)
    hours, more = found.times.minutes_on, goods_under_way(found.coming, on)
    load = weeks_load([*found.times.jobs, *more], hours, on, WEEKS, the_shop(session).week_begins)
    return Board(
        found, tuple(_going(session, book, found, on)), tuple(_proposals(book, found, on)),
        tuple(load), hours(on) < NO_HOURS_SAID, too_much_for_the_bench(found.times, on, more),
    )  # fmt: skip


def _going(session: Session, book: PriceBook, found: Needs, on: date) -> list[Going]:
    query = (
        select(Batch)
        .where(Batch.state == BatchState.IN_PROGRESS)
        .order_by(Batch.number)
        .options(
            selectinload(Batch.lines).options(
                joinedload(BatchLine.variant).joinedload(Variant.design).joinedload(Design.journal),
                joinedload(BatchLine.order_line),
            ),
            selectinload(Batch.goods),
        )
    )
    left = {item: dict(gets) for item, gets in found.made_now.items()}
    batches = list(session.scalars(query))
    shares = shares_left(session, [batch.id for batch in batches])
    rows = [
        _one_going(book, found, batch, left, on, shares.get(batch.id, Fraction(1)))
        for batch in batches
    ]
    return sorted(rows, key=lambda row: (row.leave_by or date.max, row.batch.number))


def _one_going(
    book: PriceBook, found: Needs, batch: Batch, left: dict[str, dict[str, int]], on: date,
    share: Fraction,
) -> Going:  # fmt: skip
    minutes, waiting = Fraction(0), 0
    demands: dict[str, Demand] = {}
    for line in batch.lines:
        key = item_key(line.variant)
        one = _taken(book, line.variant)
        if one is not None:
            minutes += minutes_left(one, line, share)
            waiting = max(waiting, one.waiting_days)
        number = line.left
        short = found.to_make.get(key)
        own = f"order-{line.order_line.order_id}" if line.order_line else ""
        for demand in sorted(short.demands if short else (), key=lambda d: d.link != own):
            gets = left.get(key, {}).get(key_of(demand), 0)
            some = min(gets, number)
            if some:
                left[key][key_of(demand)] = gets - some
                number -= some
                demands[key_of(demand)] = demand
    minutes += sum((Fraction(line.minutes) for line in batch.goods), Fraction(0)) * share
    waiting = max([waiting, *(line.days for line in batch.goods)])
    first = min((demand.by for demand in demands.values()), default=None)
    leave_by = first - timedelta(days=max(waiting, 1)) if first else None
    late = leave_by is not None and leave_by < on
    ordered = tuple(sorted(demands.values(), key=lambda d: (d.by, d.link)))
    return Going(batch, minutes, waiting, ordered, leave_by, late)


def _taken(book: PriceBook, variant: Variant) -> TakeOff | None:
    """A journal taken off; None where it can no longer be built."""
    try:
        return take_off_of(book, variant)
    except DomainError:
        return None


@dataclass(frozen=True)
class _Wanted:
    """What one demand still wants of a journal, and the day by which to begin with it."""

    start: date
    variant: Variant
    one: TakeOff
    paper: Paper | None
    peg: Peg


def _proposals(book: PriceBook, found: Needs, on: date) -> list[Proposal]:
    """What is still to make, journals of one paper together where they begin near one another."""
    rows: list[_Wanted] = []
    for key, short in found.to_make.items():
        variant = found.variants[key]
        one = _taken(book, variant) if short.short else None
        for peg in short.pegs if one else ():
            rows.append(
                _Wanted(found.times.start(peg.demand), variant, one, _paper_of(one), peg)  # type: ignore[arg-type]
            )
    rows.sort(key=lambda row: (row.start, row.peg.demand.by, row.variant.full_name))
    groups: list[list[_Wanted]] = []
    for row in rows:
        near = next((group for group in groups if _goes_with(row, group[0])), None)
        if near is None:
            groups.append([row])
        else:
            near.append(row)
    return [_proposal(found, group, on) for group in groups]


def _goes_with(row: _Wanted, first: _Wanted) -> bool:
    """Whether it is made of the same paper, or is the same journal, and begins soon after."""
    alike = row.variant is first.variant or (row.paper is not None and row.paper is first.paper)
    return alike and (row.start - first.start).days <= TOGETHER_DAYS


def _proposal(found: Needs, group: Sequence[_Wanted], on: date) -> Proposal:
    numbers: dict[Variant, int] = {}
    taken = {row.variant: row.one for row in group}
    for row in group:
        numbers[row.variant] = numbers.get(row.variant, 0) + row.peg.quantity
    parts = tuple(Part(v, n, taken[v].minutes_for(n)) for v, n in numbers.items())
    pegs, start = tuple(row.peg for row in group), group[0].start
    sums = tuple(start_in_words(found.times, group[0].peg.demand))
    return Proposal(parts, group[0].paper, pegs, start, sums, start < on)


def _paper_of(one: TakeOff) -> Paper | None:
    """The paper of a journal's leaves."""
    for role, _ in one.wanted_pieces():
        if isinstance(paper := one.choices.get(role.key), Paper):
            return paper
    return None


def demands_said(pegs: Sequence[Peg]) -> Mapping[str, Demand]:
    """Whom a proposal is for, each once, the earliest first."""
    ordered = sorted((peg.demand for peg in pegs), key=lambda d: (d.by, d.link))
    return {demand.link: demand for demand in ordered}
