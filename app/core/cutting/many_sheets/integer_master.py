"""The integer program over the layouts known: which to cut, how often, which packs to buy.

The rows and columns of :mod:`linear_master`, in whole numbers, each price of an offer with the
packs it is asked from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import highspy
import numpy as np
import numpy.typing as npt

from app.core.cutting.effort import Work
from app.core.cutting.many_sheets.linear_master import INFINITY, Column, quiet
from app.core.cutting.model import Break, SheetOffer, Supply, Wanted
from app.core.cutting.tree import Part
from app.core.paper import Piece

Ints = npt.NDArray[np.int32]
BOUND_STEPS = 200_000
A_SHEET, A_CUT = 0.01, 0.00001
"""What a sheet and a cut weigh beside the worth of sheets, in minor units."""
LEAST_STEPS = 20_000
"""Work that an aim after the first is worth beginning for."""
A_CALL, COEFFICIENTS_A_STEP, A_MODEL_COLUMN = 300, 5, 30
"""The integer program calls back at the same places in every run: a call for every few
relaxations, the more work the more coefficients there are."""
STALL_NODES = 300
"""Branches looked at in vain before the integer program is content with what it has."""


@dataclass(frozen=True)
class Chosen:
    """A whole-number plan: how often each layout, how many packs at which price."""

    repeats: tuple[tuple[Column, int], ...]
    packs: tuple[tuple[SheetOffer, int, int], ...]
    """Offer, packs, cost of all of them in minor units."""

    @property
    def spend(self) -> int:
        """Money for the packs."""
        return sum(cost for _, _, cost in self.packs)


@dataclass(frozen=True)
class Choice:
    """The best plan over some layouts, if one was found; see :class:`IntegerMaster`."""

    best: Chosen | None
    proved: bool
    impossible: bool


def choose(
    columns: Sequence[Column],
    wanted: Sequence[Wanted],
    sheets: Sequence[Supply],
    work: Work,
    steps: int,
    start: Chosen | None = None,
    bound: int = 0,
    most: int | None = None,
) -> Choice:
    """The cheapest whole-number plan over these layouts; of those the one with least worth of
    sheets cut, then with fewest sheets, then with fewest different layouts and cuts.

    It takes about so many steps of the work. ``start`` is where to begin from, ``bound`` what no
    plan costs less than, and ``most`` the money past which no plan is of interest.
    """
    until = work.done + steps
    model = IntegerMaster(columns, wanted, sheets, work)
    if most is not None:
        model.spend_at_most(most)
    found = start
    if start is None or start.spend > bound:
        found = model.money(steps * 3 // 4, start) or start
    for aim in (model.thrift, model.few_layouts):
        left = until - work.done
        if found is not None and left > LEAST_STEPS:
            found = aim(found, left // 2) or found
    return Choice(found, model.proved, model.impossible)


def least_money(need: float, worth: Sequence[float], sheets: Sequence[Supply], work: Work) -> float:
    """The least money for whole packs so that sheets of these worths make up what is needed.

    A bound on every plan: what it cuts is worth ``need``, and no sheet of a size holds more than
    its worth. Packs and price breaks make it higher than the linear program knows.
    """
    least = min((w for w in worth if w > 0), default=0.0)
    if need <= 0 or not least:
        return 0.0
    anything = Wanted("all", Piece("all", 1, 1), 1)
    nothing = Part(0, 0, 1, 1)
    # Counted in the least worth, so that no more sheets are needed than that.
    need = need / least
    each = [
        Column(index, (w / least,), lambda: nothing, nothing.cuts)  # type: ignore[arg-type]
        for index, w in enumerate(worth)
        if w > 0
    ]
    model = IntegerMaster(each, [replace(anything, count=need)], sheets, work)  # type: ignore[arg-type]
    model.run(BOUND_STEPS)
    if model.model.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        return 0.0
    return float(max(model.model.getInfo().mip_dual_bound, 0.0))


class IntegerMaster:
    """The integer program over layouts that are known.

    ``proved`` once no plan of them costs less, ``impossible`` where there is none.
    """

    def __init__(
        self,
        columns: Sequence[Column],
        wanted: Sequence[Wanted],
        sheets: Sequence[Supply],
        work: Work,
    ) -> None:
        self.columns, self.wanted, self.sheets, self.work = columns, wanted, sheets, work
        self.proved = self.impossible = False
        self.model = quiet()
        # A search for any plan at all costs four times what these small programs take to solve.
        self.model.setOptionValue("mip_heuristic_run_feasibility_jump", False)  # noqa: FBT003
        self.model.setOptionValue("mip_rel_gap", 0.0)
        self.model.setOptionValue("mip_abs_gap", 0.9)
        self.model.setOptionValue("mip_max_stall_nodes", STALL_NODES)
        for w in wanted:
            self.model.addRow(float(w.count), INFINITY, 0, np.array([]), np.array([]))
        for supply in sheets:
            self.model.addRow(-INFINITY, float(supply.on_hand), 0, np.array([]), np.array([]))
        self.packs: list[tuple[SheetOffer, Break]] = []
        self.costs: list[float] = []
        for column in columns:
            rows = [i for i, n in enumerate(column.counts) if n]
            values = [float(column.counts[i]) for i in rows]
            rows.append(len(wanted) + column.sheet)
            most = max((-(-wanted[i].count // column.counts[i]) for i in rows[:-1]), default=0)
            self._add(0.0, float(most), rows, [*values, 1.0])
        self.first_pack = len(columns)
        self.supply_of = {o.key: at for at, supply in enumerate(sheets) for o in supply.offers}
        for index, supply in enumerate(sheets):
            need = sum(w.count for w in wanted)
            for offer in supply.offers:
                self._offer(offer, len(wanted) + index, need)

    def _add(self, cost: float, most: float, rows: list[int], values: list[float]) -> int:
        at = int(self.model.getNumCol())
        self.model.addCol(
            cost, 0.0, most, len(rows), np.array(rows, dtype=np.int32), np.array(values)
        )
        self.model.changeColIntegrality(at, highspy.HighsVarType.kInteger)
        self.costs.append(cost)
        return at

    def _offer(self, offer: SheetOffer, row: int, need: int) -> None:
        """Pack columns, one a price; with several, at most one price is used."""
        tiers = sorted(offer.breaks, key=lambda b: b.from_packs)
        most = -(-need // offer.pack)
        switches: list[int] = []
        for tier in tiers:
            ceiling = max(most, tier.from_packs)
            if offer.limit is not None:
                ceiling = min(ceiling, offer.limit // offer.pack)
            if ceiling < tier.from_packs:
                continue
            at = self._add(float(tier.price), float(ceiling), [row], [-float(offer.pack)])
            self.packs.append((offer, tier))
            if len(tiers) > 1 or tier.from_packs > 1:
                switch = self._add(0.0, 1.0, [], [])
                self.packs.append((offer, Break(0, 0)))
                both = np.array([at, switch], dtype=np.int32)
                self.model.addRow(-INFINITY, 0.0, 2, both, np.array([1.0, -float(ceiling)]))
                self.model.addRow(0.0, INFINITY, 2, both, np.array([1.0, -float(tier.from_packs)]))
                switches.append(switch)
        if len(switches) > 1:
            ones = np.ones(len(switches))
            self.model.addRow(
                -INFINITY, 1.0, len(switches), np.array(switches, dtype=np.int32), ones
            )

    def run(self, steps: int) -> bool:
        """Solve it in about so many steps; whether what it found is proved the best."""
        each = A_CALL + COEFFICIENTS_A_STEP * int(self.model.getNumNz())
        most, calls = max(steps // each, 1), 0

        def called(event: highspy.HighsCallbackEvent) -> None:
            nonlocal calls
            calls += 1
            if calls > most or self.work.is_cut_short():
                event.data_in.user_interrupt = True

        self.model.cbMipInterrupt += called
        try:
            self.model.run()
        finally:
            self.model.cbMipInterrupt -= called
        self.work.add(calls * each + A_MODEL_COLUMN * int(self.model.getNumCol()))
        return bool(self.model.getModelStatus() == highspy.HighsModelStatus.kOptimal)

    def spend_at_most(self, money: int) -> Ints:
        """Leave out the plans that cost more; the columns that cost anything are returned."""
        columns = range(self.first_pack, self.model.getNumCol())
        at = np.array([c for c in columns if self.costs[c]], dtype=np.int32)
        costs = np.array([self.costs[c] for c in at])
        self.model.addRow(-INFINITY, money + 0.5, len(at), at, costs)
        return at

    def money(self, steps: int, start: Chosen | None) -> Chosen | None:
        """Least money."""
        if start is not None:
            self._begin_from(start)
        self.proved = self.run(steps)
        self.impossible = self.model.getModelStatus() == highspy.HighsModelStatus.kInfeasible
        return self._read()

    def thrift(self, found: Chosen, steps: int) -> Chosen | None:
        """The same money; least worth of sheets cut, then fewest of them."""
        for index, column in enumerate(self.columns):
            supply = self.sheets[column.sheet]
            self.model.changeColCost(index, supply.value + A_SHEET + A_CUT * column.cuts)
        for index in self.spend_at_most(found.spend):
            self.model.changeColCost(int(index), 0.0)
        self.model.setOptionValue("mip_abs_gap", 1e-6)
        self._begin_from(found)
        self.run(steps)
        return self._read()

    def few_layouts(self, found: Chosen, steps: int) -> Chosen | None:
        """No more money, worth or sheets; fewest different layouts, then fewest cuts."""
        worth = [self.sheets[c.sheet].value + A_SHEET for c in self.columns]
        most = sum(n * (self.sheets[column.sheet].value + A_SHEET) for column, n in found.repeats)
        every = np.arange(len(self.columns), dtype=np.int32)
        self.model.addRow(-INFINITY, most + A_SHEET / 2, len(every), every, np.array(worth))
        bounds = self.model.getLp().col_upper_
        for index, column in enumerate(self.columns):
            self.model.changeColCost(index, A_CUT * column.cuts)
            switch = self._add(1.0, 1.0, [], [])
            both = np.array([index, switch], dtype=np.int32)
            self.model.addRow(-INFINITY, 0.0, 2, both, np.array([1.0, -float(bounds[index])]))
        self._begin_from(found)
        self.run(steps)
        return self._read()

    def _begin_from(self, start: Chosen) -> None:
        values = np.zeros(self.model.getNumCol())
        where = {id(column): index for index, column in enumerate(self.columns)}
        switches = self.model.getNumCol() - len(self.columns)
        for column, repeats in start.repeats:
            if id(column) not in where:
                return
            values[where[id(column)]] = repeats
            if switches >= self.first_pack + len(self.packs):
                values[switches + where[id(column)]] = 1
        for offer, packs, cost in start.packs:
            for index, (known, tier) in enumerate(self.packs):
                if known is offer and tier.from_packs and tier.price * packs == cost:
                    values[self.first_pack + index] = packs
                    if index + 1 < len(self.packs) and not self.packs[index + 1][1].from_packs:
                        values[self.first_pack + index + 1] = 1
                    break
        solution = highspy.HighsSolution()
        solution.col_value = list(values)
        self.model.setSolution(solution)

    def _read(self) -> Chosen | None:
        """Whole numbers out of the solver's floats; none where it has no solution.

        Packs that cost nothing are not taken for nothing.
        """
        if self.model.getInfo().primal_solution_status != 2:
            return None
        values = [round(v) for v in self.model.getSolution().col_value]
        repeats = tuple((column, n) for column, n in zip(self.columns, values, strict=False) if n)
        packs = []
        spare = {at: self._spare(at, repeats, values) for at in range(len(self.sheets))}
        for index, (offer, tier) in enumerate(self.packs):
            n = values[self.first_pack + index]
            if n and tier.from_packs and not tier.price:
                at = self.supply_of[offer.key]
                less = min(spare[at] // offer.pack, n)
                less = n if less == n else min(less, max(n - tier.from_packs, 0))
                n, spare[at] = n - less, spare[at] - less * offer.pack
            if n and tier.from_packs:
                packs.append((offer, n, n * tier.price))
        return Chosen(repeats, tuple(packs))

    def _spare(self, at: int, repeats: Sequence[tuple[Column, int]], values: Sequence[int]) -> int:
        """Sheets of a size that are there or bought, and not cut."""
        bought = sum(
            values[self.first_pack + index] * offer.pack
            for index, (offer, tier) in enumerate(self.packs)
            if tier.from_packs and self.supply_of[offer.key] == at
        )
        cut = sum(n for column, n in repeats if column.sheet == at)
        return self.sheets[at].on_hand + bought - cut
