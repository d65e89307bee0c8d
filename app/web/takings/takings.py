"""The takings of a period, sorted in one way; the sales behind each figure; what if."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from flask import Blueprint, abort, render_template, request
from markupsafe import Markup

from app.core.errors import DomainError
from app.core.money import currency, rounded_together
from app.core.numbers import read_number
from app.core.takings import Other, shown_together, what_if
from app.dates import short_month
from app.documents.charts import MonthBar, sales_drawing
from app.language import say, to_say
from app.services.shop.settings import hour_reckoned
from app.services.takings.account import Takings, account, best_month, names_of, takings
from app.services.takings.rows import behind, rows_of
from app.services.takings.sold import sold
from app.services.takings.tables import table_of
from app.web.frame.asked import number_asked
from app.web.frame.downloads import as_file
from app.web.frame.fields import Form, MoneyField, PercentField, writable
from app.web.frame.filters import money
from app.web.frame.session import db, shop
from app.web.takings.asked import SORTED, Asked, period_asked, presets, way_asked

pages = Blueprint("takings", __name__, url_prefix="/takings")
ON_A_PAGE = 100
BY_THEMSELVES = 60
"""Of customers or journals; the rest is one line until all are asked for."""


def _step() -> Decimal:
    return currency(shop().currency).step


@pages.get("")
def page() -> Any:
    """What was sold, what it left, and what an hour earned."""
    asked, by = period_asked(), way_asked()
    found = takings(db(), asked.period, by, None if "all" in request.args else BY_THEMSELVES)
    months = found if by == "month" else takings(db(), asked.period, "month")
    earned = account(db(), asked.period, found.total)
    return render_template(
        "takings/page.html", asked=asked, by=by, found=found, earned=earned, sorted_by=SORTED,
        presets=presets(), step=_step(), pay=hour_reckoned(shop()), chart=_chart(months),
        best=best_month(months), scale=_scale(found),
    )  # fmt: skip


def _scale(found: Takings) -> Decimal:
    """The longest bar: the best pay for an hour, or what the maker asks."""
    pays = [group.pay_per_hour(_step()) or Decimal(0) for group in found.groups]
    return max([*pays, hour_reckoned(shop()), Decimal(1)])


def _chart(months: Takings) -> Markup | None:
    """Sales by month, and what cost and fees left of them; of more than one month."""
    if len(months.groups) < 2 or not months.total.shown.pieces:
        return None
    bars: list[MonthBar] = []
    for group, month in zip(months.groups, months.period.months, strict=True):
        left = group.shown.profit
        name = short_month(month, year=month.month == 1 or not bars)
        bars.append(MonthBar(name, group.shown.sales, left, _bar_words(group.shown.sales, left)))
    best = best_month(months)
    says = say("Nothing was sold.") if best is None else say(
        "{month} was the best month: {sales} sold, {profit} left.",
        month=best.name, sales=money(best.shown.sales), profit=money(best.shown.profit),
    )  # fmt: skip
    title = say("Sales by month, and what is left")
    return Markup(sales_drawing(bars[-24:], title, says, "sales"))  # noqa: S704


def _bar_words(sales: Decimal, left: Decimal) -> str:
    if not sales:
        return "–"
    minus = "−" if left < 0 else ""
    return say("{sold}, left {left}", sold=round(sales), left=f"{minus}{abs(round(left))}")


@pages.get("/sales")
def sales() -> Any:
    """The sales behind a figure, the newest first."""
    asked, by = period_asked(), way_asked()
    key = number_asked(request.args, "key")
    if key is None:
        abort(404)
    turn = max(number_asked(request.args, "page") or 1, 1)
    rows, total = rows_of(db(), asked.period, by, key, (turn - 1) * ON_A_PAGE, ON_A_PAGE)
    pages_there = max(-(-total // ON_A_PAGE), 1)
    if turn > pages_there:
        abort(404)
    name = names_of(db(), by, [key], asked.period).get(key)
    if name is None:
        abort(404)
    paid = rounded_together([row.paid for row in rows], _step())
    cost = rounded_together([row.cost for row in rows], _step())
    return render_template(
        "takings/sales.html", asked=asked, by=by, key=key, name=name, total=total, turn=turn,
        pages_there=pages_there, sorted_by=SORTED,
        rows=list(zip(behind(db(), rows), paid, cost, strict=True)),
        pieces=sum(row.pieces for row in rows),
    )  # fmt: skip


class WhatIfForm(Form):
    """Prices and numbers changed by a share, and another pay for an hour."""

    class Meta:
        csrf = False

    price = PercentField(to_say("Prices higher by"), most=1000)
    price_lower = PercentField(to_say("or lower by"))
    number = PercentField(to_say("Sold more by"), most=1000)
    number_lower = PercentField(to_say("or fewer by"))
    pay = MoneyField(to_say("Pay for an hour"))


@pages.get("/what-if")
def other() -> Any:
    """The same sales at other prices, other numbers, another pay; or another mix of journals."""
    asked = period_asked()
    form = WhatIfForm(request.args)
    good = form.validate()
    for key in ("price", "number"):
        if good and form[key].data and form[f"{key}_lower"].data:
            form[key].errors = [say("Say one of the two: more, or less.")]
            good = False
    shares = {} if not good else _shares(form)
    now = sold(db(), asked.period, "journal")
    found = takings(db(), asked.period, "journal")
    keys = [group.key for group in found.groups]
    more_pay = Decimal(0)
    if good and form.pay.data is not None:
        more_pay = form.pay.data - shop().pay_per_hour
    mix, said, wrong = _mix(keys)
    changed = {
        key: Other(
            shares.get("price", Fraction(0)),
            (1 + shares.get("number", Fraction(0))) * (1 + mix[key]) - 1,
            more_pay,
        )
        for key in keys
    }
    after, total_after = shown_together([what_if(now[k].whole, changed[k]) for k in keys], _step())
    _, timed_after = shown_together([what_if(now[k].timed, changed[k]) for k in keys], _step())
    return render_template(
        "takings/what_if.html", asked=asked, form=form, wrong=wrong, step=_step(),
        rows=[
            (group.key, group.name, group.shown, then)
            for group, then in zip(found.groups, after, strict=True)
        ],
        before=found.total.shown, after=total_after, timed=[found.total.timed, timed_after],
        said=said,
    ), 200 if good and not wrong else 422  # fmt: skip


def _shares(form: WhatIfForm) -> dict[str, Fraction]:
    """By how much prices and numbers change; lower counts where it is typed."""
    found = {}
    for key in ("price", "number"):
        more, less = form[key].data, form[f"{key}_lower"].data
        found[key] = Fraction(more or 0) - Fraction(less or 0)
    return found


def _mix(keys: list[int]) -> tuple[dict[int, Fraction], dict[int, str], str]:
    """By which share each journal sells more or fewer, as typed beside it, and what is wrong."""
    found, wrong = dict.fromkeys(keys, Fraction(0)), ""
    said: dict[int, str] = {}
    for key in keys:
        typed = writable(request.args.get(f"mix-{key}", "")).strip().rstrip("%").replace("−", "-")
        said[key] = typed[:20]
        if not typed:
            continue
        share = _share(typed)
        if share is None:
            wrong = say(
                "“{typed}” is no share: type 20 for a fifth more, -20 for a fifth fewer.",
                typed=said[key],
            )
        else:
            found[key] = share
    return found, said, wrong


def _share(typed: str) -> Fraction | None:
    """Per cent as typed, below zero for fewer; None where it is none, or too much."""
    try:
        number = read_number(typed.lstrip("-")[:20])
    except DomainError:
        return None
    share = Fraction(number) / (-100 if typed.startswith("-") else 100)
    return share if -1 <= share <= 10 else None


@pages.get("/<name>.<form>")
def take_away(name: str, form: str) -> Any:
    """A table of the period as a file."""
    asked: Asked = period_asked()
    try:
        table = table_of(db(), name, asked.period)
    except DomainError:
        abort(404)
    return as_file(table, form)
