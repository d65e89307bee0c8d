"""Lots drawn down in order, their cost shared so that the shares add up to the lot exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from app.core.errors import DomainError


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


def draw_fifo(lots: Sequence[OpenLot], quantity: int, step: Decimal) -> list[Draw]:
    """Take a quantity from the oldest lots first; raises where there is not enough.

    The share of a lot is its cost left × taken ÷ left, rounded down to ``step``; whoever
    empties the lot takes all that is left on it, so shares add up to the cost exactly.
    """
    draws: list[Draw] = []
    wanted = quantity
    for lot in lots:
        if wanted <= 0:
            break
        taken = min(lot.left, wanted)
        if taken > 0:
            draws.append(Draw(lot.key, taken, share_of_lot(lot, taken, step)))
            wanted -= taken
    if wanted > 0:
        raise DomainError(
            f"There is {quantity - wanted} here and {quantity} is wanted.", "quantity"
        )
    return draws


def share_of_lot(lot: OpenLot, taken: int, step: Decimal) -> Decimal:
    """The cost that goes with a quantity taken from a lot."""
    if taken == lot.left:
        return lot.cost_left
    exact = Fraction(lot.cost_left) * taken / lot.left / Fraction(step)
    return (exact.numerator // exact.denominator) * step
