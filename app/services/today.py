"""What wants doing: orders by date, what to order before it is too late, the next market."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.models import Journal, Market, Material, Offer, Order, OutletPayment, Payment
from app.services.markets.markets import upcoming
from app.services.orders.search import open_orders
from app.services.purchasing.buy_lines import BuyLine
from app.services.purchasing.buy_list import BuyList, buy_list
from app.services.purchasing.makings import MakeLine
from app.services.shop.settings import the_shop
from app.services.takings.periods import Period
from app.services.takings.sold import paid_at_stalls


@dataclass(frozen=True)
class Readiness:
    """The next market: how many to take, how many of them are on the shelf for it, how many are
    being made."""

    market: Market
    take: int
    ready: int
    in_progress: int

    @property
    def to_make(self) -> int:
        """How many are still to begin."""
        return self.take - self.ready - self.in_progress


@dataclass(frozen=True)
class FirstSteps:
    """What an empty shop has by now of what a first price and a first buy list want."""

    hour: bool
    paper: bool
    material: bool
    journal: bool
    wanted: bool

    @property
    def all_done(self) -> bool:
        """Whether somebody wants a journal that is drawn: the rest can wait."""
        return self.journal and self.wanted


@dataclass(frozen=True)
class Day:
    """Everything on the first page."""

    orders: list[Order]
    buying: BuyList
    pressing: list[BuyLine]
    making: list[MakeLine]
    next_market: Readiness | None
    paid_lately: Decimal
    steps: FirstSteps


def the_day(session: Session, on: date) -> Day:
    """Gather the day, with what was paid over the last thirty days."""
    buying = buy_list(session, on)
    return Day(
        orders=open_orders(session),
        buying=buying,
        pressing=[line for line in buying.lines if line.order_by <= on + timedelta(days=7)],
        making=[line for line in buying.makings if line.begin_by <= on + timedelta(days=7)],
        next_market=_next_market(session, buying, on),
        paid_lately=_paid_since(session, on - timedelta(days=30), on),
        steps=first_steps(session),
    )


def first_steps(session: Session) -> FirstSteps:
    """Which of the first steps are done: a paper counts once it has a price."""
    priced = select(Offer.id).where(Offer.stock_sheet_id.is_not(None)).exists()
    others = [select(kind.id).exists() for kind in (Material, Journal, Order, Market)]
    paper, material, journal, order, market = map(
        bool, session.execute(select(priced, *others)).one()
    )
    return FirstSteps(
        hour=the_shop(session).version > 1,
        paper=paper, material=material, journal=journal, wanted=order or market,
    )  # fmt: skip


def _paid_since(session: Session, since: date, on: date) -> Decimal:
    """What was paid for orders, at stalls, and by shops that sell on commission."""
    sums = [
        session.scalar(select(func.sum(kind.amount)).where(kind.paid_on >= since))
        for kind in (Payment, OutletPayment)
    ]
    stalls = paid_at_stalls(session, Period(since, on))
    return sum((one or Decimal(0) for one in (*sums, *stalls.values())), Decimal(0))


def _next_market(session: Session, buying: BuyList, on: date) -> Readiness | None:
    """Journals earlier demands will take from the shelf do not count as ready for it."""
    coming = upcoming(session, on)
    if not coming:
        return None
    market = coming[0]
    take = sum(line.take for line in market.lines)
    short = sum(
        peg.quantity
        for shortage in buying.needs.to_make.values()
        for peg in shortage.pegs
        if peg.demand.link == f"market-{market.id}"
    )
    link = f"market-{market.id}"
    being_made = sum(
        quantity
        for gets in buying.needs.made_now.values()
        for key, quantity in gets.items()
        if key.endswith(f" {link}")
    )
    return Readiness(market, take, take - short - being_made, being_made)
