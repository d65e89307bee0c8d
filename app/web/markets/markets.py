"""Markets: the calendar, what to take, and what is still to make for it."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from flask import Blueprint, flash, jsonify, render_template, request, url_for
from wtforms import HiddenField

from app.core.errors import DomainError
from app.core.selling.demand import MOST_ASKED
from app.language import say, to_say
from app.models import Channel, Market, MarketLine, Variant
from app.services.designs import journals
from app.services.designs.estimating import Estimate
from app.services.markets import markets as service
from app.services.markets.stall import listed, price_at
from app.services.planning.market_list import MarketPlan, market_plan
from app.services.planning.requirements import promised_to_others, take_rows
from app.services.shop.settings import channels
from app.services.stock import ledger as stock
from app.web.frame.fields import (
    DayField,
    Form,
    HoursField,
    MoneyField,
    Needed,
    PercentField,
    WholeField,
    choice_field,
    note_field,
    offered,
    text_field,
    typed_version,
    whole_minutes,
)
from app.web.frame.filters import market_days
from app.web.frame.session import db, need, prices, today
from app.web.frame.submission import submit

pages = Blueprint("markets", __name__, url_prefix="/markets")
USUAL_LOSS = Decimal("0.2")


class MarketForm(Form):
    """A market and what it costs."""

    version = HiddenField()
    name = text_field(to_say("Name"), needed=True)
    place = text_field(to_say("Place"))
    day = DayField(to_say("First day"), [Needed()])
    last_day = DayField(to_say("Last day"), description=to_say("Empty where it is one day."))
    open_hours = HoursField(to_say("Hours it is open"), description=to_say("All days together."))
    channel = choice_field(to_say("Prices of"), [], coerce=int)
    stall_fee = MoneyField(to_say("Stall fee"), [Needed()])
    fee_share = PercentField(
        to_say("The organiser’s share"), description=to_say("Of what you take, besides.")
    )
    travel = MoneyField(to_say("Getting there"), [Needed()])
    home_share = PercentField(
        to_say("One carried home loses"),
        description=to_say(
            "Of what it cost you: wear, handling, money and hours tied up. 20% is a guess."
        ),
    )
    like = choice_field(to_say("Like"), [], coerce=int)
    note = note_field()


@pages.get("")
def listing() -> str:
    """Markets to come, and those that were."""
    rows = service.markets(db())
    coming = [one for one in rows if one.ends >= today() and one.closed_on is None]
    past = [one for one in reversed(rows) if one not in coming]
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
    form.like.choices = _others(market)

    def save() -> str:
        saved = service.save_market(db(), market, _values(form), typed_version(form.version.data))
        said = [say("Saved.") if market else say("{market}: now what to take.", market=saved.name)]
        if saved.ends < today():
            said.append(say("That day is past already."))
        flash(" ".join(said))
        return url_for("markets.one", market_id=saved.id)

    def now() -> MarketForm:
        saved = MarketForm(formdata=None, data=_start(market))
        saved.channel.choices, saved.like.choices = form.channel.choices, form.like.choices
        return saved

    if done := submit(form, save, now=now):
        return done
    page = render_template("markets/form.html", form=form, market=market)
    return page, 422 if form.is_submitted() else 200


def _others(market: Market | None) -> list[Any]:
    """Markets that one may be like, the newest first."""
    rows = [one for one in reversed(service.markets(db())) if market is None or one is not market]
    named = ((one.id, f"{one.name}, {market_days(one)}") for one in rows)
    return offered([(0, say("none before it")), *named])


KEYS = (
    "name", "place", "day", "last_day", "stall_fee", "fee_share", "travel", "home_share", "note",
)  # fmt: skip


def _start(market: Market | None) -> dict[str, Any]:
    """A market as its form begins."""
    if market is None:
        zero = Decimal(0)
        last = max(service.markets(db()), key=lambda one: one.id, default=None)
        every = {channel.name: channel.id for channel in channels(db())}
        usual = last.channel_id if last else every.get(say("Market stall"))
        return {"stall_fee": zero, "travel": zero, "fee_share": zero, "home_share": USUAL_LOSS,
                "channel": usual}  # fmt: skip
    start = {key: getattr(market, key) for key in KEYS}
    hours = market.open_minutes / 60 or None
    return start | {
        "version": market.version, "channel": market.channel_id, "like": market.like_id or 0,
        "open_hours": hours,
    }  # fmt: skip


def _values(form: MarketForm) -> dict[str, Any]:
    values = {k: form[k].data for k in KEYS}
    for key in ("fee_share", "home_share"):
        values[key] = values[key] or Decimal(0)
    return values | {
        "channel": db().get_one(Channel, form.channel.data), "like_id": form.like.data or None,
        "open_minutes": whole_minutes(form.open_hours.data),
    }  # fmt: skip


def _sold_here(market: Market) -> list[Variant]:
    """Every journal that can be taken, by name."""
    variants = {v.id: v for v in journals.sellable(db())}
    variants |= {line.variant_id: line.variant for line in market.lines}
    return sorted(variants.values(), key=lambda v: v.full_name)


def _take_form(market: Market, variants: list[Variant], **more: Any) -> Form:
    """For every journal how many may be asked for, and how many to take."""

    class TakeForm(Form):
        version = HiddenField()

    start: dict[str, Any] = {"version": market.version}
    takes = {line.variant_id: line.take for line in market.lines}
    guesses = service.guesses_of(market)
    for variant in variants:
        for key, label in (("take", to_say("take")), *GUESSED):
            field = WholeField(f"{variant.full_name}, {say(label)}", least=0, most=MOST[key])
            setattr(TakeForm, f"{key}-{variant.id}", field)
        start[f"take-{variant.id}"] = takes.get(variant.id, 0)
        if guess := guesses.get(variant.id):
            start |= {f"{key}-{variant.id}": getattr(guess, key) for key, _ in GUESSED}
    return TakeForm(data=start, **more)


GUESSED = (("low", to_say("low")), ("likely", to_say("likely")), ("high", to_say("high")))
MOST = {"take": 100_000} | {key: MOST_ASKED for key, _ in GUESSED}


def _guesses(form: Form, variants: list[Variant]) -> dict[int, service.Guess | None]:
    """What is guessed in the form; refused where one of the three is missing."""
    found: dict[int, service.Guess | None] = {}
    for variant in variants:
        typed = [form[f"{key}-{variant.id}"].data for key, _ in GUESSED]
        if all(number is None for number in typed):
            found[variant.id] = None
        elif any(number is None for number in typed):
            raise DomainError(say("Say all three: low, likely and high."), f"likely-{variant.id}")
        else:
            found[variant.id] = service.Guess(*typed)
    return found


@pages.route("/<int:market_id>", methods=["GET", "POST"])
def one(market_id: int) -> Any:
    """A market with its list: what may be asked for, what to take, what that promises."""
    market = need(Market, market_id)
    variants = _sold_here(market)
    form = _take_form(market, variants)

    def save() -> str:
        version = typed_version(form["version"].data)
        takes = {v.id: form[f"take-{v.id}"].data or 0 for v in variants}
        service.set_guesses(db(), market, _guesses(form, variants), version)
        said = say("The list is saved.")
        if request.form.get("do") == "proposed":
            guesses = service.guesses_of(market)
            takes |= market_plan(
                db(), market, variants, _worked_out(variants), guesses, today()
            ).proposed
            said = say("What is proposed is on the list now.")
        service.set_take_list(db(), market, takes)
        flash(said)
        return url_for("markets.one", market_id=market.id)

    def now() -> Form:
        return _take_form(market, variants, formdata=None)

    done = submit(form, save, now=now)
    return done or _market_page(market, form, variants)


def _worked_out(variants: list[Variant]) -> dict[int, Estimate]:
    every = ((v.id, journals.estimate_or_none(prices(), v)) for v in variants)
    return {number: worked for number, worked in every if worked is not None}


def _market_page(market: Market, form: Form, variants: list[Variant]) -> Any:
    worked_out = _worked_out(variants)
    plan = market_plan(db(), market, variants, worked_out, service.guesses_of(market), today())
    listed, here = take_rows(db(), market, today()), stock.holdings(db())
    rows = []
    for variant in variants:
        worked = worked_out.get(variant.id)
        held = here.get(stock.item_key(variant))
        row = listed.get(variant.id) or service.TakeRow(
            variant, 0, held.quantity if held else 0, 0, 0
        )
        rows.append((row, worked))
    takes = {line.variant_id: line.take for line in market.lines}
    minutes = sum((worked.minutes_for(row.to_make) for row, worked in rows if worked), Fraction(0))
    priced = sum(
        line.take for line in market.lines
        if (w := worked_out.get(line.variant_id)) and (p := w.price_in(market.channel_id))
        and p.asked is not None
    )  # fmt: skip
    page = render_template(
        "markets/one.html", market=market, form=form, rows=rows, plan=plan, takes=takes,
        effect=_effect(market, plan, takes, worked_out), like=plan.like,
        minutes=minutes, priced=priced, packed=sum(line.packed for line in market.lines),
        made=sum(row.take - row.to_make for row, _ in rows if row.take), guessed=GUESSED,
        has_come=market.day <= today(),
    )  # fmt: skip
    return page, 422 if request.method == "POST" else 200


def _effect(
    market: Market, plan: MarketPlan, takes: dict[int, int], worked_out: dict[int, Estimate]
) -> dict[str, Any]:
    """What a list comes to: for the day, and for each journal of it."""
    contribution = service.average_contribution_of(market, takes, worked_out)
    to_sell = None
    if contribution is not None and contribution > 0:
        to_sell = service.sales_to_break_even(market, contribution)
    known = {number: take for number, take in takes.items() if number in plan.things}
    # As one batch each, set up once, which is what the bench will be asked for.
    to_make = {n: max(take - plan.things[n].here, 0) for n, take in known.items()}
    hours = sum((worked_out[n].minutes_for(many) for n, many in to_make.items()), Fraction(0))
    return {
        "fixed": service.fixed_costs(market), "contribution": contribution, "to_sell": to_sell,
        "taken": sum(takes.values()), "known": sum(known.values()),
        "hours": hours, "promises": plan.promises(known), "pays": plan.pays_for_itself(known),
    }  # fmt: skip


@pages.post("/<int:market_id>/effect")
def effect(market_id: int) -> Any:
    """What the numbers typed come to, nothing kept."""
    market = need(Market, market_id)
    variants = _sold_here(market)
    form = _take_form(market, variants)
    try:
        good = form.validate()
        guesses = {k: g for k, g in _guesses(form, variants).items() if g is not None}
        worked_out = _worked_out(variants)
        plan = market_plan(db(), market, variants, worked_out, guesses, today())
    except DomainError:
        good = False
    if not good:
        return jsonify(html=None, rows={})
    takes = {v.id: form[f"take-{v.id}"].data or 0 for v in variants}
    found = _effect(market, plan, takes, worked_out)
    html = render_template("markets/effect.html", market=market, plan=plan, effect=found)
    rows = {
        f"{what}-{v.id}": render_template(
            f"markets/{what}.html", variant=v, plan=plan, take=takes[v.id], effect=found
        ).strip()
        for v in variants
        for what in ("odds", "proposed")
    }
    return jsonify(html=html, rows=rows)


@pages.route("/<int:market_id>/packing", methods=["GET", "POST"])
def packing(market_id: int) -> Any:
    """The packing list: what goes into the boxes, and what is in them."""
    market = need(Market, market_id)
    lines = listed(db(), market)
    here, elsewhere = stock.holdings(db()), service.packed_elsewhere(db(), market)
    promised = promised_to_others(db(), market, today())

    def on_shelf(line: MarketLine) -> int:
        held = here.get(stock.item_key(line.variant))
        return (held.quantity if held else 0) - elsewhere.get(line.variant_id, 0)

    def free(line: MarketLine) -> int:
        return max(min(line.take, on_shelf(line) - promised.get(line.variant_id, 0)), line.packed)

    def made(**more: Any) -> Form:
        class PackingForm(Form):
            version = HiddenField()

        for line in lines:
            label = say("{journal}, in the boxes", journal=line.variant.full_name)
            setattr(PackingForm, f"packed-{line.variant_id}", WholeField(label, least=0))
        start = {f"packed-{line.variant_id}": line.packed for line in lines}
        return PackingForm(data={"version": market.version, **start}, **more)

    form = made()

    def save() -> str:
        if request.form.get("do") == "all":
            packed = {line.variant_id: free(line) for line in lines}
        else:
            packed = {n.variant_id: form[f"packed-{n.variant_id}"].data or 0 for n in lines}
        service.pack(db(), market, packed, typed_version(form["version"].data))
        flash(
            say(
                "{packed} of {taken} journals are packed.",
                packed=sum(packed.values()), taken=sum(n.take for n in lines),
            )
        )  # fmt: skip
        return url_for("markets.packing", market_id=market.id)

    done = submit(form, save, now=lambda: made(formdata=None))
    if done:
        return done
    page = render_template(
        "markets/packing.html", market=market, form=form,
        rows=[
            (line, on_shelf(line), price_at(market, line.variant), promised.get(line.variant_id, 0))
            for line in lines
        ],
    )  # fmt: skip
    return page, 422 if form.is_submitted() else 200
