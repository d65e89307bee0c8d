"""The takings of a period: sorted in one way, and what is left of them for the maker's hours."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from sqlalchemy import ColumnElement, exists, func, or_, select
from sqlalchemy.orm import Session, joinedload

from app.core.money import currency, to_minor
from app.core.states import MovementKind, OrderState
from app.core.takings import Shown, Sums, per_hour, shown_together
from app.dates import month, short_day
from app.language import say, say_many, to_say
from app.memory import remembered
from app.models import (
    Channel,
    Customer,
    Design,
    Lot,
    Market,
    Movement,
    Order,
    OtherCost,
    Outlet,
    Payment,
    Sale,
    Variant,
)
from app.services.markets.closing import money_of
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.stock.ledger import still_stands
from app.services.takings.costs import costs_in
from app.services.takings.periods import Period
from app.services.takings.sold import NONE, SHOPS_FROM, Sold, postage_paid, sold


@dataclass(frozen=True)
class Group:
    """Sales that go together: of one journal, through one channel, in one month.

    ``timed`` is of those alone whose minutes at the bench are known.
    """

    key: int
    name: str
    shown: Shown
    timed: Shown

    def pay_per_hour(self, step: Decimal) -> Decimal | None:
        """What an hour at the bench brought."""
        return self.timed.pay_per_hour(step)


@dataclass(frozen=True)
class Takings:
    """What was sold in a period, sorted in one way; every column adds up to ``total``."""

    period: Period
    by: str
    groups: tuple[Group, ...]
    total: Group
    exact_costs: tuple[Fraction, ...] = ()
    """Of the groups: what was sold had cost, before it is rounded to be shown."""


OTHERS = -1
"""The key of all that sold less than those that are shown by themselves."""
_WITHOUT = {"market": to_say("Orders and shops"), "customer": to_say("At stalls")}
_NONE = to_say("None")


@remembered
def takings(session: Session, period: Period, by: str, most: int | None = None) -> Takings:
    """The takings of a period; months in their order, all else by what was sold, most first.

    Of more than ``most`` the rest is one group.
    """
    step = currency(the_shop(session).currency).step
    sums = sold(session, period, by)
    if by == "month":
        for n in range(len(period.months)):
            sums.setdefault(n, Sold())
    names = names_of(session, by, sums, period)

    def place(key: int) -> tuple[Any, ...]:
        return (key,) if by == "month" else (-sums[key].whole.sales, names.get(key, ""), key)

    keys = sorted(sums, key=place)
    if most is not None and by != "month" and len(keys) > most + 1:
        rest = [sums[key] for key in keys[most:]]
        sums[OTHERS] = Sold(
            sum((one.whole for one in rest), Sums()), sum((one.timed for one in rest), Sums())
        )
        names = {**names, OTHERS: say_many(len(rest), "{n} other", "{n} others")}
        keys = [*keys[:most], OTHERS]
    shown, total = shown_together([sums[key].whole for key in keys], step)
    timed, total_timed = shown_together([sums[key].timed for key in keys], step)
    groups = tuple(Group(key, names.get(key, ""), shown[n], timed[n]) for n, key in enumerate(keys))
    exact = tuple(sums[key].whole.cost for key in keys)
    return Takings(period, by, groups, Group(NONE, say("In all"), total, total_timed), exact)


def names_of(session: Session, by: str, keys: Iterable[int], period: Period) -> Mapping[int, str]:
    """What the groups are called."""
    numbers = [key for key in keys if key]
    if by == "month":
        return {n: month(first) for n, first in enumerate(period.months)}
    if by == "journal":
        query = select(Variant).options(joinedload(Variant.design).joinedload(Design.journal))
        variants = session.scalars(query.where(Variant.id.in_(numbers)))
        return {
            v.id: say("{journal}, design {number}", journal=v.full_name, number=v.design.number)
            for v in variants
        }
    kind: Any = {"channel": Channel, "market": Market, "customer": Customer}[by]
    rows = session.scalars(select(kind).where(kind.id.in_(numbers)))
    names = {row.id: _named(row) for row in rows}
    if by == "customer":
        shops = [key - SHOPS_FROM for key in numbers if key > SHOPS_FROM]
        found = session.scalars(select(Outlet).where(Outlet.id.in_(shops)))
        names |= {SHOPS_FROM + outlet.id: outlet.name for outlet in found}
    return {NONE: say(_WITHOUT.get(by, _NONE))} | names


def _named(row: Channel | Market | Customer) -> str:
    if isinstance(row, Market):
        return f"{row.name}, {short_day(row.day)}"
    return row.name or say("No name")


@dataclass(frozen=True)
class PeriodAccount:
    """What a period left for the maker's hours, and the hours; money to the minor unit."""

    total: Shown
    timed: Shown
    postage: Decimal
    stalls: Decimal
    lost: Decimal
    other: Decimal
    kept: Decimal
    """Deposits of orders that were cancelled."""
    cash_off: Decimal
    """What cash boxes held more than they should."""
    stall_minutes: Decimal
    travel_minutes: Decimal
    markets: Sequence[Market]
    costs: Sequence[tuple[OtherCost, Decimal]]

    @property
    def costs_besides(self) -> Decimal:
        """Stalls, losses and other costs, less what came in besides the sales."""
        return self.stalls + self.lost + self.other - self.postage - self.kept - self.cash_off

    @property
    def left(self) -> Decimal:
        """What is left for all hours and the workshop: profit and work, less all other costs."""
        return self.total.for_hours - self.costs_besides

    @property
    def minutes(self) -> Decimal:
        """All hours that are known: at the bench, at stalls, on the way."""
        return self.total.minutes + self.stall_minutes + self.travel_minutes

    def pay_between(self, step: Decimal) -> tuple[Decimal, Decimal] | None:
        """What an hour brought, all costs counted: at least, and at most.

        They differ where the hours behind some journals are not known: at most as if those had
        taken none, at least as if all they left had gone into theirs. None without any hours.
        """
        if not self.minutes or not self.total.minutes:
            return None
        low = per_hour(self.timed.for_hours - self.costs_besides, self.minutes, step)
        high = per_hour(self.left, self.minutes, step)
        return None if low is None or high is None else (min(low, high), max(low, high))


