"""Orders: logged, accepted, made ready, delivered; deposits and balances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import flag_modified

from app.core.errors import DomainError
from app.core.money import currency
from app.core.states import ORDER_NOT_OVER, ORDER_STATES, OrderState, check_step
from app.dates import whole_day
from app.language import say, say_many
from app.models import (
    BatchLine,
    Channel,
    Customer,
    Lot,
    Order,
    OrderLine,
    Payment,
    Variant,
)
from app.services.designs.journals import estimate_by, freeze
from app.services.designs.price_book import read_prices
from app.services.orders import deliveries
from app.services.orders.customers import customer_for
from app.services.orders.sealing import seal_order, seal_payment
from app.services.orders.shelf import put_back, set_aside_all
from app.services.orders.standing import standings
from app.services.shop.moments import moment_of
from app.services.shop.settings import check_version, next_number, the_shop

MOST_LINES = 40


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
    postage: Decimal = Decimal(0),
    known: Customer | None = None,
    their_number: str = "",
) -> Order:
    """Write down what somebody asked for, on the day it was asked, ``postage`` with it.

    Where the name is known, ``who`` says which customer is meant (:func:`customer_for`), or the
    customer is given who is ``known``. ``their_number`` is what the table it came by calls it.
    """
    if not lines:
        raise DomainError(say("An order needs at least one line."), "lines")
    if len(lines) > MOST_LINES:
        raise DomainError(say("An order has room for {most} lines.", most=MOST_LINES), "lines")
    if wanted_by < logged_on:
        raise DomainError(
            say("{day} lies before the day it was asked for.", day=whole_day(wanted_by)),
            "wanted_by",
        )
    order = Order(
        customer=known or customer_for(session, customer_name, reach, who),
        number=next_number(session, "order"),
        channel=channel,
        state=OrderState.ENQUIRY,
        logged_on=logged_on,
        wanted_by=wanted_by,
        tax_rate=the_shop(session).tax,
        before_tax=channel.wholesale,
        postage=postage,
        note=note,
        their_number=their_number,
    )
    session.add(order)
    for line in lines:
        add_line(order, line)
    session.flush()
    return order


def add_line(order: Order, line: LineAsked) -> None:
    """Put a line on an order that is not accepted yet."""
    if order.state != OrderState.ENQUIRY:
        raise DomainError(
            say("This order is {state}; its lines stay as they are.", state=say(order.state)),
            "lines",
        )
    if line.quantity < 1:
        raise DomainError(say("At least one."), "quantity")
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
    postage: Decimal | None = None,
) -> None:
    """Change an order; once accepted only its days and note can still be moved.

    Its postage stays where none is given.
    """
    check_version(order, version)
    if wanted_by < (logged_on or order.logged_on):
        raise DomainError(
            say("{day} lies before the day it was asked for.", day=whole_day(wanted_by)),
            "wanted_by",
        )
    if order.state not in ORDER_NOT_OVER:
        raise DomainError(say("This order is {state} and stays as it is.", state=say(order.state)))
    order.wanted_by, order.note = wanted_by, note
    order.logged_on = logged_on or order.logged_on
    if order.state == OrderState.ENQUIRY:
        if not lines:
            raise DomainError(say("An order needs at least one line."), "lines")
        order.channel, order.before_tax = channel, channel.wholesale
        order.postage = order.postage if postage is None else postage
        _change_lines(session, order, lines)
        # The lines belong to the order: changing them must make an older form of it stale.
        flag_modified(order, "note")
    session.flush()


def _change_lines(session: Session, order: Order, lines: Sequence[LineAsked]) -> None:
    """Let an enquiry have these lines; one that something was set aside for stays its own."""
    kept = {line.id for line in order.lines if _has_history(session, line)}
    old = [line for line in order.lines if line.id in kept]
    order.lines[:] = old
    session.flush()
    for asked in lines:
        same = next((line for line in old if line.variant is asked.variant), None)
        if same is None:
            add_line(order, asked)
            continue
        if asked.quantity < 1:
            raise DomainError(say("At least one."), "quantity")
        old.remove(same)
        same.quantity, same.unit_price = asked.quantity, asked.unit_price
        same.asked_for = asked.asked_for
    if old:
        raise DomainError(
            say(
                "{journal} was made or set aside for this order once: leave it on, or "
                "decline the order and log another.",
                journal=old[0].variant.full_name,
            ),
            "lines",
        )


def _has_history(session: Session, line: OrderLine) -> bool:
    return any(
        session.scalar(select(kind.id).where(kind.order_line_id == line.id).limit(1))
        for kind in (Lot, BatchLine)
    )


def move_order(session: Session, order: Order, then: str, on: date, version: int | None) -> None:
    """Take an order to another state.

    Agreeing freezes the designs and keeps the cost and tax rate of the day. Making ready sets all
    that is still to deliver aside, and raises NotThereError where it is not there. Delivering hands
    all of that over; taken back, it is set aside again. Stepping back from ready puts it back on
    the shelf.
    """
    check_version(order, version)
    state = check_step(ORDER_STATES, order.state, then, "order")
    agreed = state == OrderState.ACCEPTED and order.state == OrderState.ENQUIRY
    if agreed:
        _agree(session, order, on)
    if state == OrderState.ENQUIRY:
        order.agreed_at = None
    if state in (OrderState.CANCELLED, OrderState.ENQUIRY):
        _nothing_delivered(session, order, state)
    if state == OrderState.DELIVERED:
        known = standings(session, [order])
        left = {number: one.outstanding for number, one in known.items()}
        deliveries.deliver(session, order, left, on)
    elif order.state == OrderState.DELIVERED:
        deliveries.take_back_last(session, order)
    elif state == OrderState.READY:
        set_aside_all(session, order, on)
    elif order.state == OrderState.READY or state in (OrderState.CANCELLED, OrderState.ENQUIRY):
        put_back(session, order, on)
    if state != OrderState.CANCELLED:
        order.deposit_kept = False
    if state in (OrderState.DELIVERED, OrderState.CANCELLED, OrderState.DECLINED):
        order.closed_at = moment_of(on)
    elif order.closed_at is not None:
        order.closed_at = None
    order.state = state
    session.flush()
    if agreed:
        seal_order(session, order)


def _nothing_delivered(session: Session, order: Order, state: OrderState) -> None:
    """Refuse to give up what a customer has, or to ask again about what came back."""
    if state == OrderState.ENQUIRY and deliveries.returns(session, order):
        raise DomainError(say("Something of it was delivered and came back: log another order."))
    delivered = sum(one.delivered for one in standings(session, [order]).values())
    if delivered:
        raise DomainError(
            say_many(
                delivered,
                "{n} of it is delivered already: close the order with what was delivered, or "
                "take the delivery back first.",
                "{n} of it are delivered already: close the order with what was delivered, or "
                "take the delivery back first.",
            )
        )


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
        raise DomainError(say("Say what becomes of the deposit."), "deposit")
    if paid is not None and paid != order.paid:
        raise DomainError(
            say(
                "Meanwhile {money} was paid in all: say again what becomes of it.",
                money=_money(session, order.paid),
            ),
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
    order.tax_rate, order.before_tax = the_shop(session).tax, order.channel.wholesale
    order.fee_rate, order.fixed_fee = order.channel.fee_rate, order.channel.fixed_fee
    book = read_prices(session, on)
    for line in order.lines:
        line.unit_cost = estimate_by(book, line.variant).sheet.total()
        freeze(session, line.variant.design)


def take_payment(session: Session, order: Order, amount: Decimal, on: date, how: str) -> Payment:
    """Record a deposit, a balance or (below zero) a refund; receipt numbers have no gaps."""
    if amount == 0:
        raise DomainError(say("Nothing was paid: give an amount."), "amount")
    # Two payments of one order wait for one another, and each sees what the other paid.
    session.execute(select(Order.id).where(Order.id == order.id).with_for_update())
    session.refresh(order, ["payments", "state"])
    due = max(order.balance, Decimal(0))
    if amount > due:
        raise DomainError(
            say("Only {money} is still to pay.", money=_money(session, due)), "amount"
        )
    if order.paid + amount < 0:
        raise DomainError(
            say("Only {money} was paid and can be given back.", money=_money(session, order.paid)),
            "amount",
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
    seal_payment(session, payment)
    return payment


def mark_mistaken(session: Session, payment: Payment, on: date) -> Payment:
    """Answer a payment that was written down by mistake with its opposite, once."""
    order = payment.order
    session.execute(select(Order.id).where(Order.id == order.id).with_for_update())
    session.refresh(order, ["payments", "state"])
    if payment.reverses_id is not None:
        raise DomainError(say("This receipt answers a mistake already."))
    if any(other.reverses_id == payment.id for other in order.payments):
        raise DomainError(say("This receipt was marked as a mistake already."))
    if order.paid - payment.amount < 0:
        raise DomainError(
            say(
                "{money} of it was given back since: mark that refund as a mistake first.",
                money=_money(session, payment.amount - order.paid),
            )
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
    seal_payment(session, answer)
    return answer
