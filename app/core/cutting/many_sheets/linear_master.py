"""The linear program over the layouts known; its duals say what one more piece is worth.

Rows: every kind of piece is cut at least as often as it is wanted; sheets of one size are cut
no more often than they are on hand and bought. Columns: layouts of a sheet, and packs of an
offer at each of its prices. It takes each offer at its best price and buys single sheets, so it
can only be cheaper than any plan; its duals price new layouts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import highspy
import numpy as np

from app.core.cutting.effort import Work
from app.core.cutting.model import Supply, Wanted
from app.core.cutting.tree import Part

INFINITY = highspy.kHighsInf
A_PIVOT, A_SOLVE = 8, 50


@dataclass(frozen=True)
class Column:
    """A layout of the ``sheet``-th size: pieces of each kind it gives, and its cuts."""

    sheet: int
    counts: tuple[int, ...]
    draw: Callable[[], Part] = field(compare=False, repr=False)
    count_cuts: Callable[[], int] = field(compare=False, repr=False)

    @cached_property
    def tree(self) -> Part:
        """Its cuts; worked out when somebody looks, since most layouts are never cut."""
        return self.draw()

    @cached_property
    def cuts(self) -> int:
        """Cuts in one sheet."""
        return self.count_cuts()


@dataclass(frozen=True)
class Duals:
    """What one more piece of each kind is worth, and what a sheet of each size costs."""

    pieces: np.ndarray
    sheets: np.ndarray
    limits: float
    """Worth of the limits on buying: taken off any bound made from these duals."""


def quiet() -> highspy.Highs:
    """A solver that says nothing and does the same in every run."""
    model = highspy.Highs()
    model.setOptionValue("output_flag", False)  # noqa: FBT003 - HiGHS takes it so
    model.setOptionValue("threads", 1)
    model.setOptionValue("random_seed", 1)
    return model


class LinearMaster:
    """The linear program; layouts are added as they are found."""

    def __init__(self, wanted: Sequence[Wanted], sheets: Sequence[Supply], work: Work) -> None:
        self.wanted, self.sheets, self.work = wanted, sheets, work
        self.model = quiet()
        for w in wanted:
            self.model.addRow(float(w.count), INFINITY, 0, np.array([]), np.array([]))
        for supply in sheets:
            self.model.addRow(-INFINITY, float(supply.on_hand), 0, np.array([]), np.array([]))
        self.limited: list[tuple[int, float]] = []
        for index, supply in enumerate(sheets):
            row = np.array([len(wanted) + index], dtype=np.int32)
            for offer in supply.offers:
                each = min(b.price for b in offer.breaks) / offer.pack
                most = INFINITY
                if offer.limit is not None:
                    most = float(offer.limit // offer.pack * offer.pack)
                    self.limited.append((self.model.getNumCol(), most))
                self.model.addCol(each, 0.0, most, 1, row, np.array([-1.0]))
        # A penalty column a kind keeps the program feasible before layouts are found.
        highest = max(
            (min(b.price for b in o.breaks) / o.pack for s in sheets for o in s.offers), default=1.0
        )
        self.penalty = 1000.0 * max(highest, 1.0)
        for index in range(len(wanted)):
            row = np.array([index], dtype=np.int32)
            self.model.addCol(self.penalty, 0.0, INFINITY, 1, row, np.array([1.0]))
        self.first = self.model.getNumCol()
        self.columns: list[Column] = []

    def add(self, column: Column) -> None:
        """Take a layout in."""
        rows = [i for i, n in enumerate(column.counts) if n]
        values = [float(column.counts[i]) for i in rows]
        rows.append(len(self.wanted) + column.sheet)
        self.columns.append(column)
        self.model.addCol(
            0.0, 0.0, INFINITY, len(rows), np.array(rows, dtype=np.int32), np.array([*values, 1.0])
        )

    def solve(self) -> Duals:
        """Solve it and read its duals."""
        self.model.run()
        pivots = max(int(self.model.getInfo().simplex_iteration_count), 0)
        self.work.add(A_SOLVE + A_PIVOT * pivots + len(self.columns) // 2)
        solution = self.model.getSolution()
        duals = np.array(solution.row_dual)
        n = len(self.wanted)
        reduced = np.array(solution.col_dual)
        limits = sum(min(reduced[col], 0.0) * most for col, most in self.limited)
        return Duals(
            np.maximum(duals[:n], 0.0),
            np.maximum(-duals[n:], 0.0),
            float(limits),
        )

    def short(self) -> float:
        """Pieces that the linear program could not cover with the sheets there are."""
        values = np.array(self.model.getSolution().col_value)
        return float(values[self.first - len(self.wanted) : self.first].sum())

    def amounts(self) -> np.ndarray:
        """How often each layout is cut in the linear solution."""
        return np.array(self.model.getSolution().col_value)[self.first :]


def price_of(supply: Supply) -> float:
    """What a sheet of a size costs at its best price; its worth where none is sold."""
    prices = [min(b.price for b in o.breaks) / o.pack for o in supply.offers]
    return min(prices, default=supply.value)
