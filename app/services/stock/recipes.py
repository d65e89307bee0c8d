"""How the shop makes things for itself: recipes, refused where a thing would be made of itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from app.core.errors import DomainError
from app.core.paper import Piece
from app.core.planning.making import CircleError, Way, consumers_first
from app.language import say
from app.models import Material, Offer, Paper, Recipe, RecipePart, Shop, StockSheet
from app.services.shop.settings import CHANGED, StaleError, check_version
from app.services.stock.ledger import item_key

MOST_PARTS = 8
MOST_LOSS = Decimal("0.9")
OFFERED = (selectinload(Offer.breaks), joinedload(Offer.supplier))


@dataclass(frozen=True)
class Taken:
    """What one time of a recipe takes: so much of a material, or pieces of a paper."""

    thing: Paper | Material
    quantity: int
    width_nm: int | None = None
    height_nm: int | None = None
    grain: str | None = None


def node_of(thing: Paper | StockSheet | Material) -> str:
    """What a thing is known by among recipes: all sheets of a paper are one."""
    if isinstance(thing, Material):
        return item_key(thing)
    return f"paper-{thing.paper_id if isinstance(thing, StockSheet) else thing.id}"


def recipes(session: Session) -> dict[str, Recipe]:
    """Every recipe by the key of what it makes, with all that its cost hangs on."""
    sheets = selectinload(Paper.sheets).selectinload(StockSheet.offers).options(*OFFERED)
    query = select(Recipe).options(
        joinedload(Recipe.stock_sheet).joinedload(StockSheet.paper),
        joinedload(Recipe.material),
        selectinload(Recipe.parts).options(
            joinedload(RecipePart.paper).options(sheets),
            joinedload(RecipePart.material).selectinload(Material.offers).options(*OFFERED),
        ),
    )
    return {item_key(recipe.item): recipe for recipe in session.scalars(query)}


def recipe_of(session: Session, item: StockSheet | Material) -> Recipe | None:
    """How a thing is made here; None where it is bought."""
    column = Recipe.stock_sheet_id if isinstance(item, StockSheet) else Recipe.material_id
    return session.scalar(select(Recipe).where(column == item.id))


def save_recipe(
    session: Session,
    item: StockSheet | Material,
    parts: Sequence[Taken],
    *,
    makes: int,
    setup_minutes: Decimal = Decimal(0),
    minutes: Decimal = Decimal(0),
    days: int = 0,
    loss: Decimal = Decimal(0),
    version: int | None = None,
) -> Recipe:
    """Keep how a thing is made; raises DomainError at the part that leads back to it.

    ``version`` is that of the recipe the form was opened with, 0 where there was none.
    """
    if makes < 1:
        raise DomainError(say("Say how much one time makes: more than nothing."), "makes")
    if not 0 <= loss <= MOST_LOSS:
        raise DomainError(say("Between 0 and {most}%.", most=f"{MOST_LOSS * 100:.0f}"), "loss")
    if not parts:
        raise DomainError(say("Say what it is made of."), "parts-0-thing")
    # One at a time: two that are fine alone may make a circle together.
    session.execute(select(Shop.id).with_for_update())
    _no_circle(session, item, parts)
    recipe = recipe_of(session, item)
    if (recipe is None) != (not version) and version is not None:
        raise StaleError(say(CHANGED))
    if recipe is None:
        recipe = Recipe()
        if isinstance(item, StockSheet):
            recipe.stock_sheet = item
        else:
            recipe.material = item
        session.add(recipe)
    else:
        check_version(recipe, version)
    recipe.makes, recipe.loss, recipe.days = makes, loss, days
    recipe.setup_minutes, recipe.minutes = setup_minutes, minutes
    recipe.parts.clear()
    session.flush()
    recipe.parts += [_part(position, part) for position, part in enumerate(parts)]
    session.flush()
    return recipe


def _part(position: int, taken: Taken) -> RecipePart:
    is_paper = isinstance(taken.thing, Paper)
    return RecipePart(
        position=position, quantity=taken.quantity, width_nm=taken.width_nm,
        height_nm=taken.height_nm, grain=taken.grain,
        paper=taken.thing if is_paper else None, material=None if is_paper else taken.thing,
    )  # fmt: skip


def remove_recipe(session: Session, recipe: Recipe, version: int | None = None) -> None:
    """It is bought from now on; what was made stays, with what it cost."""
    check_version(recipe, version)
    session.delete(recipe)
    session.flush()


def _no_circle(session: Session, item: StockSheet | Material, parts: Sequence[Taken]) -> None:
    known = recipes(session)
    known.pop(item_key(item), None)
    names = {node_of(recipe.item): name_of(recipe.item) for recipe in known.values()}
    names[node_of(item)] = name_of(item)
    for number in range(len(parts)):
        takes = ways(known.values())
        mine = dict.fromkeys((node_of(part.thing) for part in parts[: number + 1]), 1)
        before = takes.get(node_of(item), Way(1, {}))
        takes[node_of(item)] = Way(1, {**before.parts, **mine})
        try:
            consumers_first(takes)
        except CircleError as error:
            said = CircleError([names[node] for node in error.way])
            raise DomainError(said.message, f"parts-{number}-thing") from error


def ways(known: Iterable[Recipe]) -> dict[str, Way]:
    """What each thing made here is made of, by nodes; all sheets of a paper together."""
    found: dict[str, Way] = {}
    for recipe in known:
        node = node_of(recipe.item)
        before = found.get(node, Way(1, {}))
        mine = {node_of(thing_of(part)): 1 for part in recipe.parts}
        found[node] = Way(1, {**before.parts, **mine})
    return found


def way_of(recipe: Recipe) -> Way:
    """How one thing is made, as the planning core has it; its parts by their position."""
    return Way(
        recipe.makes, {str(part.position): part.quantity for part in recipe.parts},
        Fraction(recipe.loss), recipe.days,
    )  # fmt: skip


def thing_of(part: RecipePart) -> Paper | Material:
    """What a part is of."""
    thing = part.paper or part.material
    if thing is None:
        raise AssertionError("a part of a recipe is of something")
    return thing


def piece_of(part: RecipePart) -> Piece:
    """The pieces that one time takes of a paper."""
    if part.width_nm is None or part.height_nm is None:
        raise AssertionError("only papers are cut to pieces")
    return Piece("piece", part.width_nm, part.height_nm, part.quantity, part.grain)


def made_with(session: Session, item: StockSheet | Material) -> list[Recipe]:
    """The recipes that take a thing, or what is cut of its paper."""
    node = node_of(item)
    return [
        recipe
        for recipe in recipes(session).values()
        if any(node_of(thing_of(part)) == node for part in recipe.parts)
    ]


def name_of(item: StockSheet | Material) -> str:
    """What a thing is called among recipes."""
    return item.paper.name if isinstance(item, StockSheet) else item.name


def order_of(known: Mapping[str, Recipe]) -> list[str]:
    """Nodes of things made here, each after all that is made of it.

    None where they lie in a circle, which nothing here makes: then each is bought, and the check
    of the books names it.
    """
    try:
        return consumers_first(ways(known.values()))
    except CircleError:
        return []
