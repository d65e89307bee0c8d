"""Sheets and materials made in a batch for the shop itself: begun by a recipe, put into the stock.

What is lost as a rule is part of the cost of the good ones; what is lost beyond that is abnormal
waste and stands apart (IAS 2).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from fractions import Fraction

from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.money import half_up, share_out
from app.core.states import BATCH_STATES, BatchState, MovementKind, check_step
from app.language import say
from app.models import Batch, GoodsLine, Material, Recipe, StockSheet
from app.services.bench import batches, finishing
from app.services.bench.batch_supply import ShortError, Taking, supplied
from app.services.bench.materials import materials_cost
from app.services.planning.recipe_needs import minutes_for, taken_by
from app.services.planning.requirements import batch_needs
from app.services.shop.settings import next_number, the_shop
from app.services.stock import ledger as stock
from app.services.stock.recipes import name_of, recipe_of, way_of

MOST_TIMES = 100_000


def begin_goods(session: Session, recipe: Recipe, times: int, on: date) -> Batch:
    """Begin so many times a recipe: what it takes leaves the stock for the batch.

    Raises ShortError, with everything that is short, where not all is here.
    """
    if not 1 <= times <= MOST_TIMES:
        raise DomainError(say("Between 1 and {most} times.", most=MOST_TIMES), "times")
    if not way_of(recipe).good_of(times):
        raise DomainError(say("With what is lost not one whole one would come of it."), "times")
    taking = _all_of_it(session, recipe, times, on)
    item = recipe.item
    batch = Batch(
        number=next_number(session, "batch"), state=BatchState.IN_PROGRESS, note="", name=""
    )
    batch.goods = [
        GoodsLine(
            stock_sheet=item if isinstance(item, StockSheet) else None,
            material=item if isinstance(item, Material) else None,
            name=name_of(item), times=times, good=0,
        )
    ]  # fmt: skip
    _as_it_is_made(session, batch.goods[0], recipe)
    session.add(batch)
    session.flush()
    batches.issue(session, batch, taking, on)
    return batch


def _as_it_is_made(session: Session, line: GoodsLine, recipe: Recipe) -> None:
    """What a line gives, how long it takes and works, by the recipe as it is now."""
    line.begun = line.times * recipe.makes
    line.expected, line.days = way_of(recipe).good_of(line.times), recipe.days
    line.minutes = half_up(minutes_for(recipe, line.times, the_shop(session)), Decimal("0.1"))


def what_goods_take(session: Session, recipe: Recipe, times: int, on: date) -> Taking:
    """What so many times a recipe take, and what of it is short; nothing is written down."""
    found = batch_needs(session, on, {})
    pieces, goods = taken_by(recipe, times, on, name_of(recipe.item))
    return supplied(session, found.with_more(pieces, goods), on)


def _all_of_it(session: Session, recipe: Recipe, times: int, on: date) -> Taking:
    taking = what_goods_take(session, recipe, times, on)
    if not taking.feasible:
        raise ShortError(taking.shorts, taking.problems)
    return taking


def resume_goods(session: Session, batch: Batch, on: date) -> None:
    """Undo a cancellation: it takes what its recipe takes now, if that is here."""
    batches.hold(session, batch)
    check_step(BATCH_STATES, batch.state, BatchState.IN_PROGRESS, "batch")
    [line] = batch.goods
    recipe = recipe_of(session, line.item)
    if recipe is None:
        raise DomainError(
            say("There is no recipe for {thing} any more: it is bought.", thing=line.name)
        )
    taking = _all_of_it(session, recipe, line.times, on)
    _as_it_is_made(session, line, recipe)
    batch.state = BatchState.IN_PROGRESS
    batches.issue(session, batch, taking, on)


def finish_goods(
    session: Session,
    batch: Batch,
    good: Mapping[int, int],
    minutes: Decimal,
    on: date,
    *,
    all_lost: bool = False,
) -> finishing.BatchCost:
    """What came out, in base units by line, goes into the stock at what it cost.

    Nothing at all is taken for a mistake unless it is said that all of it was lost.
    """
    batches.hold(session, batch)
    check_step(BATCH_STATES, batch.state, BatchState.MADE, "batch")
    work = finishing.work_cost(session, minutes)
    [line] = batch.goods
    came = good.get(line.id, line.expected)
    if not 0 <= came <= line.begun:
        raise DomainError(say("No more can come out than was begun with."), f"good_{line.id}")
    if not came and not all_lost:
        raise DomainError(
            say("Did nothing come out? Tick that all of it was lost, or cancel the batch."),
            f"good_{line.id}",
        )
    materials = materials_cost(session, batch)
    beyond = max(line.expected - came, 0)
    made, spoiled = share_out(materials + work, [Fraction(came), Fraction(beyond)], stock.STEP)
    line.good = came
    if came:
        stock.receive(
            session, line.item, came, made, on, kind=MovementKind.MADE,
            note=say("Batch {number}", number=batch.number), batch_id=batch.id,
        )  # fmt: skip
    batch.state, batch.minutes = BatchState.MADE, minutes
    batch.work_cost, batch.spoiled_cost = work, spoiled
    session.flush()
    return finishing.BatchCost(materials, minutes, work, made, spoiled)
