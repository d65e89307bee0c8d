"""What is said of orders a moment after a page stands: price, honest day, what is not settled."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from flask import Blueprint, jsonify, request

from app.core.errors import DomainError
from app.core.money import currency
from app.language import say, say_list, say_many
from app.models import Channel, Variant
from app.services.bench import promising
from app.services.designs import journals
from app.services.orders.search import unsettled as not_settled
from app.web.frame.fields import read_day
from app.web.frame.filters import money
from app.web.frame.session import db, find, prices, shop, today

pages = Blueprint("beside", __name__, url_prefix="/orders")


@pages.get("/price")
def price() -> Any:
    """What a variant is asked for in a channel and what it costs, in words, for the form."""
    numbers = [request.args.get(key, "") for key in ("variant", "channel")]
    if not all(n.isdecimal() and len(n) < 10 for n in numbers):
        return jsonify(says="")
    variant, channel = find(Variant, int(numbers[0])), find(Channel, int(numbers[1]))
    if variant is None or channel is None:
        return jsonify(says="")
    try:
        worked = journals.estimate_by(prices(), variant)
    except DomainError as error:
        return jsonify(says=error.message)
    mine = worked.price_in(channel.id)
    asked: Decimal | None = mine.asked if mine else None
    cost = money(worked.sheet.total())
    costs = (
        say("costs {cost}", cost=cost) if worked.whole else say("costs {cost} and more", cost=cost)
    )
    if asked is not None:
        says = "; ".join([say("Asked {price}", price=money(asked)), costs])
        return jsonify(says=f"{says}.", price=currency(shop().currency).figure(asked))
    clauses = [say("No price yet")]
    if mine and mine.suggested is not None:
        clauses.append(say("{price} would do", price=money(mine.suggested)))
    says = "; ".join([*clauses, costs])
    return jsonify(says=f"{says}.")


@pages.get("/date")
def honest() -> Any:
    """The first honest day for what is typed in the form, in words, beside it."""
    asked: dict[Variant, int] = {}
    for word in request.args.getlist("line")[:40]:
        number, _, count = word.partition(":")
        if not (number.isdecimal() and count.isdecimal() and len(word) < 18):
            continue
        variant = find(Variant, int(number))
        if variant is not None and 0 < int(count) <= 10_000:
            asked[variant] = asked.get(variant, 0) + int(count)
    if not asked:
        return jsonify(says="")
    wanted_by = _day(request.args.get("by", ""))
    found, refused = promising.promised(db(), asked, wanted_by, today())
    return jsonify(says=promising.in_words(found, wanted_by, today()) if found else refused)


@pages.get("/unsettled")
def unsettled() -> Any:
    """What of the orders that are over is not settled, for the first page.

    Every order there ever was is added up for it, so the page does not wait.
    """
    found = not_settled(db())
    if not found.orders:
        return jsonify(says="")
    sums = []
    if found.to_come:
        sums.append(say("{money} is still to come", money=money(found.to_come)))
    if found.to_give_back:
        sums.append(say("{money} is to be given back", money=money(found.to_give_back)))
    return jsonify(
        says=say_many(
            found.orders,
            "{n} order that is over is not settled: {sums}.",
            "{n} orders that are over are not settled: {sums}.",
            sums=say_list(sums),
        )
    )


def _day(text: str) -> date | None:
    try:
        return read_day(text)
    except DomainError:
        return None
