"""Which days a page of the takings is asked for, and by what they are sorted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from flask import request

from app.core.errors import DomainError
from app.language import say, to_say
from app.services.takings.books import year_of
from app.services.takings.periods import Period, usual_period
from app.services.takings.sold import WAYS
from app.web.frame.fields import read_day, writable
from app.web.frame.session import today


@dataclass(frozen=True)
class Way:
    """A way to sort the takings, in words that are still to be said."""

    head: str
    by: str
    caption: str
    title: str


SORTED = {
    "journal": Way(
        to_say("Journal"), to_say("by journal"),
        to_say("By journal"), to_say("Takings by journal"),
    ),
    "channel": Way(
        to_say("Channel"), to_say("by channel"),
        to_say("By channel"), to_say("Takings by channel"),
    ),
    "market": Way(
        to_say("Market"), to_say("by market"),
        to_say("By market"), to_say("Takings by market"),
    ),
    "customer": Way(
        to_say("Customer"), to_say("by customer"),
        to_say("By customer"), to_say("Takings by customer"),
    ),
    "month": Way(
        to_say("Month"), to_say("by month"),
        to_say("By month"), to_say("Takings by month"),
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Asked:
    """The days asked for, as they were typed, and what was wrong with them."""

    period: Period
    first: str
    last: str
    wrong: str

    @property
    def link(self) -> dict[str, str]:
        """The same days in another address."""
        period = self.period
        return {"first": period.first.isoformat(), "last": period.last.isoformat()}


def period_asked(usual: Period | None = None) -> Asked:
    """The days in the address; the usual ones where there are none, or none that can be."""
    usual = usual or usual_period(today())
    first, last = (
        writable(request.args.get(name, day.isoformat()))[:20]
        for name, day in (("first", usual.first), ("last", usual.last))
    )
    try:
        period, wrong = Period(read_day(first), read_day(last)), ""
    except DomainError as error:
        period, wrong = usual, error.message
    return Asked(period, first, last, wrong)


def day_asked(name: str, usual: date) -> tuple[date, str]:
    """A day in the address, and what was wrong with it."""
    typed = writable(request.args.get(name, ""))[:20]
    try:
        return (read_day(typed) if typed else usual), ""
    except DomainError as error:
        return usual, error.message


def way_asked() -> str:
    """By what the takings are sorted."""
    by = request.args.get("by", "")
    return by if by in WAYS else "journal"


def presets() -> list[tuple[str, Period]]:
    """Periods that are asked for often."""
    now = today()
    this = year_of(now)
    last = year_of(this.first - timedelta(days=1))
    month = Period(now.replace(day=1), now)
    return [
        (say("This month"), month), (say("This year"), Period(this.first, now)),
        (say("All of {year}", year=last.first.year), last),
        (say("Twelve months"), usual_period(now)),
    ]  # fmt: skip
