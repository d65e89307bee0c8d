"""What a maker's own calendar should know: orders due, work to begin, markets."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Session

from app.documents.calendar import Event
from app.models import Market, Order
from app.services.bench.board import Proposal, demands_said, the_bench
from app.services.markets.markets import upcoming
from app.services.orders.search import open_orders


def events(session: Session, on: date) -> list[Event]:
    """Every open order on the day it is wanted, every batch to begin on its last day, markets."""
    board = the_bench(session, on)
    found = [
        *(_due(order) for order in open_orders(session)),
        *(_begin(one) for one in board.proposals),
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


def _begin(one: Proposal) -> Event:
    parts = ", ".join(f"{part.quantity} {part.variant.full_name}" for part in one.parts)
    whom = [demand.reason for demand in demands_said(one.pegs).values()]
    first = one.pegs[0].demand
    key = f"begin-{first.link}-variant-{one.parts[0].variant.id}"
    return Event(key, one.start_by, f"Begin at the latest: {parts}", "For " + "; ".join(whom))


def _market(market: Market) -> Event:
    return Event(f"market-{market.id}", market.day, market.name, market.place)
