"""After the day: what came home, the cash box, the hours, and what it all came to."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from flask import Blueprint, flash, redirect, render_template, url_for
from wtforms import HiddenField

from app.core.money import currency
from app.core.states import PaidHow
from app.language import say, to_say
from app.models import Market
from app.services.markets import closing as service
from app.services.markets.stall import paid_sales
from app.services.shop.settings import hour_reckoned
from app.web.frame.fields import (
    Form,
    HoursField,
    MoneyField,
    WholeField,
    typed_version,
    whole_minutes,
)
from app.web.frame.session import db, need, shop, today
from app.web.frame.submission import press, submit

pages = Blueprint("closing", __name__, url_prefix="/markets/<int:market_id>")


def _form(market: Market, rows: list[service.Home]) -> Form:
    """Home again by journal, the cash box, fees, hours."""

    class ClosingForm(Form):
        version = HiddenField()
        float_cash = MoneyField(to_say("In the box at first"))
        cash = MoneyField(
            to_say("Counted at the end"),
            description=to_say("All of it, the first money included."),
        )
        card_fees = MoneyField(
            to_say("Card fees as billed"),
            description=to_say("Empty: of what was paid by card what the channel takes."),
        )
        stall_hours = HoursField(to_say("Hours at the stall"))
        travel_hours = HoursField(to_say("Hours on the way, there and back"))

    for row in rows:
        field = WholeField(say("Home again"), least=0, most=100_000)
        setattr(ClosingForm, f"home-{row.variant.id}", field)
    start = {f"home-{row.variant.id}": row.expected for row in rows}
    return ClosingForm(
        data={
            "version": market.version,
            "float_cash": market.float_cash,
            "cash": market.cash_counted,
            "card_fees": market.card_fees,
            "stall_hours": market.stall_minutes / 60 or None,
            "travel_hours": market.travel_minutes / 60 or None,
            **start,
        }
    )


@pages.route("/close", methods=["GET", "POST"])
def close(market_id: int) -> Any:
    """Close the day; what is missing of what was packed is lost, and leaves the shelf."""
    market = need(Market, market_id)
    if market.closed_on is not None:
        return redirect(url_for("closing.earned", market_id=market.id))
    rows = service.coming_home(db(), market)
    form = _form(market, rows)

    def write_down() -> str:
        counted = service.Counted(
            home={
                row.variant.id: form[f"home-{row.variant.id}"].data for row in rows
                if form[f"home-{row.variant.id}"].data is not None
            },
            float_cash=form["float_cash"].data or Decimal(0), cash=form["cash"].data,
            card_fees=form["card_fees"].data,
            stall_minutes=whole_minutes(form["stall_hours"].data),
            travel_minutes=whole_minutes(form["travel_hours"].data),
        )  # fmt: skip
        version = typed_version(form["version"].data)
        service.close_market(db(), market, counted, today(), version)
        flash(say("{market} is closed.", market=market.name))
        return url_for("closing.earned", market_id=market.id)

    done = submit(form, write_down)
    if done:
        return done
    page = render_template(
        "markets/close.html", market=market, form=form, rows=rows,
        cash=service.earned(db(), market).by_how[PaidHow.CASH],
    )  # fmt: skip
    return page, 422 if form.is_submitted() else 200


@pages.get("/earned")
def earned(market_id: int) -> Any:
    """What the day came to, each figure with the rows behind it."""
    market = need(Market, market_id)
    found = service.earned(db(), market)
    digits = currency(shop().currency).digits
    return render_template(
        "markets/earned.html", market=market, earned=found, per_hour=found.per_hour(digits),
        sales=paid_sales(db(), market), home=service.coming_home(db(), market),
        cash=found.by_how[PaidHow.CASH], ways=PaidHow, pay=hour_reckoned(shop()),
    )  # fmt: skip


@pages.post("/open-again")
def open_again(market_id: int) -> Any:
    """Undo the closing."""
    market = need(Market, market_id)

    def undo() -> str:
        service.open_again(db(), market)
        flash(
            say(
                "{market} is open again; what was lost is on the shelf, as it was.",
                market=market.name,
            )
        )
        return url_for("markets.one", market_id=market.id)

    return press(undo, lambda: redirect(url_for("closing.earned", market_id=market.id)))
