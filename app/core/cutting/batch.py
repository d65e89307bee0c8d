"""A whole batch over several sizes of sheet, for the least money: the batch planner.

Column generation (Gilmore and Gomory, Oper. Res. 9, 1961, and 13, 1965): a linear program over
the layouts known says what one more piece of each kind is worth; the layout of each sheet that
holds most of that worth is found, and if it is worth more than its sheet, it is added. When no
layout is, the program's value is the least any plan can cost; before that, the worths scaled
down until no layout exceeds its sheet give a bound as well (Farley, Oper. Res. 38, 1990).

Whole numbers come from an integer program over the layouts found, and from layouts for what is
left when the linear plan is rounded down, cut with the limited search so that no piece too many
is counted on. Every step looks at the clock; the best plan so far is always at hand.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import gcd

import numpy as np
import numpy.typing as npt

from app.core.cutting.cover import Buy, CoverPlan, SheetOffer, Wanted, plan_cover
from app.core.cutting.layout import Layout, Part
from app.core.cutting.limited import Kind, LimitedBest, best_limited
from app.core.cutting.master import (
    Chosen,
    Column,
    Duals,
    LinearMaster,
    Supply,
    choose,
    packs_for,
    price_of,
    supplies,
)
from app.core.cutting.staged import Pricer, most_by_rounding
from app.core.cutting.unlimited import MOST_STATES, Lying, Table, normal_points
from app.core.cutting.yields import lying_ways, yield_of
from app.core.errors import DomainError

Floats = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]
WORTH = 10**9
"""Duals are counted in whole numbers: the dearest piece is worth about so much."""
STATES_A_SECOND = 300_000
SMOOTHING, AT_A_TIME, LAST_SHEETS, FEW_PIECES = 0.5, 6, 3.0, 40
MOST_ROUNDS, MOST_ROUNDINGS, LEFT_SECONDS = 400, 40, 0.05
COARSE_POINTS, FINER_POINTS, LEFT_POINTS = 120, 320, 40
"""Places to cut along a side: for the first layouts, the later ones, and those for what is left."""

Progress = Callable[[str, float], bool]
"""Told what is being done and the share of the time used; answers whether to stop."""


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
    kerf_nm: int = 0,
    seconds: float = 5.0,
    progress: Progress | None = None,
) -> BatchPlan:
    """The cheapest plan found in the time for cutting everything wanted.

    Raises :class:`NoPlanError` where a piece fits nowhere or the limits cannot be kept.
    """
    wanted = [w for w in wanted if w.count > 0]
    if not wanted:
        return BatchPlan((), (), 0, 0.0)
    return _Planner(wanted, offers, kerf_nm, seconds, progress).run()


class _Planner:
    def __init__(
        self,
        wanted: Sequence[Wanted],
        offers: Sequence[SheetOffer],
        kerf: int,
        seconds: float,
        progress: Progress | None,
    ) -> None:
        self.started = time.perf_counter()
        self.seconds, self.progress, self.kerf = seconds, progress, kerf
        self.wanted, self.offers = wanted, offers
        self.supplies = supplies(offers)
        self.lying = [
            [lying_ways(w.piece, supply.sheet) for w in wanted] for supply in self.supplies
        ]
        self.index = {w.key: i for i, w in enumerate(wanted)}
        self.known: dict[tuple[int, tuple[int, ...]], Column] = {}
        self.master = LinearMaster(wanted, self.supplies)
        self.quick: list[tuple[Pricer, list[int]]] = []
        self.bound = 0.0
        self.rounds = 0

    # The clock.

    def used(self) -> float:
        """Share of the time gone."""
        return (time.perf_counter() - self.started) / self.seconds

    def left(self) -> float:
        """Seconds left."""
        return self.seconds - (time.perf_counter() - self.started)

    def told_to_stop(self, doing: str) -> bool:
        """Report, and hear whether to stop; running out of time stops as well."""
        asked = self.progress is not None and self.progress(doing, min(self.used(), 1.0))
        return asked or self.left() <= 0

    # Layouts.

    def take(self, sheet: int, tree: Part) -> tuple[Column, bool]:
        """A layout as a column of the program, and whether it is new to it."""
        key = (sheet, tuple(int(n) for n in self._counts(tree)))
        if key in self.known:
            return self.known[key], False
        column = self.known[key] = Column(sheet, key[1], tree)
        self.master.add(column)
        return column, True

    def named(self, sheet: int, values: Sequence[int]) -> list[Lying]:
        """The ways pieces may lie on a sheet, each under its kind's key and worth."""
        return [
            Lying(w.key, way.width_nm, way.height_nm, value, way.turned)
            for w, ways, value in zip(self.wanted, self.lying[sheet], values, strict=True)
            for way in ways
            if value > 0
        ]

    # The run.

    def run(self) -> BatchPlan:
        """Layouts, rounding, whole numbers, and at last a better bound where time is left."""
        best, proved = self._begin()
        if proved:
            self.bound = float(best.spend)
            return self._plan(best)
        self._generate(COARSE_POINTS, 0.3)
        duals = self._generate(FINER_POINTS, 0.42)
        self._raise_bound(duals, self._rounded_ratios(duals))
        best = self._round(duals, best, 0.55)
        best = self._integer(best, 0.7)
        if best.spend > self._lifted():
            self._better_bound()
        return self._plan(best)

    def _begin(self) -> tuple[Chosen, bool]:
        """The best plan that keeps kinds apart, and whether it is the best of all.

        With one kind it is exact; with several it only has to be a sound place to start from.
        """
        several = len(self.wanted) > 1
        yields = {
            (w.key, offer.key): yield_of(w.piece, offer.sheet, self.kerf, quick=several)
            for w in self.wanted
            for offer in self.offers
        }
        plan = plan_cover(self.wanted, self.offers, self.kerf, yields, self.seconds * 0.1)
        for use in plan.uses:
            self.take(self._index_of(use.offer), _renamed_tree(use.cut.layout.tree, use.wanted.key))
        self._each_by_itself()
        return self._as_chosen(plan), plan.proved and not several

    def _index_of(self, offer: SheetOffer) -> int:
        return next(i for i, s in enumerate(self.supplies) if s.sheet == offer.sheet)

    def _each_by_itself(self) -> None:
        """The best layout of every piece alone on every sheet: a sound place to begin."""
        for sheet, supply in enumerate(self.supplies):
            for w in self.wanted:
                cut = yield_of(w.piece, supply.sheet, self.kerf, quick=True)
                if cut.best:
                    self.take(sheet, _renamed_tree(cut.layout.tree, w.key))

    def _as_chosen(self, plan: CoverPlan) -> Chosen:
        """The plan without mixing, as a first whole-number plan."""
        repeats: dict[int, tuple[Column, int]] = {}
        for use in plan.uses:
            counts = [0] * len(self.wanted)
            counts[self.index[use.wanted.key]] = use.cut.best
            column = self.known[self._index_of(use.offer), tuple(counts)]
            _, n = repeats.get(id(column), (column, 0))
            repeats[id(column)] = (column, n + use.sheets)
        packs = tuple((buy.offer, buy.packs, buy.cost) for buy in plan.buys)
        return Chosen(tuple(repeats.values()), packs)

    def _generate(self, points: int, until: float) -> Duals:
        """Add layouts while they are worth more than their sheet.

        Worths are smoothed over the rounds (Wentges, Int. Trans. Oper. Res. 4, 1997), which keeps
        them from leaping; once that finds nothing, they are taken as they are.
        """
        pricers = self._pricers(points)
        self.quick = self.quick or pricers
        duals = self.master.solve()
        smooth = duals.pieces
        while self.rounds < MOST_ROUNDS and self.used() < until:
            self.rounds += 1
            if self.told_to_stop("looking for layouts"):
                break
            smooth = SMOOTHING * smooth + (1 - SMOOTHING) * duals.pieces
            if not self._improve(pricers, smooth, duals):
                if not self._improve(pricers, duals.pieces, duals):
                    break
                smooth = duals.pieces
            duals = self.master.solve()
        return duals

    def _improve(
        self, pricers: list[tuple[Pricer, list[int]]], worth: Floats, duals: Duals
    ) -> bool:
        """Add the best layout of every sheet where the program gains by it."""
        values, _ = _whole(worth)
        gained = False
        for sheet, (pricer, kinds) in enumerate(pricers):
            trim = self.supplies[sheet].sheet.trim_nm
            for found in pricer.best([values[k] for k in kinds], (trim, trim), AT_A_TIME):
                counts = self._counts(found.tree)
                if float(duals.pieces @ counts) > duals.sheets[sheet] * (1 + 1e-7):
                    gained = self.take(sheet, found.tree)[1] or gained
        return gained

    def _counts(self, tree: Part) -> Counts:
        """Pieces of each kind in a layout."""
        counts = np.zeros(len(self.wanted), dtype=np.int64)
        for leaf in tree.leaves():
            if leaf.piece:
                counts[self.index[leaf.piece.name]] += 1
        return counts

    def _pricers(self, points: int) -> list[tuple[Pricer, list[int]]]:
        """For every sheet its places to cut, and the kind behind each way a piece may lie."""
        found = []
        for supply, by_kind in zip(self.supplies, self.lying, strict=True):
            lying = [
                replace(way, name=w.key)
                for w, ways in zip(self.wanted, by_kind, strict=True)
                for way in ways
            ]
            kinds = [kind for kind, ways in enumerate(by_kind) for _ in ways]
            found.append((Pricer(*supply.sheet.usable, lying, self.kerf, points), kinds))
        return found

    def _rounded(self, sheet: int, values: Sequence[int]) -> int:
        """What no layout of a sheet can exceed, by rounding."""
        width, height = self.supplies[sheet].sheet.usable
        return most_by_rounding(width, height, self.named(sheet, values), self.kerf)

    def _raise_bound(self, duals: Duals, ratios: Sequence[float]) -> None:
        """A bound from duals, scaled down until no layout is worth more than its sheet.

        ``ratios`` say how many times its price the best layout of each sheet is worth at most.
        """
        worst = max(1.0, *ratios)
        if worst == np.inf:
            return
        pieces = sum(w.count * d for w, d in zip(self.wanted, duals.pieces, strict=True))
        here = sum(s.on_hand * d for s, d in zip(self.supplies, duals.sheets, strict=True))
        self.bound = max(self.bound, pieces / worst - here + duals.limits)

    def _ratio(self, sheet: int, value: int, unit: float, duals: Duals) -> float:
        price = float(duals.sheets[sheet])
        return value * unit / price if price > 0 else (np.inf if value else 0.0)

    def _rounded_ratios(self, duals: Duals) -> list[float]:
        """Ratios from the bound by rounding."""
        values, unit = _whole(duals.pieces)
        return [
            self._ratio(sheet, self._rounded(sheet, values), unit, duals)
            for sheet in range(len(self.supplies))
        ]

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

    def _better_bound(self) -> None:
        """Exact layouts where the time allows, the most overrated sheet first."""
        duals = self.master.solve()
        values, unit = _whole(duals.pieces)
        ratios = self._rounded_ratios(duals)
        blurred = set(range(len(ratios)))
        while blurred and max(ratios) > 1.0:
            sheet = max(range(len(ratios)), key=lambda at: (ratios[at], -at))
            if sheet not in blurred:
                break
            blurred.remove(sheet)
            width, height = self.supplies[sheet].sheet.usable
            lying = [
                p
                for p in self.named(sheet, values)
                if p.width_nm <= width and p.height_nm <= height
            ]
            states = _states(width + self.kerf, height + self.kerf, lying, self.kerf)
            if states is None or states / STATES_A_SECOND > self.left():
                break
            table = Table(width + self.kerf, height + self.kerf, lying, self.kerf)
            ratios[sheet] = self._ratio(sheet, table.value, unit, duals)
        self._raise_bound(duals, ratios)

    def _round(self, duals: Duals, best: Chosen, until: float) -> Chosen:
        """Round the linear plan down, more or less boldly, and cut what is left sheet by sheet."""
        amounts = self.master.amounts()
        columns = list(self.master.columns)
        for attempt in range(MOST_ROUNDINGS):
            if best.spend <= self._lifted():
                break
            if self.used() > until or self.told_to_stop("rounding to whole sheets"):
                break
            up = (0.0, 0.35, 0.15, 0.5)[attempt % 4]
            left = np.array([w.count for w in self.wanted])
            repeats: dict[int, tuple[Column, int]] = {}
            for at in np.argsort(-amounts, kind="stable"):
                column, counts = columns[at], np.array(columns[at].counts)
                times = int(np.floor(amounts[at] + up + 1e-6))
                useful = counts > 0
                times = min(times, int(np.max(-(-left[useful] // counts[useful]))))
                if times > 0:
                    left = np.maximum(left - times * counts, 0)
                    repeats[id(column)] = (column, times)
            if not self._fill_up(left, duals, attempt, repeats):
                continue
            found = self._bought(list(repeats.values()))
            if found is not None and found.spend < best.spend:
                best = found
        return best

    def _fill_up(
        self, left: Counts, duals: Duals, attempt: int, repeats: dict[int, tuple[Column, int]]
    ) -> bool:
        """Cut what is left, each time the layout worth most for its price; false out of time."""
        areas = np.array([w.piece.width_nm * w.piece.height_nm * 1e-12 for w in self.wanted])
        worth = areas if attempt % 2 or not duals.pieces.max() else duals.pieces + 1e-9
        # Worths a little astray, each time otherwise and each run alike, lead to other plans.
        astray = np.random.default_rng(attempt).uniform(1.0, 1.0 + 0.02 * attempt, len(worth))
        values, _ = _whole(worth ** (1.0 + 0.03 * (attempt % 3)) * astray)
        while left.any():
            options = self._ways_on(values, left, areas)
            if not options or self.told_to_stop("rounding to whole sheets"):
                return False
            _, sheet, tree = max(options, key=lambda option: option[:2])
            column, _ = self.take(-sheet, tree)
            counts = np.array(column.counts)
            cut = counts > 0
            times = max(int(np.min(left[cut] // counts[cut])), 1)
            _, n = repeats.get(id(column), (column, 0))
            repeats[id(column)] = (column, n + times)
            left = np.maximum(left - times * counts, 0)
        return True

    def _ways_on(
        self, values: Sequence[int], left: Counts, areas: Floats
    ) -> list[tuple[float, int, Part]]:
        """Layouts for what is left: worth for the price, sheet (below nought), tree.

        While much is left quick layouts do, counted for what of them is still wanted; the last
        sheets are searched with their limits kept.
        """
        options: list[tuple[float, int, Part]] = []
        much = float(areas @ left)
        for sheet, supply in enumerate(self.supplies):
            price = max(price_of(supply), 1e-9)
            width, height = supply.sheet.usable
            if int(left.sum()) <= FEW_PIECES or much < LAST_SHEETS * width * height * 1e-12:
                limited = self._limited(sheet, values, left)
                if limited is not None:
                    options.append((limited.value / price, -sheet, limited.tree))
                continue
            pricer, kinds = self.quick[sheet]
            trim = supply.sheet.trim_nm
            wanted = [value if n else 0 for value, n in zip(values, left, strict=True)]
            for found in pricer.best([wanted[k] for k in kinds], (trim, trim), AT_A_TIME):
                useful = np.minimum(self._counts(found.tree), left)
                options.append((float(useful @ np.array(wanted)) / price, -sheet, found.tree))
        return options

    def _bought(self, repeats: list[tuple[Column, int]]) -> Chosen | None:
        """The packs that layouts take, from the cheapest single offer of each size."""
        packs: list[tuple[SheetOffer, int, int]] = []
        for index, supply in enumerate(self.supplies):
            short = sum(n for c, n in repeats if c.sheet == index) - supply.on_hand
            if short <= 0:
                continue
            ways = [way for offer in supply.offers if (way := packs_for(offer, short))]
            if not ways:
                return None
            packs.append(min(ways, key=lambda way: way[2]))
        return Chosen(tuple(repeats), tuple(packs))

    def _limited(self, sheet: int, values: Sequence[int], left: Counts) -> LimitedBest | None:
        """The best layout of a sheet with no more of each kind than is left."""
        supply = self.supplies[sheet]
        width, height = supply.sheet.usable
        trim = supply.sheet.trim_nm
        kinds = []
        for w, ways, value, count in zip(self.wanted, self.lying[sheet], values, left, strict=True):
            lying = tuple(
                Lying(w.key, way.width_nm, way.height_nm, value, way.turned) for way in ways
            )
            kinds.append(Kind(lying, value, int(count)))
        found = best_limited(
            width, height, kinds, self.kerf, (trim, trim),
            seconds=min(max(self.left(), 0.01), LEFT_SECONDS), points=LEFT_POINTS,
        )  # fmt: skip
        return found if found.value else None

    def _integer(self, start: Chosen, until: float) -> Chosen:
        """The best whole-number plan over all layouts known."""
        if self.told_to_stop("choosing layouts"):
            return start
        seconds = max(self.seconds * until - (self.seconds - self.left()), 0.2)
        found = choose(
            list(self.master.columns), self.wanted, self.supplies, min(seconds, self.left()), start
        )
        return found if found is not None and found.spend <= start.spend else start

    def _plan(self, chosen: Chosen) -> BatchPlan:
        uses = []
        for column, repeats in chosen.repeats:
            supply = self.supplies[column.sheet]
            sheet = supply.sheet
            counts = {w.key: n for w, n in zip(self.wanted, column.counts, strict=True) if n}
            layout = Layout(sheet.width_nm, sheet.height_nm, sheet.trim_nm, column.tree)
            uses.append(LayoutUse(layout, supply, counts, repeats))
        bought = tuple(Buy(offer, packs, cost) for offer, packs, cost in chosen.packs)
        bound = min(self._lifted(), chosen.spend)
        seconds = time.perf_counter() - self.started
        return BatchPlan(tuple(uses), bought, bound, seconds, self.rounds)


def _whole(worth: Floats) -> tuple[list[int], float]:
    """Worths as whole numbers, rounded up so that a bound stays one, and what a unit is worth."""
    unit = max(float(worth.max()), 1e-12) / WORTH
    return [int(np.ceil(d / unit)) if d > 0 else 0 for d in worth], unit


def _states(width: int, height: int, lying: Sequence[Lying], kerf: int) -> int | None:
    """Rectangles an exact search would look at; None where they are too many."""
    try:
        xs = normal_points(width, [p.width_nm + kerf for p in lying])
        ys = normal_points(height, [p.height_nm + kerf for p in lying])
    except DomainError:
        return None
    states = len(xs) * len(ys)
    return states if states <= MOST_STATES else None


def _renamed_tree(tree: Part, key: str) -> Part:
    """The same cuts with the piece known by its kind's key."""
    piece = replace(tree.piece, name=key) if tree.piece else None
    return replace(tree, piece=piece, parts=tuple(_renamed_tree(p, key) for p in tree.parts))
