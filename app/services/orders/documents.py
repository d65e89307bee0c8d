"""Quotes, invoices and credit notes of an order: numbered without gaps, kept as they were written.

An invoice is never changed: a credit note takes it back, and another one is written. Receipts and
packing slips are drawn from payments and deliveries, which are kept as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import DocumentKind, OrderState
from app.core.structures.common import for_customers
from app.documents.customer_letters import (
    Packed,
    Received,
    paper_letter,
    receipt_letter,
    slip_letter,
)
from app.documents.customer_paper import CustomerPaper, PaperLine, paper_data, paper_from, split
from app.documents.einvoice import why_no_xml, with_xml
from app.documents.letter import Letter, letter_pdf
from app.models import Delivery, DeliveryLine, Document, Movement, Order, OrderLine, Payment
from app.services.designs.journals import take_off_of
from app.services.designs.price_book import PriceBook
from app.services.orders.standing import standings
from app.services.shop.letterhead import customer_party, letterhead, lines_of, shop_party
from app.services.shop.settings import next_number, the_shop

INVOICED_FROM = (
    OrderState.ACCEPTED, OrderState.IN_PROGRESS, OrderState.READY, OrderState.DELIVERED,
)  # fmt: skip
QUOTED_FROM = (OrderState.ENQUIRY,)


def documents_of(session: Session, order: Order) -> list[Document]:
    """An order's numbered papers in the order they were written."""
    return list(
        session.scalars(select(Document).where(Document.order_id == order.id).order_by(Document.id))
    )


def invoice_of(written: Sequence[Document]) -> Document | None:
    """Of an order's papers the invoice that no credit note took back."""
    taken_back = {one.answers_id for one in written}
    return next(
        (one for one in written if one.kind == DocumentKind.INVOICE and one.id not in taken_back),
        None,
    )


def paper_of(document: Document) -> CustomerPaper:
    """What stands on a numbered paper."""
    return paper_from(document.content)


def write_quote(session: Session, order: Order, on: date, until: date) -> Document:
    """Write down for the customer what an order would cost, and until when that holds."""
    _hold(session, order)
    if order.state not in QUOTED_FROM:
        raise DomainError(f"This order is {order.state}: a quote comes before it is accepted.")
    if until < on:
        raise DomainError("It would hold until before it is written.", "until")
    paper = _paper(session, order, DocumentKind.QUOTE, on, until)
    return _write(session, order, replace(paper, paid=Decimal(0)))


def write_invoice(session: Session, order: Order, on: date, until: date) -> Document:
    """Write the invoice of an order, to be paid by a day; once, until it is taken back."""
    _hold(session, order)
    if order.state not in INVOICED_FROM:
        raise DomainError(f"This order is {order.state}: there is nothing to invoice.")
    known = invoice_of(documents_of(session, order))
    if known is not None:
        raise DomainError(
            f"Invoice {known.number} is written for this order already: take it back by a credit "
            "note first."
        )
    if until < on:
        raise DomainError("It would be due before it is written.", "until")
    paper = _paper(session, order, DocumentKind.INVOICE, on, until)
    if not paper.lines:
        raise DomainError("Nothing of this order is wanted any more.")
    if not paper.shop.address:
        raise DomainError("An invoice needs the shop's address: put it on your papers first.")
    if paper.rate and not paper.shop.tax_number:
        raise DomainError(
            "An invoice with tax needs the shop's tax number: put it on your papers first."
        )
    _not_before_the_last(session, DocumentKind.INVOICE, on)
    return _write(session, order, paper)


def write_credit_note(session: Session, invoice: Document, on: date, why: str) -> Document:
    """Take an invoice back, all of it."""
    order = invoice.order
    _hold(session, order)
    if invoice.kind != DocumentKind.INVOICE:
        raise DomainError("Only an invoice can be taken back.")
    if any(one.answers_id == invoice.id for one in documents_of(session, order)):
        raise DomainError(f"Invoice {invoice.number} was taken back already.")
    if not why.strip():
        raise DomainError("Say why, since it stands on the credit note.", "why")
    if on < invoice.issued_on:
        raise DomainError("It cannot be taken back before it was written.", "issued_on")
    _not_before_the_last(session, DocumentKind.CREDIT_NOTE, on)
    paper = replace(
        paper_of(invoice), kind=DocumentKind.CREDIT_NOTE, issued_on=on, until=None,
        paid=Decimal(0), why=why.strip(), answers=(invoice.number, invoice.issued_on),
        shop=shop_party(session),
    )  # fmt: skip
    return _write(session, order, paper, invoice)


