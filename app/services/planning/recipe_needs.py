"""What so many times a recipe take: minutes, pieces of papers, and materials with their waste."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from app.core.costing import standard_time
from app.core.planning.making import Way
from app.core.planning.requirements import Demand
from app.language import say
from app.models import Material, Paper, Recipe, RecipePart, Shop
from app.services.planning.requirements import PieceNeed
from app.services.shop.settings import rates
from app.services.stock.ledger import item_key
from app.services.stock.recipes import piece_of, thing_of, way_of


def minutes_for(recipe: Recipe, times: int, shop: Shop) -> Fraction:
    """Standard minutes for so many times, set up for once."""
    normal = Fraction(recipe.setup_minutes) + times * Fraction(recipe.minutes)
    return standard_time(normal, rates(shop).allowance)


def taken_by(
    recipe: Recipe, times: int, by: date, name: str
) -> tuple[list[PieceNeed], list[tuple[Material, Demand]]]:
    """What so many times take: pieces of papers, and materials with their waste."""
    reason, link = say("{name}, made here", name=name), item_key(recipe.item)
    pieces: list[PieceNeed] = []
    goods: list[tuple[Material, Demand]] = []
    way: Way = way_of(recipe)
    for part in recipe.parts:
        thing, amount = thing_of(part), way.parts[str(part.position)] * times
        if isinstance(thing, Paper):
            pieces.append(_pieces(part, thing, amount, by, (reason, link)))
        else:
            exact = amount * (1 + Fraction(thing.waste))
            many = int(-(-exact // 1))
            goods.append((thing, Demand(item_key(thing), many, by, reason, link)))
    return pieces, goods


def _pieces(
    part: RecipePart, paper: Paper, count: int, by: date, why: tuple[str, str]
) -> PieceNeed:
    piece = piece_of(part)
    key = f"paper-{paper.id}/{piece.width_nm}x{piece.height_nm}/{piece.grain}"
    demand = Demand(key, count, by, *why)
    return PieceNeed(key, paper, piece, (why[0],), (demand,))
