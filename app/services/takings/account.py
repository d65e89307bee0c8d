"""The takings of a period: sorted in one way, and what is left of them for the maker's hours."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload

from app.core.money import currency, to_minor
from app.core.states import MovementKind
from app.core.takings import Shown, per_hour, shown_together
from app.models import Channel, Customer, Design, Lot, Market, Movement, OtherCost, Variant
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.stock.ledger import still_stands
from app.services.takings.costs import costs_in
from app.services.takings.periods import Period
from app.services.takings.sold import NONE, Sold, postage_paid, sold


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


def takings(session: Session, period: Period, by: str) -> Takings:
    """The takings of a period; months in their order, all else by what was sold, most first."""
    step = currency(the_shop(session).currency).step
    sums = sold(session, period, by)
    if by == "month":
        for n in range(len(period.months)):
            sums.setdefault(n, Sold())
    names = names_of(session, by, sums, period)

    def place(key: int) -> tuple[Any, ...]:
        return (key,) if by == "month" else (-sums[key].whole.sales, names.get(key, ""), key)

    keys = sorted(sums, key=place)
    shown, total = shown_together([sums[key].whole for key in keys], step)
    timed, total_timed = shown_together([sums[key].timed for key in keys], step)
    groups = tuple(Group(key, names.get(key, ""), shown[n], timed[n]) for n, key in enumerate(keys))
    return Takings(period, by, groups, Group(NONE, "In all", total, total_timed))


def names_of(session: Session, by: str, keys: Iterable[int], period: Period) -> Mapping[int, str]:
    """What the groups are called."""
    numbers = [key for key in keys if key]
    if by == "month":
        return {n: f"{month:%B %Y}" for n, month in enumerate(period.months)}
    if by == "journal":
        query = select(Variant).options(joinedload(Variant.design).joinedload(Design.journal))
        variants = session.scalars(query.where(Variant.id.in_(numbers)))
        return {v.id: f"{v.full_name}, design {v.design.number}" for v in variants}
    kind: Any = {"channel": Channel, "market": Market, "customer": Customer}[by]
    rows = session.scalars(select(kind).where(kind.id.in_(numbers)))
    names = {row.id: _named(row) for row in rows}
    return {
        NONE: {"market": "No market", "customer": "At stalls and shops"}.get(by, "None")
    } | names


def _named(row: Channel | Market | Customer) -> str:
    if isinstance(row, Market):
        return f"{row.name}, {row.day:%-d %b %Y}"
    return row.name or "No name"


@dataclass(frozen=True)
class PeriodAccount:
    """What a period left for the maker's hours, and the hours; money to the minor unit."""

    total: Shown
    timed: Shown
    postage: Decimal
    stalls: Decimal
    lost: Decimal
    other: Decimal
    stall_minutes: Decimal
    travel_minutes: Decimal
    markets: Sequence[Market]
    costs: Sequence[tuple[OtherCost, Decimal]]

    @property
    def left(self) -> Decimal:
        """What is left for all hours: of what was sold of known hours and of the post, less stalls,
        losses and other costs."""
        return self.timed.for_hours + self.postage - self.stalls - self.lost - self.other

    @property
    def minutes(self) -> Decimal:
        """All hours: at the bench, at stalls, on the way."""
        return self.timed.minutes + self.stall_minutes + self.travel_minutes

    def pay_per_hour(self, step: Decimal) -> Decimal | None:
        """What an hour brought, all hours and costs counted."""
        return per_hour(self.left, self.minutes, step) if self.timed.minutes else None


def account(session: Session, period: Period, total: Group) -> PeriodAccount:
    """What is left of the takings of a period; ``total`` is theirs."""
    money = currency(the_shop(session).currency)
    markets = list(
        session.scalars(
            select(Market)
            .where(Market.day >= period.first, Market.day <= period.last)
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
        stall_minutes=sum((market.stall_minutes for market in markets), Decimal(0)),
        travel_minutes=sum((market.travel_minutes for market in markets), Decimal(0)),
        markets=[market for market in markets if market.stall_fee or market.travel
                 or market.stall_minutes or market.travel_minutes],
        costs=costs,
    )  # fmt: skip


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