def _hold(session: Session, order: Order) -> None:
    """Two papers of one order wait for one another, and each sees the order as it is."""
    session.execute(select(Order.id).where(Order.id == order.id).with_for_update())
    session.refresh(order, ["payments", "state", "lines"])


def _not_before_the_last(session: Session, kind: DocumentKind, on: date) -> None:
    """Numbers and days run the same way."""
    last = session.scalar(select(func.max(Document.issued_on)).where(Document.kind == kind))
    if last is not None and on < last:
        raise DomainError(
            f"The last {kind} is of {last:%-d %B %Y}: the next cannot be of a day before.",
            "issued_on",
        )


def _write(
    session: Session, order: Order, paper: CustomerPaper, answers: Document | None = None
) -> Document:
    numbered = replace(paper, number=next_number(session, paper.kind.value))
    written = Document(
        kind=numbered.kind, number=numbered.number, order_id=order.id, order=order,
        issued_on=numbered.issued_on, until=numbered.until, why=numbered.why,
        answers_id=answers.id if answers else None, content=paper_data(numbered),
    )  # fmt: skip
    session.add(written)
    session.flush()
    return written


def _paper(
    session: Session, order: Order, kind: DocumentKind, on: date, until: date
) -> CustomerPaper:
    """All that stands on a paper of an order written now; its number comes last."""
    head, shop = letterhead(session), the_shop(session)
    lines = [line for line in order.lines if line.wanted]
    rate = order.tax_rate
    amounts = [*(line.amount for line in lines), order.postage]
    nets, rounding = split(amounts, rate, shop.currency, before_tax=order.before_tax)
    return CustomerPaper(
        kind=kind, number=0, issued_on=on, until=until, shop=shop_party(session),
        customer=customer_party(session, order.customer), order=order.number,
        currency=shop.currency,
        lines=tuple(
            PaperLine(line.variant.full_name, line.wanted, line.unit_price, net, line.asked_for)
            for line, net in zip(lines, nets, strict=False)
        ),
        rate=rate, before_tax=order.before_tax, postage=order.postage, postage_net=nets[-1],
        rounding=rounding, paid=order.paid, delivered_on=_delivered_on(session, order),
        no_tax_because=head.no_tax_because, pay_how=head.pay_how,
    )  # fmt: skip


def _delivered_on(session: Session, order: Order) -> date | None:
    """The day of the last delivery, of an order that is delivered."""
    if order.state != OrderState.DELIVERED:
        return None
    return session.scalar(
        select(func.max(Delivery.delivered_on)).where(Delivery.order_id == order.id)
    )


def says_something_else(document: Document, order: Order) -> bool:
    """Whether an order asks for other money by now than its invoice."""
    return paper_of(document).asked != order.total


def document_pdf(session: Session, document: Document) -> bytes:
    """The paper as PDF, an invoice with its data inside where the shop's numbers allow it."""
    paper = paper_of(document)
    pdf = _pdf(session, paper_letter(paper, letterhead(session).logo))
    return pdf if why_no_xml(paper) else with_xml(pdf, paper)


def receipt_pdf(session: Session, payment: Payment) -> bytes:
    """The receipt of a payment."""
    order = payment.order
    until = [p for p in order.payments if p.id <= payment.id]
    paid = sum((p.amount for p in until), Decimal(0))
    answers = next((p.receipt_number for p in until if p.id == payment.reverses_id), None)
    got = Received(
        payment.receipt_number, payment.paid_on, payment.amount, payment.how, order.number,
        paid, the_shop(session).currency, answers,
    )  # fmt: skip
    party = customer_party(session, order.customer)
    return _pdf(session, receipt_letter(shop_party(session), party, got, letterhead(session).logo))


def slip_pdf(
    session: Session, book: PriceBook, order: Order, delivery: Delivery | None, on: date
) -> bytes | None:
    """The packing slip of a delivery, or of all that is still to deliver; None of nothing."""
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
    return _pdf(session, letter)


def _outstanding(session: Session, order: Order) -> dict[int, int]:
    return {n: one.outstanding for n, one in standings(session, [order]).items()}


def _delivered_by_line(session: Session, delivery: Delivery) -> dict[int, int]:
    rows = session.execute(
        select(DeliveryLine.order_line_id, func.sum(-Movement.quantity))
        .join(Movement, Movement.id == DeliveryLine.movement_id)
        .where(DeliveryLine.delivery_id == delivery.id)
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


def _pdf(session: Session, letter: Letter) -> bytes:
    return letter_pdf(letter, the_shop(session).print_paper)
