"""An order's journals between the shelf and the customer: set aside, delivered, brought back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import Blueprint, abort, flash, render_template, request, url_for
from wtforms import HiddenField, SelectField

from app.core.errors import DomainError
from app.core.states import ORDER_NEEDS_MAKING
from app.language import say, say_many, to_say
from app.models import Delivery, Order, OrderLine
from app.services.orders import deliveries as service
from app.services.orders import shelf
from app.services.orders.standing import Standing, standings
from app.services.shop.settings import check_version
from app.services.stock.ledger import on_hand
from app.web.frame.fields import (
    Form,
    Needed,
    PastDayField,
    WholeField,
    choice_field,
    offered,
    text_field,
    typed_version,
)
from app.web.frame.filters import money
from app.web.frame.session import db, need, today
from app.web.frame.submission import press, submit

pages = Blueprint("deliveries", __name__, url_prefix="/orders")


class DeliverForm(Form):
    """So many of each line handed over on a day."""

    version = HiddenField()
    delivered_on = PastDayField(to_say("Delivered on"), [Needed()])
    note = text_field(to_say("How"), description=to_say("By post, collected, at the market."))


class ReturnForm(Form):
    """What a customer brought back, and what becomes of it."""

    version = HiddenField()
    line = SelectField(to_say("What came back"), coerce=int)
    quantity = WholeField(to_say("How many"), [Needed()], least=1, most=10_000)
    why = text_field(to_say("Why"), needed=True, most=500)
    sound = choice_field(
        to_say("They are"),
        [("1", to_say("as new: back on the shelf")), ("0", to_say("not to be sold again"))],
    )
    replaced = choice_field(
        to_say("The customer"),
        [("0", to_say("gets the money back")), ("1", to_say("gets others instead"))],
    )
    returned_on = PastDayField(to_say("On"), [Needed()])


def deliver_form(known: list[Standing], version: int) -> Any:
    """A number for each line of which something is still to deliver: what of it is there."""

    class Deliver(DeliverForm):
        pass

    start: dict[str, Any] = {"delivered_on": today(), "version": version}
    free: dict[int, int] = {}
    for one in known:
        variant = one.line.variant
        there = free.setdefault(variant.id, on_hand(db(), variant))
        more = min(there, one.missing)
        free[variant.id] = there - more
        label = say(
            "{journal}, {number} to deliver", journal=variant.full_name, number=one.outstanding
        )
        field = WholeField(label, least=0, most=10_000)
        setattr(Deliver, f"deliver_{one.line.id}", field)
        start[f"deliver_{one.line.id}"] = one.outstanding - one.missing + more
    return Deliver(data=start)


def return_form(known: list[Standing], version: int) -> ReturnForm:
    """A choice of the lines of which the customer has some."""
    form = ReturnForm(data={"returned_on": today(), "version": version})
    form.line.choices = offered(
        (
            one.line.id,
            say(
                "{journal}, {number} delivered",
                journal=one.line.variant.full_name,
                number=one.delivered,
            ),
        )
        for one in known
        if one.delivered
    )
    return form


def _fresh(order: Order, made: Callable[[list[Standing], int], Any]) -> Any:
    """A form as the order is now."""
    db().refresh(order)
    return made(list(standings(db(), [order]).values()), order.version)


def between_shelf_and_customer(order: Order) -> dict[str, Any]:
    """What the page of an order shows of all this."""
    known = standings(db(), [order])
    to_set_aside: dict[int, tuple[int, int]] = {}
    for one in known.values():
        missing = to_set_aside.get(one.line.variant_id, (0, 0))[0] + one.missing
        to_set_aside[one.line.variant_id] = missing, on_hand(db(), one.line.variant)
    making = order.state in ORDER_NEEDS_MAKING
    return {
        "known": known,
        "aside": sum(one.set_aside - one.of_old for one in known.values()),
        "can_set_aside": sum(min(n, there) for n, there in to_set_aside.values()) if making else 0,
        "delivered": sum(one.delivered for one in known.values()),
        "outstanding": sum(one.outstanding for one in known.values()),
        "deliveries": service.deliveries(db(), order),
        "returns": service.returns(db(), order),
        "lots_aside": shelf.lots_aside(db(), order),
        "made_in": service.made_in(db(), order),
        "closed_short": sum(service.closed_short_by(db(), order).values()),
        "line_of": {line.id: line for line in order.lines},
    }


def _page(order: Order, status: int = 200, **forms: Any) -> Any:
    from app.web.orders.orders import order_page

    return order_page(order, status=status, **forms)


@pages.post("/<int:order_id>/aside")
def set_aside(order_id: int) -> Any:
    """Set aside what of an order is on the shelf, or put it back there."""
    order = need(Order, order_id)
    here = url_for("orders.one", order_id=order.id)

    def move() -> str:
        check_version(order, typed_version(request.form.get("version")))
        if request.form.get("back"):
            if order.state not in ORDER_NEEDS_MAKING:
                raise DomainError(say("Take the order back to in progress first."))
            number = shelf.put_back(db(), order, today())
            flash(say("{number} back on the shelf.", number=number))
            return here
        if order.state not in ORDER_NEEDS_MAKING:
            raise DomainError(
                say(
                    "This order is {state}; nothing is set aside for it now.",
                    state=say(order.state),
                )
            )
        number = shelf.set_aside(db(), order, today())
        flash(
            say("{number} set aside for order {order}.", number=number, order=order.number)
            if number
            else say("None is on the shelf.")
        )
        return here

    return press(move, lambda: _page(order, 422))


@pages.route("/<int:order_id>/deliver", methods=["GET", "POST"])
def deliver(order_id: int) -> Any:
    """Hand over a part of an order, or all that is there."""
    order = need(Order, order_id)
    lines = [one for one in standings(db(), [order]).values() if one.outstanding]
    form = deliver_form(lines, order.version)

    def hand_over() -> str:
        check_version(order, typed_version(form.version.data))
        numbers = {one.line.id: form[f"deliver_{one.line.id}"].data or 0 for one in lines}
        service.deliver(db(), order, numbers, form.delivered_on.data, form.note.data)
        told = [say("{number} delivered.", number=sum(numbers.values()))]
        if order.balance > 0:
            told.append(say("{amount} is still to pay.", amount=money(order.balance)))
        flash(" ".join(told))
        return url_for("orders.one", order_id=order.id)

    if done := submit(form, hand_over, now=lambda: _fresh(order, deliver_form)):
        return done
    page = render_template("orders/deliver.html", order=order, form=form, lines=lines)
    return page, 422 if form.is_submitted() else 200


@pages.post("/<int:order_id>/deliveries/<int:delivery_id>/back")
def take_back(order_id: int, delivery_id: int) -> Any:
    """A delivery did not happen: its journals are set aside again."""
    order, delivery = need(Order, order_id), need(Delivery, delivery_id)
    if delivery.order_id != order.id:
        abort(404)

    def undo() -> str:
        service.take_back_delivery(db(), order, delivery)
        flash(say("The delivery is taken back; its journals are set aside again."))
        return url_for("orders.one", order_id=order.id)

    return press(undo, lambda: _page(order, 422))


@pages.route("/<int:order_id>/back", methods=["GET", "POST"])
def bring_back(order_id: int) -> Any:
    """The customer brought something back."""
    order = need(Order, order_id)
    form = return_form(list(standings(db(), [order]).values()), order.version)

    def take_in() -> str:
        check_version(order, typed_version(form.version.data))
        line = need(OrderLine, form.line.data)
        if line.order is not order:
            abort(404)
        service.bring_back(
            db(), line, form.quantity.data, form.returned_on.data, form.why.data,
            sound=form.sound.data == "1", replaced=form.replaced.data == "1",
        )  # fmt: skip
        flash(say("{number} taken back.", number=form.quantity.data))
        if order.balance < 0:
            flash(
                say(
                    "{amount} is to give back: write it down as a payment below zero.",
                    amount=money(-order.balance),
                )
            )
        return url_for("orders.one", order_id=order.id)

    if done := submit(form, take_in, now=lambda: _fresh(order, return_form)):
        return done
    page = render_template("orders/bring_back.html", order=order, form=form)
    return page, 422 if form.is_submitted() else 200


@pages.post("/<int:order_id>/open")
def open_again(order_id: int) -> Any:
    """What an order was closed without is wanted after all."""
    order = need(Order, order_id)

    def reopen() -> str:
        service.open_again(db(), order)
        flash(say("Order {number} is in progress again.", number=order.number))
        return url_for("orders.one", order_id=order.id)

    return press(reopen, lambda: _page(order, 422))


@pages.post("/<int:order_id>/close")
def close(order_id: int) -> Any:
    """Close an order with what was delivered."""
    order = need(Order, order_id)

    def finish() -> str:
        check_version(order, typed_version(request.form.get("version")))
        waived = service.close_short(db(), order, today())
        flash(
            say_many(
                waived,
                "Order {number} is delivered; {n} of it is wanted no more.",
                "Order {number} is delivered; {n} of it are wanted no more.",
                number=order.number,
            )
        )
        return url_for("orders.one", order_id=order.id)

    return press(finish, lambda: _page(order, 422))
