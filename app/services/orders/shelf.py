"""Finished journals between the shelf and an order: nothing is handed over that is not there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import ORDER_NEEDS_MAKING, BatchState, MovementKind, OrderState
from app.language import say, say_many
from app.models import (
    Batch,
    BatchLine,
    Delivery,
    DeliveryLine,
    Lot,
    Movement,
    Order,
    OrderLine,
    Variant,
)
from app.services.designs.journals import estimate_by
from app.services.designs.price_book import read_prices
from app.services.orders.standing import Standing, standings
from app.services.stock import aside
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
        there = say_many(
            self.there,
            "{n} of {wanted} {journal} is on the shelf",
            "{n} of {wanted} {journal} are on the shelf",
            wanted=self.wanted,
            journal=self.variant.full_name,
        )
        if not self.being_made:
            return there
        coming = say("{number} in the making", number=self.being_made)
        return f"{there}, {coming}"


class NotThereError(DomainError):
    """An order cannot be set aside whole; ``lacking`` says of what how many are missing."""

    def __init__(self, lacking: tuple[Lacking, ...]) -> None:
        said = "; ".join(one.says for one in lacking)
        so = say("Make the rest in a batch, or book in what was made without one.")
        super().__init__(f"{said}. {so}", "state")
        self.lacking = lacking


def lacking(session: Session, order: Order) -> tuple[Lacking, ...]:
    """The journals of an order of which not all are set aside or on the shelf."""
    wanted: dict[Variant, list[Standing]] = {}
    for one in standings(session, [order]).values():
        wanted.setdefault(one.line.variant, []).append(one)
    found = []
    for variant, parts in wanted.items():
        missing = sum(one.missing for one in parts)
        number = sum(one.outstanding for one in parts)
        there = number - missing + min(stock.on_hand(session, variant), missing)
        found.append(Lacking(variant, number, there, _being_made(session, variant, order)))
    return tuple(one for one in found if one.missing)


def _being_made(session: Session, variant: Variant, order: Order) -> int:
    """How many are in progress for this order, or for nobody's."""
    own = [line.id for line in order.lines]
    query = (
        select(func.sum(BatchLine.left))
        .join(BatchLine.batch)
        .where(
            Batch.state == BatchState.IN_PROGRESS, BatchLine.variant_id == variant.id,
            or_(BatchLine.order_line_id.is_(None), BatchLine.order_line_id.in_(own)),
        )
    )  # fmt: skip
    return int(session.scalar(query) or 0)


def to_make_for(session: Session, orders: Sequence[Order]) -> dict[OrderLine, int]:
    """How many of each line of some orders are set aside nowhere and in no batch begun for them."""
    known = standings(session, orders)
    going = {
        line: int(number)
        for line, number in session.execute(
            select(BatchLine.order_line_id, func.sum(BatchLine.left))
            .join(BatchLine.batch)
            .where(Batch.state == BatchState.IN_PROGRESS, BatchLine.order_line_id.in_(list(known)))
            .group_by(BatchLine.order_line_id)
        )
    }
    left = {one.line: one.missing - going.get(number, 0) for number, one in known.items()}
    return {line: number for line, number in left.items() if number > 0}


def set_aside_all(session: Session, order: Order, on: date) -> None:
    """Set aside all that is still to deliver; raises NotThereError where not all is there."""
    if short := lacking(session, order):
        raise NotThereError(short)
    set_aside(session, order, on)


def set_aside(session: Session, order: Order, on: date) -> int:
    """Set aside for an order what of it is on the shelf, line by line; how many."""
    done = 0
    for one in standings(session, [order]).values():
        number = min(one.missing, stock.on_hand(session, one.line.variant))
        if number:
            _aside(session, one.line, number, on)
            done += number
    return done


def set_aside_made(session: Session, line: OrderLine, lot: Lot, on: date) -> int:
    """Set aside for a line what was just made for it in a batch, as far as it still wants it."""
    if line.order.state not in ORDER_NEEDS_MAKING:
        return 0
    one = standings(session, [line.order])[line.id]
    number = min(one.missing, stock.left_of(session, lot)[0])
    if number:
        _aside(session, line, number, on, lot)
    return number


def _aside(
    session: Session, line: OrderLine, number: int, on: date, lot: Lot | None = None
) -> None:
    aside.set_aside(
        session, line.variant, number, on, order_line_id=line.id, order_id=line.order_id,
        note=say("For order {number}", number=line.order.number), lot=lot,
    )  # fmt: skip


def put_back(session: Session, order: Order, on: date) -> int:
    """Put back on the shelf what is set aside for an order; how many."""
    adopt(session, order)
    note = say("Order {number}: put back on the shelf", number=order.number)
    done = 0
    for lot in lots_aside(session, order):
        number = stock.left_of(session, lot)[0]
        aside.put_back(session, lot, number, on, note)
        done += number
    return done


def adopt(session: Session, order: Order) -> None:
    """Let an order from before it had lots of its own have them: nothing moves but on paper.

    What left the shelf for it comes back and is set aside, or is delivered, from the same lot.
    """
    taken = session.scalars(
        select(Movement)
        .join(Movement.lot)
        .where(
            Movement.order_id == order.id, Movement.kind == MovementKind.SOLD,
            Lot.order_line_id.is_(None), Lot.variant_id.is_not(None), stock.still_stands(),
        )
        .order_by(Movement.id)
    ).all()  # fmt: skip
    if not taken:
        return
    note = say("Order {number}", number=order.number)
    delivery = None
    if order.state == OrderState.DELIVERED:
        on = (order.closed_at or taken[-1].at).astimezone().date()
        delivery = Delivery(order_id=order.id, delivered_on=on, note="")
        session.add(delivery)
        session.flush()
    left = {line.id: line.wanted for line in order.lines}
    for movement in taken:
        day, lot, number = movement.at.astimezone().date(), movement.lot, -movement.quantity
        stock.reverse(session, movement, note, together=True)
        for line in order.lines:
            some = min(left[line.id], number) if line.variant_id == lot.variant_id else 0
            if some:
                left[line.id] -= some
                number -= some
                _adopt_line(session, line, lot, some, day, delivery)
    session.flush()


def _adopt_line(
    session: Session, line: OrderLine, lot: Lot, number: int, day: date, delivery: Delivery | None
) -> None:
    [own] = aside.set_aside(
        session, line.variant, number, day, order_line_id=line.id, order_id=line.order_id,
        note=say("For order {number}", number=line.order.number), lot=lot,
    )  # fmt: skip
    if delivery is not None:
        sell_from(session, delivery, line, own, number, day)


def sell_from(
    session: Session, delivery: Delivery, line: OrderLine, lot: Lot, number: int, on: date
) -> None:
    """Take so many of a lot that is set aside, and write down with which delivery they left."""
    order = line.order
    note = say("Order {number}", number=order.number)
    gone = stock.take_from(
        session, lot, number, MovementKind.SOLD, on=on, note=note, order_id=order.id
    )
    delivery.lines.append(DeliveryLine(order_line_id=line.id, movement_id=gone.id))


def lots_aside(session: Session, order: Order) -> list[Lot]:
    """The lots that are set aside for an order and not delivered, the oldest first."""
    lines = [line.id for line in order.lines]
    query = select(Lot).where(Lot.order_line_id.in_(lines), Lot.left_quantity > 0)
    return list(session.scalars(query.order_by(Lot.id)))


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
            note=say("Made without a batch, for order {number}", number=order.number),
        )  # fmt: skip
        booked += one.missing
    return booked
