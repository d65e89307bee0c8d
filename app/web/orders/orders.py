"""Orders: logged from the keyboard, accepted, made ready, delivered; deposit and balance."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from wtforms import HiddenField

from app.core.errors import DomainError
from app.core.invoicing import tax_within
from app.core.money import currency
from app.core.states import ORDER_STATES, OrderState
from app.language import say, say_many, to_say
from app.models import Channel, Customer, Order, Payment
from app.services.designs import journals
from app.services.designs.postage import Parcel, parcel_of
from app.services.orders import documents, search
from app.services.orders import orders as service
from app.services.orders.photos import photos_of
from app.services.orders.shelf import book_in_for, lacking
from app.services.shop.settings import StaleError
from app.web.frame.fields import (
    Form,
    MoneyField,
    Needed,
    PastDayField,
    choice_field,
    typed_version,
)
from app.web.frame.filters import money
from app.web.frame.session import db, need, prices, shop, today
from app.web.frame.submission import PictureForm, press, submit
from app.web.orders.deliveries import between_shelf_and_customer
from app.web.orders.documents import paper_name
from app.web.orders.order_form import (
    HOW_PAID,
    OrderForm,
    asked,
    dates_sound,
    lines_said,
    order_form,
    sound,
)

pages = Blueprint("orders", __name__, url_prefix="/orders")

SORTS = {
    search.OrderSort.SOONEST: to_say("the soonest first"),
    search.OrderSort.LATEST: to_say("the latest first"),
    search.OrderSort.NUMBER: to_say("the newest number first"),
    search.OrderSort.WHO: to_say("customer"),
}
WAY_ON = (
    OrderState.ENQUIRY,
    OrderState.ACCEPTED,
    OrderState.IN_PROGRESS,
    OrderState.READY,
    OrderState.DELIVERED,
)
DO = {
    OrderState.ACCEPTED: to_say("Accept"),
    OrderState.DECLINED: to_say("Decline"),
    OrderState.IN_PROGRESS: to_say("Start"),
    OrderState.READY: to_say("Mark as ready"),
    OrderState.DELIVERED: to_say("Mark as delivered"),
    OrderState.CANCELLED: to_say("Cancel"),
    OrderState.ENQUIRY: to_say("Reopen as enquiry"),
}
"""What moving to a state is called on its button."""
BACK = {
    OrderState.ENQUIRY: to_say("Back to enquiry"),
    OrderState.ACCEPTED: to_say("Back to accepted"),
    OrderState.IN_PROGRESS: to_say("Back to in progress"),
    OrderState.READY: to_say("Back to ready"),
}


class PaymentForm(Form):
    """Money that came, or went back."""

    amount = MoneyField(
        to_say("Amount"), [Needed()], negative=True,
        description=to_say("Below zero to give back."),
    )  # fmt: skip
    paid_on = PastDayField(to_say("On"), [Needed()])
    how = choice_field(to_say("How"), HOW_PAID)


class CancelForm(Form):
    """What becomes of what was paid for an order that is cancelled."""

    version = HiddenField()
    paid = HiddenField()
    deposit = choice_field(
        to_say("What was paid"),
        [
            ("returned", to_say("is given back now")),
            ("owed", to_say("is given back later")),
            ("kept", to_say("is kept")),
        ],
    )
    how = choice_field(to_say("Given back how"), HOW_PAID)


@pages.get("")
def listing() -> str:
    """Orders found by words and state; the open ones first."""
    text = request.args.get("q", "")[:200].replace("\x00", "")
    state = request.args.get("state", "" if text else "open")
    if state not in ("", "open", "unsettled", *ORDER_STATES):
        state = "open"
    page = request.args.get("page", "1")
    number = int(page) if page.isdecimal() and len(page) < 7 else 1
    sort = request.args.get("sort", "")
    found = search.search_orders(db(), text, state, number, sort)
    return render_template(
        "orders/listing.html", found=found, q=text, state=state, states=ORDER_STATES, sorts=SORTS,
        sort=sort if sort in SORTS else "",
    )  # fmt: skip


def _shown(text: str | None) -> Decimal | None:
    """An amount that a page carried along; whatever else was sent counts as none."""
    return Decimal(text) if text and re.fullmatch(r"\d{1,9}(\.\d{1,4})?", text) else None


@pages.route("/new", methods=["GET", "POST"])
def new() -> Any:
    """Log an order."""
    form = order_form()

    def log() -> str:
        order = _log(form, asked(form) or [])
        flash(say("Order {number} is saved.", number=order.number))
        return url_for("orders.one", order_id=order.id)

    done = None if "another" in request.form else submit(form, log, check=lambda: sound(form))
    return done or _form_page(form, None)


def _log(form: OrderForm, lines: list[service.LineAsked]) -> Order:
    channel = db().get_one(Channel, form.channel.data)
    order = service.log_order(
        db(), customer_name=form.customer.data, channel=channel, lines=lines,
        wanted_by=form.wanted_by.data, logged_on=form.logged_on.data, reach=form.reach.data,
        note=form.note.data, who=int(form.who_is.data) if form.who_is.data else None,
        postage=form.postage.data or Decimal(0),
    )  # fmt: skip
    if form.deposit.data:
        if not form.deposit_how.data:
            raise DomainError(say("Say how the deposit was paid."), "deposit_how")
        try:
            service.take_payment(
                db(), order, form.deposit.data, form.logged_on.data, form.deposit_how.data
            )
        except DomainError as error:
            raise DomainError(error.message, "deposit") from None
    return order


def _form_page(form: OrderForm, order: Order | None) -> Any:
    refused = form.is_submitted() and "another" not in request.form
    names = db().scalars(select(Customer.name).order_by(Customer.name).limit(500)).all()
    page = render_template(
        "orders/form.html", form=form, order=order, names=sorted(set(names)),
        something_to_sell=len(form.lines.entries[0].form.variant.choices) > 1,
    )  # fmt: skip
    return page, 422 if refused else 200


def _honest_address(order: Order) -> str:
    """Where the honest day of an enquiry is asked for, a moment after its page stands."""
    if order.state != OrderState.ENQUIRY:
        return ""
    lines = [f"{line.variant_id}:{line.wanted}" for line in order.lines]
    return url_for("beside.honest", line=lines, by=order.wanted_by.isoformat())


def _deed(now: OrderState, then: OrderState) -> str:
    """What moving from one state to another is called: backwards says so."""
    steps = [*ORDER_STATES]
    back = then in WAY_ON and now in WAY_ON and steps.index(then) < steps.index(now)
    if now == OrderState.CANCELLED:
        return say("Undo the cancellation")
    return say(BACK[then] if back else DO[then])


def order_page(
    order: Order, payment: PaymentForm | None = None, status: int = 200,
    photo: PictureForm | None = None,
) -> Any:  # fmt: skip
    start = {"paid_on": today(), "amount": order.balance if order.balance > 0 else None}
    tax = tax_within(order.total, order.tax_rate, currency(shop().currency))
    written = documents.documents_of(db(), order)
    known = documents.invoice_of(written)
    return render_template(
        "orders/one.html",
        order=order,
        written=written,
        paper_name=paper_name,
        packed=_packed(order),
        photos=photos_of(db(), order),
        photo=photo or PictureForm(formdata=None),
        invoiced=known is not None,
        differs=known is not None and documents.says_something_else(db(), known, order),
        tax=order.tax_on_top if order.before_tax else tax,
        payment=payment or PaymentForm(data=start),
        states=[(state, _deed(order.state, state)) for state in ORDER_STATES[order.state]],
        lacking=lacking(db(), order)
        if OrderState.READY in ORDER_STATES[order.state] and order.state != OrderState.DELIVERED
        else (),
        **between_shelf_and_customer(order),
        honest=_honest_address(order),
        answered={p.reverses_id: p.receipt_number for p in order.payments if p.reverses_id},
        receipts={p.id: p.receipt_number for p in order.payments},
    ), status


def _packed(order: Order) -> Parcel | None:
    """What is wanted of an order as a parcel; None where a journal cannot be worked out."""
    lines = [line for line in order.lines if line.wanted]
    try:
        found = [(journals.estimate_by(prices(), line.variant), line.wanted) for line in lines]
    except DomainError:
        return None
    if not found or not all(one.every_paper for one, _ in found):
        return None
    return parcel_of(db(), [(one.build, one.weight_mg, n) for one, n in found], shop())


@pages.get("/<int:order_id>")
def one(order_id: int) -> Any:
    """One order with its lines, its state and its money."""
    return order_page(need(Order, order_id))


@pages.route("/<int:order_id>/change", methods=["GET", "POST"])
def change(order_id: int) -> Any:
    """Change an order; once agreed only its date and note."""
    order = need(Order, order_id)
    form = order_form(order)
    # What was agreed is not on the form, so there are no lines to read from it.
    fixed = order.state != OrderState.ENQUIRY

    def save() -> str:
        service.change_order(
            db(), order, channel=order.channel if fixed else need(Channel, form.channel.data),
            lines=[] if fixed else asked(form) or [],
            wanted_by=form.wanted_by.data, note=form.note.data, logged_on=form.logged_on.data,
            version=typed_version(form.version.data), postage=form.postage.data or Decimal(0),
        )  # fmt: skip
        flash(say("Saved."))
        return url_for("orders.one", order_id=order.id)

    def check() -> bool:
        return dates_sound(form) if fixed else sound(form)

    def refuse(error: DomainError) -> None:
        form.refuse(error, order_form(order, formdata=None))
        if isinstance(error, StaleError):
            form.form_errors.append(lines_said(order))

    more = "another" in request.form
    done = None if more else submit(form, save, check=check, refuse=refuse)
    return done or _form_page(form, order)


@pages.route("/<int:order_id>/cancel", methods=["GET", "POST"])
def cancel(order_id: int) -> Any:
    """Ask before an order is cancelled, and what becomes of what was paid."""
    order = need(Order, order_id)
    now = {"version": order.version, "paid": str(order.paid)}
    form = CancelForm(data=now)

    def call_off() -> str:
        service.cancel_order(
            db(), order, today(), typed_version(form.version.data),
            deposit=form.deposit.data, how=form.how.data, paid=_shown(form.paid.data),
        )  # fmt: skip
        flash(
            say(
                "Order {number} is cancelled. It can be accepted again below.",
                number=order.number,
            )
        )
        return url_for("orders.one", order_id=order.id)

    def as_saved() -> CancelForm:
        # What is paid now is what the next answer is about.
        paid = str(order.paid)
        form.paid.raw_data, form.paid.data = None, paid
        return CancelForm(formdata=None, data={"version": order.version, "paid": paid})

    if done := submit(form, call_off, now=as_saved):
        return done
    page = render_template("orders/cancel.html", order=order, form=form)
    return page, 422 if form.is_submitted() else 200


@pages.post("/<int:order_id>/payments/<int:payment_id>/mistake")
def mistake(order_id: int, payment_id: int) -> Any:
    """A payment written down by mistake: its opposite is written down too."""
    order, payment = need(Order, order_id), need(Payment, payment_id)
    if payment.order_id != order.id:
        abort(404)

    def answer() -> str:
        undone = service.mark_mistaken(db(), payment, today())
        flash(
            say(
                "Receipt {number} answers receipt {mistaken}.",
                number=undone.receipt_number, mistaken=payment.receipt_number,
            )
        )  # fmt: skip
        return url_for("orders.one", order_id=order.id)

    return press(answer, lambda: order_page(order, status=422))


@pages.post("/<int:order_id>/state")
def move(order_id: int) -> Any:
    """Take an order to another state; a cancellation is asked about first."""
    order = need(Order, order_id)
    if request.form.get("state") == OrderState.CANCELLED:
        return redirect(url_for("orders.cancel", order_id=order.id))

    def go_on() -> str:
        booked, before = 0, order.state
        if "book_in" in request.form:
            booked = book_in_for(db(), order, today())
        service.move_order(
            db(), order, request.form.get("state", ""), today(),
            typed_version(request.form.get("version")),
        )  # fmt: skip
        flash(_moved(order))
        if before == OrderState.ENQUIRY and order.state == OrderState.ACCEPTED:
            _say_if_quoted_otherwise(order)
        if booked:
            flash(_booked_in(booked))
        return url_for("orders.one", order_id=order.id)

    return press(go_on, lambda: order_page(order, status=422))


def _moved(order: Order) -> str:
    """Where an order stands now, and the money that should follow."""
    told = [say("Order {number} is {state} now.", number=order.number, state=say(order.state))]
    if order.state == OrderState.DELIVERED and order.balance > 0:
        told.append(say("{amount} is still to pay.", amount=money(order.balance)))
    if order.balance < 0:
        told.append(
            say("{amount} that was paid is to be given back.", amount=money(-order.balance))
        )
    return " ".join(told)


def _booked_in(number: int) -> str:
    booked = say_many(
        number,
        "{n} made without a batch is booked in for it.",
        "{n} made without a batch are booked in for it.",
    )
    left = say("Their materials are still in the stock: count what is left of them.")
    return f"{booked} {left}"


def _say_if_quoted_otherwise(order: Order) -> None:
    """A quote that holds, and what was accepted is something else: that is not to pass unseen."""
    quote = documents.quoted(db(), order, today())
    if quote is not None and documents.says_something_else(db(), quote, order):
        flash(
            say(
                "Quote {number}, which holds, says {quoted}; accepted are {accepted}. Take the "
                "order back to an enquiry if that is not meant.",
                number=quote.number, quoted=money(documents.paper_of(quote).asked),
                accepted=money(order.total),
            )
        )  # fmt: skip


@pages.post("/<int:order_id>/payments")
def pay(order_id: int) -> Any:
    """Record a payment."""
    order = need(Order, order_id)
    form = PaymentForm()

    def take() -> str:
        payment = service.take_payment(
            db(), order, form.amount.data, form.paid_on.data, form.how.data
        )
        flash(
            say(
                "Receipt {number}: {amount}.",
                number=payment.receipt_number, amount=money(payment.amount),
            )
        )  # fmt: skip
        return url_for("orders.one", order_id=order.id)

    return submit(form, take) or order_page(order, form, 422)
