"""What happened to a thing in the stock, page by page, and what of it can be undone by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from app.core.states import MovementKind
from app.models import Movement, ReceiptLine
from app.services.stock.ledger import Item, of_item

MOST_SHOWN = 50
"""Movements on one page of a history."""


@dataclass(frozen=True)
class History:
    """A page of a thing's movements, the newest first, and where the older ones begin."""

    movements: tuple[Movement, ...]
    undone: frozenset[int]
    """Those of them that were undone since, by their number."""
    alone: frozenset[int]
    """Those of them that can be undone by themselves."""
    older: int | None
    """Movements before this number come on the next page; None where there are none."""


def history(
    session: Session, item: Item, before: int | None = None, most: int = MOST_SHOWN
) -> History:
    """The newest movements of a thing, or those before a movement's number."""
    query = (
        select(Movement)
        .join(Movement.lot)
        .where(of_item(item))
        .options(joinedload(Movement.lot))
        .order_by(Movement.id.desc())
        .limit(most + 1)
    )
    if before is not None:
        query = query.where(Movement.id < before)
    found = list(session.scalars(query))
    shown = found[:most]
    numbers = [movement.id for movement in shown]
    undone = session.scalars(select(Movement.reverses_id).where(Movement.reverses_id.in_(numbers)))
    older = shown[-1].id if len(found) > most else None
    gone = frozenset(n for n in undone if n is not None)
    return History(tuple(shown), gone, _alone(session, shown) - gone, older)


def _alone(session: Session, shown: Sequence[Movement]) -> frozenset[int]:
    """The movements that belong to no purchase, order, batch or cutting, and undo none."""
    lots = {movement.lot_id for movement in shown if movement.kind == MovementKind.RECEIVED}
    bought = set(session.scalars(select(ReceiptLine.lot_id).where(ReceiptLine.lot_id.in_(lots))))
    larger = (
        MovementKind.REVERSED, MovementKind.SOLD, MovementKind.CUT, MovementKind.SET_ASIDE,
    )  # fmt: skip
    return frozenset(
        m.id for m in shown
        if m.kind not in larger and m.batch_id is None and m.order_id is None
        and not (m.kind == MovementKind.RECEIVED and m.lot_id in bought)
    )  # fmt: skip
