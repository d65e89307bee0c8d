"""What a thing made here costs: its materials at their prices, the minutes, and what is lost.

It stands beside the offers of suppliers as one more, which nobody has to be asked for: a pack is
what one time makes. A thing of which a part has no price has none itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from app.core.costing import Rates, standard_time
from app.core.money import half_up
from app.language import say, to_say
from app.models import Offer, OfferBreak, Paper, Recipe, RecipePart, Shop, StockSheet, Supplier
from app.services.designs.take_off import sheets_to_cut
from app.services.stock.ledger import item_key
from app.services.stock.materials import price_for
from app.services.stock.recipes import node_of, order_of, piece_of, thing_of

MADE_HERE = to_say("Made here")
FINEST = Decimal("0.00000001")
"""To which a price is worked out; it is rounded where it is shown or added up."""


@dataclass(frozen=True)
class MadeCost:
    """What one time costs by its parts, in the order of the recipe, and its work; before losses."""

    parts: tuple[Fraction, ...]
    work: Fraction
    minutes: Fraction

    @property
    def total(self) -> Fraction:
        """All of it."""
        return sum(self.parts, self.work)


def own_offers(
    known: Mapping[str, Recipe], shop: Shop, rates: Rates, on: date
) -> tuple[dict[str, Offer], dict[str, MadeCost]]:
    """The shop's own offer of each thing that it can make, and what one time costs, by item key."""
    offers: dict[str, Offer] = {}
    costs: dict[str, MadeCost] = {}
    by_node: dict[str, list[tuple[str, Recipe]]] = {}
    for key, recipe in known.items():
        by_node.setdefault(node_of(recipe.item), []).append((key, recipe))
    # What others are made of is priced first.
    for node in reversed(order_of(known)):
        for key, recipe in by_node[node]:
            cost = _cost(recipe, shop, rates, offers, on)
            if cost is not None:
                costs[key] = cost
                offers[key] = _offer(recipe, cost)
    return offers, costs


def _cost(
    recipe: Recipe, shop: Shop, rates: Rates, own: Mapping[str, Offer], on: date
) -> MadeCost | None:
    """What one time costs; setting up is shared over as many as the shop makes together."""
    found = [_part_cost(part, shop, own, on) for part in recipe.parts]
    priced = [cost for cost in found if cost is not None]
    if len(priced) < len(found):
        return None
    normal = Fraction(recipe.minutes) + Fraction(recipe.setup_minutes) / shop.batch_size
    minutes = standard_time(normal, rates.allowance)
    return MadeCost(
        tuple(priced), minutes / 60 * (rates.pay_per_hour + rates.overhead_per_hour), minutes
    )


def _part_cost(part: RecipePart, shop: Shop, own: Mapping[str, Offer], on: date) -> Fraction | None:
    thing = thing_of(part)
    if not isinstance(thing, Paper):
        amount = part.quantity * (1 + Fraction(thing.waste))
        many = -(-amount * shop.batch_size // 1)
        price = price_for(thing, many, on, own.get(item_key(thing)))
        return None if price is None else price.each * amount
    piece = piece_of(part)
    found = []
    for sheet, cut in sheets_to_cut(piece, thing, shop):
        if cut.best and not sheet.retired:
            # What is spoiled of it is in what is lost of the whole. Of a roll: so much length.
            each = cut.sheet.height_nm if sheet.by_length else 1
            sheets = Fraction(piece.count * each, cut.best)
            price = price_for(
                sheet, -(-sheets * shop.batch_size // 1), on, own.get(item_key(sheet))
            )
            if price is not None:
                found.append(price.each * sheets)
    return min(found, default=None)


def _offer(recipe: Recipe, cost: MadeCost) -> Offer:
    """An offer that is in no table: nobody but the shop makes it."""
    item = recipe.item
    # As exact as it can be kept: what makes a thousand of a thing must not cost nothing.
    price = half_up(cost.total / (1 - Fraction(recipe.loss)), FINEST)
    return Offer(
        id=-recipe.id, supplier=Supplier(id=0, name=say(MADE_HERE), retired=False),
        stock_sheet_id=item.id if isinstance(item, StockSheet) else None,
        material_id=None if isinstance(item, StockSheet) else item.id,
        pack_quantity=recipe.makes, lead_days=recipe.days, valid_from=date.min,
        carriage=Decimal(0), breaks=[OfferBreak(from_packs=1, pack_price=price)],
    )  # fmt: skip


def is_own(offer: Offer) -> bool:
    """Whether an offer is the shop's own."""
    return offer.id < 0
