"""Orders delivered in whole or in part from what is set aside, and what customers bring back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import func, select
from sqlalchemy.orm import Session, selectinload
from sqlalchemy.orm.attributes import flag_modified

from app.core.errors import DomainError
from app.core.money import half_up
from app.core.states import BatchState, MovementKind, OrderState
from app.language import say
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
from app.services.stock import aside
from app.services.stock import ledger as stock

DELIVERED_FROM = (OrderState.ACCEPTED, OrderState.IN_PROGRESS, OrderState.READY)
"""States of an order of which something may be delivered."""


def deliver(
    session: Session, order: Order, quantities: Mapping[int, int], on: date, note: str = ""
) -> Delivery:
    """Hand over so many of each line, by its id: what is set aside first, then off the shelf.

    Refused where that many are not there or not wanted any more. With nothing left to deliver the
    order is delivered; None where all of it had left the shelf before.
    """
    if order.state not in DELIVERED_FROM:
        raise DomainError(
            say("An order that is {state} has nothing to deliver.", state=say(order.state))
        )
    shelf.adopt(session, order)
    if on < order.logged_on:
        raise DomainError(say("It cannot be delivered before it was asked for."), "delivered_on")
    known = standings(session, [order])
    wanted = {number: n for number, n in quantities.items() if n}
    if not wanted:
        raise DomainError(say("Say how many of what you deliver."), "form")
    _check(session, known, wanted)
    delivery = Delivery(order_id=order.id, delivered_on=on, note=note)
    session.add(delivery)
    session.flush()
    for number, quantity in wanted.items():
        _hand_over(session, delivery, order, known[number], quantity, on)
    session.flush()
    flag_modified(order, "state")
    if sum(one.outstanding for one in known.values()) == sum(wanted.values()):
        _close(order, on)
    session.flush()
    return delivery


def _check(session: Session, known: Mapping[int, Standing], wanted: Mapping[int, int]) -> None:
    """Refuse a quantity that is not wanted, or not there, at its line."""
    free: dict[int, int] = {}
    for number, quantity in wanted.items():
        one = known.get(number)
        if one is None:
            raise DomainError(say("That line is not of this order."))
        field, name = f"deliver_{number}", one.line.variant.full_name
        if not 0 < quantity <= one.outstanding:
            raise DomainError(
                say("{number} of it are still to deliver.", number=one.outstanding), field
            )
        variant = one.line.variant
        there = free.setdefault(variant.id, stock.on_hand(session, variant))
        more = max(quantity - one.set_aside, 0)
        if more > there:
            raise DomainError(
                say(
                    "{there} of {number} {journal} are there. Make the rest in a batch, or "
                    "book in what was made without one.",
                    there=one.set_aside + there,
                    number=quantity,
                    journal=name,
                ),
                field,
            )
        free[variant.id] = there - more


def _hand_over(
    session: Session, delivery: Delivery, order: Order, one: Standing, quantity: int, on: date
) -> None:
    line = one.line
    if quantity > one.set_aside:
        aside.set_aside(
            session, line.variant, quantity - one.set_aside, on, order_line_id=line.id,
            order_id=order.id, note=say("For order {number}", number=order.number),
        )  # fmt: skip
    left = quantity
    for lot in shelf.lots_aside(session, order):
        if lot.order_line_id != line.id or left <= 0:
            continue
        number = min(stock.left_of(session, lot)[0], left)
        shelf.sell_from(session, delivery, line, lot, number, on)
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
        raise DomainError(say("That delivery is of another order."))
    if returns(session, order):
        raise DomainError(
            say("Something of this order was brought back since; write down what else comes back.")
        )
    standing = next((d for d in deliveries(session, order) if d.delivery.id == delivery.id), None)
    if standing is None:
        raise DomainError(say("This delivery was taken back already."))
    movements = session.scalars(
        select(Movement).where(
            Movement.id.in_([line.movement_id for line in delivery.lines]), stock.still_stands()
        )
    )
    note = say("Order {number} was not delivered", number=order.number)
    for movement in list(movements):
        stock.reverse(session, movement, note, together=True)
    flag_modified(order, "state")
    if order.state == OrderState.DELIVERED:
        order.closed_at = None
        whole = all(not one.missing for one in standings(session, [order]).values())
        order.state = OrderState.READY if whole else OrderState.IN_PROGRESS
    session.flush()


def take_back_last(session: Session, order: Order) -> None:
    """The last delivery of an order is taken back: its journals are set aside again."""
    shelf.adopt(session, order)
    if known := deliveries(session, order):
        take_back_delivery(session, order, known[-1].delivery)


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
    shelf.adopt(session, order)
    one = standings(session, [order])[line.id]
    if not 0 < quantity <= one.delivered:
        raise DomainError(say("The customer has {number} of it.", number=one.delivered), "quantity")
    if not why.strip():
        raise DomainError(say("Say why they came back."), "why")
    first = min((d.delivery.delivered_on for d in deliveries(session, order)), default=on)
    if on < first:
        raise DomainError(say("They cannot come back before they were delivered."), "returned_on")
    # The reason stands with the return alone, where it can be taken out when a customer asks.
    note = say("Order {number}, brought back", number=order.number)
    cost, parent = _left_for(session, line, quantity)
    was = session.get(Lot, parent) if parent is not None else None
    lot = stock.receive(
        session, line.variant, quantity, cost, on,
        kind=MovementKind.RETURNED, note=note, parent_id=parent, order_id=order.id,
        made_in=was.batch_id if was else None,
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
    if replaced and order.state in (OrderState.DELIVERED, OrderState.READY):
        order.state, order.closed_at = OrderState.IN_PROGRESS, None
    flag_modified(order, "state")
    if not replaced:
        line.given_up += quantity
    session.flush()
    return found


def _left_for(session: Session, line: OrderLine, quantity: int) -> tuple[Decimal, int | None]:
    """What so many of a line's journals cost as they left, and the lot they left last.

    Of what the customer still has; who brings the last of it back brings all that is left of it.
    """
    mine = (Lot.order_line_id == line.id) & Movement.kind.in_(LEFT)
    sold = session.execute(
        select(func.sum(-Movement.quantity), func.sum(-Movement.cost))
        .join(Movement.lot)
        .where(mine)
    ).one()
    back = session.execute(
        select(func.sum(OrderReturn.quantity), func.sum(Lot.cost))
        .join(Lot, Lot.id == OrderReturn.lot_id)
        .where(OrderReturn.order_line_id == line.id)
    ).one()
    number = int(sold[0] or 0) - int(back[0] or 0)
    cost = (sold[1] or Decimal(0)) - (back[1] or Decimal(0))
    last = session.scalars(
        select(Lot.id)
        .join(Movement, Movement.lot_id == Lot.id)
        .where(Lot.order_line_id == line.id, Movement.kind == MovementKind.SOLD)
        .order_by(Movement.id.desc())
    ).first()
    if quantity >= number:
        return cost, last
    return half_up(Fraction(cost) * quantity / number, stock.STEP), last


@dataclass(frozen=True)
class MadeIn:
    """A batch something is made in for an order: how many of it, how many good, how many left."""

    batch: Batch
    quantity: int
    good: int
    left: int


def made_in(session: Session, order: Order) -> list[MadeIn]:
    """The batches in which something is or was made for an order, the newest first."""
    lines = [line.id for line in order.lines]
    rows = session.execute(
        select(
            Batch, func.sum(BatchLine.quantity), func.sum(BatchLine.good), func.sum(BatchLine.left)
        )
        .join(BatchLine, BatchLine.batch_id == Batch.id)
        .where(BatchLine.order_line_id.in_(lines), Batch.state != BatchState.CANCELLED)
        .group_by(Batch.id)
        .order_by(Batch.number.desc())
    )
    return [MadeIn(batch, *map(int, numbers)) for batch, *numbers in rows]


def close_short(session: Session, order: Order, on: date) -> int:
    """The customer takes what was delivered and no more; how many are wanted no longer.

    What is set aside goes back on the shelf, and the order comes to what was delivered.
    """
    known = standings(session, [order])
    if order.state not in DELIVERED_FROM or not any(one.delivered for one in known.values()):
        raise DomainError(say("The customer has nothing of it: cancel the order instead."))
    shelf.put_back(session, order, on)
    waived = 0
    for one in known.values():
        left = one.outstanding
        one.line.given_up += left
        waived += left
    _close(order, on)
    session.flush()
    return waived


def closed_short_by(session: Session, order: Order) -> dict[int, int]:
    """How many of each line are wanted no more because the order was closed without them."""
    back: dict[int, int] = {}
    for row in returns(session, order):
        if not row.replaced:
            back[row.order_line_id] = back.get(row.order_line_id, 0) + row.quantity
    short = {line.id: line.given_up - back.get(line.id, 0) for line in order.lines}
    return {line: number for line, number in short.items() if number}


def open_again(session: Session, order: Order) -> None:
    """What an order was closed without is wanted after all."""
    short = closed_short_by(session, order)
    if order.state != OrderState.DELIVERED or not short:
        raise DomainError(say("It was not closed without anything."))
    for line in order.lines:
        line.given_up -= short.get(line.id, 0)
    order.state, order.closed_at = OrderState.IN_PROGRESS, None
    session.flush()
