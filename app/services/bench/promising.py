"""What may honestly be promised: the first day an order can be done by, and whom it pushes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from sqlalchemy.orm import Session

from app.core.costing import show_minutes
from app.core.errors import DomainError
from app.core.planning.capacity import Job
from app.core.planning.honest_date import honest_date, made_late
from app.language import say
from app.models import Material, StockSheet, Variant
from app.services.bench.batch_supply import supplied
from app.services.designs.journals import take_off_of
from app.services.designs.price_book import read_prices
from app.services.planning.capacity import day_said, goods_under_way
from app.services.planning.making_days import days_to_have
from app.services.planning.requirements import Needs, batch_needs, needs
from app.services.stock.ledger import item_key
from app.services.stock.materials import offers_with

NEW = "what is asked for"


@dataclass(frozen=True)
class Promise:
    """The first honest day, and how it comes about; ``day`` is None where there is none.

    ``missing`` are things that nobody offers; ``late`` is whom the day asked for would make late,
    itself as the empty word. Of what it ``waits_for`` some may be here, wanted by others as well.
    """

    day: date | None
    to_make: int
    minutes: Fraction
    ready: date
    waits_for: str
    missing: tuple[str, ...]
    late: tuple[str, ...]
    others_want_it: bool = False

    @property
    def sums(self) -> tuple[str, ...]:
        """How the day comes about, a sentence a step."""
        if not self.to_make:
            return (say("All of it is on the shelf and wanted by nobody else."),)
        time = show_minutes(self.minutes)
        said = [say("{number} to make, {time} at the bench.", number=self.to_make, time=time)]
        if self.waits_for:
            said.append(self._waiting)
        said.append(say("All other work keeps its day."))
        return tuple(said)

    @property
    def _waiting(self) -> str:
        thing, day = self.waits_for, day_said(self.ready)
        if self.others_want_it:
            return say(
                "More {thing}, if others take what is here, is here on {day} at the soonest.",
                thing=thing, day=day,
            )  # fmt: skip
        return say("{thing} is here on {day} at the soonest.", thing=thing, day=day)


def promise(
    session: Session, asked: Mapping[Variant, int], wanted_by: date | None, on: date
) -> Promise:
    """By when so many of some journals can be done, and whom that would make late by a day.

    What is on the shelf and nobody wants counts; the rest is made, begun when its materials can be
    here. Materials that others want as well are bought.
    """
    found, book = needs(session, on), read_prices(session, on)
    to_make = {v: n for v, n in _to_make(found, asked).items() if n}
    minutes, waiting = Fraction(0), 0
    for variant, number in to_make.items():
        one = take_off_of(book, variant)
        minutes += one.minutes_for(number)
        waiting = max(waiting, one.waiting_days)
    last, missing = _materials(session, found, to_make, on)
    ready = on + timedelta(days=last.days)
    new = Job(NEW, wanted_by or on, minutes, waiting)
    jobs = [*found.times.jobs, *goods_under_way(found.coming, on)]
    hours = found.times.minutes_on
    day = None if missing else on
    if to_make and not missing:
        day = honest_date(jobs, new, hours, on, ready)
    late: tuple[str, ...] = ()
    if to_make and wanted_by is not None:
        late = tuple(
            "" if key == NEW else found.times.reasons.get(key, key)
            for key in made_late(jobs, replace(new, due=wanted_by), hours, on, ready)
        )
    number = sum(to_make.values())
    return Promise(day, number, minutes, ready, last.name, missing, late, last.others_want_it)


def _to_make(found: Needs, asked: Mapping[Variant, int]) -> dict[Variant, int]:
    """What of it is not on the shelf, or is wanted there by somebody else."""
    rest = {}
    for variant, number in asked.items():
        key = item_key(variant)
        short = found.to_make.get(key)
        others = short.needed if short else 0
        made = short.there - found.there(key) if short else 0
        free = max(found.there(key) - max(others - made, 0), 0)
        rest[variant] = max(number - free, 0)
    return rest


@dataclass(frozen=True)
class _Last:
    """What comes last, in how many days."""

    days: int = 0
    name: str = ""
    others_want_it: bool = False


def _materials(
    session: Session, found: Needs, to_make: Mapping[Variant, int], on: date
) -> tuple[_Last, tuple[str, ...]]:
    """What of the materials comes last, and what nobody offers."""
    if not to_make:
        return _Last(), ()
    own = batch_needs(session, on, to_make)
    taking = supplied(session, own, on)
    lacking = {item_key(short.item): short.item for short in taking.shorts}
    papers = {need.paper for need in found.pieces}
    things: list[Sequence[StockSheet | Material]] = [
        sheets
        for need in own.pieces
        for sheets in ([s for s in need.paper.sheets if not s.retired],)
        if need.paper in papers or any(item_key(s) in lacking for s in sheets)
    ]
    wanted: dict[str, int] = {}
    for demand in (*found.material_demands, *own.material_demands):
        wanted[demand.thing] = wanted.get(demand.thing, 0) + demand.quantity
    for key in {demand.thing for demand in own.material_demands}:
        if wanted[key] > found.there(key):
            things.append([own.materials[key]])
    last = _Last()
    missing = list(taking.problems)
    for ways in things:
        days = [
            (days_to_have(found, offer, item, on), item)
            for item in ways
            for offer in offers_with(item, on, found.own.get(item_key(item)))
        ]
        if not days:
            if ways:
                missing.append(say("{thing}: nobody offers it.", thing=_name(ways[0])))
            continue
        soonest, item = min(days, key=lambda row: row[0])
        if soonest > last.days:
            shared = isinstance(item, StockSheet) and item_key(item) not in lacking
            last = _Last(soonest, _name(item), shared)
    return last, tuple(dict.fromkeys(missing))


def _name(item: StockSheet | Material) -> str:
    return item.paper.name if isinstance(item, StockSheet) else item.name


def promised(
    session: Session, asked: Mapping[Variant, int], wanted_by: date | None, on: date
) -> tuple[Promise | None, str]:
    """The promise, or why there is none, in words."""
    try:
        return promise(session, asked, wanted_by, on), ""
    except DomainError as error:
        return None, error.message


def in_words(found: Promise, wanted_by: date | None, on: date) -> str:
    """What to say to the customer, and what an earlier day would do."""
    if found.missing:
        return say("No honest day yet: {problems}", problems=" ".join(found.missing))
    if found.day is None:
        return say("No honest day within two years: the bench has too few hours.")
    if not found.to_make:
        return say("On the shelf now, and wanted by nobody else.")
    day = day_said(found.day, on)
    said = say("Honest from {day}: {sums}", day=day, sums=" ".join(found.sums))
    if wanted_by is None or wanted_by >= found.day:
        return said
    return f"{said} {_too_early(found, day_said(wanted_by, on))}"


def _too_early(found: Promise, day: str) -> str:
    others = "; ".join(reason for reason in found.late if reason)
    if not others:
        return say("By {day} it is not done.", day=day)
    if "" in found.late:
        return say(
            "By {day} it makes late: {others}, and is not done itself.", day=day, others=others
        )
    return say("By {day} it makes late: {others}.", day=day, others=others)
