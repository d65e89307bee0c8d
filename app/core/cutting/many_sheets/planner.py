"""A whole list over several sizes of sheet, for the least money: the batch planner.

Column generation (Gilmore and Gomory, Oper. Res. 9, 1961, and 13, 1965): a linear program over
the layouts known says what one more piece of each kind is worth; the layout of each sheet that
holds most of that worth is found, and if it is worth more than its sheet, it is added. When no
layout is, the program's value is the least any plan can cost; before that, the worths scaled
down until no layout exceeds its sheet give a bound as well (Farley, Oper. Res. 38, 1990).

Whole numbers come from :mod:`residual_heuristic` and from an integer program over the layouts
found. :mod:`phases` has the order of it all. Work is counted, so a question has one answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.effort import Effort, Progress, Work
from app.core.cutting.many_sheets.integer_master import Chosen
from app.core.cutting.many_sheets.phases import PHASES
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.many_sheets.search import Search
from app.core.cutting.many_sheets.warm_start import KnownLayout, begun_from
from app.core.cutting.model import (
    TOO_FEW,
    Break,
    NoPlanError,
    SheetOffer,
    Wanted,
    WorkDoneError,
)
from app.core.cutting.tree import Layout
from app.language import say, to_say

GRIDS_STEPS = 100_000
"""Work to see that no plan by plain grids is better."""
NOT_FOUND = to_say("No plan was found with this effort; there may be one.")
CLOSE_MONEY = 0.01
"""Money that floats may be astray by, in minor units."""
WORTH_STEPS = 100
"""Worths of sheets here are weighed to a hundredth of a minor unit."""


def plan_batch(
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    cutter: Cutter = KNIFE,
    effort: Effort | int = Effort.NORMAL,
    progress: Progress | None = None,
    known: Sequence[KnownLayout] = (),
    seconds: float | None = None,
) -> BatchPlan:
    """The cheapest plan that so much effort finds for cutting exactly what is wanted.

    Of plans for the same money it is the one found that cuts up the least worth of sheets. It
    costs no more than what ``known`` layouts, of an earlier plan for the same cutter, give.
    ``effort`` may be a number of steps; ``seconds`` is an emergency stop. Raises
    :class:`NoPlanError` where a piece fits nowhere or the limits cannot be kept, and
    :class:`WorkDoneError` where no plan was found.
    """
    wanted = [w for w in wanted if w.count > 0]
    if not wanted:
        return BatchPlan((), (), 0)
    work = Work.of(effort, len(wanted), progress, seconds)
    search = Search(wanted, offers, cutter, work)
    search.look_at_each_alone(exactly=not search.several)
    return _no_worse_than_grids(search, _planned(search, known))


def plan_apart(
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    cutter: Cutter = KNIFE,
    effort: Effort | int = Effort.NORMAL,
    progress: Progress | None = None,
    *,
    grids: bool = False,
) -> BatchPlan:
    """The cheapest plan that keeps kinds of pieces apart, each on sheets of its own.

    With ``grids`` every kind is cut in plain rows, as it would be done without a plan. Raises
    :class:`NoPlanError` as :func:`plan_batch` does.
    """
    wanted = [w for w in wanted if w.count > 0]
    if not wanted:
        return BatchPlan((), (), 0)
    search = Search(wanted, offers, cutter, Work.of(effort, len(wanted), progress))
    search.look_at_each_alone(exactly=not grids)
    if search.work.told_to_stop(say("cutting kinds apart")):
        # Who stops it at once wants some plan even so.
        found = search.choose_apart(GRIDS_STEPS, Work(GRIDS_STEPS))
    else:
        found = search.choose_apart(search.work.most)
    if found.best is None:
        raise NoPlanError(say(TOO_FEW)) if found.impossible else WorkDoneError(say(NOT_FOUND))
    return search.plan(found.best)


def plan_as_known(
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    cutter: Cutter,
    known: Sequence[KnownLayout],
) -> BatchPlan | None:
    """The plan by layouts of an earlier one as far as they are wanted, if they do."""
    wanted = [w for w in wanted if w.count > 0]
    search = Search(wanted, offers, cutter, Work.of(Effort.LIVE, len(wanted)))
    search.look_at_each_alone()
    found = begun_from(known, search.pool)
    return search.plan(found) if found is not None else None


def _planned(search: Search, known: Sequence[KnownLayout]) -> BatchPlan:
    """A plan for a list each of whose kinds was looked at alone."""
    earlier = begun_from(known, search.pool)
    if search.several:
        search.take(earlier)
    for phase in PHASES:
        if search.several and not search.buys and search.best is not None:
            return _least_stock(search, search.best)
        if search.done:
            break
        phase.act(search)
    # One kind alone is chosen for best, unless there is too little work to choose it well.
    search.take(earlier)
    if search.best is None and search.work.cut_short:
        # Who stops it at once wants some plan even so.
        search.take(search.choose_apart(GRIDS_STEPS, Work(GRIDS_STEPS)).best)
    if search.best is None:
        raise WorkDoneError(say(NOT_FOUND))
    return search.plan(search.best)


def _least_stock(search: Search, best: Chosen) -> BatchPlan:
    """Where nothing has to be bought: the plan that takes least worth from what is here.

    The sheets here are planned as if they were to be bought, no more of them than there are.
    """
    known = []
    for column, repeats in best.repeats:
        sheet = search.supplies[column.sheet].sheet
        layout = Layout(sheet.width_nm, sheet.height_nm, sheet.trim_nm, column.tree)
        known.append(KnownLayout(layout, repeats))
    # A sheet more weighs a little, so that of two plans of one worth the one with fewer wins.
    as_sold = [
        SheetOffer(
            o.key, o.sheet, 1, (Break(1, round(o.value * WORTH_STEPS) + 1),),
            limit=o.on_hand, value=o.value,
        )
        for o in search.offers
        if o.on_hand
    ]  # fmt: skip
    inner = Search(search.wanted, as_sold, search.cutter, search.work)
    inner.look_at_each_alone(exactly=not inner.several)
    plan = _planned(inner, known)
    here = {supply.sheet: supply for supply in search.supplies}
    uses = tuple(replace(use, supply=here[use.supply.sheet]) for use in plan.uses)
    return replace(plan, uses=uses, bought=(), bound=0)


def _no_worse_than_grids(search: Search, plan: BatchPlan) -> BatchPlan:
    """The plan, or the one by plain grids where that takes less worth for the same money."""
    if not search.several or search.least_apart > plan.spend + CLOSE_MONEY:
        return plan
    found = search.choose_apart(GRIDS_STEPS, most=plan.spend).best
    if found is None:
        return plan
    grids = search.plan(found)
    by_money_then_worth = (grids.spend, grids.worth_cut(search.offers))
    if by_money_then_worth >= (plan.spend, plan.worth_cut(search.offers)):
        return plan
    return replace(plan, uses=grids.uses, bought=grids.bought)
