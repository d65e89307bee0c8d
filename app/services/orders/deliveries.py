"""Orders delivered in whole or in part from what is set aside, and what customers bring back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import func, select
from sqlalchemy.orm import Session, selectinload

from app.core.errors import DomainError
from app.core.money import half_up
from app.core.states import MovementKind, OrderState
from app.models import (
    Batch,
    BatchLine,
    Delivery,
    DeliveryLine,
    Lot,
    Movement,
    Order,
    OrderLine,
    OrderReturn,
)
from app.services.orders import shelf
from app.services.orders.standing import LEFT, Standing, standings
from app.services.shop.moments import moment_of
from app.services.stock import ledger as stock

DELIVERED_FROM = (OrderState.ACCEPTED, OrderState.IN_PROGRESS, OrderState.READY)
"""States of an order of which something may be delivered."""


def deliver(
    session: Session, order: Order, quantities: Mapping[int, int], on: date, note: str = ""
) -> Delivery | None:
    """Hand over so many of each line, by its id: what is set aside first, then off the shelf.

    Refused where that many are not there or not wanted any more. With nothing left to deliver the
    order is delivered; None where all of it had left the shelf before.
    """
    if order.state not in DELIVERED_FROM:
        raise DomainError(f"This order is {order.state}; nothing of it can be delivered.")
    if on < order.logged_on:
        raise DomainError("It cannot be delivered before it was asked for.", "delivered_on")
    known = standings(session, [order])
    wanted = {number: n for number, n in quantities.items() if n}
    if not wanted:
        raise DomainError("Say how many of what you deliver.", "form")
    _check(session, known, wanted)
    delivery = Delivery(order_id=order.id, delivered_on=on, note=note)
    session.add(delivery)
    session.flush()
    for number, quantity in wanted.items():
        _hand_over(session, delivery, order, known[number], quantity, on)
    if not delivery.lines:
        session.delete(delivery)
    session.flush()
    if sum(one.outstanding for one in known.values()) == sum(wanted.values()):
        _close(order, on)
    session.flush()
    return delivery if delivery.lines else None


def _check(session: Session, known: Mapping[int, Standing], wanted: Mapping[int, int]) -> None:
    """Refuse a quantity that is not wanted, or not there, at its line."""
    free: dict[int, int] = {}
    for number, quantity in wanted.items():
        one = known.get(number)
        if one is None:
            raise DomainError("That line is not of this order.")
        field, name = f"deliver_{number}", one.line.variant.full_name
        if not 0 < quantity <= one.outstanding:
            raise DomainError(f"{one.outstanding} of it are still to deliver.", field)
        if one.of_old and quantity != one.outstanding:
            raise DomainError(
                "These were set aside all together: deliver all of them, or put them back on the "
                "shelf first.",
                field,
            )
        variant = one.line.variant
        there = free.setdefault(variant.id, stock.on_hand(session, variant))
        more = max(quantity - one.set_aside, 0)
        if more > there:
            raise DomainError(
                f"{one.set_aside + there} of {quantity} {name} are there. Make the rest in a "
                "batch, or book in what was made without one.",
                field,
            )
        free[variant.id] = there - more


def _hand_over(
    session: Session, delivery: Delivery, order: Order, one: Standing, quantity: int, on: date
) -> None:
    line, note = one.line, f"Order {order.number}"
    if quantity > one.set_aside:
        stock.set_aside(
            session, line.variant, quantity - one.set_aside, on, order_line_id=line.id,
            order_id=order.id, note=f"For order {order.number}",
        )  # fmt: skip
    left = quantity - one.of_old
    for lot in shelf.lots_aside(session, order):
        if lot.order_line_id != line.id or left <= 0:
            continue
        number = min(stock.left_of(session, lot)[0], left)
        stock.take_from(
            session, lot, number, MovementKind.SOLD, on=on, note=note, order_id=order.id
        )
        moved = session.scalars(
            select(Movement.id).where(Movement.lot_id == lot.id).order_by(Movement.id.desc())
        )
        number_of = moved.first() or 0
        delivery.lines.append(DeliveryLine(order_line_id=line.id, movement_id=number_of))
        left -= number


def _close(order: Order, on: date) -> None:
    order.state, order.closed_at = OrderState.DELIVERED, moment_of(on)


@dataclass(frozen=True)
class Delivered:
    """A delivery that stands, with what of which line left which lot."""

    delivery: Delivery
    rows: tuple[tuple[OrderLine, int, Lot], ...]

    @property
    def number(self) -> int:
        """How many journals."""
        return sum(n for _, n, _ in self.rows)


def deliveries(session: Session, order: Order) -> list[Delivered]:
    """The deliveries of an order that were not taken back, the oldest first."""
    rows = session.scalars(
        select(Delivery)
        .where(Delivery.order_id == order.id)
        .order_by(Delivery.id)
        .options(selectinload(Delivery.lines))
    )
    lines = {line.id: line for line in order.lines}
    found = []
    for delivery in rows:
        standing = session.execute(
            select(DeliveryLine.order_line_id, Movement, Lot)
            .join(Movement, Movement.id == DeliveryLine.movement_id)
            .join(Lot, Lot.id == Movement.lot_id)
            .where(DeliveryLine.delivery_id == delivery.id, stock.still_stands())
            .order_by(DeliveryLine.id)
        )
        parts = tuple((lines[number], -m.quantity, lot) for number, m, lot in standing)
        if parts:
            found.append(Delivered(delivery, parts))
    return found


def take_back_delivery(session: Session, order: Order, delivery: Delivery) -> None:
    """It was not delivered after all: its journals are set aside again, the order is open.

    Refused once anything of the order was brought back.
    """
    if delivery.order_id != order.id:
        raise DomainError("That delivery is of another order.")
    if returns(session, order):
        raise DomainError(
            "Something of this order was brought back since; write down what else comes back."
        )
    standing = next((d for d in deliveries(session, order) if d.delivery.id == delivery.id), None)
    if standing is None:
        raise DomainError("This delivery was taken back already.")
    movements = session.scalars(
        select(Movement).where(
            Movement.id.in_([line.movement_id for line in delivery.lines]), stock.still_stands()
        )
    )
    for movement in list(movements):
        stock.reverse(session, movement, f"Order {order.number} was not delivered", together=True)
    if order.state == OrderState.DELIVERED:
        order.closed_at = None
        whole = all(not one.missing for one in standings(session, [order]).values())
        order.state = OrderState.READY if whole else OrderState.IN_PROGRESS
    session.flush()


def take_back_all(session: Session, order: Order) -> None:
    """Every delivery of an order is taken back: its journals are set aside again."""
    for found in deliveries(session, order):
        take_back_delivery(session, order, found.delivery)


def returns(session: Session, order: Order) -> list[OrderReturn]:
    """What of an order was brought back, the oldest first."""
    lines = [line.id for line in order.lines]
    query = select(OrderReturn).where(OrderReturn.order_line_id.in_(lines))
    return list(session.scalars(query.order_by(OrderReturn.id)))


def bring_back(
    session: Session, line: OrderLine, quantity: int, on: date, why: str, *,
    sound: bool, replaced: bool,
) -> OrderReturn:  # fmt: skip
    """A customer brings journals back: onto the shelf where they are sound, else they are lost.

    What is replaced is owed to the customer again; what is not lowers what the order comes to. They
    come in at what they left for.
    """
    order = line.order
    one = standings(session, [order])[line.id]
    if not 0 < quantity <= one.delivered:
        raise DomainError(f"The customer has {one.delivered} of it.", "quantity")
    if not why.strip():
        raise DomainError("Say why they came back.", "why")
    if on < order.logged_on:
        raise DomainError("They cannot come back before they were asked for.", "returned_on")
    note = f"Order {order.number}, brought back: {why}"
    each, parent = _left_for(session, line)
    lot = stock.receive(
        session, line.variant, quantity, half_up(each * quantity, stock.STEP), on,
        kind=MovementKind.RETURNED, note=note, parent_id=parent, order_id=order.id,
    )  # fmt: skip
    if not sound:
        stock.take_from(
            session, lot, quantity, MovementKind.SPOILED, on=on, note=note, order_id=order.id
        )
    found = OrderReturn(
        order_line_id=line.id, lot_id=lot.id, returned_on=on, quantity=quantity, why=why,
        replaced=replaced, sound=sound,
    )  # fmt: skip
    session.add(found)
    if replaced and order.state == OrderState.DELIVERED:
        order.state, order.closed_at = OrderState.IN_PROGRESS, None
    if not replaced:
        line.given_up += quantity
    session.flush()
    return found


def _left_for(session: Session, line: OrderLine) -> tuple[Fraction, int | None]:
    """What one of a line's journals cost as it left, and the lot it left last."""
    own = select(func.sum(-Movement.quantity), func.sum(-Movement.cost)).join(Movement.lot)
    mine = Lot.order_line_id == line.id
    of_old = (
        (Movement.order_id == line.order_id)
        & (Lot.variant_id == line.variant_id)
        & Lot.order_line_id.is_(None)
    )
    for condition in (mine, of_old):
        quantity, cost = session.execute(own.where(condition, Movement.kind.in_(LEFT))).one()
        if quantity:
            last = session.scalars(
                select(Lot.id)
                .join(Movement, Movement.lot_id == Lot.id)
                .where(condition, Movement.kind == MovementKind.SOLD)
                .order_by(Movement.id.desc())
            ).first()
            return Fraction(cost or Decimal(0)) / int(quantity), last
    return Fraction(0), None


def made_in(session: Session, order: Order) -> list[tuple[Batch, int]]:
    """The batches in which something is made for an order, with how many, the newest first."""
    lines = [line.id for line in order.lines]
    rows = session.execute(
        select(Batch, func.sum(BatchLine.quantity))
        .join(BatchLine, BatchLine.batch_id == Batch.id)
        .where(BatchLine.order_line_id.in_(lines))
        .group_by(Batch.id)
        .order_by(Batch.number.desc())
    )
    return [(batch, int(number)) for batch, number in rows]


def close_short(session: Session, order: Order, on: date) -> int:
    """The customer takes what was delivered and no more; how many are wanted no longer.

    What is set aside goes back on the shelf, and the order comes to what was delivered.
    """
    known = standings(session, [order])
    if order.state not in DELIVERED_FROM or not any(one.delivered for one in known.values()):
        raise DomainError("Nothing of it was delivered: cancel the order instead.")
    shelf.put_back(session, order, on)
    waived = 0
    for one in known.values():
        left = one.outstanding
        one.line.given_up += left
        waived += left
    _close(order, on)
    session.flush()
    return waived
