"""What the batch planner knows of one list while it searches: layouts, bound, best plan so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from app.core.cutting.cut_sequence import tidied
from app.core.cutting.cutter import Cutter
from app.core.cutting.effort import Work
from app.core.cutting.many_sheets.column_generation import Generation
from app.core.cutting.many_sheets.columns import (
    BlockPricers,
    CountedPricers,
    Pool,
    Pricers,
    SheetPricers,
)
from app.core.cutting.many_sheets.dual_bound import Bound
from app.core.cutting.many_sheets.integer_master import Choice, Chosen, choose
from app.core.cutting.many_sheets.linear_master import Column, Duals, price_of
from app.core.cutting.many_sheets.plan import BatchPlan, LayoutUse
from app.core.cutting.many_sheets.possible import check_enough, check_wanted
from app.core.cutting.many_sheets.residual_heuristic import DOING, Rounder, needed
from app.core.cutting.many_sheets.surplus import Sheets, without_too_many
from app.core.cutting.model import Buy, SheetOffer, Wanted, supplies
from app.core.cutting.one_sheet.limits import Kind
from app.core.cutting.one_sheet.yields import Yield, yield_of
from app.core.cutting.tree import Layout
from app.language import say

COUNTED_POINTS, IN_VAIN = 120, 8
LEAST_TO_CHOOSE = 10_000
"""Steps that an integer program is worth beginning for."""


class Search:
    """One list of pieces over the sheets to be had; phases make its ``best`` plan better."""

    def __init__(
        self,
        wanted: Sequence[Wanted],
        offers: Sequence[SheetOffer],
        cutter: Cutter,
        work: Work,
    ) -> None:
        self.wanted, self.offers, self.cutter, self.work = wanted, offers, cutter, work
        self.several = len(wanted) > 1
        self.counts = np.array([w.count for w in wanted])
        self.supplies = supplies(offers)
        self.pool = Pool(wanted, self.supplies, cutter, work)
        self.master = self.pool.master
        self.bound = Bound(self.pool)
        self.generation = Generation(self.pool)
        self.yields: dict[tuple[str, str], Yield] = {}
        self.best: Chosen | None = None
        self.duals: Duals | None = None
        self.blocks: BlockPricers | None = None
        self.quick: Pricers | None = None
        """What finds layouts for what rounding leaves."""
        self.done = False
        """Whether no phase after this one can bring anything."""

    @cached_property
    def counted(self) -> CountedPricers:
        """For the last sheets, where limits matter."""
        return CountedPricers(self.pool, COUNTED_POINTS)

    @cached_property
    def exact(self) -> SheetPricers:
        """For every sheet the exact search, or nearly so where it is too much work."""
        return SheetPricers(self.pool, None)

    @property
    def short_runs(self) -> bool:
        """Whether most of what is wanted is of kinds of which a sheet could hold more."""
        sizes = [supply.sheet.usable for supply in self.supplies]
        largest = max(width * height * 1e-12 for width, height in sizes)
        whole = self.pool.areas * self.counts
        few = self.counts < largest // self.pool.areas
        return bool(whole[few].sum() > whole.sum() / 2)

    @property
    def buys(self) -> bool:
        """Whether the best plan known costs money, so that a better one may cost less."""
        return self.best is None or self.best.spend > 0

    def look_at_each_alone(self, *, exactly: bool = False) -> None:
        """Each kind alone on each sheet: by a grid, and exactly where there is only one kind.

        These are the first layouts known. Refuses a kind that fits nowhere, a list too long.
        """
        quick = not exactly
        for kind, w in enumerate(self.wanted):
            mine = {
                o.key: yield_of(w.piece, o.sheet, self.cutter, quick=quick) for o in self.offers
            }
            check_wanted(w, list(mine.values()))
            for offer in self.offers:
                self.yields[w.key, offer.key] = mine[offer.key]
                if mine[offer.key].best:
                    self.pool.take_alone(self.index_of(offer), kind, mine[offer.key])
        check_enough(self.wanted, self.offers, self.yields)

    def index_of(self, offer: SheetOffer) -> int:
        """The number of the size that an offer is of."""
        return next(i for i, s in enumerate(self.supplies) if s.sheet == offer.sheet)

    def choose_apart(self, steps: int, work: Work | None = None, most: int | None = None) -> Choice:
        """The best plan over layouts with one kind of piece each, for so much money at the most;
        ``work`` other than its own."""
        return choose(
            self._alone(), self.wanted, self.supplies, work or self.work, steps, most=most
        )

    def _alone(self) -> list[Column]:
        return [column for column in self.master.columns if np.count_nonzero(column.counts) == 1]

    @property
    def least_apart(self) -> float:
        """What no plan with one kind of piece a layout can undercut, seen without a program.

        A piece costs at least its share of the sheet that is cheapest for it; of that, what the
        sheets here are worth need not be bought.
        """
        prices = [price_of(supply) for supply in self.supplies]
        each = np.full(len(self.wanted), np.inf)
        for column in self._alone():
            counts = np.array(column.counts)
            kind = int(counts.argmax())
            each[kind] = min(each[kind], prices[column.sheet] / counts[kind])
        here = sum(s.on_hand * price for s, price in zip(self.supplies, prices, strict=True))
        return float(each @ self.counts - here)

    def take(self, found: Chosen | None, *, at_equal_money: bool = False) -> None:
        """Let a plan be the best if it costs less, or as much where it was chosen for its worth."""
        best = self.best
        if found is not None and (best is None or found.spend < best.spend + at_equal_money):
            self.best = found

    def round(self, rounder: Rounder, numbers: range, until: float) -> None:
        """Try several roundings; it ends when many in a row bring nothing."""
        in_vain = 0
        for number in numbers:
            best = self.best
            if best is not None and (best.spend <= self.bound.money or in_vain >= IN_VAIN):
                break
            late = self.work.used() > until and best is not None
            if late or self.work.told_to_stop(say(DOING)):
                break
            self.take(rounder.attempt(number))
            in_vain = 0 if self.best is not best else in_vain + 1

    def rounder(self, pricers: Pricers, *, careful: bool = True) -> Rounder:
        """Rounds the linear plan; a careful one counts on the last sheets."""
        if self.duals is None:
            self.duals = self.master.solve()
        return Rounder(self.pool, pricers, self.duals, self.counted if careful else None)

    def choose(self, until: float) -> None:
        """Take the best whole-number plan over all layouts known, in steps up to a share."""
        left = self.work.left()
        if self.work.told_to_stop(say("choosing layouts")):
            return
        if self.best is not None and left < LEAST_TO_CHOOSE:
            return
        steps = max(round(until * self.work.most) - self.work.done, LEAST_TO_CHOOSE)
        found = choose(
            list(self.master.columns), self.wanted, self.supplies, self.work, min(steps, left),
            self.best, self.bound.money,
        ).best  # fmt: skip
        self.take(found, at_equal_money=True)

    def plan(self, chosen: Chosen) -> BatchPlan:
        """A whole-number plan as an answer: no piece too many, its cuts in order."""
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
            tuple(uses), bought, bound, self.work.done, self.generation.rounds, self.work.cut_short
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
