"""Shops that sell on commission: what they have, what they sold, what they owe and paid."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from flask import Blueprint, abort, flash, redirect, render_template, url_for
from wtforms import BooleanField, HiddenField

from app.core.errors import DomainError
from app.language import say, to_say
from app.models import Channel, Outlet, OutletPayment, Statement, Variant
from app.services.designs import journals
from app.services.outlets import outlets as service
from app.services.shop.settings import channels
from app.services.stock import ledger as stock
from app.web.frame.fields import (
    Form,
    MoneyField,
    Needed,
    PastDayField,
    PercentField,
    WholeField,
    choice_field,
    note_field,
    offered,
    text_field,
    typed_version,
)
from app.web.frame.session import db, need, today
from app.web.frame.submission import press, submit

pages = Blueprint("outlets", __name__, url_prefix="/markets/shops")
HOW = {
    "transfer": to_say("transfer"), "cash": to_say("cash"), "card": to_say("card"),
    "other": to_say("other"),
}  # fmt: skip
"""How a shop pays: as it is kept, and in words."""


class OutletForm(Form):
    """A shop that sells for you."""

    version = HiddenField()
    name = text_field(to_say("Name"), needed=True)
    channel = choice_field(to_say("Prices of"), [], coerce=int)
    commission = PercentField(
        to_say("It keeps"), [Needed()], description=to_say("Of what its customers pay.")
    )
    contact = note_field(to_say("Address and contact"))
    note = note_field()
    retired = BooleanField(to_say("No longer used"))


@pages.get("")
def listing() -> str:
    """All shops with what they have and owe."""
    every = service.outlets(db())
    there, owed = service.there_at(db(), every), service.owed_by(db(), every)
    rows = [(one, there[one.id], owed[one.id]) for one in every]
    return render_template("markets/outlets.html", rows=rows)


@pages.route("/new", methods=["GET", "POST"])
@pages.route("/<int:outlet_id>/change", methods=["GET", "POST"])
def change(outlet_id: int | None = None) -> Any:
    """Add a shop, or change one."""
    outlet = need(Outlet, outlet_id) if outlet_id is not None else None

    every = channels(db())
    if outlet is not None and outlet.channel not in every:
        every.append(outlet.channel)

    def made(**more: Any) -> OutletForm:
        keys = ("version", "name", "commission", "contact", "note", "retired")
        start = {key: getattr(outlet, key) for key in keys} if outlet else {}
        if outlet is not None:
            start["channel"] = outlet.channel_id
        form = OutletForm(data=start, **more)
        form.channel.choices = offered((c.id, c.name) for c in every)
        return form

    form = made()

    def save() -> str:
        values = form.values()
        values["channel"] = db().get_one(Channel, form.channel.data)
        version = typed_version(form.version.data)
        saved = service.save_outlet(db(), outlet, values, version)
        flash(say("{name}: saved.", name=saved.name))
        return url_for("outlets.one", outlet_id=saved.id)

    if done := submit(form, save, now=lambda: made(formdata=None)):
        return done
    page = render_template("markets/outlet_form.html", form=form, outlet=outlet)
    return page, 422 if form.is_submitted() else 200


@pages.get("/<int:outlet_id>")
def one(outlet_id: int) -> Any:
    """What a shop has, what it said it sold, what it owes."""
    outlet = need(Outlet, outlet_id)
    found, paid = service.statements(db(), outlet), service.payments(db(), outlet)
    return render_template(
        "markets/outlet.html", outlet=outlet, there=service.there(db(), outlet),
        statements=found, came_to=service.account_of(db(), found), payments=paid,
        owes=service.owes(db(), outlet), answered={one.reverses_id for one in paid},
    )  # fmt: skip


def _here(outlet: Outlet) -> str:
    return url_for("outlets.one", outlet_id=outlet.id)


def _numbers_form(kind: str, variants: list[tuple[int, str]], day: str, **fields: Any) -> Form:
    """A day and a number for each journal."""

    class NumbersForm(Form):
        on = PastDayField(day, [Needed()])

    for name, field in fields.items():
        setattr(NumbersForm, name, field)
    for number, name in variants:
        setattr(NumbersForm, f"{kind}-{number}", WholeField(name, least=0))
    return NumbersForm(data={"on": today()})


def _numbers_page(
    outlet: Outlet, form: Form, kind: str, title: str, head: str, rows: list[tuple[Variant, int]]
) -> Any:
    """The journals that can be sent, come home or be sold, each with how many there are."""
    page = render_template(
        "markets/outlet_numbers.html", outlet=outlet, form=form, kind=kind, title=title, head=head,
        rows=[(variant, number, form[f"{kind}-{variant.id}"]) for variant, number in rows],
    )  # fmt: skip
    return page, 422 if form.is_submitted() else 200


def _typed(form: Form, kind: str, variants: list[tuple[int, str]]) -> dict[int, int]:
    return {number: form[f"{kind}-{number}"].data or 0 for number, _ in variants}


@pages.route("/<int:outlet_id>/send", methods=["GET", "POST"])
def send(outlet_id: int) -> Any:
    """Take journals to a shop."""
    outlet = need(Outlet, outlet_id)
    here = stock.holdings(db())
    rows = [
        (v, here[stock.item_key(v)].quantity) for v in journals.sellable(db())
        if stock.item_key(v) in here and here[stock.item_key(v)].quantity
    ]  # fmt: skip
    variants = [(v.id, v.full_name) for v, _ in rows]
    form = _numbers_form("send", variants, say("Taken there on"))

    def do() -> str:
        number = service.send(db(), outlet, _typed(form, "send", variants), form["on"].data)
        flash(
            say(
                "At {shop} now, yours still, and off your shelf: {number}.",
                shop=outlet.name, number=number,
            )
        )  # fmt: skip
        return _here(outlet)

    if done := submit(form, do):
        return done
    return _numbers_page(
        outlet, form, "send", say("To {shop}", shop=outlet.name), say("On the shelf"), rows
    )  # fmt: skip


@pages.route("/<int:outlet_id>/home", methods=["GET", "POST"])
def home(outlet_id: int) -> Any:
    """A shop gives journals back."""
    outlet = need(Outlet, outlet_id)
    rows = service.there(db(), outlet)
    variants = [(row.variant.id, row.variant.full_name) for row in rows]
    form = _numbers_form("home", variants, say("Home on"))

    def do() -> str:
        number = service.bring_home(db(), outlet, _typed(form, "home", variants), form["on"].data)
        flash(say("On your shelf again: {number}.", number=number))
        return _here(outlet)

    if done := submit(form, do):
        return done
    return _numbers_page(
        outlet, form, "home", say("Home from {shop}", shop=outlet.name), say("There"),
        [(row.variant, row.pieces) for row in rows],
    )  # fmt: skip


@pages.route("/<int:outlet_id>/sold", methods=["GET", "POST"])
def sold(outlet_id: int) -> Any:
    """What a shop says it sold."""
    outlet = need(Outlet, outlet_id)
    rows = service.there(db(), outlet)
    variants = [(row.variant.id, row.variant.full_name) for row in rows]
    fields: dict[str, Any] = {
        "costs": MoneyField(to_say("What else it took off")),
        "commission": PercentField(to_say("It keeps"), [Needed()]),
    }
    for row in rows:
        label = say("{journal}, each at", journal=row.variant.full_name)
        fields[f"price-{row.variant.id}"] = MoneyField(label)
    form = _numbers_form("sold", variants, say("As of"), **fields)
    if not form.is_submitted():
        form["commission"].data = outlet.commission
        for row in rows:
            form[f"price-{row.variant.id}"].data = row.price

    def do() -> str:
        lines = []
        for number, quantity in _typed(form, "sold", variants).items():
            price = form[f"price-{number}"].data
            if quantity and price is None:
                raise DomainError(say("Say what one went for."), f"price-{number}")
            lines.append(service.SoldThere(number, quantity, price or Decimal(0)))
        done = service.state_sold(
            db(), outlet, lines, form["on"].data, form["costs"].data or Decimal(0),
            form["commission"].data,
        )  # fmt: skip
        flash(say("Statement {number} is written down.", number=done.number))
        return _here(outlet)

    if done := submit(form, do):
        return done
    return _numbers_page(
        outlet, form, "sold", say("Sold by {shop}", shop=outlet.name), say("There"),
        [(row.variant, row.pieces) for row in rows],
    )  # fmt: skip


class SettleForm(Form):
    """What a shop paid."""

    amount = MoneyField(to_say("Amount"), [Needed()])
    on = PastDayField(to_say("Paid on"), [Needed()])
    how = choice_field(to_say("How"), HOW.items())


@pages.route("/<int:outlet_id>/paid", methods=["GET", "POST"])
def paid(outlet_id: int) -> Any:
    """A shop paid."""
    outlet = need(Outlet, outlet_id)
    owed = service.owes(db(), outlet)
    form = SettleForm(data={"on": today(), "amount": owed if owed > 0 else None})

    def do() -> str:
        service.settle(db(), outlet, form.amount.data, form.on.data, form.how.data)
        if service.owes(db(), outlet) >= 0:
            flash(say("Written down."))
        else:
            flash(say("Written down: that is more than it owed."))
        return _here(outlet)

    if done := submit(form, do):
        return done
    page = render_template("markets/outlet_paid.html", outlet=outlet, form=form, owes=owed)
    return page, 422 if form.is_submitted() else 200


@pages.post("/<int:outlet_id>/statements/<int:statement_id>/take-back")
def take_back(outlet_id: int, statement_id: int) -> Any:
    """A statement was a mistake."""
    outlet, statement = need(Outlet, outlet_id), need(Statement, statement_id)
    if statement.outlet_id != outlet.id:
        abort(404)

    def do() -> str:
        service.take_back(db(), statement)
        flash(
            say(
                "Statement {number} is taken back: its journals are there again.",
                number=statement.number,
            )
        )
        return _here(outlet)

    return press(do, lambda: redirect(_here(outlet)))


@pages.post("/<int:outlet_id>/payments/<int:payment_id>/answer")
def answer(outlet_id: int, payment_id: int) -> Any:
    """A payment was a mistake."""
    outlet, payment = need(Outlet, outlet_id), need(OutletPayment, payment_id)
    if payment.outlet_id != outlet.id:
        abort(404)

    def do() -> str:
        service.answer(db(), payment, today())
        flash(say("Its opposite is written down."))
        return _here(outlet)

    return press(do, lambda: redirect(_here(outlet)))
