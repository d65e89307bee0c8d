"""Lots drawn down in order, their cost shared so that the shares add up to it exactly.

IAS 2 allows first in first out and the weighted average, never last in first out; one-offs by
their own cost. Under the average the quantity still leaves the oldest lots, only at another cost,
so what such a draw leaves on an emptied lot is carried by the oldest lot that is left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from app.core.errors import DomainError

VALUATIONS = (("fifo", "first in, first out"), ("average", "weighted average"))


@dataclass(frozen=True)
class OpenLot:
    """What is left of a lot: quantity in base units and the cost still on it."""

    key: int
    left: int
    cost_left: Decimal


@dataclass(frozen=True)
class Draw:
    """Taken from one lot, with its share of the cost."""

    lot: int
    quantity: int
    cost: Decimal


def draw(
    lots: Sequence[OpenLot], quantity: int, step: Decimal, valuation: str = "fifo"
) -> list[Draw]:
    """Take a quantity from the oldest lots first, at the cost of a valuation.

    ``lots`` come oldest first; emptied ones may be among them. Raises where there is too little.
    """
    if valuation == "average":
        return _draw_average(lots, quantity, step)
    return draw_fifo(_carried(lots), quantity, step)


def _carried(lots: Sequence[OpenLot]) -> list[OpenLot]:
    """Open lots alone, what is stranded on emptied ones carried by the oldest of them.

    Where the average took more from a lot than was on it, what is left is levelled over all.
    """
    if any(lot.cost_left < 0 for lot in lots):
        return _levelled(lots)
    stranded = sum((lot.cost_left for lot in lots if not lot.left), Decimal(0))
    found = [lot for lot in lots if lot.left]
    if found and stranded:
        found[0] = replace(found[0], cost_left=found[0].cost_left + stranded)
    return found


def _levelled(lots: Sequence[OpenLot]) -> list[OpenLot]:
    """Open lots at the average cost of all; the newest carries what does not divide."""
    found = [lot for lot in lots if lot.left]
    pool = OpenLot(
        0, sum(lot.left for lot in lots), sum((lot.cost_left for lot in lots), Decimal(0))
    )
    levelled = []
    for lot in found:
        share = share_of_lot(pool, lot.left, Decimal("0.0001"))
        levelled.append(replace(lot, cost_left=share))
        pool = OpenLot(0, pool.left - lot.left, pool.cost_left - share)
    return levelled


def draw_fifo(lots: Sequence[OpenLot], quantity: int, step: Decimal) -> list[Draw]:
    """Take a quantity from the oldest lots first; raises where there is not enough.

    The share of a lot is its cost left × taken ÷ left, rounded down to ``step``; whoever
    empties the lot takes all that is left on it, so shares add up to the cost exactly.
    """
    taken_from = _quantities(lots, quantity)
    return [Draw(lot.key, n, share_of_lot(lot, n, step)) for lot, n in taken_from]


def draw_chosen(lots: Sequence[OpenLot], chosen: Mapping[int, int], step: Decimal) -> list[Draw]:
    """Take so much of each lot named: one-offs go out by their own cost."""
    by_key = {lot.key: lot for lot in lots}
    found = []
    for key, quantity in chosen.items():
        lot = by_key.get(key)
        if lot is None or lot.left < quantity:
            raise DomainError(
                f"There is {lot.left if lot else 0} of that lot and {quantity} is wanted.",
                "quantity",
            )
        found.append(Draw(key, quantity, share_of_lot(lot, quantity, step)))
    return found


def _draw_average(lots: Sequence[OpenLot], quantity: int, step: Decimal) -> list[Draw]:
    """At the average cost of all that is here; whoever takes the last of it takes all cost."""
    pool = OpenLot(
        0, sum(lot.left for lot in lots), sum((lot.cost_left for lot in lots), Decimal(0))
    )
    taken_from = _quantities([lot for lot in lots if lot.left], quantity)
    cost = share_of_lot(pool, quantity, step) if quantity else Decimal(0)
    found: list[Draw] = []
    left = OpenLot(0, quantity, cost)
    for lot, n in taken_from:
        share = share_of_lot(left, n, step)
        found.append(Draw(lot.key, n, share))
        left = OpenLot(0, left.left - n, left.cost_left - share)
    return found


def _quantities(lots: Sequence[OpenLot], quantity: int) -> list[tuple[OpenLot, int]]:
    """How much each lot gives, the oldest first."""
    found = []
    wanted = quantity
    for lot in lots:
        if wanted <= 0:
            break
        taken = min(lot.left, wanted)
        if taken > 0:
            found.append((lot, taken))
            wanted -= taken
    if wanted > 0:
        raise DomainError(
            f"There is {quantity - wanted} here and {quantity} is wanted.", "quantity"
        )
    return found


def share_of_lot(lot: OpenLot, taken: int, step: Decimal) -> Decimal:
    """The cost that goes with a quantity taken from a lot."""
    if taken == lot.left:
        return lot.cost_left
    exact = Fraction(lot.cost_left) * taken / lot.left / Fraction(step)
    return (exact.numerator // exact.denominator) * step
