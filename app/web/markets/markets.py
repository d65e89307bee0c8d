"""Markets: the calendar, what to take, and what is still to make for it."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from flask import Blueprint, flash, render_template, request, url_for
from wtforms import HiddenField

from app.models import Channel, Market
from app.services.designs import journals
from app.services.markets import markets as service
from app.services.planning.requirements import take_rows
from app.services.shop.settings import channels
from app.services.stock import ledger as stock
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
from app.web.frame.session import db, need, prices, today
from app.web.frame.submission import submit

pages = Blueprint("markets", __name__, url_prefix="/markets")


class MarketForm(Form):
    """A selling day and what it costs."""

    version = HiddenField()
    name = text_field("Name", needed=True)
    place = text_field("Place")
    day = DayField("Day", [Needed()])
    channel = choice_field("Prices of", [], coerce=int)
    stall_fee = MoneyField("Stall fee", [Needed()])
    travel = MoneyField("Getting there", [Needed()])
    note = note_field()


@pages.get("")
def listing() -> str:
    """Markets to come, and those that were."""
    rows = service.markets(db())
    coming = [market for market in rows if market.day >= today()]
    past = [market for market in reversed(rows) if market.day < today()]
    return render_template("markets/listing.html", coming=coming, past=past)


@pages.route("/new", methods=["GET", "POST"])
@pages.route("/<int:market_id>/change", methods=["GET", "POST"])
def change(market_id: int | None = None) -> Any:
    """Put a market in the calendar, or change one."""
    market = need(Market, market_id) if market_id is not None else None
    form = MarketForm(data=_start(market))
    every = channels(db())
    if market is not None and market.channel not in every:
        every.append(market.channel)
    stalls = [channel for channel in every if not channel.wholesale]
    form.channel.choices = offered((c.id, c.name) for c in stalls or every)

    def save() -> str:
        saved = service.save_market(db(), market, _values(form), typed_version(form.version.data))
        past = " That day is past already." if saved.day < today() else ""
        flash(("Saved." if market else f"{saved.name}: now what to take.") + past)
        return url_for("markets.one", market_id=saved.id)

    def now() -> MarketForm:
        saved = MarketForm(formdata=None, data=_start(market))
        saved.channel.choices = form.channel.choices
        return saved

    if done := submit(form, save, now=now):
        return done
    page = render_template("markets/form.html", form=form, market=market)
    return page, 422 if form.is_submitted() else 200


def _start(market: Market | None) -> dict[str, Any]:
    """A market as its form begins."""
    if market is None:
        return {"stall_fee": Decimal(0), "travel": Decimal(0)}
    keys = ("version", "name", "place", "day", "stall_fee", "travel", "note")
    return {key: getattr(market, key) for key in keys} | {"channel": market.channel_id}


def _values(form: MarketForm) -> dict[str, Any]:
    values = {k: form[k].data for k in ("name", "place", "day", "stall_fee", "travel", "note")}
    return values | {"channel": db().get_one(Channel, form.channel.data)}


def _take_form(market: Market, **more: Any) -> tuple[Form, list[Any]]:
    """A field for every variant that can be taken, with the variant beside it."""
    variants = {v.id: v for v in journals.sellable(db())}
    variants |= {line.variant_id: line.variant for line in market.lines}

    class TakeForm(Form):
        version = HiddenField()

    for variant_id in variants:
        field = WholeField("Take", least=0, most=100_000)
        setattr(TakeForm, f"take-{variant_id}", field)
    takes = {line.variant_id: line.take for line in market.lines}
    start = {f"take-{variant_id}": takes.get(variant_id, 0) for variant_id in variants}
    form = TakeForm(data={"version": market.version, **start}, **more)
    ordered = sorted(variants.values(), key=lambda v: v.full_name)
    return form, ordered


@pages.route("/<int:market_id>", methods=["GET", "POST"])
def one(market_id: int) -> Any:
    """A market with its take-list: what is here, what is to make, what pays for the day."""
    market = need(Market, market_id)
    form, variants = _take_form(market)

    def save() -> str:
        takes = {v.id: form[f"take-{v.id}"].data or 0 for v in variants}
        service.set_take_list(db(), market, takes, typed_version(form["version"].data))
        flash("The list is saved.")
        return url_for("markets.one", market_id=market.id)

    done = submit(form, save, now=lambda: _take_form(market, formdata=None)[0])
    return done or _market_page(market, form, variants)


def _market_page(market: Market, form: Form, variants: list[Any]) -> Any:
    listed, here = take_rows(db(), market, today()), stock.holdings(db())
    rows, worked_out = [], {}
    minutes = Fraction(0)
    for variant in variants:
        worked = journals.estimate_or_none(prices(), variant)
        if worked:
            worked_out[variant.id] = worked
        held = here.get(stock.item_key(variant))
        row = listed.get(variant.id) or service.TakeRow(
            variant, 0, held.quantity if held else 0, 0, 0
        )
        minutes += worked.minutes_for(row.to_make) if worked else 0
        rows.append((row, form[f"take-{variant.id}"], worked))
    contribution = service.average_contribution(market, worked_out)
    fixed = service.fixed_costs(market)
    to_sell = None
    if contribution is not None and contribution > 0:
        to_sell = service.sales_to_break_even(market, contribution)
    page = render_template(
        "markets/one.html", market=market, form=form, rows=rows, fixed=fixed,
        contribution=contribution, to_sell=to_sell, minutes=minutes,
        taken=sum(line.take for line in market.lines), has_come=market.day <= today(),
    )  # fmt: skip
    return page, 422 if request.method == "POST" else 200
