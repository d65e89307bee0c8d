"""Journals set aside: off the shelf into lots of their own, for an order or at a shop, and back."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.ledger import draw
from app.core.states import MovementKind
from app.language import say
from app.models import Lot, Movement, Variant
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock


def set_aside(
    session: Session, variant: Variant, quantity: int, on: date, *, note: str,
    order_line_id: int | None = None, order_id: int | None = None, outlet_id: int | None = None,
    lot: Lot | None = None,
) -> list[Lot]:  # fmt: skip
    """Take journals off the shelf into lots of their own: for a line of an order, or at a shop.

    They come out of one ``lot``, or of the oldest ones; each carries the cost it left with. Refused
    where there is too little.
    """
    lots = stock.open_lots(session, variant)
    if lot is not None:
        lots = [one for one in lots if one.key == lot.id]
    draws = draw(lots, quantity, stock.STEP, the_shop(session).valuation)
    found = []
    made_in = _batches_of(session, [taken.lot for taken in draws])
    for taken in draws:
        stock.move(
            session, taken.lot, MovementKind.SET_ASIDE, -taken.quantity, -taken.cost,
            on=on, note=note, order_id=order_id,
        )  # fmt: skip
        found.append(
            stock.receive(
                session, variant, taken.quantity, taken.cost, on, kind=MovementKind.SET_ASIDE,
                note=note, parent_id=taken.lot, order_id=order_id, order_line_id=order_line_id,
                outlet_id=outlet_id, made_in=made_in[taken.lot],
            )
        )  # fmt: skip
    return found


def _batches_of(session: Session, lots: Collection[int]) -> dict[int, int | None]:
    """The batch that each of some lots came out of."""
    rows = session.execute(select(Lot.id, Lot.batch_id).where(Lot.id.in_(lots)))
    return {row.id: row.batch_id for row in rows}


def put_back(session: Session, lot: Lot, quantity: int, on: date, note: str) -> None:
    """Put journals that were set aside back into the lot on the shelf that they came from."""
    if (lot.order_line_id is None and lot.outlet_id is None) or lot.parent_id is None:
        raise DomainError(say("That lot is set aside for nobody."))
    parent = session.get_one(Lot, lot.parent_id)
    order_id = session.scalars(
        select(Movement.order_id).where(Movement.lot_id == lot.id).limit(1)
    ).one()
    gone = stock.take_from(
        session, lot, quantity, MovementKind.SET_ASIDE, on=on, note=note, order_id=order_id
    )
    stock.move(
        session, parent.id, MovementKind.SET_ASIDE, quantity, -gone.cost, on=on, note=note,
        order_id=order_id,
    )  # fmt: skip
