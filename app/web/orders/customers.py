"""Customers on screen: found, corrected, their history, and two entries of one person joined."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, abort, flash, render_template, request, url_for
from wtforms import HiddenField

from app.core.errors import DomainError
from app.models import Customer
from app.services.orders import customers as service
from app.web.frame.asked import number_asked
from app.web.frame.fields import Form, note_field, text_field, typed_version
from app.web.frame.session import db, find, need
from app.web.frame.submission import submit

pages = Blueprint("customers", __name__, url_prefix="/orders/customers")


class CustomerForm(Form):
    """Who somebody is and how to reach them."""

    version = HiddenField()
    name = text_field("Name", needed=True)
    email = text_field("E-mail")
    phone = text_field("Telephone")
    address = note_field("Address")
    country = text_field(
        "Country", most=2, description="Two letters such as DE; empty for your own country."
    )
    tax_number = text_field("Tax number", description="Of a business, for its invoices.")
    note = note_field()


@pages.get("")
def listing() -> str:
    """Customers by name, or those found, a page at a time."""
    text = request.args.get("q", "")[:200].replace("\x00", "")
    after, most = find(Customer, number_asked(request.args, "after")), service.MOST_LISTED
    rows = service.find_customers(db(), text, after, most + 1)
    further = rows[most - 1].customer.id if len(rows) > most else None
    return render_template(
        "orders/customers.html", rows=rows[:most], q=text, after=after, further=further
    )


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
        flash("Saved.")
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


@pages.route("/<int:customer_id>/join", methods=["GET", "POST"])
def join(customer_id: int) -> Any:
    """Two entries of one person: shown side by side first, joined when that is meant."""
    kept = _need(customer_id)
    typed = request.values.get("other", "")
    other = find(Customer, int(typed)) if typed.isdecimal() and len(typed) < 10 else None
    form = Form()

    def unite() -> str:
        if other is None:
            raise DomainError("Choose another customer to join with this one.")
        service.join_customers(db(), kept, other)
        flash(f"Joined: all orders are {kept.name}’s now.")
        return url_for("customers.one", customer_id=kept.id)

    if done := submit(form, unite):
        return done
    both = [] if other is None else [(c, service.history_of(db(), c)) for c in (kept, other)]
    page = render_template("orders/join.html", kept=kept, other=other, both=both, form=form)
    return page, 422 if form.is_submitted() else 200
