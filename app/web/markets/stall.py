"""The stall: a tally sheet on which a touch is a stroke, red until it is paid.

Every touch is a form of its own that is written down before the page answers, so a phone that goes
dark loses nothing, and nothing here needs a script.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for

from app.core.money import currency
from app.core.states import FOR_NOTHING, PaidHow
from app.language import say, to_say
from app.models import Market, Sale, Variant
from app.services.designs.pictures import first_pictures
from app.services.markets import stall as service
from app.web.frame.door import this_device
from app.web.frame.fields import Form, MoneyField, Needed
from app.web.frame.session import db, need, shop
from app.web.frame.submission import press, submit

pages = Blueprint("stall", __name__, url_prefix="/markets/<int:market_id>/stall")


class PayForm(Form):
    """What was handed over, where change is to be given."""

    given = MoneyField(to_say("Handed over"))


def _till() -> str:
    """The sheet of this browser."""
    return str(this_device().number)


def _here(market: Market) -> str:
    return url_for("stall.page", market_id=market.id)


@pages.get("")
def page(market_id: int) -> Any:
    """The sheet: a line a journal, its strokes, its price, how many are left."""
    return _sheet(need(Market, market_id), PayForm(formdata=None))


def _sheet(market: Market, form: PayForm, status: int = 200) -> Any:
    sheet = service.stall_sheet(db(), market, _till())
    return render_template(
        "markets/stall.html", market=market, sheet=sheet, form=form, ways=_WAYS,
        pictures=first_pictures(db(), [row.variant for row in sheet.rows]),
        for_nothing=_FOR_NOTHING, usual={row.variant.id: row.price for row in sheet.rows},
    ), status  # fmt: skip


_WAYS = (
    (PaidHow.CASH, to_say("Paid in cash")),
    (PaidHow.CARD, to_say("by card")),
    (PaidHow.OTHER, to_say("otherwise")),
)
_FOR_NOTHING = (
    (PaidHow.GIVEN, to_say("It is given away")),
    (PaidHow.SWAPPED, to_say("It is swapped")),
)
_DONE = {
    PaidHow.CASH: to_say("Sale {number}: {total} in cash."),
    PaidHow.CARD: to_say("Sale {number}: {total} by card."),
    PaidHow.OTHER: to_say("Sale {number}: {total} paid."),
    PaidHow.GIVEN: to_say("Sale {number}: given away."),
    PaidHow.SWAPPED: to_say("Sale {number}: swapped."),
}


@pages.post("/stroke/<int:variant_id>")
def stroke(market_id: int, variant_id: int) -> Any:
    """One more of a journal."""
    market, variant = need(Market, market_id), need(Variant, variant_id)

    def make() -> str:
        service.make_stroke(db(), market, variant, _till())
        return _here(market) + f"#row-{variant.id}"

    return press(make, lambda: redirect(_here(market)))


@pages.post("/rub-out/<int:variant_id>")
def rub_out(market_id: int, variant_id: int) -> Any:
    """One stroke less of what is not paid yet."""
    market, variant = need(Market, market_id), need(Variant, variant_id)

    def rub() -> str:
        service.rub_out(db(), market, variant, _till())
        return _here(market)

    return press(rub, lambda: redirect(_here(market)))


@pages.post("/pay")
def pay(market_id: int) -> Any:
    """Write the sale down as paid; what is to be given back is said."""
    market, form = need(Market, market_id), PayForm()

    def take() -> str:
        how = PaidHow(request.form.get("how", ""))
        done = service.take_money(db(), market, _till(), how, datetime.now(UTC), form.given.data)
        flash(_said(done))
        return _here(market)

    def check() -> bool:
        return form.validate() and request.form.get("how") in tuple(PaidHow)

    return submit(form, take, check=check) or _sheet(market, form, 422)


def _said(done: service.Paid) -> str:
    money, sale = currency(shop().currency), done.sale
    how = sale.how or PaidHow.OTHER
    said = say(_DONE[how], number=sale.number, total=money.show(sale.total))
    if done.back and how not in FOR_NOTHING:
        said += " " + say("Give back {change}.", change=money.show(done.back))
    return said


@pages.post("/undo")
def undo(market_id: int) -> Any:
    """Undo the last sale that this browser wrote down."""
    market = need(Market, market_id)

    def take_back() -> str:
        sale = service.undo_last(db(), market, _till(), datetime.now(UTC))
        flash(
            say("Sale {number} is undone; its journals are on the shelf again.", number=sale.number)
        )
        return _here(market)

    return press(take_back, lambda: redirect(_here(market)))


@pages.route("/price", methods=["GET", "POST"])
def price(market_id: int) -> Any:
    """Another price for what is begun: a discount, a price for several, something damaged."""
    market = need(Market, market_id)
    sale = service.begun_sale(db(), market, _till())
    if sale is None:
        flash(say("No sale is begun: touch what is sold first."))
        return redirect(_here(market))
    form = _price_form(sale)

    def ask() -> str:
        prices = {line.id: form[f"price-{line.id}"].data for line in sale.lines}
        service.ask_other_prices(db(), market, _till(), prices)
        return _here(market)

    done = submit(form, ask)
    page = render_template("markets/price.html", market=market, sale=sale, form=form)
    return done or (page, 422 if form.is_submitted() else 200)


def _price_form(sale: Sale) -> Form:
    class PriceForm(Form):
        pass

    for line in sale.lines:
        setattr(PriceForm, f"price-{line.id}", MoneyField(say("Each"), [Needed()]))
    return PriceForm(data={f"price-{line.id}": line.unit_price for line in sale.lines})
