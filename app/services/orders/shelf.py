"""Finished journals between the shelf and an order: nothing is handed over that is not there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import BatchState, MovementKind
from app.models import Batch, BatchLine, Movement, Order, Variant
from app.services.designs.journals import estimate_by
from app.services.designs.price_book import read_prices
from app.services.stock import ledger as stock


@dataclass(frozen=True)
class Lacking:
    """How many of a journal an order wants, how many of them are on the shelf or being made."""

    variant: Variant
    wanted: int
    there: int
    being_made: int

    @property
    def missing(self) -> int:
        """How many are not there."""
        return self.wanted - self.there

    @property
    def to_make(self) -> int:
        """How many are neither there nor in the making, for whomever that is."""
        return max(self.missing - self.being_made, 0)

    @property
    def says(self) -> str:
        """That in words."""
        are = "is" if self.there == 1 else "are"
        said = f"{self.there} of {self.wanted} {self.variant.full_name} {are} on the shelf"
        return said + (f", {self.being_made} in the making" if self.being_made else "")


class NotThereError(DomainError):
    """An order cannot be set aside whole; ``lacking`` says of what how many are missing."""

    def __init__(self, lacking: tuple[Lacking, ...]) -> None:
        said = "; ".join(one.says for one in lacking)
        super().__init__(
            f"{said}. Make the rest in a batch, or book in what was made without one.", "state"
        )
        self.lacking = lacking


def lacking(session: Session, order: Order) -> tuple[Lacking, ...]:
    """The journals of an order of which there are not enough on the shelf."""
    wanted: dict[Variant, int] = {}
    for line in order.lines:
        wanted[line.variant] = wanted.get(line.variant, 0) + line.quantity
    found = [
        Lacking(v, n, min(stock.on_hand(session, v), n), _being_made(session, v))
        for v, n in wanted.items()
    ]
    return tuple(one for one in found if one.missing)


def _being_made(session: Session, variant: Variant) -> int:
    query = (
        select(func.sum(BatchLine.quantity))
        .join(BatchLine.batch)
        .where(Batch.state == BatchState.IN_PROGRESS, BatchLine.variant_id == variant.id)
    )
    return int(session.scalar(query) or 0)


def take_for_order(session: Session, order: Order, on: date) -> None:
    """Set finished journals aside for an order; raises NotThereError where not all are there."""
    if short := lacking(session, order):
        raise NotThereError(short)
    for line in order.lines:
        stock.take(
            session, line.variant, line.quantity, MovementKind.SOLD,
            on=on, note=f"Order {order.number}", order_id=order.id,
        )  # fmt: skip


def book_in_for(session: Session, order: Order, on: date) -> int:
    """Put on the shelf what an order still lacks and was made without a batch; how many.

    They come in at the cost that was agreed, else at that of the day. Their materials left the
    stock with no batch, so what is left of them wants counting.
    """
    costs: dict[int, Decimal] = {
        line.variant_id: line.unit_cost for line in order.lines if line.unit_cost is not None
    }
    booked = 0
    for one in lacking(session, order):
        each = costs.get(one.variant.id)
        if each is None:
            each = estimate_by(read_prices(session, on), one.variant).sheet.total()
        stock.receive(
            session, one.variant, one.missing, each * one.missing, on, kind=MovementKind.MADE,
            note=f"Made without a batch, for order {order.number}",
        )  # fmt: skip
        booked += one.missing
    return booked


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
