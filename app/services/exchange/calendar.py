"""What a maker's own calendar should know: orders due, work to begin, markets."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from sqlalchemy.orm import Session

from app.dates import day_of_year
from app.documents.calendar import Event
from app.language import say
from app.models import Market, Order
from app.services.bench.board import Proposal, the_bench
from app.services.markets.markets import upcoming
from app.services.orders.search import open_orders
from app.services.stock.ledger import item_key


def events(session: Session, on: date) -> list[Event]:
    """Every open order on the day it is wanted, all work on the last day to begin it, markets.

    Work that should have begun before today stands on today, and says so.
    """
    board = the_bench(session, on)
    found = [
        *(_due(order) for order in open_orders(session)),
        *(event for one in board.proposals for event in _begin(one, on)),
        *(_market(market) for market in upcoming(session, on)),
    ]
    return sorted(found, key=lambda event: (event.day, event.key))


def _due(order: Order) -> Event:
    lines = [
        ", ".join(filter(None, (f"{line.wanted} × {line.variant.full_name}", line.asked_for)))
        for line in order.lines
    ]
    title = say("Order {number} due: {customer}", number=order.number, customer=order.customer.name)
    return Event(f"order-{order.id}-due", order.wanted_by, title, "\n".join(lines))


def _begin(one: Proposal, on: date) -> Iterator[Event]:
    """One for each who wants it and each journal: it stays the same however they are grouped."""
    names = {item_key(part.variant): part.variant.full_name for part in one.parts}
    for peg in one.pegs:
        demand = peg.demand
        made = f"{peg.quantity} {names[demand.thing]}"
        if one.start_by < on:
            day = day_of_year(one.start_by)
            title = say("Late, it was to begin {day}: {journals}", day=day, journals=made)
        else:
            title = say("Begin at the latest: {journals}", journals=made)
        key = f"begin-{demand.link}-{demand.thing}"
        yield Event(key, max(one.start_by, on), title, say("For {reason}", reason=demand.reason))


def _market(market: Market) -> Event:
    return Event(f"market-{market.id}", market.day, market.name, market.place, market.last_day)
