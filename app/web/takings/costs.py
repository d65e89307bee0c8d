"""Costs that belong to no journal: rent, tools, insurance."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, url_for
from wtforms import HiddenField

from app.core.money import currency
from app.core.states import CostKind
from app.language import say, to_say
from app.models import OtherCost
from app.services.takings import costs as service
from app.web.frame.fields import (
    DayField,
    Form,
    MoneyField,
    Needed,
    WholeField,
    choice_field,
    note_field,
    offered,
    text_field,
    typed_version,
)
from app.web.frame.session import db, need, shop, today
from app.web.frame.submission import press, submit
from app.web.takings.asked import period_asked

pages = Blueprint("costs", __name__, url_prefix="/takings/costs")


class CostForm(Form):
    """One cost, and over how many months it is spread."""

    version = HiddenField()
    what = text_field(to_say("What"), needed=True)
    kind = choice_field(to_say("For"), [])
    amount = MoneyField(to_say("Amount"), [Needed()])
    day = DayField(to_say("Paid on"), [Needed()])
    months = WholeField(
        to_say("Spread over months"), [Needed()], least=1, most=120,
        description=to_say(
            "From the month of that day: 12 for a year’s insurance, 1 for that month."
        ),
    )  # fmt: skip
    note = note_field()


@pages.get("")
def listing() -> Any:
    """All costs, and what of each falls on a period."""
    asked = period_asked()
    step = currency(shop().currency).step
    rows = [
        (cost, None if cost.struck_at else service.falls_on(cost, asked.period, step))
        for cost in service.other_costs(db())
    ]
    total = sum((amount for _, amount in rows if amount is not None), step * 0)
    return render_template("takings/costs.html", rows=rows, asked=asked, total=total)


@pages.route("/new", methods=["GET", "POST"])
@pages.route("/<int:cost_id>", methods=["GET", "POST"])
def change(cost_id: int | None = None) -> Any:
    """Write a cost down, or change it."""
    cost = need(OtherCost, cost_id) if cost_id is not None else None

    def made(**more: Any) -> CostForm:
        start = None if cost else {"day": today(), "months": 1}
        form = CostForm(obj=cost, data=start, **more)
        form.kind.choices = offered((kind.value, say(kind)) for kind in CostKind)
        return form

    form = made()

    def save() -> str:
        service.save_cost(db(), cost, form.values(), typed_version(form.version.data))
        flash(say("{name}: saved.", name=form.what.data))
        return url_for("costs.listing")

    if done := submit(form, save, now=lambda: made(formdata=None)):
        return done
    page = render_template("takings/cost.html", form=form, cost=cost)
    return page, 422 if form.is_submitted() else 200


@pages.post("/<int:cost_id>/strike")
def strike(cost_id: int) -> Any:
    """Strike a cost out, or let it count again."""
    cost = need(OtherCost, cost_id)

    def turn() -> str:
        service.strike(db(), cost, out=cost.struck_at is None)
        if cost.struck_at:
            flash(say("{cost} is struck out.", cost=cost.what))
        else:
            flash(say("{cost} counts again.", cost=cost.what))
        return url_for("costs.listing")

    return press(turn, lambda: redirect(url_for("costs.listing")))
