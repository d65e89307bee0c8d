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
    itself as the empty word.
    """

    day: date | None
    to_make: int
    minutes: Fraction
    ready: date
    waits_for: str
    missing: tuple[str, ...]
    late: tuple[str, ...]

    @property
    def sums(self) -> tuple[str, ...]:
        """How the day comes about, a sentence a step."""
        if not self.to_make:
            return ("All of it is on the shelf and wanted by nobody else.",)
        said = [f"{self.to_make} to make, {show_minutes(self.minutes)} at the bench."]
        if self.waits_for:
            said.append(f"{self.waits_for} is here on {day_said(self.ready)} at the soonest.")
        said.append("All other work keeps its day.")
        return tuple(said)


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
    ready, waits_for, missing = _materials(session, found, to_make, on)
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
    return Promise(day, number, minutes, ready, waits_for, missing, late)


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


def _materials(
    session: Session, found: Needs, to_make: Mapping[Variant, int], on: date
) -> tuple[date, str, tuple[str, ...]]:
    """When all materials can be here, which comes last, and what nobody offers."""
    if not to_make:
        return on, "", ()
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
    last, name = 0, ""
    missing = list(taking.problems)
    for ways in things:
        days = [
            (days_to_have(found, offer, item, on), item)
            for item in ways
            for offer in offers_with(item, on, found.own.get(item_key(item)))
        ]
        if not days:
            missing.append(f"{_name(ways[0])}: nobody offers it." if ways else "")
            continue
        soonest, item = min(days, key=lambda row: row[0])
        if soonest > last:
            shared = isinstance(item, StockSheet) and item_key(item) not in lacking
            last = soonest
            name = f"More {_name(item)}, if others take what is here," if shared else _name(item)
    return on + timedelta(days=last), name, tuple(dict.fromkeys(word for word in missing if word))


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
        return f"No honest day yet: {' '.join(found.missing)}"
    if found.day is None:
        return "No honest day within two years: the bench has too few hours."
    if not found.to_make:
        return "On the shelf now, and wanted by nobody else."
    said = f"Honest from {day_said(found.day, on)}: {' '.join(found.sums)}"
    if wanted_by is None or wanted_by >= found.day:
        return said
    others = [reason for reason in found.late if reason]
    if others:
        itself = ", and is not done itself" if "" in found.late else ""
        return f"{said} By {day_said(wanted_by, on)} it makes late: {'; '.join(others)}{itself}."
    return f"{said} By {day_said(wanted_by, on)} it is not done."
