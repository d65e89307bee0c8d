"""The year-end sheet with its books, and what the stock was worth on any day."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from flask import Blueprint, render_template, request

from app.core.money import currency, rounded_together
from app.language import to_say
from app.models import Batch
from app.services.stock.ledger import find_item
from app.services.takings.account import slow_stock
from app.services.takings.books import books, year_of
from app.services.takings.periods import Period
from app.services.takings.stock_value import Lying, Shelf, lying, stock_value
from app.services.takings.year_end import sheet_lines
from app.web.frame.asked import number_asked
from app.web.frame.session import db, find, shop, today
from app.web.takings.asked import day_asked, period_asked

pages = Blueprint("year", __name__, url_prefix="/takings")
SLOW_DAYS = 120
SHOWN = 200
SHELVES = {
    Shelf.SHEETS: to_say("Papers"), Shelf.OFFCUTS: to_say("Offcuts"),
    Shelf.MATERIALS: to_say("Materials"), Shelf.JOURNALS: to_say("Journals on the shelf"),
    Shelf.ASIDE: to_say("Journals set aside for orders"),
    Shelf.SHOPS: to_say("Journals at shops"), Shelf.MAKING: to_say("In the making"),
}  # fmt: skip


@pages.get("/year")
def page() -> Any:
    """Opening stock, bought, closing stock, cost of sales, and the trial balance."""
    whole = year_of(today())
    this = Period(whole.first, today())
    asked = period_asked(this)
    found = books(db(), asked.period)
    return render_template(
        "takings/year.html", asked=asked, found=found, sheet=found.sheet,
        parts=sheet_lines(found.sheet), this=this, before=year_of(whole.first - timedelta(days=1)),
    )  # fmt: skip


@pages.get("/stock")
def stock() -> Any:
    """What the stock was worth at the end of a day, and what of it lies."""
    on, wrong = day_asked("on", today())
    value = stock_value(db(), on)
    step = currency(shop().currency).step
    shelves = list(Shelf)
    shown = rounded_together([value.by_shelf[shelf] for shelf in shelves], step)
    chosen = request.args.get("shelf", "")
    shelf = Shelf(chosen) if chosen in list(Shelf) else None
    things = lying(db(), on, shelf) if shelf else []
    whole = next((amount for one, amount in zip(shelves, shown, strict=True) if one == shelf), None)
    amounts = rounded_together([row.cost for row in things], step, whole) if things else []
    days = number_asked(request.args, "days") or SLOW_DAYS
    return render_template(
        "takings/stock.html", on=on, wrong=wrong, value=value, shelf=shelf,
        shelves=list(zip(shelves, shown, strict=True)), words=SHELVES,
        total=sum(shown, step * 0), days=days,
        slow=slow_stock(db(), today(), min(days, 36_500)),
        things=[
            (row, _thing(row), amount)
            for row, amount in zip(things[:SHOWN], amounts[:SHOWN], strict=True)
        ],
        more=max(len(things) - SHOWN, 0), rest=sum(amounts[SHOWN:], step * 0), whole=whole,
    )  # fmt: skip


def _thing(row: Lying) -> Any:
    kind, _, number = row.key.partition("-")
    return find(Batch, int(number)) if kind == "batch" else find_item(db(), row.key)
