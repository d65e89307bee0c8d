"""Receipts and packing slips: drawn from payments and deliveries, which are kept as they are."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import ORDER_NOT_OVER
from app.core.structures.common import for_customers
from app.documents.customer_letters import Packed, Received, receipt_letter, slip_letter
from app.models import Delivery, DeliveryLine, Movement, Order, OrderLine, Payment
from app.services.designs.journals import take_off_of
from app.services.designs.price_book import PriceBook
from app.services.orders.documents import letter_as_pdf
from app.services.orders.standing import standings
from app.services.shop.letterhead import customer_party, letterhead, lines_of, shop_party
from app.services.shop.settings import the_shop
from app.services.stock.ledger import still_stands


def receipt_pdf(session: Session, payment: Payment) -> bytes:
    """The receipt of a payment."""
    order = payment.order
    until = [p for p in order.payments if p.id <= payment.id]
    paid = sum((p.amount for p in until), Decimal(0))
    answers = next((p.receipt_number for p in until if p.id == payment.reverses_id), None)
    by = next((p.receipt_number for p in order.payments if p.reverses_id == payment.id), None)
    got = Received(
        payment.receipt_number, payment.paid_on, payment.amount, payment.how, order.number,
        paid, the_shop(session).currency, answers, by,
    )  # fmt: skip
    party = customer_party(session, order.customer)
    return letter_as_pdf(
        session, receipt_letter(shop_party(session), party, got, letterhead(session).logo)
    )


def slip_pdf(
    session: Session, book: PriceBook, order: Order, delivery: Delivery | None, on: date
) -> bytes | None:
    """The packing slip of a delivery, or of all that is still to deliver; None of nothing."""
    if delivery is None and order.state not in ORDER_NOT_OVER:
        return None
    here = _delivered_by_line(session, delivery) if delivery else _outstanding(session, order)
    later = _outstanding(session, order) if delivery else {}
    rows = [
        Packed(line.variant.full_name, line.asked_for, here[line.id], later.get(line.id, 0))
        for line in order.lines
        if here.get(line.id)
    ]
    if not rows:
        return None
    head = letterhead(session)
    letter = slip_letter(
        shop_party(session), customer_party(session, order.customer), order.number,
        delivery.delivered_on if delivery else on, tuple(rows), lines_of(head.care),
        _cautions(book, [line for line in order.lines if here.get(line.id)]), head.logo,
    )  # fmt: skip
    return letter_as_pdf(session, letter)


def _outstanding(session: Session, order: Order) -> dict[int, int]:
    return {n: one.outstanding for n, one in standings(session, [order]).items()}


def _delivered_by_line(session: Session, delivery: Delivery) -> dict[int, int]:
    rows = session.execute(
        select(DeliveryLine.order_line_id, func.sum(-Movement.quantity))
        .join(Movement, Movement.id == DeliveryLine.movement_id)
        .where(DeliveryLine.delivery_id == delivery.id, still_stands())
        .group_by(DeliveryLine.order_line_id)
    )
    return {line: int(number) for line, number in rows}


def _cautions(book: PriceBook, lines: Sequence[OrderLine]) -> tuple[str, ...]:
    """What whoever gets these must mind, each once."""
    found: dict[str, None] = {}
    for line in lines:
        try:
            build = take_off_of(book, line.variant).build
        except DomainError:
            continue
        found |= dict.fromkeys(for_customers(build))
    return tuple(found)
