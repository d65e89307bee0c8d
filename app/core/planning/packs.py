"""The cheapest whole packs that hold at least a wanted quantity, over several offers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal


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


def packs_needed(quantity: int, offer: PackOffer) -> PackChoice:
    """Whole packs of one offer for a quantity; a price break is reached where that is cheaper."""
    least = max(-(-quantity // offer.quantity), 1)
    numbers = {least} | {from_packs for from_packs, _ in offer.breaks if from_packs > least}
    choices = [
        PackChoice(offer, packs, _price(offer, packs))
        for packs in numbers
        if any(from_packs <= packs for from_packs, _ in offer.breaks)
    ]
    if not choices:
        first, price = offer.breaks[0]
        return PackChoice(offer, max(first, least), price)
    return min(choices, key=lambda c: (c.cost, c.packs))


def _price(offer: PackOffer, packs: int) -> Decimal:
    return [price for from_packs, price in offer.breaks if from_packs <= packs][-1]


def cheapest(quantity: int, offers: Sequence[PackOffer]) -> list[PackChoice]:
    """Each offer's way to hold the quantity, the cheapest first (shorter lead time on a tie)."""
    choices = [packs_needed(quantity, offer) for offer in offers]
    return sorted(choices, key=lambda c: (c.cost, c.offer.lead_days, c.offer.key))
