"""Quotes, invoices and credit notes of an order: numbered without gaps, kept as they were written.

An invoice is never changed: a credit note takes it back, and another one is written. Receipts and
packing slips are drawn from payments and deliveries, which are kept as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from reportlab.platypus.doctemplate import LayoutError
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import DocumentKind, OrderState
from app.dates import whole_day
from app.documents.customer_letters import paper_letter
from app.documents.customer_paper import CustomerPaper, PaperLine, paper_data, paper_from, split
from app.documents.einvoice import why_no_xml, with_xml
from app.documents.letter import Letter, letter_pdf
from app.documents.letters import not_printed
from app.language import say, to_say
from app.models import Document, Order
from app.services.designs.pictures import first_pictures
from app.services.orders.deliveries import deliveries
from app.services.orders.sealing import seal_paper
from app.services.shop.letterhead import customer_party, letterhead, shop_party
from app.services.shop.pictures import picture_bytes
from app.services.shop.settings import check_version, next_number, the_shop

INVOICED_FROM = (
    OrderState.ACCEPTED, OrderState.IN_PROGRESS, OrderState.READY, OrderState.DELIVERED,
)  # fmt: skip
QUOTED_FROM = (OrderState.ENQUIRY,)
_NOT_BEFORE_THE_LAST = {
    DocumentKind.INVOICE: to_say(
        "The last invoice is of {day}: the next cannot be of a day before."
    ),
    DocumentKind.CREDIT_NOTE: to_say(
        "The last credit note is of {day}: the next cannot be of a day before."
    ),
}


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


def write_quote(
    session: Session, order: Order, on: date, until: date, version: int | None = None
) -> Document:
    """Write down for the customer what an order would cost, and until when that holds."""
    _hold(session, order, version)
    if order.state not in QUOTED_FROM:
        raise DomainError(
            say(
                "This order is {state}: a quote comes before it is accepted.",
                state=say(order.state),
            )
        )
    if until < on:
        raise DomainError(say("It would hold until before it is written."), "until")
    # A quote is for what would be agreed today, at the tax of today.
    order.tax_rate, order.before_tax = the_shop(session).tax, order.channel.wholesale
    paper = _paper(session, order, DocumentKind.QUOTE, on, until)
    return _write(session, order, replace(paper, paid=Decimal(0)))


def write_invoice(
    session: Session, order: Order, on: date, until: date, version: int | None = None
) -> Document:
    """Write the invoice of an order, to be paid by a day; once, until it is taken back.

    ``version`` is that of the order as it was shown. What was paid by the day of it counts.
    """
    _hold(session, order, version)
    if order.state not in INVOICED_FROM:
        raise DomainError(
            say("This order is {state}: there is nothing to invoice.", state=say(order.state))
        )
    known = invoice_of(documents_of(session, order))
    if known is not None:
        raise DomainError(
            say(
                "Invoice {number} is written for this order already: take it back by a "
                "credit note first.",
                number=known.number,
            )
        )
    if until < on:
        raise DomainError(say("It would be due before it is written."), "until")
    if on < order.logged_on:
        raise DomainError(
            say("The order is of {day} only.", day=whole_day(order.logged_on)), "issued_on"
        )
    paper = _paper(session, order, DocumentKind.INVOICE, on, until)
    if not paper.lines:
        raise DomainError(say("Nothing of this order is wanted any more, and no postage."))
    if not paper.shop.address:
        raise DomainError(say("An invoice needs the shop's address: put it on your papers first."))
    if paper.rate and not paper.shop.tax_number:
        raise DomainError(
            say("An invoice with tax needs the shop's tax number: put it on your papers first.")
        )
    _not_before_the_last(session, DocumentKind.INVOICE, on)
    return _write(session, order, paper)


def write_credit_note(session: Session, invoice: Document, on: date, why: str) -> Document:
    """Take an invoice back, all of it."""
    order = invoice.order
    _hold(session, order)
    if invoice.kind != DocumentKind.INVOICE:
        raise DomainError(say("Only an invoice can be taken back."))
    if any(one.answers_id == invoice.id for one in documents_of(session, order)):
        raise DomainError(say("Invoice {number} was taken back already.", number=invoice.number))
    if not why.strip():
        raise DomainError(say("Say why, since it stands on the credit note."), "why")
    if on < invoice.issued_on:
        raise DomainError(say("It cannot be taken back before it was written."), "issued_on")
    _not_before_the_last(session, DocumentKind.CREDIT_NOTE, on)
    paper = replace(
        paper_of(invoice), kind=DocumentKind.CREDIT_NOTE, issued_on=on, until=None,
        paid=Decimal(0), why=why.strip(), answers=(invoice.number, invoice.issued_on),
    )  # fmt: skip
    return _write(session, order, paper, invoice)


def _hold(session: Session, order: Order, version: int | None = None) -> None:
    """Two papers of one order wait for one another, and each sees the order as it is."""
    session.execute(select(Order.id).where(Order.id == order.id).with_for_update())
    session.refresh(order)
    check_version(order, version)


def _not_before_the_last(session: Session, kind: DocumentKind, on: date) -> None:
    """Numbers and days run the same way."""
    last = session.scalar(select(func.max(Document.issued_on)).where(Document.kind == kind))
    if last is not None and on < last:
        raise DomainError(say(_NOT_BEFORE_THE_LAST[kind], day=whole_day(last)), "issued_on")


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
    seal_paper(session, written)
    try:
        document_pdf(session, written)
    except (LayoutError, ValueError) as error:
        # What cannot be drawn takes no number.
        raise DomainError(
            say("This paper cannot be drawn: look at the texts on it, and shorten the longest.")
        ) from error
    return written


def _paper(
    session: Session, order: Order, kind: DocumentKind, on: date, until: date | None
) -> CustomerPaper:
    """All that stands on a paper of an order written now; its number comes last."""
    head, shop = letterhead(session), the_shop(session)
    lines = [line for line in order.lines if line.wanted]
    amounts = [*(line.amount for line in lines), order.postage]
    nets, rounding = split(amounts, order.tax_rate, shop.currency, before_tax=order.before_tax)
    shows = kind == DocumentKind.QUOTE and head.quote_pictures
    pictures = first_pictures(session, [line.variant for line in lines]) if shows else {}
    small = {variant_id: picture.small for variant_id, picture in pictures.items()}
    rows = tuple(
        PaperLine(
            line.variant.full_name,
            line.wanted,
            line.unit_price,
            net,
            line.asked_for,
            small.get(line.variant_id, ""),
        )
        for line, net in zip(lines, nets, strict=False)
    )
    postage, postage_net = order.postage, nets[-1]
    if not rows and postage:
        # An invoice has a line at least (BR-16): here the postage is all there is.
        rows = (PaperLine(say("Postage"), 1, postage, postage_net),)
        postage = postage_net = Decimal(0)
    paid = sum((p.amount for p in order.payments if p.paid_on <= on), Decimal(0))
    return CustomerPaper(
        kind=kind, number=0, issued_on=on, until=until, shop=shop_party(session),
        customer=customer_party(session, order.customer), order=order.number,
        currency=shop.currency,
        lines=rows, rate=order.tax_rate, before_tax=order.before_tax, postage=postage,
        postage_net=postage_net, rounding=rounding, paid=paid,
        delivered_on=_delivered_on(session, order),
        no_tax_because=head.no_tax_because, pay_how=head.pay_how,
    )  # fmt: skip


def _delivered_on(session: Session, order: Order) -> date | None:
    """The day of the last delivery, of an order that is delivered."""
    if order.state != OrderState.DELIVERED:
        return None
    return max((row.delivery.delivered_on for row in deliveries(session, order)), default=None)


def says_something_else(session: Session, document: Document, order: Order) -> bool:
    """Whether a paper written for an order now would be for something else than this one."""
    was, now = paper_of(document), _paper(session, order, document.kind, document.issued_on, None)
    asks = [
        ([(x.name, x.request, x.quantity, x.price) for x in paper.lines], paper.rate,
         paper.before_tax, paper.postage)
        for paper in (was, now)
    ]  # fmt: skip
    given_up = document.kind == DocumentKind.INVOICE and order.state not in INVOICED_FROM
    return given_up or asks[0] != asks[1]


def quoted(session: Session, order: Order, on: date) -> Document | None:
    """The newest quote of an order, where it holds on a day."""
    rows = [d for d in documents_of(session, order) if d.kind == DocumentKind.QUOTE]
    newest = rows[-1] if rows else None
    return newest if newest is not None and newest.until and newest.until >= on else None


def will_not_print(paper: CustomerPaper) -> str:
    """Characters of a paper that come out as boxes, or backwards, on the PDF."""
    party, lines = paper.customer, paper.lines
    shop = paper.shop
    return not_printed(
        " ".join(
            [party.name, *party.address, shop.name, *shop.address, *shop.contact, paper.pay_how,
             paper.why, *(line.name + line.request for line in lines)]
        )
    )  # fmt: skip


def preview(session: Session, order: Order, on: date) -> CustomerPaper:
    """What a paper written now would say."""
    kind = DocumentKind.QUOTE if order.state in QUOTED_FROM else DocumentKind.INVOICE
    return _paper(session, order, kind, on, None)


def document_pdf(session: Session, document: Document, photos: Path | None = None) -> bytes:
    """The paper as PDF, an invoice with its data inside where the shop's numbers allow it.

    ``photos`` is the folder of pictures; without it the paper is drawn without them.
    """
    paper = paper_of(document)
    pictures = {}
    if photos is not None:
        files = {line.picture for line in paper.lines if line.picture}
        pictures = {name: picture_bytes(photos, name) for name in files}
    pdf = letter_as_pdf(session, paper_letter(paper, letterhead(session).logo, pictures))
    return pdf if why_no_xml(paper) else with_xml(pdf, paper)


def letter_as_pdf(session: Session, letter: Letter) -> bytes:
    """A letter on the paper that the shop's printer has."""
    return letter_pdf(letter, the_shop(session).print_paper)
