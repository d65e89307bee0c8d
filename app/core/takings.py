"""What was sold and what it left: sums that add up as they are shown, and what if it were other.

Amounts are exact until they are shown; one column is then rounded together, so that it adds up to
the same total whichever way the sales are sorted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from decimal import Decimal
from fractions import Fraction

from app.core.money import half_up, rounded_together

WHOLE = Decimal(1)


@dataclass(frozen=True)
class Sums:
    """So many sold: what customers paid, tax in it, fees, what it cost, work and minutes in it.

    ``cost`` holds ``work``, the maker's own hours at the pay they were reckoned with.
    """

    pieces: Fraction | int = 0
    sales: Fraction = Fraction(0)
    tax: Fraction = Fraction(0)
    fees: Fraction = Fraction(0)
    cost: Fraction = Fraction(0)
    work: Fraction = Fraction(0)
    minutes: Fraction = Fraction(0)

    def __add__(self, other: Sums) -> Sums:
        return Sums(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))


@dataclass(frozen=True)
class Shown:
    """Sums as they stand on a page: money to the minor unit, whole minutes."""

    pieces: Fraction | int
    sales: Decimal
    tax: Decimal
    fees: Decimal
    cost: Decimal
    work: Decimal
    minutes: Decimal

    @property
    def profit(self) -> Decimal:
        """Sales less tax, fees and cost; the maker's own hours are paid in the cost."""
        return self.sales - self.tax - self.fees - self.cost

    @property
    def for_hours(self) -> Decimal:
        """What is left for the maker's hours: the profit and the work in the cost."""
        return self.profit + self.work

    @property
    def margin(self) -> Fraction | None:
        """The profit as a share of sales before tax."""
        before_tax = self.sales - self.tax
        return Fraction(self.profit) / Fraction(before_tax) if before_tax else None

    def pay_per_hour(self, step: Decimal) -> Decimal | None:
        """What an hour at the bench brought; None where no minutes are known."""
        return per_hour(self.for_hours, self.minutes, step)


def per_hour(amount: Decimal, minutes: Decimal, step: Decimal) -> Decimal | None:
    """An amount over minutes, an hour; None without minutes."""
    return half_up(Fraction(amount) * 60 / Fraction(minutes), step) if minutes > 0 else None


MONEY = ("sales", "tax", "fees", "cost", "work")


def shown_together(rows: Sequence[Sums], step: Decimal) -> tuple[list[Shown], Shown]:
    """Rows as they are shown, and their total: each column adds up to it."""
    columns = {name: rounded_together([getattr(row, name) for row in rows], step) for name in MONEY}
    minutes = rounded_together([row.minutes for row in rows], WHOLE)
    shown = [
        Shown(row.pieces, minutes=minutes[n], **{name: columns[name][n] for name in MONEY})
        for n, row in enumerate(rows)
    ]
    total = Shown(
        sum(row.pieces for row in rows),
        minutes=sum(minutes, Decimal(0)),
        **{name: sum(columns[name], step * 0) for name in MONEY},
    )
    return shown, total


@dataclass(frozen=True)
class Other:
    """What might be otherwise: the price and the number sold by so much, the pay for an hour.

    ``price`` and ``number`` are shares: 0.1 is a tenth more. ``pay`` is by how much an hour is to
    be paid more.
    """

    price: Fraction = Fraction(0)
    number: Fraction = Fraction(0)
    pay: Decimal = Decimal(0)


def what_if(sums: Sums, other: Other) -> Sums:
    """The same sales at other prices, other numbers, another pay for the hours in them.

    Tax and fees go with what customers pay, costs and minutes with the number. Fees fixed for each
    sale are taken as a share too.
    """
    by_number, by_price = 1 + other.number, 1 + other.price
    paid = by_number * by_price
    work = sums.work + sums.minutes / 60 * Fraction(other.pay)
    return replace(
        sums,
        pieces=sums.pieces * by_number,
        sales=sums.sales * paid, tax=sums.tax * paid, fees=sums.fees * paid,
        cost=(sums.cost - sums.work + work) * by_number,
        work=work * by_number, minutes=sums.minutes * by_number,
    )  # fmt: skip


def spread(amount: Decimal, months: int, first: int, last: int, step: Decimal) -> Decimal:
    """Of an amount spread over some months what falls on those from ``first`` to ``last``.

    Months are counted from the one it begins in, as zero; shares up to any month are rounded, so
    that what falls on one period and the next is what falls on both.
    """

    def up_to(month: int) -> Decimal:
        return half_up(Fraction(amount) * min(max(month, 0), months) / months, step)

    return up_to(last + 1) - up_to(first)
