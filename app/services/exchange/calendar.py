"""What a maker's own calendar should know: orders due, work to begin, markets."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from sqlalchemy.orm import Session

from app.documents.calendar import Event
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
    title = f"Order {order.number} due: {order.customer.name}"
    return Event(f"order-{order.id}-due", order.wanted_by, title, "\n".join(lines))


def _begin(one: Proposal, on: date) -> Iterator[Event]:
    """One for each who wants it and each journal: it stays the same however they are grouped."""
    names = {item_key(part.variant): part.variant.full_name for part in one.parts}
    late = f"Late, it was to begin {one.start_by:%-d %B}: " if one.start_by < on else ""
    for peg in one.pegs:
        demand = peg.demand
        title = f"{late or 'Begin at the latest: '}{peg.quantity} {names[demand.thing]}"
        key = f"begin-{demand.link}-{demand.thing}"
        yield Event(key, max(one.start_by, on), title, f"For {demand.reason}")


def _market(market: Market) -> Event:
    return Event(f"market-{market.id}", market.day, market.name, market.place, market.last_day)
