"""Materials of a batch in progress: more taken than was planned, or some of it brought back."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.money import half_up
from app.core.states import BatchState, MovementKind
from app.language import say
from app.models import Batch, Lot, Material, Movement, StockSheet
from app.services.stock import ledger as stock

IN_AND_OUT = (MovementKind.ISSUED, MovementKind.RETURNED, MovementKind.REVERSED)
"""What goes into a batch and comes back out of it."""


def materials_cost(session: Session, batch: Batch) -> Decimal:
    """What was issued to it, less what came back and the offcuts kept of it."""
    total = session.scalar(
        select(func.sum(Movement.cost)).where(
            Movement.batch_id == batch.id,
            Movement.kind.in_((*IN_AND_OUT, MovementKind.CUT)),
        )
    )
    return -(total or Decimal(0))


def materials_left(session: Session, batch: Batch) -> Decimal:
    """Of its materials what no journal that came out of it has taken with it yet."""
    made = session.scalar(
        select(func.sum(Movement.cost)).where(
            Movement.batch_id == batch.id, Movement.kind == MovementKind.MADE
        )
    )
    gone = (made or Decimal(0)) + (batch.spoiled_cost or Decimal(0))
    return materials_cost(session, batch) - (gone - (batch.work_cost or Decimal(0)))


def _going_on(batch: Batch) -> None:
    if batch.state != BatchState.IN_PROGRESS:
        raise DomainError(
            say(
                "Batch {number} is {state}: count what is in stock instead.",
                number=batch.number, state=say(batch.state),
            )
        )  # fmt: skip


def _correction(batch: Batch, why: str) -> str:
    """Tells what was taken or brought back later, by its comma, from what a batch began with."""
    said = say("Batch {number}", number=batch.number)
    return f"{said}, {why}"


def take_more(
    session: Session, batch: Batch, item: StockSheet | Material, quantity: int, why: str, on: date
) -> Decimal:
    """So much more of a thing leaves the stock for a batch, as something was spoiled or short.

    Its cost, which the batch carries.
    """
    _going_on(batch)
    if quantity < 1:
        raise DomainError(say("How much? It must be more than nothing."), "quantity")
    if not why.strip():
        raise DomainError(say("Say why."), "why")
    return stock.take(
        session, item, quantity, MovementKind.ISSUED, on=on, note=_correction(batch, why),
        batch_id=batch.id,
    )  # fmt: skip


def left_over(session: Session, batch: Batch, item: StockSheet | Material) -> int:
    """How much of a thing a batch has that could go back: issued to it, less what came back."""
    return sum(number for _, number, _ in _by_lot(session, batch, item))


def bring_back(
    session: Session, batch: Batch, item: StockSheet | Material, quantity: int, on: date
) -> Decimal:
    """So much of a thing goes back into the lots it came from, the last one first, at its cost."""
    _going_on(batch)
    if quantity < 1:
        raise DomainError(say("How much? It must be more than nothing."), "quantity")
    rows = _by_lot(session, batch, item)
    if quantity > sum(number for _, number, _ in rows):
        raise DomainError(say("So much of it is not in this batch."), "quantity")
    total = Decimal(0)
    for lot, number, cost in rows:
        some = min(quantity, number)
        if not some:
            continue
        share = cost if some == number else half_up(Fraction(cost) * some / number, stock.STEP)
        stock.give_back(
            session, lot, some, share, on=on, note=_correction(batch, say("not needed")),
            batch_id=batch.id,
        )  # fmt: skip
        total += share
        quantity -= some
    if materials_left(session, batch) < 0:
        raise DomainError(
            say("So much of it went into those that are finished already: bring back less."),
            "quantity",
        )
    return total


def _by_lot(
    session: Session, batch: Batch, item: StockSheet | Material
) -> list[tuple[Lot, int, Decimal]]:
    """What of a thing is in a batch, by the lot it came from, the last one first; no offcuts."""
    rows = session.execute(
        select(Lot, func.sum(-Movement.quantity), func.sum(-Movement.cost))
        .join(Movement, Movement.lot_id == Lot.id)
        .where(
            Movement.batch_id == batch.id, Movement.kind.in_(IN_AND_OUT), stock.of_item(item),
            Lot.offcut_width_nm.is_(None),
        )
        .group_by(Lot.id)
        .order_by(Lot.id.desc())
    )  # fmt: skip
    return [(lot, int(number), cost) for lot, number, cost in rows if number > 0]


def taken(session: Session, batch: Batch) -> list[tuple[Lot, int]]:
    """What a batch has in it, by the lot it came from, less what went back; in the order taken."""
    rows = session.execute(
        select(Lot, func.sum(-Movement.quantity))
        .join(Movement, Movement.lot_id == Lot.id)
        .where(
            Movement.batch_id == batch.id, stock.still_stands(),
            Movement.kind.in_((MovementKind.ISSUED, MovementKind.RETURNED)),
        )
        .group_by(Lot.id)
        .order_by(func.min(Movement.id))
    )  # fmt: skip
    return [(lot, int(number)) for lot, number in rows if number]


def corrections(session: Session, batch: Batch) -> list[Movement]:
    """What was taken as well, or brought back, since it began: the plan does not know."""
    rows = session.scalars(
        select(Movement)
        .where(
            Movement.batch_id == batch.id, stock.still_stands(),
            Movement.kind.in_((MovementKind.ISSUED, MovementKind.RETURNED)),
            Movement.note.contains(","),
        )
        .order_by(Movement.id)
    )  # fmt: skip
    return list(rows)
