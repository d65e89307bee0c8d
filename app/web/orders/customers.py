"""Customers on screen: found, corrected, their history, and two entries of one person joined."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, Response, abort, flash, g, render_template, request, url_for
from wtforms import BooleanField, HiddenField

from app.core.errors import DomainError
from app.language import say, to_say
from app.models import Customer
from app.services.orders import customers as service
from app.services.orders import personal_data
from app.web.frame.asked import number_asked
from app.web.frame.fields import DayField, Form, Needed, note_field, text_field, typed_version
from app.web.frame.session import db, find, need, photo_folder
from app.web.frame.submission import submit

pages = Blueprint("customers", __name__, url_prefix="/orders/customers")


class CustomerForm(Form):
    """Who somebody is and how to reach them."""

    version = HiddenField()
    name = text_field(to_say("Name"), needed=True)
    email = text_field(to_say("E-mail"))
    phone = text_field(to_say("Telephone"))
    address = note_field(to_say("Address"))
    country = text_field(
        to_say("Country"),
        most=60,
        description=to_say("Two letters such as DE; empty for your own country."),
    )
    tax_number = text_field(
        to_say("Tax number"), description=to_say("Of a business, for its invoices.")
    )
    note = note_field()


@pages.get("")
def listing() -> Any:
    """Customers by name, or those found, a page at a time."""
    text = request.args.get("q", "")[:200].replace("\x00", "")
    after, most = find(Customer, number_asked(request.args, "after")), service.MOST_LISTED
    rows = service.find_customers(db(), text, after, most + 1)
    further = rows[most - 1].customer.id if len(rows) > most else None
    return _listing(rows[:most], text, after, further, OldPapersForm(formdata=None))


def _listing(
    rows: list[service.Known], text: str, after: Customer | None, further: int | None, form: Any
) -> str:
    return render_template(
        "orders/customers.html", rows=rows, q=text, after=after, further=further, form=form,
        named_still=personal_data.named_still(db()),
    )  # fmt: skip


class OldPapersForm(Form):
    """Up to which day papers of customers whose data was taken out lose their name too."""

    before = DayField(to_say("Written before"), [Needed()])


@pages.post("/old-papers")
def old_papers() -> Any:
    """Take names out of papers that had to be kept until now."""
    form = OldPapersForm()

    def take_out() -> str:
        number = personal_data.erase_old_papers(db(), form.before.data)
        g.forget_for_good = True
        flash(say("The name is taken out of {number} of them.", number=number))
        return url_for("customers.listing")

    done = submit(form, take_out)
    return done or (_listing(service.find_customers(db()), "", None, None, form), 422)


def _need(customer_id: int) -> Customer:
    customer = need(Customer, customer_id)
    if customer.erased_at is not None:
        abort(404)
    return customer


@pages.route("/<int:customer_id>", methods=["GET", "POST"])
def one(customer_id: int) -> Any:
    """A customer with their orders; what is known of them can be corrected."""
    customer = _need(customer_id)
    form = CustomerForm(obj=customer)

    def save() -> str:
        service.save_customer(db(), customer, form.values(), typed_version(form.version.data))
        flash(say("Saved."))
        return url_for("customers.one", customer_id=customer.id)

    if done := submit(form, save, now=lambda: CustomerForm(formdata=None, obj=customer)):
        return done
    others = [k.customer for k in service.find_customers(db()) if k.customer is not customer]
    alike = service.customers_named(db(), customer.name)
    page = render_template(
        "orders/customer.html", customer=customer, form=form,
        history=service.history_of(db(), customer), alike=[c for c in alike if c is not customer],
        others=others,
    )  # fmt: skip
    return page, 422 if form.is_submitted() else 200


@pages.get("/<int:customer_id>/data.json")
def data(customer_id: int) -> Response:
    """All that is on record about somebody, to give to them."""
    customer = _need(customer_id)
    held = json.dumps(personal_data.held_about(db(), customer), ensure_ascii=False, indent=2)
    return Response(
        held, mimetype="application/json",
        headers={"Content-Disposition": f'attachment; filename="customer-{customer.id}.json"'},
    )  # fmt: skip


class EraseForm(Form):
    """Whether to take somebody's data out, and of which invoices too."""

    version = HiddenField()
    invoices_before = DayField(
        to_say("Take it out of invoices written before"),
        description=to_say(
            "How long invoices must be kept with their names, local law says; those that "
            "are younger keep them. Empty: all invoices keep them."
        ),
    )
    sure = BooleanField(to_say("Take it out for good: this cannot be undone"))


@pages.route("/<int:customer_id>/erase", methods=["GET", "POST"])
def erase(customer_id: int) -> Any:
    """Ask before what is personal about a customer is taken out."""
    customer = _need(customer_id)
    form = EraseForm(data={"version": customer.version})

    def take_out() -> str:
        if not form.sure.data:
            raise DomainError(say("Tick that you mean it."), "sure")
        done = personal_data.erase(
            db(), customer, datetime.now(UTC), photos=photo_folder(),
            invoices_before=form.invoices_before.data,
            version=typed_version(form.version.data),
        )  # fmt: skip
        flash(say("What was personal is taken out; the figures stay."))
        g.forget_for_good = True
        if done.kept:
            flash(
                say(
                    "{number} of their invoices and credit notes keep the name for now.",
                    number=done.kept,
                )
            )
        return url_for("customers.listing")

    def as_saved() -> EraseForm:
        return EraseForm(formdata=None, data={"version": customer.version})

    if done := submit(form, take_out, now=as_saved):
        return done
    page = render_template(
        "orders/erase.html", customer=customer, form=form,
        why_not=personal_data.why_not_erased(db(), customer),
        history=service.history_of(db(), customer),
    )  # fmt: skip
    return page, 422 if form.is_submitted() else 200


@pages.route("/<int:customer_id>/join", methods=["GET", "POST"])
def join(customer_id: int) -> Any:
    """Two entries of one person: shown side by side first, joined when that is meant."""
    kept = _need(customer_id)
    typed = request.values.get("other", "")
    other = find(Customer, int(typed)) if typed.isdecimal() and len(typed) < 10 else None
    form = Form()

    def unite() -> str:
        if other is None:
            raise DomainError(say("Choose another customer to join with this one."))
        service.join_customers(db(), kept, other)
        flash(say("Joined: all orders are {customer}’s now.", customer=kept.name))
        return url_for("customers.one", customer_id=kept.id)

    if done := submit(form, unite):
        return done
    both = [] if other is None else [(c, service.history_of(db(), c)) for c in (kept, other)]
    page = render_template("orders/join.html", kept=kept, other=other, both=both, form=form)
    return page, 422 if form.is_submitted() else 200
