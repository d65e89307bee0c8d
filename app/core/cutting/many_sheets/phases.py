"""The planner's phases, in the order they are taken: one table, each with its source.

Every phase looks at what is known and may make the best plan better, raise the bound, or say
that the search is done. Shares are of the plan's whole work. ``tests/bench`` leaves each one out
in turn and prints what it wins.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from app.core.cutting.many_sheets.columns import (
    BlockPricers,
    CountedPricers,
    PlainPricers,
    SheetPricers,
)
from app.core.cutting.many_sheets.residual_heuristic import plainly_apart
from app.core.cutting.many_sheets.search import Search
from app.core.cutting.model import TOO_FEW, NoPlanError
from app.language import say

COARSE_POINTS, MANY_STATES, FEW_POINTS = 120, 120_000, 60
"""Where a round looks at many rectangles, coarser sizes find the first layouts quicker."""
HURRY_STEPS = 300_000
MOST_ROUNDINGS = 40


def block_layouts(search: Search) -> None:
    """Layouts of four plain grids: near the best, and found at once."""
    if not (search.several and search.buys and BlockPricers.suit(search.pool)):
        return
    blocks = search.quick = search.blocks = BlockPricers(search.pool)
    search.duals = search.generation.run(blocks, until=0.3)
    if search.short_runs:
        plainly = search.rounder(PlainPricers(search.pool), careful=False)
        search.round(plainly, range(2), until=0.45)
    search.round(search.rounder(blocks, careful=False), range(4), until=0.45)


def kinds_apart(search: Search) -> None:
    """Each kind on sheets of its own: with one kind exact, with several a sound place to start."""
    if search.best is not None and not (search.buys and search.work.used() < 0.1):
        return
    search.take(plainly_apart(search.pool))
    found = search.choose_apart(search.work.most // 10 if search.several else search.work.most)
    if found.impossible and not search.several:
        raise NoPlanError(say(TOO_FEW))
    search.take(found.best, at_equal_money=True)
    exact = all(cut.exact for cut in search.yields.values())
    if found.proved and exact and not search.several and search.best is not None:
        search.bound.value = float(search.best.spend)
        search.done = True


def counted_layouts(search: Search) -> None:
    """Layouts that repeat no kind too often, where most kinds are wanted for less than a sheet."""
    if search.best is None or not search.short_runs:
        return
    few = CountedPricers(search.pool, FEW_POINTS)
    if few.serve:
        search.quick = few
        search.duals = search.generation.run(few, until=0.15)
        search.round(search.rounder(few), range(8), until=0.3)
        search.choose(until=0.3)


def coarse_layouts(search: Search) -> None:
    """The exact search over sizes rounded up, where there are too many places to cut."""
    if search.quick is None and search.exact.states > MANY_STATES:
        search.quick = SheetPricers(search.pool, COARSE_POINTS)
        search.duals = search.generation.run(search.quick, until=0.35)


def exact_layouts(search: Search) -> None:
    """The best layout of every sheet at the worths, until none makes the program gain."""
    if search.quick is None or search.exact.states <= MANY_STATES:
        search.quick = search.quick if isinstance(search.quick, CountedPricers) else search.exact
    search.duals = search.generation.run(search.exact, until=0.5)
    short = search.best is None and search.generation.converged
    if short and search.master.short() > 1e-6:
        raise NoPlanError(say(TOO_FEW))


def quick_rounding(search: Search) -> None:
    """A better plan soon, before any work goes into the bound and into careful rounding."""
    if search.blocks is None or search.work.used() > 0.7:
        return
    search.round(search.rounder(search.blocks, careful=False), range(4), until=0.7)
    soon = (search.work.done + HURRY_STEPS) / search.work.most
    search.choose(until=min(0.7, soon))


def dual_bound(search: Search) -> None:
    """What no plan can undercut, from the worths."""
    if search.duals is not None:
        search.bound.raise_by(search.exact, search.duals)


def residual_rounding(search: Search) -> None:
    """The linear plan rounded, and what is left cut sheet by sheet; then the best of all known."""
    search.round(search.rounder(search.quick or search.exact), range(MOST_ROUNDINGS), until=0.78)
    search.choose(until=0.93)


@dataclass(frozen=True)
class Phase:
    """A part of the search with where its idea is from."""

    act: Callable[[Search], None]
    source: str

    @property
    def name(self) -> str:
        """What it is called in tables."""
        return self.act.__name__.replace("_", " ")


COLUMN_GENERATION = "Gilmore and Gomory, Oper. Res. 9 (1961) and 13 (1965)"
PHASES = (
    Phase(block_layouts, f"{COLUMN_GENERATION}, over four blocks of plain grids"),
    Phase(kinds_apart, "an integer program over layouts of one kind"),
    Phase(counted_layouts, "a state-space restriction, see one_sheet/counting.py"),
    Phase(coarse_layouts, f"{COLUMN_GENERATION}, sizes rounded up"),
    Phase(exact_layouts, f"{COLUMN_GENERATION}; smoothed, Wentges, ITOR 4 (1997)"),
    Phase(quick_rounding, "rounding and the restricted master, within few steps"),
    Phase(dual_bound, "Farley, Oper. Res. 38 (1990)"),
    Phase(residual_rounding, "a residual heuristic: Waescher and Gau, OR Spektrum 18 (1996)"),
)
