"""Orders found by words and state, listed by day, number or customer; and those that are open."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import (
    BigInteger,
    ColumnElement,
    Select,
    case,
    cast,
    func,
    or_,
    select,
    type_coerce,
)
from sqlalchemy.orm import InstrumentedAttribute, Session, joinedload, selectinload

from app.core.money import currency
from app.core.states import ORDER_NOT_OVER, ORDER_OPEN, ORDER_STATES, OrderState
from app.memory import remembered
from app.models import Customer, Design, Journal, Order, OrderLine, Payment, Variant
from app.models.orders import SAID
from app.services.orders.customers import has_word
from app.services.shop.settings import the_shop

PAGE = 50
MONEY, RATE = 10_000, 1_000_000
"""In what parts amounts and rates are kept."""


def _with_lines(query: Select[Order]) -> Select[Order]:
    return query.options(
        joinedload(Order.customer),
        joinedload(Order.channel),
        selectinload(Order.payments),
        selectinload(Order.lines)
        .joinedload(OrderLine.variant)
        .joinedload(Variant.design)
        .joinedload(Design.journal),
    )


@dataclass(frozen=True)
class Found:
    """One page of orders and how many there are in all."""

    orders: list[Order]
    total: int
    page: int
    sorted_by: OrderSort

    @property
    def pages(self) -> int:
        """How many pages they fill."""
        return max(-(-self.total // PAGE), 1)


class OrderSort(StrEnum):
    """What orders are listed by."""

    SOONEST = "soonest"
    LATEST = "latest"
    NUMBER = "number"
    WHO = "who"


_SORTED_BY: dict[OrderSort, tuple[ColumnElement[Any] | InstrumentedAttribute[Any], ...]] = {
    OrderSort.SOONEST: (Order.wanted_by, Order.number),
    OrderSort.LATEST: (Order.wanted_by.desc(), Order.number),
    OrderSort.NUMBER: (Order.number.desc(),),
    OrderSort.WHO: (func.lower(Customer.name), Customer.id, Order.wanted_by, Order.number),
}


def search_orders(
    session: Session, text: str = "", state: str = "", page: int = 1, sort: str = ""
) -> Found:
    """Orders by number, customer, journal, note or wish, in the order asked for.

    ``state`` is a state, ``open`` for everything not finished, ``unsettled`` where money is still
    to come for what was delivered or to go back, or empty for all. Where no order is asked for,
    open ones begin with the soonest, others with the latest.
    """
    usual = OrderSort.SOONEST if state == "open" else OrderSort.LATEST
    sorted_by = OrderSort(sort) if sort in tuple(OrderSort) else usual
    query = select(Order)
    if state == "open":
        query = query.where(Order.state.in_(ORDER_NOT_OVER))
    elif state == "unsettled":
        query = query.where(_OVER, _left_open(session) != 0)
    elif state in ORDER_STATES:
        query = query.where(Order.state == state)
    for word in text.split()[:6]:
        query = query.where(_mentions(word))
    total = session.scalar(query.with_only_columns(func.count(Order.id))) or 0
    page = min(max(page, 1), max(-(-total // PAGE), 1))
    if sorted_by is OrderSort.WHO:
        query = query.join(Order.customer)
    query = query.order_by(*_SORTED_BY[sorted_by]).limit(PAGE).offset((page - 1) * PAGE)
    rows = session.scalars(_with_lines(query)).unique()
    return Found(list(rows), total, page, sorted_by)


_OVER = Order.state.in_((OrderState.DELIVERED, OrderState.CANCELLED, OrderState.DECLINED))


def _left_open(session: Session) -> ColumnElement[int]:
    """What :attr:`app.models.Order.balance` says, of orders that are over.

    In whole ten-thousandths, as amounts are kept; tax on top is rounded half up to the currency's
    smallest amount.
    """
    raw = BigInteger()
    price = type_coerce(OrderLine.unit_price, raw)
    of_lines = func.sum((OrderLine.quantity - OrderLine.given_up) * price)
    lines = (
        select(func.coalesce(of_lines, 0)).where(OrderLine.order_id == Order.id).scalar_subquery()
    )
    paid = select(func.coalesce(func.sum(type_coerce(Payment.amount, raw)), 0)).where(
        Payment.order_id == Order.id
    ).scalar_subquery()  # fmt: skip
    asked = cast(lines + type_coerce(Order.postage, raw), raw)
    step = int(currency(the_shop(session).currency).step * MONEY)
    whole = RATE * step
    halves = cast(2 * asked * type_coerce(Order.tax_rate, raw) + whole, raw)
    on_top = halves.op("/")(2 * whole) * step
    total = asked + case((Order.before_tax, on_top), else_=0)
    return case(
        (Order.state == OrderState.DELIVERED, total - paid), (Order.deposit_kept, 0), else_=-paid
    )


@dataclass(frozen=True)
class Unsettled:
    """Money between us and customers whose orders are over."""

    orders: int = 0
    to_come: Decimal = Decimal(0)
    to_give_back: Decimal = Decimal(0)


@remembered
def unsettled(session: Session) -> Unsettled:
    """How many delivered or cancelled orders are not even, and what is to come and to give back."""
    left = select(_left_open(session).label("left")).where(_OVER).subquery().c.left
    many, to_come, to_give_back = session.execute(
        select(
            func.count(),
            func.sum(case((left > 0, left), else_=0)),
            func.sum(case((left < 0, -left), else_=0)),
        ).where(left != 0)
    ).one()
    return Unsettled(many, Decimal(to_come or 0) / MONEY, Decimal(to_give_back or 0) / MONEY)


def _mentions(word: str) -> ColumnElement[bool]:
    """A word in an order's note or lines, its customer or journals; small tables are read first."""
    who = (Customer.name, Customer.email, Customer.phone)
    customers = select(Customer.id).where(or_(*(has_word(column, word) for column in who)))
    journals = (
        select(Variant.id)
        .join(Variant.design)
        .join(Design.journal)
        .where(or_(has_word(Journal.name, word), has_word(Variant.name, word)))
    )
    said = select(OrderLine.order_id).where(SAID, has_word(OrderLine.asked_for, word))
    tests: list[ColumnElement[bool]] = [
        Order.customer_id.in_(customers),
        has_word(Order.note, word),
        has_word(Order.their_number, word),
        Order.id.in_(select(OrderLine.order_id).where(OrderLine.variant_id.in_(journals))),
        Order.id.in_(said),
    ]
    digits = word.lstrip("#")
    if digits.isdecimal() and len(digits) < 9:
        tests.append(Order.number == int(digits))
    return or_(*tests)


def open_orders(session: Session) -> list[Order]:
    """Accepted and not delivered, by the day they are wanted."""
    query = select(Order).where(Order.state.in_(ORDER_OPEN))
    rows = session.scalars(_with_lines(query).order_by(Order.wanted_by, Order.number)).unique()
    return list(rows)
