"""A whole batch over several sizes of sheet, for the least money: the batch planner.

Column generation (Gilmore and Gomory, Oper. Res. 9, 1961, and 13, 1965): a linear program over
the layouts known says what one more piece of each kind is worth; the layout of each sheet that
holds most of that worth is found, and if it is worth more than its sheet, it is added. When no
layout is, the program's value is the least any plan can cost; before that, the worths scaled
down until no layout exceeds its sheet give a bound as well (Farley, Oper. Res. 38, 1990).

Whole numbers come from :mod:`rounding` and from an integer program over the layouts found.
Every step looks at the clock; the best plan so far is always at hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import gcd

import numpy as np

from app.core.cutting.clock import Clock, Progress
from app.core.cutting.cover import (
    Buy,
    CoverPlan,
    NoPlanError,
    OutOfTimeError,
    SheetOffer,
    Wanted,
    plan_cover,
)
from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.layout import Layout
from app.core.cutting.master import (
    Chosen,
    Column,
    Duals,
    Supply,
    choose,
    least_money,
    supplies,
)
from app.core.cutting.pool import Floats, Pool, SheetPricers, renamed, whole
from app.core.cutting.rounding import DOING, Rounder
from app.core.cutting.steps import tidied
from app.core.cutting.yields import yield_of

SMOOTHING, AT_A_TIME, HOPEFUL = 0.5, 6, 0.98
MOST_ROUNDS, MOST_ROUNDINGS, IN_VAIN = 400, 40, 8
COARSE_POINTS, MANY_STATES = 120, 120_000
"""Where a round looks at many rectangles, coarser sizes find the first layouts quicker."""
COARSE_UNTIL, EXACT_UNTIL, ROUND_UNTIL, CHOOSE_UNTIL = 0.35, 0.65, 0.78, 0.88
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


def plan_batch(
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    cutter: Cutter = KNIFE,
    seconds: float = 5.0,
    progress: Progress | None = None,
) -> BatchPlan:
    """The cheapest plan found in the time for cutting everything wanted.

    Raises :class:`NoPlanError` where a piece fits nowhere or the limits cannot be kept.
    """
    wanted = [w for w in wanted if w.count > 0]
    if not wanted:
        return BatchPlan((), (), 0, 0.0)
    return _Planner(wanted, offers, cutter, Clock(seconds, progress)).run()


class _Planner:
    def __init__(
        self,
        wanted: Sequence[Wanted],
        offers: Sequence[SheetOffer],
        cutter: Cutter,
        clock: Clock,
    ) -> None:
        self.wanted, self.offers, self.cutter, self.clock = wanted, offers, cutter, clock
        self.supplies = supplies(offers)
        self.pool = Pool(wanted, self.supplies, cutter)
        self.master = self.pool.master
        self.bound = 0.0
        self.rounds = 0
        self.converged = False
        self.promise: dict[int, float] = {}
        """How near its price the best layout of each sheet came when it was last asked."""

    def run(self) -> BatchPlan:
        """Layouts, a bound, rounding, whole numbers."""
        best, proved = self._begin()
        if proved and best is not None:
            self.bound = float(best.spend)
            return self._plan(best)
        exact = SheetPricers(self.pool, None)
        quick = exact
        if exact.states > MANY_STATES:
            quick = SheetPricers(self.pool, COARSE_POINTS)
            self._generate(quick, COARSE_UNTIL)
        duals = self._generate(exact, EXACT_UNTIL)
        if best is None and self.converged and self.master.short() > 1e-6:
            raise NoPlanError("The sheets on hand and the limits on buying cannot cover the list.")
        self._raise_bound(exact, duals)
        best = self._choose(self._round(quick, duals, best, 0))
        if not self._close_to_the_bound(best) and self.clock.used() < AGAIN_UNTIL:
            best = self._choose(self._round(quick, duals, best, MOST_ROUNDINGS))
        if best is None:
            best = self._search_on(quick, duals)
        return self._plan(best)

    def _search_on(self, quick: SheetPricers, duals: Duals) -> Chosen:
        """Where limits are tight, other roundings as long as there is time."""
        first = 2 * MOST_ROUNDINGS
        while not self.clock.told_to_stop(DOING):
            best = self._choose(self._round(quick, duals, None, first))
            if best is not None:
                return best
            first += MOST_ROUNDINGS
        raise OutOfTimeError("No plan was found in the time allowed; there may be one.")

    def _close_to_the_bound(self, best: Chosen | None) -> bool:
        return best is not None and best.spend <= self._lifted() * CLOSE

    def _begin(self) -> tuple[Chosen | None, bool]:
        """The best plan that keeps kinds apart, and whether it is the best of all.

        With one kind it is exact; with several it only has to be a sound place to start from.
        Where the sheets are too few to keep kinds apart there is none yet.
        """
        several = len(self.wanted) > 1
        yields = {
            (w.key, offer.key): yield_of(w.piece, offer.sheet, self.cutter, quick=several)
            for w in self.wanted
            for offer in self.offers
        }
        seconds = self.clock.seconds * 0.1
        self.pool.each_by_itself()
        try:
            plan = plan_cover(self.wanted, self.offers, self.cutter, yields, seconds)
        except NoPlanError:
            fits = all(any(yields[w.key, o.key].best for o in self.offers) for w in self.wanted)
            if not several or not fits:
                raise
            return None, False
        for use in plan.uses:
            self.pool.take(self._index_of(use.offer), renamed(use.cut.layout.tree, use.wanted.key))
        return self._as_chosen(plan), plan.proved and not several

    def _index_of(self, offer: SheetOffer) -> int:
        return next(i for i, s in enumerate(self.supplies) if s.sheet == offer.sheet)

    def _as_chosen(self, plan: CoverPlan) -> Chosen:
        """The plan without mixing, as a first whole-number plan."""
        repeats: dict[int, tuple[Column, int]] = {}
        for use in plan.uses:
            counts = [0] * len(self.wanted)
            counts[self.pool.index[use.wanted.key]] = use.cut.best
            column = self.pool.known[self._index_of(use.offer), tuple(counts)]
            _, n = repeats.get(id(column), (column, 0))
            repeats[id(column)] = (column, n + use.sheets)
        packs = tuple((buy.offer, buy.packs, buy.cost) for buy in plan.buys)
        return Chosen(tuple(repeats.values()), packs)

    def _generate(self, pricers: SheetPricers, until: float) -> Duals:
        """Add layouts while they are worth more than their sheet.

        Worths are smoothed over the rounds (Wentges, Int. Trans. Oper. Res. 4, 1997), which keeps
        them from leaping; once that finds nothing, they are taken as they are.
        """
        duals = self.master.solve()
        smooth = duals.pieces
        while self.rounds < MOST_ROUNDS and self.clock.used() < until:
            self.rounds += 1
            if self.clock.told_to_stop("looking for layouts"):
                break
            smooth = SMOOTHING * smooth + (1 - SMOOTHING) * duals.pieces
            if not self._improve(pricers, smooth, duals):
                if not self._improve(pricers, duals.pieces, duals):
                    self.converged = self.clock.left() > 0 and pricers.all_exact
                    break
                smooth = duals.pieces
            duals = self.master.solve()
        return duals

    def _improve(self, pricers: SheetPricers, worth: Floats, duals: Duals) -> bool:
        """Add the best layouts of the sheets where the program gains by them.

        Sheets that were far from paying last time are asked again only when no other gains.
        """
        values, _ = whole(worth)
        asked: set[int] = set()
        for hopeful in (True, False):
            gained = False
            for sheet, price in enumerate(duals.sheets):
                if sheet in asked or (hopeful and self.promise.get(sheet, 1.0) < HOPEFUL):
                    continue
                if self.clock.left() <= 0:
                    return gained
                asked.add(sheet)
                self.promise[sheet] = 0.0
                for found in pricers.best(sheet, values, AT_A_TIME):
                    worth_now = float(duals.pieces @ self.pool.counts(found.tree))
                    ratio = worth_now / price if price > 0 else 2.0
                    self.promise[sheet] = max(self.promise[sheet], ratio)
                    if worth_now > price * (1 + 1e-7):
                        gained = self.pool.take(sheet, found.tree)[1] or gained
            if gained:
                return True
        return False

    def _raise_bound(self, exact: SheetPricers, duals: Duals) -> None:
        """A bound from duals, scaled down until no layout is worth more than its sheet."""
        values, unit = whole(duals.pieces)
        worst = 1.0
        for sheet, price in enumerate(duals.sheets):
            if self.clock.left() <= 0:
                return
            if exact.exact(sheet):
                found = exact.best(sheet, values, 1)
                value = found[0].value if found else 0
            else:
                value = exact.at_most(sheet, values)
            if value and price <= 0:
                return
            worst = max(worst, value * unit / price if value else 0.0)
        pieces = sum(w.count * d for w, d in zip(self.wanted, duals.pieces, strict=True))
        here = sum(s.on_hand * d for s, d in zip(self.supplies, duals.sheets, strict=True))
        self.bound = max(self.bound, pieces / worst - here + duals.limits)
        need = pieces / worst * (1 - 1e-7)
        self.bound = max(self.bound, least_money(need, duals.sheets.tolist(), self.supplies))

    def _lifted(self) -> int:
        """The bound in whole money, up to what packs can add up to."""
        step = 0
        for supply in self.supplies:
            for offer in supply.offers:
                for tier in offer.breaks:
                    step = gcd(step, tier.price)
        step = max(step, 1)
        lowest = max(self.bound - 1e-6 * max(abs(self.bound), 1.0), 0.0)
        return -(-int(np.ceil(lowest)) // step) * step

    def _round(
        self, quick: SheetPricers, duals: Duals, best: Chosen | None, first: int
    ) -> Chosen | None:
        """The best of several roundings; it ends when many in a row bring nothing."""
        rounder = Rounder(self.pool, quick, duals, self.clock)
        in_vain = 0
        for number in range(first, first + MOST_ROUNDINGS):
            if best is not None and (best.spend <= self._lifted() or in_vain >= IN_VAIN):
                break
            late = self.clock.used() > ROUND_UNTIL and best is not None
            if late or self.clock.told_to_stop(DOING):
                break
            found = rounder.attempt(number)
            in_vain += 1
            if found is not None and (best is None or found.spend < best.spend):
                best, in_vain = found, 0
        return best

    def _choose(self, start: Chosen | None) -> Chosen | None:
        """The best whole-number plan over all layouts known."""
        if self.clock.told_to_stop("choosing layouts"):
            return start
        seconds = max(CHOOSE_UNTIL * self.clock.seconds - self.clock.gone(), 0.01)
        columns = list(self.master.columns)
        found = choose(
            columns, self.wanted, self.supplies, min(seconds, self.clock.left()), start,
            self._lifted(),
        )  # fmt: skip
        if found is None or (start is not None and found.spend > start.spend):
            return start
        return found

    def _plan(self, chosen: Chosen) -> BatchPlan:
        uses = []
        for column, repeats in chosen.repeats:
            supply = self.supplies[column.sheet]
            sheet = supply.sheet
            counts = {w.key: n for w, n in zip(self.wanted, column.counts, strict=True) if n}
            tree = tidied(column.tree, self.cutter.kerf_nm)
            layout = Layout(sheet.width_nm, sheet.height_nm, sheet.trim_nm, tree)
            uses.append(LayoutUse(layout, supply, counts, repeats))
        bought = tuple(Buy(offer, packs, cost) for offer, packs, cost in chosen.packs)
        bound = min(self._lifted(), chosen.spend)
        return BatchPlan(
            tuple(uses), bought, bound, self.clock.gone(), self.rounds, self.clock.stopped
        )
