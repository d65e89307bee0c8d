"""What is held about a customer: given out in whole, or taken out so that the books add up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import ORDER_NOT_OVER, DocumentKind
from app.language import say, to_say
from app.models import BatchLine, Customer, Delivery, Document, Order, OrderLine, OrderReturn
from app.services.orders.documents import documents_of
from app.services.orders.photos import photos_of, remove_photo
from app.services.shop.settings import check_version, the_shop

ERASED = to_say("Erased on request")
OWN = ("name", "email", "phone", "address", "country", "tax_number", "note")
"""What is kept of a customer beside the orders."""


def held_about(session: Session, customer: Customer) -> dict[str, Any]:
    """Everything on record about a customer, in words and figures that JSON can keep."""
    return {
        "currency": the_shop(session).currency,
        "customer": {key: getattr(customer, key) for key in OWN},
        "orders": [_order(session, order) for order in _orders(session, customer)],
    }


def _orders(session: Session, customer: Customer) -> list[Order]:
    query = select(Order).where(Order.customer_id == customer.id).order_by(Order.number)
    return list(session.scalars(query))


def _order(session: Session, order: Order) -> dict[str, Any]:
    return {
        "number": order.number, "their_number": order.their_number,
        "state": order.state.value, "channel": order.channel.name,
        "logged_on": order.logged_on.isoformat(), "wanted_by": order.wanted_by.isoformat(),
        "note": order.note, "postage": str(order.postage), "total": str(order.total),
        "paid": str(order.paid), "still_to_pay": str(order.balance),
        "lines": [
            {"journal": line.variant.full_name, "quantity": line.quantity,
             "wanted_no_more": line.given_up, "price_each": str(line.unit_price),
             "request": line.asked_for,
             "spoiled_because": [m.why_spoiled for m in _made(session, line) if m.why_spoiled]}
            for line in order.lines
        ],
        "pictures": [{"file": row.file, "shows": row.says} for row in photos_of(session, order)],
        "payments": [
            {"receipt": paid.receipt_number, "on": paid.paid_on.isoformat(),
             "amount": str(paid.amount), "how": paid.how}
            for paid in order.payments
        ],
        "deliveries": [
            {"on": row.delivered_on.isoformat(), "note": row.note}
            for row in _deliveries(session, order)
        ],
        "brought_back": [
            {"on": row.returned_on.isoformat(), "quantity": row.quantity, "why": row.why}
            for row in _returns(session, order)
        ],
        "papers": [
            {"kind": row.kind.value, "number": row.number, "content": row.content}
            for row in documents_of(session, order)
        ],
    }  # fmt: skip


def _deliveries(session: Session, order: Order) -> list[Delivery]:
    return list(session.scalars(select(Delivery).where(Delivery.order_id == order.id)))


def _returns(session: Session, order: Order) -> list[OrderReturn]:
    query = select(OrderReturn).join(OrderLine).where(OrderLine.order_id == order.id)
    return list(session.scalars(query))


def _made(session: Session, line: OrderLine) -> list[BatchLine]:
    return list(session.scalars(select(BatchLine).where(BatchLine.order_line_id == line.id)))


def why_not_erased(session: Session, customer: Customer) -> str:
    """Why a customer's data is needed still, in words; empty where it is not."""
    for order in _orders(session, customer):
        if order.state in ORDER_NOT_OVER:
            return say(
                "Order {number} is {state}: deliver, decline or cancel it first.",
                number=order.number,
                state=say(order.state),
            )
        if order.balance:
            return say(
                "Order {number} is not settled: money is still to pay or to give back.",
                number=order.number,
            )
    return ""


@dataclass(frozen=True)
class Erased:
    """What was done: orders gone through, papers whose name was taken out, and kept."""

    orders: int
    papers: int
    kept: int


def erase(
    session: Session,
    customer: Customer,
    at: datetime,
    *,
    photos: Path,
    invoices_before: date | None = None,
    version: int | None = None,
) -> Erased:
    """Take out name, reach, address, notes, requests and pictures; figures and numbers stay.

    Quotes lose the name as well. Invoices and credit notes have to be kept for as long as the law
    says: those written before ``invoices_before`` lose it, the others keep it until they are old
    enough, when they are found by their number.
    """
    check_version(customer, version)
    if customer.erased_at is not None:
        raise DomainError(say("Their data was taken out already."))
    reason = why_not_erased(session, customer)
    if reason:
        raise DomainError(reason)
    orders, papers, kept = _orders(session, customer), 0, 0
    for key in OWN:
        setattr(customer, key, "")
    customer.name, customer.erased_at = say(ERASED), at
    for order in orders:
        order.note = order.their_number = ""
        for line in order.lines:
            line.asked_for = ""
            for made in _made(session, line):
                made.why_spoiled = ""
        for photo in photos_of(session, order):
            remove_photo(session, photos, photo)
        for delivery in _deliveries(session, order):
            delivery.note = ""
        for back in _returns(session, order):
            back.why = "–"
        for document in documents_of(session, order):
            if document.kind == DocumentKind.QUOTE or _old_enough(document, invoices_before):
                _take_name_out(document)
                papers += 1
            else:
                kept += 1
    session.flush()
    return Erased(len(orders), papers, kept)


def _old_enough(document: Document, before: date | None) -> bool:
    return before is not None and document.issued_on < before


def _take_name_out(document: Document) -> None:
    """Leave a paper of an erased customer without who it was for; its figures as they are."""
    content: Mapping[str, Any] = document.content
    nobody = {
        "name": document.order.customer.name, "address": [], "contact": [], "tax_number": "",
        "register_number": "",
    }  # fmt: skip
    lines = [{**line, "request": ""} for line in content["lines"]]
    customer = content["customer"] | nobody
    document.content = {**content, "customer": customer, "lines": lines, "why": ""}
    document.why = ""


def named_still(session: Session) -> list[Document]:
    """Invoices and credit notes that bear the name of somebody whose data was taken out."""
    query = (
        select(Document)
        .join(Order)
        .join(Customer)
        .where(Customer.erased_at.is_not(None))
        .order_by(Document.id)
    )
    return [
        row
        for row in session.scalars(query)
        if row.content["customer"]["name"] != row.order.customer.name
    ]


def erase_old_papers(session: Session, before: date) -> int:
    """Take the names of erased customers out of papers that had to be kept until now; how many."""
    old = [row for row in named_still(session) if row.issued_on < before]
    for document in old:
        _take_name_out(document)
    session.flush()
    return len(old)
