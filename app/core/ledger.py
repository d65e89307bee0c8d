"""Lots drawn down in order, their cost shared so that the shares add up to it exactly.

IAS 2 allows first in first out and the weighted average, never last in first out; one-offs by
their own cost. Under the average the quantity still leaves the oldest lots, only at another cost,
so what lies on a single lot then says nothing: those lots are one pool. A shop that goes over to
first in first out keeps the lots it had as one pool at their average until they are used up; what
comes in afterwards goes out by its own cost at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from app.core.errors import DomainError
from app.language import say, to_say

VALUATIONS = (("fifo", to_say("first in, first out")), ("average", to_say("weighted average")))


@dataclass(frozen=True)
class OpenLot:
    """What is left of a lot: quantity in base units and the cost still on it.

    ``pooled`` ones were here while the shop valued by the average.
    """

    key: int
    left: int
    cost_left: Decimal
    pooled: bool = False


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
    Of a lot its cost left × taken ÷ left goes out, rounded down to ``step``; whoever takes the
    last of a lot or a pool takes all that is left on it, so shares add up to the cost exactly.
    """
    taken = _quantities(lots, quantity)
    pool = list(lots) if valuation == "average" else _pool(lots)
    inside = {lot.key for lot in pool}
    costs = _shares(pool, [(lot, n) for lot, n in taken if lot.key in inside], step)
    return [
        Draw(lot.key, n, costs[lot.key] if lot.key in costs else share_of_lot(lot, n, step))
        for lot, n in taken
    ]


NO_LOT = -99
"""The key of what several lots are together."""


def _pool(lots: Sequence[OpenLot]) -> list[OpenLot]:
    """The lots that only have a cost together.

    Those of the time of the average, and emptied ones on which it left some; where these hold
    nothing any more, or less than nothing, the oldest of the others carry it with them.
    """
    pool = [lot for lot in lots if lot.pooled or not lot.left or lot.cost_left < 0]
    others = [lot for lot in lots if lot not in pool]
    while others and _stranded(pool):
        pool.append(others.pop(0))
    return pool


def _stranded(pool: Sequence[OpenLot]) -> bool:
    """Whether there is cost without a quantity to carry it, or less than none."""
    whole = _together(pool)
    return whole.cost_left < 0 or (not whole.left and whole.cost_left > 0)


def _together(pool: Iterable[OpenLot]) -> OpenLot:
    found = list(pool)
    cost = sum((lot.cost_left for lot in found), Decimal(0))
    return OpenLot(NO_LOT, sum(lot.left for lot in found), cost)


def _shares(
    pool: Sequence[OpenLot], taken: Sequence[tuple[OpenLot, int]], step: Decimal
) -> dict[int, Decimal]:
    """What is taken of a pool at its average, shared over the lots it leaves."""
    quantity = sum(n for _, n in taken)
    if not quantity:
        return {}
    left = OpenLot(NO_LOT, quantity, share_of_lot(_together(pool), quantity, step))
    costs = {}
    for lot, n in taken:
        costs[lot.key] = share_of_lot(left, n, step)
        left = OpenLot(NO_LOT, left.left - n, left.cost_left - costs[lot.key])
    return costs


def draw_chosen(lots: Sequence[OpenLot], chosen: Mapping[int, int], step: Decimal) -> list[Draw]:
    """Take a quantity of each lot named: one-offs go out by their own cost."""
    by_key = {lot.key: lot for lot in lots}
    found = []
    for key, quantity in chosen.items():
        lot = by_key.get(key)
        if lot is None or lot.left < quantity:
            raise DomainError(
                say(
                    "There is {here} of that lot and {wanted} is wanted.",
                    here=lot.left if lot else 0,
                    wanted=quantity,
                ),
                "quantity",
            )
        found.append(Draw(key, quantity, share_of_lot(lot, quantity, step)))
    return found


def _quantities(lots: Sequence[OpenLot], quantity: int) -> list[tuple[OpenLot, int]]:
    """How much each lot gives, the oldest first."""
    found = []
    wanted = quantity
    for lot in lots:
        taken = min(lot.left, wanted)
        if taken > 0:
            found.append((lot, taken))
            wanted -= taken
    if wanted > 0:
        raise DomainError(
            say(
                "There is {here} here and {wanted} is wanted.",
                here=quantity - wanted,
                wanted=quantity,
            ),
            "quantity",
        )
    return found


def share_of_lot(lot: OpenLot, taken: int, step: Decimal) -> Decimal:
    """The cost that goes with a quantity taken from a lot."""
    if taken == lot.left:
        return lot.cost_left
    exact = Fraction(lot.cost_left) * taken / lot.left / Fraction(step)
    return (exact.numerator // exact.denominator) * step
