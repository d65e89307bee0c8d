"""A whole batch over several sizes of sheet, for the least money: the batch planner.

Column generation (Gilmore and Gomory, Oper. Res. 9, 1961, and 13, 1965): a linear program over
the layouts known says what one more piece of each kind is worth; the layout of each sheet that
holds most of that worth is found, and if it is worth more than its sheet, it is added. When no
layout is, the program's value is the least any plan can cost; before that, the worths scaled
down until no layout exceeds its sheet give a bound as well (Farley, Oper. Res. 38, 1990).

Whole numbers come from :mod:`residual_heuristic` and from an integer program over the layouts
found. Every step looks at the clock; the best plan so far is always at hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

import numpy as np

from app.core.cutting.clock import Clock, Progress
from app.core.cutting.cut_sequence import tidied
from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.many_sheets.column_generation import Generation
from app.core.cutting.many_sheets.columns import (
    BlockPricers,
    CountedPricers,
    PlainPricers,
    Pool,
    Pricers,
    SheetPricers,
)
from app.core.cutting.many_sheets.dual_bound import Bound
from app.core.cutting.many_sheets.residual_heuristic import DOING, Rounder, needed
from app.core.cutting.many_sheets.restricted_master import (
    Chosen,
    Column,
    Duals,
    Supply,
    choose,
    supplies,
)
from app.core.cutting.many_sheets.surplus import Sheets, without_too_many
from app.core.cutting.many_sheets.warm_start import KnownLayout, begun_from
from app.core.cutting.model import (
    TOO_FEW,
    Break,
    Buy,
    CoverPlan,
    NoPlanError,
    OutOfTimeError,
    SheetOffer,
    Wanted,
    check_enough,
    check_wanted,
    plan_cover,
    worth_of,
)
from app.core.cutting.one_sheet.limits import Kind
from app.core.cutting.one_sheet.yields import Yield, yield_of
from app.core.cutting.tree import Layout
from app.core.paper import Sheet

MOST_ROUNDINGS, IN_VAIN = 40, 8
COARSE_POINTS, MANY_STATES = 120, 120_000
COUNTED_POINTS, FEW_POINTS = 120, 60
SHORT_UNTIL, SHORT_ROUNDED, SHORT_ROUNDINGS, PLAIN_ROUNDINGS = 0.15, 0.3, 8, 2
"""Where a round looks at many rectangles, coarser sizes find the first layouts quicker."""
COARSE_UNTIL, EXACT_UNTIL, ROUND_UNTIL, CHOOSE_UNTIL = 0.35, 0.5, 0.78, 0.93
BLOCKS_UNTIL, BLOCK_ROUNDINGS, APART_UNTIL, BLOCKS_ONLY = 0.3, 4, 0.1, 0.45
"""Blocks come first; where they took a good part of the time there is none for more."""
HURRY_UNTIL, HURRY_SECONDS, LEAST_TO_CHOOSE = 0.7, 0.3, 0.01
"""Seconds that an integer program is worth starting for."""
GRIDS_SHARE = 0.1
"""Of the time, to see that no plan by plain grids is better."""
WORTH_STEPS = 100
"""Worths of sheets here are weighed to a hundredth of a minor unit."""
AGAIN_UNTIL, CLOSE = 0.6, 1.005
"""With time left and the bound not close, once more from other roundings."""


@dataclass(frozen=True)
class LayoutUse:
    """A layout cut ``repeats`` times, with the pieces of each kind it gives."""

    layout: Layout
    supply: Supply
    counts: dict[str, int]
    repeats: int


@dataclass(frozen=True)
class BatchPlan:
    """What to cut and to buy; ``bound`` is what no plan can undercut, in minor units."""

    uses: tuple[LayoutUse, ...]
    bought: tuple[Buy, ...]
    bound: int
    seconds: float
    rounds: int = field(default=0)
    stopped: bool = field(default=False)

    @property
    def spend(self) -> int:
        """Money for the packs."""
        return sum(row.cost for row in self.bought)

    @property
    def proved(self) -> bool:
        """Whether no plan costs less."""
        return self.spend <= self.bound

    @property
    def sheets(self) -> int:
        """Sheets cut."""
        return sum(use.repeats for use in self.uses)

    def worth_cut(self, offers: Sequence[SheetOffer]) -> Fraction:
        """What the sheets it cuts are worth, in minor units: those on hand first, then bought."""
        cut: dict[Sheet, int] = {}
        for use in self.uses:
            cut[use.supply.sheet] = cut.get(use.supply.sheet, 0) + use.repeats
        return worth_of(cut, {buy.offer.key: buy.sheets for buy in self.bought}, offers)


def plan_batch(
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    cutter: Cutter = KNIFE,
    seconds: float = 5.0,
    progress: Progress | None = None,
    known: Sequence[KnownLayout] = (),
) -> BatchPlan:
    """The cheapest plan found in the time for cutting exactly what is wanted.

    Of plans for the same money it is the one found that cuts up the least worth of sheets. It
    costs no more than what ``known`` layouts, of an earlier plan for the same cutter, give.
    Raises :class:`NoPlanError` where a piece fits nowhere or the limits cannot be kept.
    """
    wanted = [w for w in wanted if w.count > 0]
    if not wanted:
        return BatchPlan((), (), 0, 0.0)
    planner = _Planner(wanted, offers, cutter, Clock(seconds, progress))
    return planner.no_worse_than_apart(planner.run(known))


def plan_apart(
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    cutter: Cutter = KNIFE,
    seconds: float = 5.0,
    *,
    grids: bool = False,
) -> BatchPlan:
    """The cheapest plan that keeps kinds of pieces apart, each on sheets of its own.

    With ``grids`` every kind is cut in plain rows, as it would be done without a plan. Raises
    :class:`NoPlanError` as :func:`plan_batch` does.
    """
    wanted = [w for w in wanted if w.count > 0]
    if not wanted:
        return BatchPlan((), (), 0, 0.0)
    return _Planner(wanted, offers, cutter, Clock(seconds)).run_apart(grids=grids)


class _Planner:
    def __init__(
        self,
        wanted: Sequence[Wanted],
        offers: Sequence[SheetOffer],
        cutter: Cutter,
        clock: Clock,
    ) -> None:
        self.wanted, self.offers, self.cutter, self.clock = wanted, offers, cutter, clock
        self.several = len(wanted) > 1
        self.counts = np.array([w.count for w in wanted])
        self.supplies = supplies(offers)
        self.pool = Pool(wanted, self.supplies, cutter)
        self.master = self.pool.master
        self.blocks: BlockPricers | None = None
        self.bound = Bound(self.pool)
        self.generation = Generation(self.pool, self.clock)
        self.yields: dict[tuple[str, str], Yield] = {}

    @cached_property
    def counted(self) -> CountedPricers:
        """For the last sheets, where limits matter."""
        return CountedPricers(self.pool, COUNTED_POINTS, self.clock)

    @property
    def short_runs(self) -> bool:
        """Whether most of what is wanted is of kinds of which a sheet could hold more."""
        sizes = [supply.sheet.usable for supply in self.supplies]
        largest = max(width * height * 1e-12 for width, height in sizes)
        whole = self.pool.areas * self.counts
        few = self.counts < largest // self.pool.areas
        return bool(whole[few].sum() > whole.sum() / 2)

    def no_worse_than_apart(self, plan: BatchPlan) -> BatchPlan:
        """The plan, or the one by plain grids where that takes less worth for the same money."""
        if not self.several:
            return plan
        try:
            seconds = max(self.clock.seconds * GRIDS_SHARE, LEAST_TO_CHOOSE)
            cover = plan_cover(self.wanted, self.offers, self.cutter, self.yields, seconds)
        except NoPlanError:
            return plan
        if cover.spend > plan.spend:
            return plan
        grids = self._plan(self._as_chosen(cover))
        by_money_then_worth = (grids.spend, grids.worth_cut(self.offers))
        if by_money_then_worth >= (plan.spend, plan.worth_cut(self.offers)):
            return plan
        return replace(plan, uses=grids.uses, bought=grids.bought)

    def run_apart(self, *, grids: bool = False) -> BatchPlan:
        """Each kind on sheets of its own."""
        rows = {
            (w.key, offer.key): yield_of(w.piece, offer.sheet, self.cutter, quick=True)
            for w in self.wanted
            for offer in self.offers if grids
        }  # fmt: skip
        plan = plan_cover(self.wanted, self.offers, self.cutter, rows, self.clock.seconds)
        return self._plan(self._as_chosen(plan))

    def run(self, known: Sequence[KnownLayout] = ()) -> BatchPlan:
        """A plan from blocks, then better layouts, a bound, rounding, whole numbers."""
        yields = self.yields = self._alone()
        best = begun_from(known, self.pool) if self.several else None
        if best is None or best.spend > 0:
            best = self._in_blocks(best)
        if best is None or (best.spend > 0 and self.clock.used() < APART_UNTIL):
            best, proved = self._apart(yields, best)
            if proved and best is not None:
                self.bound.value = float(best.spend)
                return self._plan(best)
        if self.several and best is not None and best.spend == 0:
            return self._least_stock(best)
        if best is not None and self.clock.used() > BLOCKS_ONLY:
            return self._plan(self._choose(best) or best)
        return self._plan(self._with_better_layouts(best))

    def _least_stock(self, best: Chosen) -> BatchPlan:
        """Where nothing has to be bought: the plan that takes least worth from what is here.

        The sheets here are planned as if they were to be bought, no more of them than there are.
        """
        known = []
        for column, repeats in best.repeats:
            sheet = self.supplies[column.sheet].sheet
            layout = Layout(sheet.width_nm, sheet.height_nm, sheet.trim_nm, column.tree)
            known.append(KnownLayout(layout, repeats))
        # A sheet more weighs a little, so that of two plans of one worth the one with fewer wins.
        as_sold = [
            SheetOffer(
                o.key, o.sheet, 1, (Break(1, round(o.value * WORTH_STEPS) + 1),),
                limit=o.on_hand, value=o.value,
            )
            for o in self.offers
            if o.on_hand
        ]  # fmt: skip
        plan = _Planner(self.wanted, as_sold, self.cutter, self.clock).run(known)
        here = {supply.sheet: supply for supply in self.supplies}
        uses = tuple(replace(use, supply=here[use.supply.sheet]) for use in plan.uses)
        return replace(plan, uses=uses, bought=(), bound=0)

    def _with_better_layouts(self, best: Chosen | None) -> Chosen:
        """The best plan that layouts of any kind give in the time left."""
        exact = SheetPricers(self.pool, None)
        quick: Pricers = exact
        # Where not even the sheets may be enough, that is found out first.
        short = best is not None and self.short_runs
        if short and (few := CountedPricers(self.pool, FEW_POINTS, self.clock)).serve:
            quick = few
            best = self._in_short_runs(few, best)
        elif exact.states > MANY_STATES and self.blocks:
            quick = self.blocks
        elif exact.states > MANY_STATES:
            quick = SheetPricers(self.pool, COARSE_POINTS)
            self.generation.run(quick, COARSE_UNTIL)
        duals = self.generation.run(exact, EXACT_UNTIL)
        if best is None and self.generation.converged and self.master.short() > 1e-6:
            raise NoPlanError(TOO_FEW)
        best = self._hurried(duals, best)
        self.bound.raise_by(exact, duals, self.clock)
        rounder = Rounder(self.pool, quick, duals, self.clock, self.counted)
        best = self._choose(self._round(rounder, best, range(MOST_ROUNDINGS)))
        if not self._close_to_the_bound(best) and self.clock.used() < AGAIN_UNTIL:
            rounder = Rounder(self.pool, quick, duals, self.clock, self.counted)
            again = range(MOST_ROUNDINGS, 2 * MOST_ROUNDINGS)
            best = self._choose(self._round(rounder, best, again))
        return best or self._search_on(quick, duals)

    def _in_short_runs(self, few: CountedPricers, best: Chosen | None) -> Chosen | None:
        """A better plan where layouts must not repeat a kind too often."""
        duals = self.generation.run(few, SHORT_UNTIL)
        rounder = Rounder(self.pool, few, duals, self.clock, self.counted)
        best = self._round(rounder, best, range(SHORT_ROUNDINGS), SHORT_ROUNDED)
        return self._choose(best, SHORT_ROUNDED)

    def _search_on(self, quick: Pricers, duals: Duals) -> Chosen:
        """Where limits are tight, other roundings as long as there is time."""
        first = 2 * MOST_ROUNDINGS
        while not self.clock.told_to_stop(DOING):
            rounder = Rounder(self.pool, quick, duals, self.clock, self.counted)
            numbers = range(first, first + MOST_ROUNDINGS)
            best = self._choose(self._round(rounder, None, numbers))
            if best is not None:
                return best
            first += MOST_ROUNDINGS
        raise OutOfTimeError("No plan was found in the time allowed; there may be one.")

    def _close_to_the_bound(self, best: Chosen | None) -> bool:
        return best is not None and best.spend <= self.bound.money * CLOSE

    def _alone(self) -> dict[tuple[str, str], Yield]:
        """Each kind alone on each sheet: by a grid, and exactly where there is only one kind.

        These are the first layouts known. Refuses a kind that fits nowhere, a list too long.
        """
        yields = {
            (w.key, offer.key): yield_of(w.piece, offer.sheet, self.cutter, quick=self.several)
            for w in self.wanted
            for offer in self.offers
        }
        for kind, w in enumerate(self.wanted):
            check_wanted(w, [yields[w.key, offer.key] for offer in self.offers])
            for offer in self.offers:
                if yields[w.key, offer.key].best:
                    self.pool.take_alone(self._index_of(offer), kind, yields[w.key, offer.key])
        check_enough(self.wanted, self.offers, yields)
        return yields

    def _in_blocks(self, best: Chosen | None) -> Chosen | None:
        """A plan from layouts in blocks, if the cutter can cut them and the sheets are enough."""
        if not self.several or not BlockPricers.suit(self.pool):
            return best
        self.blocks = BlockPricers(self.pool)
        duals = self.generation.run(self.blocks, BLOCKS_UNTIL)
        rounder = Rounder(self.pool, self.blocks, duals, self.clock)
        if self.short_runs:
            plainly = Rounder(self.pool, PlainPricers(self.pool), duals, self.clock)
            best = self._round(plainly, best, range(PLAIN_ROUNDINGS), BLOCKS_ONLY)
        return self._round(rounder, best, range(BLOCK_ROUNDINGS), BLOCKS_ONLY)

    def _hurried(self, duals: Duals, best: Chosen | None) -> Chosen | None:
        """A better plan soon, before any time is spent on the bound and on careful rounding."""
        if self.blocks is None or self.clock.used() > HURRY_UNTIL:
            return best
        rounder = Rounder(self.pool, self.blocks, duals, self.clock)
        best = self._round(rounder, best, range(BLOCK_ROUNDINGS), HURRY_UNTIL)
        soon = (self.clock.gone() + HURRY_SECONDS) / self.clock.seconds
        return self._choose(best, min(HURRY_UNTIL, soon))

    def _apart(
        self, yields: dict[tuple[str, str], Yield], best: Chosen | None
    ) -> tuple[Chosen | None, bool]:
        """The best plan that keeps kinds apart if it costs less; whether it is the best of all.

        With one kind it is exact; with several it only has to be a sound place to start from.
        Where the sheets are too few to keep kinds apart there is none.
        """
        try:
            seconds = self.clock.seconds * 0.1
            plan = plan_cover(self.wanted, self.offers, self.cutter, yields, seconds)
        except NoPlanError:
            if not self.several:
                raise
            return best, False
        if best is not None and best.spend <= plan.spend:
            return best, False
        return self._as_chosen(plan), plan.proved and not self.several

    def _index_of(self, offer: SheetOffer) -> int:
        return next(i for i, s in enumerate(self.supplies) if s.sheet == offer.sheet)

    def _as_chosen(self, plan: CoverPlan) -> Chosen:
        """The plan without mixing, as a first whole-number plan."""
        repeats: dict[int, tuple[Column, int]] = {}
        for use in plan.uses:
            kind = self.pool.index[use.wanted.key]
            column = self.pool.take_alone(self._index_of(use.offer), kind, use.cut)
            _, n = repeats.get(id(column), (column, 0))
            repeats[id(column)] = (column, n + use.sheets)
        packs = tuple((buy.offer, buy.packs, buy.cost) for buy in plan.buys)
        return Chosen(tuple(repeats.values()), packs)

    def _round(
        self, rounder: Rounder, best: Chosen | None, numbers: range, until: float = ROUND_UNTIL
    ) -> Chosen | None:
        """The best of several roundings; it ends when many in a row bring nothing."""
        in_vain = 0
        for number in numbers:
            if best is not None and (best.spend <= self.bound.money or in_vain >= IN_VAIN):
                break
            late = self.clock.used() > until and best is not None
            if late or self.clock.told_to_stop(DOING):
                break
            found = rounder.attempt(number)
            in_vain += 1
            if found is not None and (best is None or found.spend < best.spend):
                best, in_vain = found, 0
        return best

    def _choose(self, start: Chosen | None, until: float = CHOOSE_UNTIL) -> Chosen | None:
        """The best whole-number plan over all layouts known."""
        if self.clock.told_to_stop("choosing layouts"):
            return start
        if start is not None and self.clock.left() < LEAST_TO_CHOOSE:
            return start
        seconds = max(until * self.clock.seconds - self.clock.gone(), LEAST_TO_CHOOSE)
        columns = list(self.master.columns)
        found = choose(
            columns, self.wanted, self.supplies, min(seconds, self.clock.left()), start,
            self.bound.money,
        )  # fmt: skip
        if found is None or (start is not None and found.spend > start.spend):
            return start
        return found

    def _plan(self, chosen: Chosen) -> BatchPlan:
        uses = []
        for row in self._as_wanted(needed(chosen.repeats, self.pool)):
            supply = self.supplies[row.sheet]
            sheet = supply.sheet
            counts = {w.key: n for w, n in zip(self.wanted, row.counts, strict=True) if n}
            tree = tidied(row.tree, self.cutter.kerf_nm)
            layout = Layout(sheet.width_nm, sheet.height_nm, sheet.trim_nm, tree)
            uses.append(LayoutUse(layout, supply, counts, row.repeats))
        bought = tuple(Buy(offer, packs, cost) for offer, packs, cost in chosen.packs)
        bound = min(self.bound.money, chosen.spend)
        return BatchPlan(
            tuple(uses),
            bought,
            bound,
            self.clock.gone(),
            self.generation.rounds,
            self.clock.stopped,
        )

    def _as_wanted(self, repeats: Sequence[tuple[Column, int]]) -> list[Sheets]:
        """The sheets cut, with no piece more than is wanted."""
        rows = [Sheets(column.sheet, column.counts, column.tree, n) for column, n in repeats]
        areas = [round(area * 10**12) for area in self.pool.areas]
        kinds = [
            [
                Kind(tuple(replace(way, value=area) for way in ways), area, 0)
                for ways, area in zip(lying, areas, strict=True)
            ]
            for lying in self.pool.lying
        ]
        return without_too_many(rows, self.counts, areas, kinds, self.pool.index, self.cutter)
