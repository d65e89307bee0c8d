"""How many days from now a thing made here can be had: its own, after those of what is not here."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from app.models import Material, Offer, Paper, Recipe, RecipePart, StockSheet
from app.services.designs.made_here import is_own
from app.services.planning.requirements import Needs
from app.services.stock.ledger import item_key
from app.services.stock.materials import offers_in_force
from app.services.stock.recipes import thing_of


def days_to_have(found: Needs, offer: Offer, item: StockSheet | Material, on: date) -> int:
    """Days until what an offer gives is here; of the shop's own, until it is made."""
    if not is_own(offer):
        return offer.lead_days
    return _days_to_make(found, found.recipes[item_key(item)], on)


def _days_to_make(found: Needs, recipe: Recipe, on: date) -> int:
    return recipe.days + max((_days_for(found, part, on) for part in recipe.parts), default=0)


def _days_for(found: Needs, part: RecipePart, on: date) -> int:
    """Until a part is here: at once where there is enough of it for one time."""
    thing = thing_of(part)
    if isinstance(thing, Paper):
        if any(found.there(item_key(sheet)) > 0 for sheet in thing.sheets):
            return 0
        return min(_leads(found, (s for s in thing.sheets if not s.retired), on), default=0)
    if found.there(item_key(thing)) >= part.quantity:
        return 0
    return min(_leads(found, (thing,), on), default=0)


def _leads(found: Needs, items: Iterable[StockSheet | Material], on: date) -> Iterable[int]:
    for item in items:
        yield from (offer.lead_days for offer in offers_in_force(item.offers, on))
        recipe = found.recipes.get(item_key(item))
        if recipe is not None and item_key(item) in found.own:
            yield _days_to_make(found, recipe, on)
