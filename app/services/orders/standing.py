"""How far each line of an order is: set aside, delivered, brought back, still to be found."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.states import MovementKind, OrderState
from app.models import Lot, Movement, Order, OrderLine, OrderReturn

LEFT = (MovementKind.SOLD, MovementKind.REVERSED)
"""What a delivery writes down, and what takes one back."""


@dataclass(frozen=True)
class Standing:
    """A line with how many of it are set aside and how many the customer has."""

    line: OrderLine
    set_aside: int
    delivered: int
    """What the customer has: delivered, less what was brought back."""
    of_old: int
    """How many of those set aside left the shelf at once, as it was done before there were lots of
    an order's own."""
    traced: bool
    """Whether lots of its own say what became of it."""

    @property
    def outstanding(self) -> int:
        """How many are still to be delivered."""
        return max(self.line.wanted - self.delivered, 0)

    @property
    def missing(self) -> int:
        """How many of those are set aside nowhere."""
        return max(self.outstanding - self.set_aside, 0)


def standings(session: Session, orders: Collection[Order]) -> dict[int, Standing]:
    """How far every line of some orders is, by its id; as many questions as for one."""
    lines = [line for order in orders for line in order.lines]
    numbers = [line.id for line in lines]
    aside = _sums(
        session, select(Lot.order_line_id, func.sum(Lot.left_quantity))
        .where(Lot.order_line_id.in_(numbers)).group_by(Lot.order_line_id)
    )  # fmt: skip
    left = _sums(
        session, select(Lot.order_line_id, func.sum(-Movement.quantity)).join(Movement.lot)
        .where(Lot.order_line_id.in_(numbers), Movement.kind.in_(LEFT))
        .group_by(Lot.order_line_id)
    )  # fmt: skip
    back = _sums(
        session, select(OrderReturn.order_line_id, func.sum(OrderReturn.quantity))
        .where(OrderReturn.order_line_id.in_(numbers)).group_by(OrderReturn.order_line_id)
    )  # fmt: skip
    old = _of_old(session, [order.id for order in orders])
    found: dict[int, Standing] = {}
    for line in lines:
        key = (line.order_id, line.variant_id)
        taken = min(old.get(key, 0), line.quantity)
        old[key] = old.get(key, 0) - taken
        gone = line.order.state == OrderState.DELIVERED
        found[line.id] = Standing(
            line,
            aside.get(line.id, 0) + (0 if gone else taken),
            left.get(line.id, 0) - back.get(line.id, 0) + (taken if gone else 0),
            0 if gone else taken,
            line.id in aside,
        )
    return found


def _sums(session: Session, query: object) -> Mapping[int, int]:
    return {key: int(n) for key, n in session.execute(query)}  # type: ignore[call-overload]


def _of_old(session: Session, orders: Collection[int]) -> dict[tuple[int, int], int]:
    """Journals that left the shelf itself for an order, by order and variant."""
    rows = session.execute(
        select(Movement.order_id, Lot.variant_id, func.sum(-Movement.quantity))
        .join(Movement.lot)
        .where(
            Movement.order_id.in_(orders), Lot.order_line_id.is_(None),
            Lot.variant_id.is_not(None), Movement.kind.in_(LEFT),
        )
        .group_by(Movement.order_id, Lot.variant_id)
    )  # fmt: skip
    return {(order or 0, variant or 0): int(n) for order, variant, n in rows}
