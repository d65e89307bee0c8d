"""What was sold in a period and what it left, summed by the database in whichever way is asked.

Sold is what left with a customer: at a stall, with a delivery of an order, and what a shop says it
sold of what it has. What a customer brings back counts against it. Tax and fees of a market are
those of its account, by each sale's share; those of orders are reckoned on the sums.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Select,
    case,
    exists,
    func,
    literal,
    select,
)
from sqlalchemy.orm import Session, aliased, selectinload

from app.core.states import MovementKind
from app.core.takings import Sums
from app.db import as_kept
from app.memory import remembered
from app.models import (
    Channel,
    Delivery,
    DeliveryLine,
    Lot,
    Market,
    Movement,
    Order,
    OrderLine,
    OrderReturn,
    Outlet,
    Sale,
    SaleDraw,
    SaleLine,
    Statement,
    StatementDraw,
    StatementLine,
)
from app.services.markets.closing import money_of, work_in
from app.services.outlets.outlets import account_of
from app.services.stock.ledger import still_stands
from app.services.takings.periods import Period

WAYS = ("journal", "channel", "market", "customer", "month")
"""What sales can be sorted by."""
SCALE = 10_000
NONE = 0
"""The key of what has none: orders have no market, a stall knows no customer."""
SHOPS_FROM = 500_000_000
"""Among customers the keys of shops that sell on commission begin here."""


@dataclass(frozen=True)
class Keys:
    """By what a source of sales is sorted, for each way."""

    channel: Any
    market: Any
    customer: Any

    def of(self, by: str, period: Period) -> Any:
        if by == "journal":
            return Lot.variant_id
        if by == "month":
            return _month(period)
        return {"channel": self.channel, "market": self.market, "customer": self.customer}[by]


def _month(period: Period) -> ColumnElement[Any]:
    """Which month of a period, from zero."""
    starts = [Period(month, month).begins for month in period.months[1:]]
    if not starts:
        return literal(0)
    return case(*((Movement.at < at, n) for n, at in enumerate(starts)), else_=len(starts))


AT_STALLS = Keys(Market.channel_id, Sale.market_id, literal(NONE))
AT_SHOPS = Keys(Outlet.channel_id, literal(NONE), Outlet.id + SHOPS_FROM)
OF_ORDERS = Keys(Order.channel_id, literal(NONE), Order.customer_id)
PIECES, COST = -Movement.quantity, -as_kept(Movement.cost)
"""Of what left; what came back counts against it."""


def _moved(period: Period, kind: MovementKind = MovementKind.SOLD) -> Select[Any]:
    """Movements of a kind in a period, with their lots."""
    return (
        select()
        .select_from(Movement)
        .join(Lot, Lot.id == Movement.lot_id)
        .where(
            Movement.kind == kind, Movement.at >= period.begins, Movement.at < period.ends,
            still_stands(),
        )
    )  # fmt: skip


def stall_sales(period: Period) -> Select[Any]:
    """What was sold at stalls."""
    return (
        _moved(period)
        .join(SaleDraw, SaleDraw.movement_id == Movement.id)
        .join(SaleLine, SaleLine.id == SaleDraw.sale_line_id)
        .join(Sale, Sale.id == SaleLine.sale_id)
        .join(Market, Market.id == Sale.market_id)
    )


def at_shops(period: Period) -> Select[Any]:
    """What shops say they sold on commission."""
    return (
        _moved(period)
        .join(StatementDraw, StatementDraw.movement_id == Movement.id)
        .join(StatementLine, StatementLine.id == StatementDraw.statement_line_id)
        .join(Statement, Statement.id == StatementLine.statement_id)
        .join(Outlet, Outlet.id == Statement.outlet_id)
    )


def _of_lines(found: Select[Any], line: Any) -> Select[Any]:
    """With the line of an order, and the order."""
    return found.join(OrderLine, OrderLine.id == line).join(Order, Order.id == OrderLine.order_id)


def _deliveries(period: Period) -> Select[Any]:
    found = _moved(period).join(DeliveryLine, DeliveryLine.movement_id == Movement.id)
    return _of_lines(found, DeliveryLine.order_line_id)


def _old_deliveries(period: Period) -> Select[Any]:
    """What left for an order before deliveries were written down: at the price of its line."""
    line = aliased(OrderLine)
    first = (
        select(func.min(line.id))
        .where(line.order_id == Movement.order_id, line.variant_id == Lot.variant_id)
        .scalar_subquery()
    )
    found = _moved(period).where(~exists().where(DeliveryLine.movement_id == Movement.id))
    return _of_lines(found, first)


def returns(period: Period) -> Select[Any]:
    """What customers brought back, by the movement with which it came in."""
    found = _moved(period, MovementKind.RETURNED).join(OrderReturn, OrderReturn.lot_id == Lot.id)
    return _of_lines(found, OrderReturn.order_line_id)


ORDER_SOURCES = (_deliveries, _old_deliveries, returns)


def _of_the_order() -> ColumnElement[Any]:
    """How many journals of an order were wanted: each carries its part of the fixed fee.

    Those that were brought back were wanted; what the order was closed without was not.
    """
    line, back = aliased(OrderLine), aliased(OrderReturn)
    brought_back = (
        select(func.coalesce(func.sum(back.quantity), 0))
        .where(back.order_line_id == line.id, ~back.replaced)
        .correlate(line)
        .scalar_subquery()
    )
    return (
        select(func.sum(line.quantity - line.given_up + brought_back))
        .where(line.order_id == OrderLine.order_id)
        .correlate(OrderLine)
        .scalar_subquery()
    )


@dataclass(frozen=True)
class _Row:
    """Sales that are alike in all that decides what they leave."""

    key: int
    batch: int | None
    pieces: int
    paid: Fraction
    cost: Fraction


def _rows(found: Iterable[Any]) -> Iterable[tuple[_Row, tuple[Any, ...]]]:
    for key, batch, pieces, paid, cost, *more in found:
        row = _Row(
            int(key or NONE), batch, int(pieces), Fraction(int(paid), SCALE),
            Fraction(int(cost), SCALE),
        )  # fmt: skip
        yield row, tuple(more)


@dataclass(frozen=True)
class Sold:
    """All that was sold, and of it what came out of a batch whose minutes are known."""

    whole: Sums = field(default_factory=Sums)
    timed: Sums = field(default_factory=Sums)


@remembered
def sold(session: Session, period: Period, by: str) -> dict[int, Sold]:
    """What was sold and what it left, by the ids of what it is sorted by.

    By month the ids count from zero. ``NONE`` is what has no market, or no customer.
    """
    found: list[tuple[int, int | None, Sums]] = []
    found += _at_stalls(session, period, by)
    found += _of_orders(session, period, by)
    found += _of_shops(session, period, by)
    shares = work_in(session, {batch for _, batch, _ in found if batch is not None})
    sums: dict[int, Sold] = {}
    for key, batch, row in found:
        before = sums.get(key, Sold())
        work, minutes = shares.get(batch or NONE, (Fraction(0), Fraction(0)))
        row = replace(row, work=row.cost * work, minutes=row.cost * minutes)
        timed = before.timed + row if minutes else before.timed
        sums[key] = Sold(before.whole + row, timed)
    return sums


def _at_stalls(session: Session, period: Period, by: str) -> Iterable[tuple[int, int | None, Sums]]:
    query = (
        stall_sales(period)
        .add_columns(
            AT_STALLS.of(by, period).label("key"), Lot.batch_id, func.sum(PIECES),
            func.sum(PIECES * as_kept(SaleLine.unit_price)), func.sum(COST), Sale.market_id,
        )
        .group_by("key", Lot.batch_id, Sale.market_id)
    )  # fmt: skip
    rows = list(_rows(session.execute(query)))
    numbers = {more[0] for _, more in rows}
    markets = session.scalars(select(Market).where(Market.id.in_(numbers)))
    money = money_of(session, markets) if numbers else {}
    for row, (number,) in rows:
        took = money[number]
        yield row.key, row.batch, _by_share(row, took.taken, took.tax, took.fees + took.share)


def _by_share(row: _Row, taken: Decimal, tax: Decimal, fees: Decimal) -> Sums:
    """Tax and fees of a market, or of a statement, by the share of what was paid there."""
    share = row.paid / Fraction(taken) if taken else Fraction(0)
    return Sums(row.pieces, row.paid, share * Fraction(tax), share * Fraction(fees), row.cost)


def _of_shops(session: Session, period: Period, by: str) -> Iterator[tuple[int, int | None, Sums]]:
    query = (
        at_shops(period)
        .add_columns(
            AT_SHOPS.of(by, period).label("key"), Lot.batch_id, func.sum(PIECES),
            func.sum(PIECES * as_kept(StatementLine.unit_price)), func.sum(COST), Statement.id,
        )
        .group_by("key", Lot.batch_id, Statement.id)
    )  # fmt: skip
    rows = list(_rows(session.execute(query)))
    asked = select(Statement).where(Statement.id.in_({more[0] for _, more in rows}))
    money = account_of(session, session.scalars(asked.options(selectinload(Statement.lines))))
    for row, (number,) in rows:
        came_to = money[number]
        kept = came_to.commission + came_to.costs
        yield row.key, row.batch, _by_share(row, came_to.sold, came_to.tax, kept)


@remembered
def taken_by_shops(session: Session, period: Period) -> dict[int, Fraction]:
    """What shops keep of their sales, by the month of a period from zero."""
    found: dict[int, Fraction] = {}
    for month, _, sums in _of_shops(session, period, "month"):
        found[month] = found.get(month, Fraction(0)) + sums.fees
    return found


def _of_orders(session: Session, period: Period, by: str) -> Iterable[tuple[int, int | None, Sums]]:
    channels = {c.id: c for c in session.scalars(select(Channel))}
    for source in ORDER_SOURCES:
        # What is brought back for good gives no fee back; what is replaced is paid for once.
        fee = OrderReturn.replaced if source is returns else literal(value=True)
        terms = (
            Order.channel_id, Order.tax_rate, Order.before_tax, Order.fee_rate, Order.fixed_fee,
        )  # fmt: skip
        query = (
            source(period)
            .add_columns(
                OF_ORDERS.of(by, period).label("key"), Lot.batch_id, func.sum(PIECES),
                func.sum(PIECES * as_kept(OrderLine.unit_price)), func.sum(COST), *terms,
                _of_the_order().label("wanted"), fee.label("with_fee"),
            )
            .group_by("key", Lot.batch_id, *terms, "wanted", "with_fee")
        )  # fmt: skip
        for row, (number, rate, before_tax, share, each, wanted, with_fee) in _rows(
            session.execute(query)
        ):
            if share is None:
                share, each = channels[number].fee_rate, channels[number].fixed_fee
            sums = _of_order(row, Fraction(rate), Fraction(share), before_tax=before_tax)
            fixed = Fraction(each or 0) * row.pieces / int(wanted) if wanted else Fraction(0)
            fees = sums.fees + fixed if with_fee else Fraction(0)
            yield row.key, row.batch, replace(sums, fees=fees)


def _of_order(row: _Row, rate: Fraction, share: Fraction, *, before_tax: bool) -> Sums:
    """Sales of orders with a tax rate, of which the channel takes a share."""
    paid = row.paid * (1 + rate) if before_tax else row.paid
    return Sums(row.pieces, paid, paid * rate / (1 + rate), paid * share, row.cost)


@remembered
def postage_paid(session: Session, period: Period) -> tuple[Fraction, Fraction]:
    """What customers paid for the post, before tax, and the tax, as an order is first delivered."""
    earlier = aliased(Delivery)
    delivered = (
        select(Delivery.order_id)
        .where(Delivery.delivered_on >= period.first, Delivery.delivered_on <= period.last)
        .where(
            ~exists().where(
                earlier.order_id == Delivery.order_id, earlier.delivered_on < period.first
            )
        )
    )
    rows = session.execute(
        select(Order.tax_rate, Order.before_tax, func.sum(as_kept(Order.postage)))
        .where(Order.postage > 0, Order.id.in_(delivered))
        .group_by(Order.tax_rate, Order.before_tax)
    )
    net, tax = Fraction(0), Fraction(0)
    for rate, before_tax, amount in rows:
        paid = Fraction(int(amount), SCALE)
        without = paid if before_tax else paid / (1 + Fraction(rate))
        net += without
        tax += without * Fraction(rate)
    return net, tax


@remembered
def paid_at_stalls(session: Session, period: Period) -> dict[int, Decimal]:
    """What customers paid at stalls, by the month of a period from zero."""
    query = (
        stall_sales(period)
        .add_columns(
            AT_STALLS.of("month", period).label("key"),
            func.sum(PIECES * as_kept(SaleLine.unit_price)),
        )
        .group_by("key")
    )
    return {int(key): Decimal(int(paid)) / SCALE for key, paid in session.execute(query)}
