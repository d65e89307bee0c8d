"""Counting many things at once, on a phone among the shelves."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, render_template, request, url_for

from app.core.errors import DomainError
from app.language import say, to_say
from app.services.designs import counting, journals
from app.services.stock import ledger as stock
from app.services.stock import materials as shelf
from app.web.frame.fields import Form, QuantityField, choice_field
from app.web.frame.filters import item_name
from app.web.frame.session import db, today
from app.web.frame.submission import submit
from app.web.stockroom.stockroom import WHYS

pages = Blueprint("stocktake", __name__, url_prefix="/stockroom/stocktake")
Group = tuple[str, list[tuple[str, stock.Item, int]]]
PARTS = (to_say("Papers"), to_say("Materials"), to_say("Finished journals"))
MOST = 200
"""Lines on one page; a phone has trouble with more."""


def _groups(part: str, words: list[str]) -> list[Group]:
    """What there may be some of: all, or one part of it, or what has all the words in its name."""
    here = stock.holdings(db())

    def row(item: stock.Item) -> tuple[str, stock.Item, int]:
        key = stock.item_key(item)
        return key, item, here[key].quantity if key in here else 0

    sheets: list[stock.Item] = [
        s for paper in shelf.papers(db()) for s in paper.sheets
        if not s.retired or here.get(stock.item_key(s))
    ]  # fmt: skip
    goods: list[stock.Item] = list(shelf.materials(db()))
    made: list[stock.Item] = list(journals.sellable(db()))
    found = [
        (heading, [row(item) for item in items if _named(item, words)])
        for heading, items in zip(PARTS, (sheets, goods, made), strict=True)
        if part in ("", heading)
    ]
    return [(heading, rows) for heading, rows in found if rows]


def _named(item: stock.Item, words: list[str]) -> bool:
    name = item_name(item).casefold()
    return all(word in name for word in words)


def _first(groups: list[Group], most: int) -> list[Group]:
    """The first so many lines."""
    found = []
    for heading, rows in groups:
        if rows[:most]:
            found.append((heading, rows[:most]))
        most -= len(rows[:most])
    return found


def _form(groups: list[Group]) -> Any:
    class Counts(Form):
        pass

    for _, rows in groups:
        for key, item, _ in rows:
            measure = stock.measure_of(item)
            setattr(Counts, f"counted_{key}", QuantityField(say("Counted"), measure=measure))
            setattr(Counts, f"why_{key}", choice_field(say("If it differs"), WHYS, default=""))
    return Counts()


@pages.route("", methods=["GET", "POST"])
def page() -> Any:
    """The list to count by; all that was counted is written down at once."""
    part, q = request.args.get("of", ""), request.args.get("q", "")
    everything = _groups(part if part in PARTS else "", q.casefold().split())
    groups = _first(everything, MOST)
    form = _form(groups)

    def save() -> str:
        _write_down(form, groups)
        again = url_for(".page", of=part, q=q)
        return again if part or q else url_for("stockroom.page")

    if done := submit(form, save):
        return done
    more = sum(len(rows) for _, rows in everything) - sum(len(rows) for _, rows in groups)
    answer = render_template(
        "stockroom/stocktake.html", form=form, groups=groups, parts=PARTS, part=part, q=q,
        more=more, whole=not (part or q), aside=stock.held_aside(db()),
    )  # fmt: skip
    return answer, 422 if form.is_submitted() else 200


def _write_down(form: Any, groups: list[Group]) -> None:
    """Write every count down, or none where one is refused; each refusal stands at its field."""
    counted = differs = 0
    refused: list[DomainError] = []
    for key, item, _ in (row for _, rows in groups for row in rows):
        amount = form[f"counted_{key}"].data
        if amount is None:
            continue
        typed = request.form.get(f"expected_{key}", "")
        expected = int(typed) if typed.isdecimal() and len(typed) < 18 else None
        why = form[f"why_{key}"].data or ""
        try:
            difference = counting.count(db(), item, amount, today(), why, expected)
        except DomainError as error:
            error.field = f"{'why' if error.field == 'why' else 'counted'}_{key}"
            refused.append(error)
        else:
            counted += 1
            differs += difference != 0
    for earlier in refused[:-1]:
        form.blame(earlier)
    if refused:
        raise refused[-1]
    if not counted:
        raise DomainError(
            say("Nothing is counted yet: type how much there is of something."), "form"
        )
    flash(
        say(
            "{counted} counted, {differs} of them otherwise than expected.",
            counted=counted, differs=differs,
        )
    )  # fmt: skip
