"""The form of an order: who, which journals, by when; its lines, and what of it is sound."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from flask import request
from wtforms import FieldList, FormField, HiddenField
from wtforms import Form as PlainForm
from wtforms.fields.choices import SelectChoice

from app.language import say, say_many, to_say
from app.models import Channel, Order, Variant
from app.services.designs import journals
from app.services.orders import customers
from app.services.orders import orders as service
from app.services.shop.settings import channels
from app.web.frame.asked import number_asked
from app.web.frame.fields import (
    DayField,
    Form,
    MoneyField,
    Needed,
    PastDayField,
    WholeField,
    choice_field,
    note_field,
    offered,
    speak,
    text_field,
)
from app.web.frame.filters import money
from app.web.frame.session import db, find, today

HOW_PAID = [
    ("cash", to_say("cash")),
    ("card", to_say("card")),
    ("transfer", to_say("transfer")),
    ("other", to_say("other")),
]


class LineForm(PlainForm):
    """One line of an order; an untouched one is passed over."""

    variant = choice_field(to_say("Which"), [], coerce=int)
    quantity = WholeField(to_say("How many"), least=1, most=10_000)
    unit_price = MoneyField(to_say("Price each"))
    asked_for = text_field(to_say("Request"), most=500)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        speak(self)

    @property
    def untouched(self) -> bool:
        """Whether nothing was chosen or typed here."""
        typed = (self.quantity.typed, self.unit_price.typed, self.asked_for.data)
        return not self.variant.data and not any(text and text.strip() for text in typed)

    def check(self, channel: Channel | None) -> service.LineAsked | None:
        """The line as asked, with the channel's price where none was typed; blames its fields."""
        variant = find(Variant, self.variant.data)
        if variant is None:
            self.variant.errors = [*self.variant.errors, say("Choose what is ordered.")]
        if self.quantity.data is None and not self.quantity.errors:
            self.quantity.errors = [say("How many?")]
        price = self.unit_price.data
        if price is None and not self.unit_price.errors and variant is not None:
            price = next((p.amount for p in variant.prices if p.channel is channel), None)
            if price is None:
                self.unit_price.errors = [say("There is no price for this channel yet: type one.")]
        if self.variant.errors or self.quantity.errors or self.unit_price.errors:
            return None
        assert variant is not None  # noqa: S101 - said by the errors above
        assert price is not None  # noqa: S101
        return service.LineAsked(variant, self.quantity.data, price, self.asked_for.data)


class OrderForm(Form):
    """Who, what, how many, by when, at what price, with what deposit."""

    version = HiddenField()
    customer = text_field(to_say("Who"), needed=True)
    who_is = choice_field(to_say("Is it"), [], default="")
    reach = text_field(to_say("How to reach them"))
    channel = choice_field(to_say("Sold as"), [], coerce=int)
    logged_on = PastDayField(to_say("Asked on"), [Needed()])
    wanted_by = DayField(to_say("By when"), [Needed()])
    lines = FieldList(FormField(LineForm), min_entries=1, max_entries=service.MOST_LINES)
    postage = MoneyField(
        to_say("Postage they pay"),
        description=to_say("Taxed as the journals are. Empty where you hand it over."),
    )
    deposit = MoneyField(to_say("Deposit paid now"))
    deposit_how = choice_field(
        to_say("Paid how"), [("", to_say("– say how –")), *HOW_PAID], default=""
    )
    note = note_field()


CHOSEN_GONE = to_say(
    "The customer you chose was renamed or joined with another one meanwhile: type the name as it "
    "is now, or save once more for somebody new."
)


