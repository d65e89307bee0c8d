"""Days from one to another, and the months in them, as the maker's calendar has them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from app.core.errors import DomainError
from app.language import say

MOST_MONTHS = 180


@dataclass(frozen=True)
class Period:
    """From the first day to the last, both counted."""

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise DomainError(say("The last day comes before the first."), "last")
        if len(self.months) > MOST_MONTHS:
            raise DomainError(
                say("At most {years} years at a time.", years=MOST_MONTHS // 12), "first"
            )

    @property
    def begins(self) -> datetime:
        """The moment it begins, where the maker sits."""
        return begin_of(self.first)

    @property
    def ends(self) -> datetime:
        """The moment after it."""
        return begin_of(self.last + timedelta(days=1))

    @property
    def months(self) -> list[date]:
        """The first day of each month of it."""
        first, last = month_number(self.first), month_number(self.last)
        return [date(n // 12, n % 12 + 1, 1) for n in range(first, last + 1)]


def month_number(day: date) -> int:
    """Months since the year zero."""
    return day.year * 12 + day.month - 1


def begin_of(day: date) -> datetime:
    """The midnight a day begins with, where the maker sits, in UTC."""
    return datetime.combine(day, time.min).astimezone().astimezone(UTC)


def usual_period(today: date) -> Period:
    """The twelve months up to today."""
    number = month_number(today) - 11
    return Period(date(number // 12, number % 12 + 1, 1), today)
