"""Everything but a design that decides what it costs, read once: settings, times, offers' carriage.

A page that works many designs out reads the book once and asks the database nothing more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from sqlalchemy.orm import Session

from app.core.costing import Rates
from app.core.money import Currency, currency
from app.models import Channel, Offer, Recipe, Shop
from app.services.designs.made_here import MadeCost, own_offers
from app.services.shop.settings import TimeOf, channels, operation_times, rates, the_shop
from app.services.stock.carriage import Place, last_carriage
from app.services.stock.recipes import recipes


@dataclass(frozen=True)
class PriceBook:
    """The prices of a day; see :func:`read_prices`."""

    on: date
    shop: Shop
    currency: Currency
    rates: Rates
    times: Mapping[str, TimeOf]
    channels: tuple[Channel, ...]
    last_carriage: Mapping[Place, Fraction]
    """What a base unit's carriage was when it last came from there."""
    recipes: Mapping[str, Recipe] = field(default_factory=dict)
    """How things are made here, by item key."""
    own: Mapping[str, Offer] = field(default_factory=dict)
    """The shop's own offer of each of them whose parts all have a price."""
    made_costs: Mapping[str, MadeCost] = field(default_factory=dict)

    def carriage(self, offer: Offer) -> Fraction | None:
        """Carriage of one base unit: as the offer says, else as it was last; None if unknown."""
        if offer.carriage is not None:
            return Fraction(offer.carriage) / offer.pack_quantity
        return self.last_carriage.get((offer.supplier_id, offer.stock_sheet_id, offer.material_id))


def read_prices(session: Session, on: date) -> PriceBook:
    """The book of a day."""
    shop = the_shop(session)
    money, hour, known = currency(shop.currency), rates(shop), recipes(session)
    own, costs = own_offers(known, shop, hour, on)
    return PriceBook(
        on, shop, money, hour, operation_times(session), tuple(channels(session)),
        last_carriage(session), known, own, costs,
    )  # fmt: skip
