"""Finished journals between the shelf and an order."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.states import MovementKind
from app.models import Movement, Order
from app.services.stock import ledger as stock


def take_for_order(session: Session, order: Order, on: date) -> None:
    """Take finished journals off the shelf for an order, as many as are there."""
    for line in order.lines:
        there = min(stock.on_hand(session, line.variant), line.quantity)
        if there:
            stock.take(
                session, line.variant, there, MovementKind.SOLD,
                on=on, note=f"Order {order.number}", order_id=order.id,
            )  # fmt: skip


def put_back_from_order(session: Session, order: Order) -> None:
    """Put back on the shelf what was taken for an order."""
    taken: Iterable[Movement] = session.scalars(
        select(Movement).where(
            Movement.order_id == order.id,
            Movement.kind == MovementKind.SOLD,
            stock.still_stands(),
        )
    )
    for movement in list(taken):
        stock.reverse(session, movement, f"Order {order.number} is not ready after all")
