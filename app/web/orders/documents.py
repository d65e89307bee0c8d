"""Papers for a customer: quotes, invoices, credit notes, receipts and packing slips."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from functools import partial
from typing import Any

from flask import Blueprint, Response, abort, flash, render_template, request, url_for
from wtforms import HiddenField

from app.core.errors import DomainError
from app.core.states import ORDER_NOT_OVER, DocumentKind
from app.documents.customer_letters import mail_text
from app.documents.einvoice import invoice_xml, why_no_xml
from app.language import say, to_say
from app.models import Delivery, Document, Order, Payment
from app.services.orders import documents as service
from app.services.orders import slips
from app.services.orders.deliveries import deliveries
from app.services.shop.letterhead import letterhead
from app.services.shop.settings import StaleError
from app.web.frame.asked import number_asked
from app.web.frame.fields import (
    DayField,
    Form,
    Needed,
    PastDayField,
    text_field,
    typed_version,
)
from app.web.frame.session import db, find, need, photo_folder, prices, shop, today
from app.web.frame.submission import submit

pages = Blueprint("documents", __name__, url_prefix="/orders")

NAMES = {
    DocumentKind.QUOTE: to_say("Quote {number}"),
    DocumentKind.INVOICE: to_say("Invoice {number}"),
    DocumentKind.CREDIT_NOTE: to_say("Credit note {number}"),
}
WRITTEN = {
    DocumentKind.QUOTE: to_say("Quote {number} is written."),
    DocumentKind.INVOICE: to_say("Invoice {number} is written."),
}


@pages.before_request
def in_the_shops_style() -> None:
    """Figures on paper are written as the shop writes them: reading it says how."""
    shop()


def paper_name(document: Document) -> str:
    """A numbered paper in words."""
    return say(NAMES[document.kind], number=document.number)


class QuoteForm(Form):
    """A quote: until when it holds."""

    version = HiddenField()
    issued_on = PastDayField(to_say("Written on"), [Needed()])
    until = DayField(to_say("Holds until"), [Needed()])


class InvoiceForm(Form):
    """An invoice: by when it is to be paid."""

    version = HiddenField()
    issued_on = PastDayField(to_say("Written on"), [Needed()])
    until = DayField(to_say("To be paid by"), [Needed()])


class TakeBackForm(Form):
    """A credit note: why the invoice is taken back."""

    issued_on = PastDayField(to_say("Written on"), [Needed()])
    why = text_field(to_say("Why"), needed=True, most=300)


def _refuse(
    form: Form, order: Order, shown: Callable[[], bool], error: DomainError
) -> None:  # fmt: skip
    """Blame the form; say it at the top where the page has no such form any more.

    Of an order that changed meanwhile the page shows what it is now: pressing again means that.
    """
    form.blame(error)
    if isinstance(error, StaleError) and "version" in form:
        form["version"].raw_data, form["version"].data = None, order.version
    if not shown():
        flash(error.message)


def _can_invoice(order: Order) -> bool:
    written = service.documents_of(db(), order)
    return order.state in service.INVOICED_FROM and service.invoice_of(written) is None


def _stands(document: Document, written: Sequence[Document]) -> bool:
    """Whether, of all that was written for its order, it is the invoice that holds."""
    known = service.invoice_of(written)
    return known is not None and known.id == document.id


@pages.get("/<int:order_id>/papers")
def papers(order_id: int) -> Any:
    """What was written for an order, and what can be."""
    return _page(need(Order, order_id))


def _page(order: Order, quote: Any = None, invoice: Any = None, status: int = 200) -> Any:
    head, written = letterhead(db()), service.documents_of(db(), order)
    known, day = service.invoice_of(written), today()
    start = {"issued_on": day, "version": order.version}
    quote = quote or QuoteForm(data=start | {"until": day + timedelta(days=head.quote_days)})
    invoice = invoice or InvoiceForm(data=start | {"until": day + timedelta(days=head.pay_days)})
    return render_template(
        "orders/papers.html", order=order, written=written, known=known, paper_name=paper_name,
        quote=quote if order.state in service.QUOTED_FROM else None,
        invoice=invoice if order.state in service.INVOICED_FROM and known is None else None,
        differs=known is not None and service.says_something_else(db(), known, order),
        deliveries=deliveries(db(), order), head=head, to_pack=_to_pack(order),
        boxes=service.will_not_print(service.preview(db(), order, day)),
    ), status  # fmt: skip


def _to_pack(order: Order) -> bool:
    """Whether something of an order is still to deliver."""
    return order.state in ORDER_NOT_OVER and any(line.wanted for line in order.lines)


@pages.post("/<int:order_id>/quote")
def quote(order_id: int) -> Any:
    """Write a quote."""
    order, form = need(Order, order_id), QuoteForm()
    done = _write(form, order, service.write_quote, lambda: order.state in service.QUOTED_FROM)
    return done or _page(order, quote=form, status=422)


@pages.post("/<int:order_id>/invoice")
def invoice(order_id: int) -> Any:
    """Write the invoice."""
    order, form = need(Order, order_id), InvoiceForm()
    done = _write(form, order, service.write_invoice, lambda: _can_invoice(order))
    return done or _page(order, invoice=form, status=422)


def _write(
    form: Any, order: Order, write: Callable[..., Document], shown: Callable[[], bool]
) -> Any:  # fmt: skip
    """Write a numbered paper of an order as it was shown; None where that was refused."""

    def do() -> str:
        made = write(
            db(), order, form.issued_on.data, form.until.data, typed_version(form.version.data)
        )
        flash(say(WRITTEN[made.kind], number=made.number))
        return url_for("documents.one", document_id=made.id)

    return submit(form, do, refuse=partial(_refuse, form, order, shown))


@pages.get("/papers/<int:document_id>")
def one(document_id: int) -> Any:
    """A numbered paper as it was written, with what to write beside it."""
    return _one(need(Document, document_id))


def _one(document: Document, form: Any = None, status: int = 200) -> Any:
    written = service.documents_of(db(), document.order)
    answer = next((row for row in written if row.answers_id == document.id), None)
    paper, stands = service.paper_of(document), _stands(document, written)
    return render_template(
        "orders/paper.html", document=document, paper=paper, answer=answer,
        mail=mail_text(paper, document.order.balance), why_no_xml=why_no_xml(paper),
        boxes=service.will_not_print(paper),
        form=form or TakeBackForm(data={"issued_on": today()}),
        in_force=stands,
        differs=stands and service.says_something_else(db(), document, document.order),
    ), status  # fmt: skip


@pages.post("/papers/<int:document_id>/take-back")
def take_back(document_id: int) -> Any:
    """Take an invoice back by a credit note."""
    document, form = need(Document, document_id), TakeBackForm()

    def write() -> str:
        made = service.write_credit_note(db(), document, form.issued_on.data, form.why.data)
        flash(
            say(
                "Credit note {number} takes invoice {invoice} back.",
                number=made.number, invoice=document.number,
            )
        )  # fmt: skip
        return url_for("documents.one", document_id=made.id)

    def shown() -> bool:
        return _stands(document, service.documents_of(db(), document.order))

    refuse = partial(_refuse, form, document.order, shown)
    return submit(form, write, refuse=refuse) or _one(document, form, 422)


@pages.get("/papers/<int:document_id>.pdf")
def pdf(document_id: int) -> Response:
    """The paper to print or to send."""
    document = need(Document, document_id)
    name = f"{document.kind.replace(' ', '-')}-{document.number}"
    return _pdf(service.document_pdf(db(), document, photo_folder()), name)


@pages.get("/papers/<int:document_id>.xml")
def xml(document_id: int) -> Response:
    """The data that is inside the PDF, for whoever asks for it by itself."""
    document = need(Document, document_id)
    paper = service.paper_of(document)
    if why_no_xml(paper):
        abort(404)
    name = f"{document.kind.replace(' ', '-')}-{document.number}.xml"
    return Response(
        invoice_xml(paper), mimetype="application/xml",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )  # fmt: skip


@pages.get("/<int:order_id>/payments/<int:payment_id>.pdf")
def receipt(order_id: int, payment_id: int) -> Response:
    """The receipt of a payment."""
    payment = need(Payment, payment_id)
    if payment.order_id != order_id:
        abort(404)
    return _pdf(slips.receipt_pdf(db(), payment), f"receipt-{payment.receipt_number}")


@pages.get("/<int:order_id>/slip.pdf")
def slip(order_id: int) -> Response:
    """What goes into the parcel with it: of one delivery, or of all that is still to deliver."""
    order = need(Order, order_id)
    asked = number_asked(request.args, "delivery")
    delivery = find(Delivery, asked)
    if asked is not None and (delivery is None or delivery.order_id != order.id):
        abort(404)
    made = slips.slip_pdf(db(), prices(), order, delivery, today())
    if made is None:
        abort(404)
    return _pdf(made, f"packing-slip-{order.number}")


def _pdf(made: bytes, name: str) -> Response:
    return Response(
        made, mimetype="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"'},
    )  # fmt: skip
