"""Orders: logged, accepted, made ready, delivered; deposits, balances, searching."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import ColumnElement, Select, func, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session, joinedload, selectinload
from sqlalchemy.orm.attributes import flag_modified

from app.core.errors import DomainError
from app.core.money import currency
from app.core.states import ORDER_OPEN, ORDER_STATES, OrderState, check_step
from app.models import Channel, Customer, Design, Journal, Order, OrderLine, Payment, Variant
from app.models.orders import SAID
from app.services.designs.journals import estimate_by, freeze
from app.services.designs.price_book import read_prices
from app.services.orders.customers import customer_for, has_word
from app.services.orders.shelf import put_back_from_order, take_for_order
from app.services.shop.moments import moment_of
from app.services.shop.settings import check_version, next_number, the_shop

PAGE = 50


@dataclass(frozen=True)
class LineAsked:
    """So many of a variant at a price, and what the customer asked for."""

    variant: Variant
    quantity: int
    unit_price: Decimal
    asked_for: str = ""


def log_order(
    session: Session,
    *,
    customer_name: str,
    channel: Channel,
    lines: Sequence[LineAsked],
    wanted_by: date,
    logged_on: date,
    reach: str = "",
    note: str = "",
    who: int | None = None,
) -> Order:
    """Write down what somebody asked for, on the day it was asked.

    Where the name is known, ``who`` says which customer is meant (:func:`customer_for`).
    """
    if not lines:
        raise DomainError("An order needs at least one line.", "lines")
    if wanted_by < logged_on:
        raise DomainError(
            f"{wanted_by:%-d %B %Y} lies before the day it was asked for.", "wanted_by"
        )
    order = Order(
        customer=customer_for(session, customer_name, reach, who),
        number=next_number(session, "order"),
        channel=channel,
        state=OrderState.ENQUIRY,
        logged_on=logged_on,
        wanted_by=wanted_by,
        tax_rate=the_shop(session).tax,
        note=note,
    )
    session.add(order)
    for line in lines:
        add_line(order, line)
    session.flush()
    return order


def add_line(order: Order, line: LineAsked) -> None:
    """Put a line on an order that is not accepted yet."""
    if order.state != OrderState.ENQUIRY:
        raise DomainError(f"This order is {order.state}; its lines stay as they are.", "lines")
    if line.quantity < 1:
        raise DomainError("At least one.", "quantity")
    order.lines.append(
        OrderLine(
            variant=line.variant,
            quantity=line.quantity,
            unit_price=line.unit_price,
            asked_for=line.asked_for,
        )
    )


def change_order(
    session: Session,
    order: Order,
    *,
    channel: Channel,
    lines: Sequence[LineAsked],
    wanted_by: date,
    note: str,
    version: int | None,
    logged_on: date | None = None,
) -> None:
    """Change an order; once accepted only its days and note can still be moved."""
    check_version(order, version)
    if wanted_by < (logged_on or order.logged_on):
        raise DomainError(
            f"{wanted_by:%-d %B %Y} lies before the day it was asked for.", "wanted_by"
        )
    if order.state not in (OrderState.ENQUIRY, *ORDER_OPEN):
        raise DomainError(f"This order is {order.state} and stays as it is.")
    order.wanted_by, order.note = wanted_by, note
    order.logged_on = logged_on or order.logged_on
    if order.state == OrderState.ENQUIRY:
        if not lines:
            raise DomainError("An order needs at least one line.", "lines")
        order.channel = channel
        order.lines.clear()
        session.flush()
        for line in lines:
            add_line(order, line)
        # The lines belong to the order: changing them must make an older form of it stale.
        flag_modified(order, "note")
    session.flush()


def move_order(session: Session, order: Order, then: str, on: date, version: int | None) -> None:
    """Take an order to another state.

    Agreeing freezes the designs and keeps the cost and tax rate of the day. Making ready sets all
    its journals aside from the shelf, and raises NotThereError where they are not there; stepping
    back from ready puts them back.
    """
    check_version(order, version)
    state = check_step(ORDER_STATES, order.state, then, "order")
    if state == OrderState.ACCEPTED and order.state == OrderState.ENQUIRY:
        _agree(session, order, on)
    if state == OrderState.ENQUIRY:
        order.agreed_at = None
    if state == OrderState.READY and order.state != OrderState.DELIVERED:
        take_for_order(session, order, on)
    elif order.state == OrderState.READY and state not in (OrderState.READY, OrderState.DELIVERED):
        put_back_from_order(session, order)
    if state != OrderState.CANCELLED:
        order.deposit_kept = False
    if state in (OrderState.DELIVERED, OrderState.CANCELLED, OrderState.DECLINED):
        order.closed_at = moment_of(on)
    elif order.closed_at is not None:
        order.closed_at = None
    order.state = state
    session.flush()


def agree_order(session: Session, order: Order, on: date) -> None:
    """Promise an order at its prices."""
    move_order(session, order, OrderState.ACCEPTED, on, None)


def cancel_order(
    session: Session,
    order: Order,
    on: date,
    version: int | None,
    *,
    deposit: str = "owed",
    how: str = "other",
    paid: Decimal | None = None,
) -> None:
    """Cancel a promised order; it can be accepted again. ``paid`` is what the page showed.

    What was paid is ``returned`` at once, ``kept``, or ``owed`` back.
    """
    if deposit not in ("returned", "kept", "owed"):
        raise DomainError("Say what becomes of the deposit.", "deposit")
    if paid is not None and paid != order.paid:
        raise DomainError(
            f"Meanwhile {_money(session, order.paid)} was paid in all: say again what becomes of "
            "it.",
            "deposit",
        )
    move_order(session, order, OrderState.CANCELLED, on, version)
    order.deposit_kept = deposit == "kept" and order.paid > 0
    session.flush()
    if deposit == "returned" and order.paid > 0:
        take_payment(session, order, -order.paid, on, how)


def _money(session: Session, amount: Decimal) -> str:
    return currency(the_shop(session).currency).show(amount)


def _agree(session: Session, order: Order, on: date) -> None:
    order.agreed_at = moment_of(on)
    order.tax_rate = the_shop(session).tax
    book = read_prices(session, on)
    for line in order.lines:
        line.unit_cost = estimate_by(book, line.variant).sheet.total()
        freeze(session, line.variant.design)


def take_payment(session: Session, order: Order, amount: Decimal, on: date, how: str) -> Payment:
    """Record a deposit, a balance or (below zero) a refund; receipt numbers have no gaps."""
    if amount == 0:
        raise DomainError("Nothing was paid: give an amount.", "amount")
    # Two payments of one order wait for one another, and each sees what the other paid.
    session.execute(select(Order.id).where(Order.id == order.id).with_for_update())
    session.refresh(order, ["payments", "state"])
    due = max(order.balance, Decimal(0))
    if amount > due:
        raise DomainError(f"Only {_money(session, due)} is still to pay.", "amount")
    if order.paid + amount < 0:
        raise DomainError(
            f"Only {_money(session, order.paid)} was paid and can be given back.", "amount"
        )
    payment = Payment(
        order=order,
        receipt_number=next_number(session, "receipt"),
        amount=amount,
        paid_on=on,
        how=how,
    )
    session.add(payment)
    session.flush()
    return payment


def mark_mistaken(session: Session, payment: Payment, on: date) -> Payment:
    """Answer a payment that was written down by mistake with its opposite, once."""
    order = payment.order
    session.execute(select(Order.id).where(Order.id == order.id).with_for_update())
    session.refresh(order, ["payments", "state"])
    if payment.reverses_id is not None:
        raise DomainError("This receipt answers a mistake already.")
    if any(other.reverses_id == payment.id for other in order.payments):
        raise DomainError("This receipt was marked as a mistake already.")
    if order.paid - payment.amount < 0:
        raise DomainError(
            f"{_money(session, payment.amount - order.paid)} of it was given back since: mark that "
            "refund as a mistake first."
        )
    answer = Payment(
        order=order,
        receipt_number=next_number(session, "receipt"),
        amount=-payment.amount,
        paid_on=on,
        how=payment.how,
        reverses_id=payment.id,
    )
    order.deposit_kept = order.deposit_kept and order.paid > payment.amount
    session.add(answer)
    session.flush()
    return answer


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

    ``state`` is a state, ``open`` for everything not finished, or empty for all. Where no order is
    asked for, open ones begin with the soonest, others with the latest.
    """
    usual = OrderSort.SOONEST if state == "open" else OrderSort.LATEST
    sorted_by = OrderSort(sort) if sort in tuple(OrderSort) else usual
    query = select(Order)
    if state == "open":
        query = query.where(Order.state.in_((OrderState.ENQUIRY, *ORDER_OPEN)))
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