def account(session: Session, period: Period, total: Group) -> PeriodAccount:
    """What is left of the takings of a period; ``total`` is theirs."""
    money = currency(the_shop(session).currency)
    markets = list(
        session.scalars(
            select(Market)
            .where(Market.day >= period.first, Market.day <= period.last, took_place())
            .order_by(Market.day, Market.id)
        )
    )
    gone = session.scalar(
        select(func.sum(Movement.cost))
        .join(Lot, Lot.id == Movement.lot_id)
        .where(
            Movement.market_id.is_not(None), Movement.kind == MovementKind.COUNTED,
            Movement.at >= period.begins, Movement.at < period.ends, still_stands(),
        )
    )  # fmt: skip
    costs = costs_in(session, period)
    return PeriodAccount(
        total=total.shown,
        timed=total.timed,
        postage=to_minor(postage_paid(session, period)[0], money),
        stalls=sum((market.stall_fee + market.travel for market in markets), Decimal(0)),
        lost=to_minor(-Fraction(gone or 0), money),
        other=sum((amount for _, amount in costs), Decimal(0)),
        kept=deposits_kept(session, period),
        cash_off=sum((m.cash_off for m in money_of(session, markets).values()), Decimal(0)),
        stall_minutes=sum((market.stall_minutes for market in markets), Decimal(0)),
        travel_minutes=sum((market.travel_minutes for market in markets), Decimal(0)),
        markets=[market for market in markets if market.stall_fee or market.travel
                 or market.stall_minutes or market.travel_minutes],
        costs=costs,
    )  # fmt: skip


def took_place() -> ColumnElement[bool]:
    """Of markets: closed, or something was sold there. One to come has cost nothing yet."""
    sold_there = exists().where(Sale.market_id == Market.id, Sale.paid_at.is_not(None))
    return or_(Market.closed_on.is_not(None), sold_there)


def deposits_kept(session: Session, period: Period) -> Decimal:
    """What was paid for orders that were cancelled in a period and whose deposit is kept."""
    total = session.scalar(
        select(func.sum(Payment.amount))
        .join(Order, Order.id == Payment.order_id)
        .where(
            Order.state == OrderState.CANCELLED, Order.deposit_kept,
            Order.closed_at >= period.begins, Order.closed_at < period.ends,
        )
    )  # fmt: skip
    return total or Decimal(0)


def best_month(found: Takings) -> Group | None:
    """The month with most sales; None where there were none."""
    best = max(found.groups, key=lambda group: group.shown.sales, default=None)
    return best if best is not None and best.shown.sales else None


@dataclass(frozen=True)
class Slow:
    """Something that lies: how many, what they cost, and when one was last sold."""

    variant: Variant
    pieces: int
    cost: Decimal
    last: date | None


def slow_stock(session: Session, on: date, days: int) -> list[Slow]:
    """Journals on the shelf of which none was sold for so many days, what costs most first."""
    here = {key: held for key, held in stock.holdings(session).items() if held.quantity}
    numbers = [int(key.removeprefix("variant-")) for key in here if key.startswith("variant-")]
    last = dict(
        session.execute(
            select(Lot.variant_id, func.max(Movement.at))
            .join(Movement, Movement.lot_id == Lot.id)
            .where(Lot.variant_id.in_(numbers), Movement.kind == MovementKind.SOLD, still_stands())
            .group_by(Lot.variant_id)
        ).all()
    )
    query = select(Variant).options(joinedload(Variant.design).joinedload(Design.journal))
    found = []
    for variant in session.scalars(query.where(Variant.id.in_(numbers))):
        held = here[stock.item_key(variant)]
        at = last.get(variant.id)
        day = at.astimezone().date() if at else None
        if day is None or (on - day).days >= days:
            found.append(Slow(variant, held.quantity, held.cost, day))
    return sorted(found, key=lambda row: (-row.cost, row.variant.full_name))
