"""Which days a page of the takings is asked for, and by what they are sorted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from flask import request

from app.core.errors import DomainError
from app.services.takings.books import year_of
from app.services.takings.periods import Period, usual_period
from app.services.takings.sold import WAYS
from app.web.frame.fields import read_day, writable
from app.web.frame.session import today

SORTED = {
    "journal": "by journal", "channel": "by channel", "market": "by market",
    "customer": "by customer", "month": "by month",
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
        ("This month", month), ("This year", Period(this.first, now)),
        (f"All of {last.first.year}", last), ("Twelve months", usual_period(now)),
    ]  # fmt: skip