def order_form(order: Order | None = None, **more: Any) -> OrderForm:
    """The form with its choices; a variant no longer made stays on an order that has it."""
    start: dict[str, Any] = {"wanted_by": today() + timedelta(days=21), "logged_on": today()}
    known = request.args.get("variant", "")
    if known.isdecimal() and len(known) < 10:
        start["lines"] = [{"variant": int(known), "quantity": 1}]
    again = find(Order, number_asked(request.args, "again")) if order is None else None
    if again is not None:
        start |= _the_same(again)
    if order is not None:
        start = {
            "version": order.version, "customer": order.customer.name, "channel": order.channel_id,
            "wanted_by": order.wanted_by, "note": order.note, "logged_on": order.logged_on,
            "postage": order.postage or None,
            "lines": [
                {"variant": line.variant_id, "quantity": line.quantity,
                 "unit_price": line.unit_price, "asked_for": line.asked_for}
                for line in order.lines
            ],
        }  # fmt: skip
    form = OrderForm(data=start, **more)
    form.who_is.choices = _same_name("" if order else form.customer.data or "")
    ways = channels(db())
    if order is not None and order.channel not in ways:
        ways.append(order.channel)
    form.channel.choices = offered((c.id, c.name) for c in ways)
    variants = {v.id: v.full_name for v in journals.sellable(db())}
    one_off = find(Variant, int(known)) if known.isdecimal() and len(known) < 10 else None
    if one_off is not None and one_off.design.one_off:
        variants[one_off.id] = one_off.full_name
    if again is not None:
        now = [journals.as_made_now(line.variant) for line in again.lines]
        variants |= {variant.id: variant.full_name for variant in now}
    if order is not None:
        variants |= {line.variant_id: line.variant.full_name for line in order.lines}
    if "another" in request.form and len(form.lines) < service.MOST_LINES:
        form.lines.append_entry()
    for entry in form.lines:
        entry.form.variant.choices = offered([(0, say("– choose –")), *variants.items()])
    return form


def _the_same(order: Order) -> dict[str, Any]:
    """An order as it would be logged once more: today's prices, and days of its own."""
    lines = [
        {"variant": journals.as_made_now(line.variant).id, "quantity": line.quantity,
         "asked_for": line.asked_for}
        for line in order.lines
    ]  # fmt: skip
    erased = order.customer.erased_at is not None
    who = {} if erased else {"customer": order.customer.name, "who_is": str(order.customer_id)}
    return who | {"channel": order.channel_id, "lines": lines, "postage": order.postage or None}


def _same_name(name: str) -> list[SelectChoice]:
    """The known customers of a name, told apart by how they are reached and what they ordered."""
    known = customers.customers_named(db(), name) if name.strip() else []
    rows = [("", say("– say which –"))]
    for customer in known:
        reached = ", ".join(filter(None, (customer.email, customer.phone)))
        reached = reached or say("no way to reach")
        many = say_many(len(customer.orders), "{n} order", "{n} orders")
        rows.append((str(customer.id), f"{customer.name}, {reached}, {many}"))
    if known:
        rows.append((str(customers.SOMEBODY_ELSE), say("somebody else of this name")))
    return offered(rows)


def asked(form: OrderForm) -> list[service.LineAsked] | None:
    """The lines typed, or None where one of them is wrong."""
    channel = find(Channel, form.channel.data)
    touched = [entry.form for entry in form.lines if not entry.form.untouched]
    if not touched and form.lines.entries:
        touched = [form.lines.entries[0].form]
    lines = [line.check(channel) for line in touched]
    good = [line for line in lines if line is not None]
    return good if len(good) == len(lines) else None


def sound(form: OrderForm) -> bool:
    """Whether a whole order as typed can be saved; its lines are looked at in any case."""
    good, lines = form.validate(), asked(form)
    if form.who_is.errors and len(form.who_is.choices) < 2:
        form.form_errors.append(say(CHOSEN_GONE))
    return bool(good and lines is not None)


def lines_said(order: Order) -> str:
    """The lines of an order as they are saved, which no field can show beside what was typed."""
    lines = "; ".join(
        say(
            "{number} × {journal} at {price}",
            number=x.quantity, journal=x.variant.full_name, price=money(x.unit_price),
        )
        for x in order.lines
    )  # fmt: skip
    return say("Saved now: {lines}.", lines=lines)


def dates_sound(form: OrderForm) -> bool:
    """Of an agreed order only its dates and note are looked at."""
    form.validate()
    return not any(field.errors for field in (form.wanted_by, form.logged_on, form.note))
