"""The cheapest whole packs that hold at least a wanted quantity, over several offers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeVar


@dataclass(frozen=True)
class PackOffer:
    """Packs of ``quantity`` base units; ``breaks`` are (from packs, price of a pack), rising."""

    key: int
    quantity: int
    breaks: tuple[tuple[int, Decimal], ...]
    lead_days: int


@dataclass(frozen=True)
class PackChoice:
    """So many packs of one offer at the price of a pack they earn."""

    offer: PackOffer
    packs: int
    pack_price: Decimal

    @property
    def cost(self) -> Decimal:
        """What the packs cost."""
        return self.packs * self.pack_price


Price = TypeVar("Price", int, Decimal)


def packs_for(
    quantity: int, pack: int, breaks: Sequence[tuple[int, Price]], most: int | None = None
) -> tuple[int, Price] | None:
    """Packs for a quantity and the price of one; a break is reached where that is cheaper.

    ``breaks`` are (from packs, price of a pack), rising; ``most`` is the most that can be bought.
    None where so much cannot.
    """
    least = max(-(-quantity // pack), 1)
    numbers = {least} | {start for start, _ in breaks if start > least}
    ways = [
        (number, _price(breaks, number))
        for number in numbers
        if breaks[0][0] <= number and (most is None or number * pack <= most)
    ]
    return min(ways, key=lambda way: (way[0] * way[1], way[0]), default=None)


def _price(breaks: Sequence[tuple[int, Price]], packs: int) -> Price:
    """The price of a pack that so many earn."""
    return [price for start, price in breaks if start <= packs][-1]


def packs_needed(quantity: int, offer: PackOffer) -> PackChoice:
    """Whole packs of one offer for a quantity."""
    found = packs_for(quantity, offer.quantity, offer.breaks)
    if found is None:
        raise AssertionError("an offer without a limit has packs enough")
    return PackChoice(offer, *found)


def cheapest(quantity: int, offers: Sequence[PackOffer]) -> list[PackChoice]:
    """Each offer's way to hold the quantity, the cheapest first (shorter lead time on a tie)."""
    choices = [packs_needed(quantity, offer) for offer in offers]
    return sorted(choices, key=lambda c: (c.cost, c.offer.lead_days, c.offer.key))
