"""What the limits on pieces are worth: a charge on every piece of a kind that is in demand.

Lagrangean relaxation of the limits. Without limits the best layout is quickly found
(:mod:`unlimited`); it takes too many of some kinds, so these are charged more, others less, and it
is found anew (subgradient steps as in Held, Wolfe and Crowder, Math. Programming 6, 1974). Each of
these layouts bounds what can be had within the limits, and gives one within them: itself without
the pieces beyond, or that of :mod:`counting` at the same charges.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.counting import CountingTable, serves
from app.core.cutting.one_sheet.limits import Kind, Start, counts_of, within
from app.core.cutting.one_sheet.pricing import Pricer

SCALE, MOST_SCALED = 1000, 2**50
"""Charges are in thousandths of a value where the numbers have room for it."""
STEPS, PATIENCE, SMALLEST_STEP = 40, 3, 0.05
LEAST_GAP = 0.001
A_FILL = 600
"""Steps to leave a layout's surplus out and to fill its gaps."""


@dataclass(frozen=True)
class Charges:
    """The charge on a piece of each kind, in ``scale``-ths of a value; ``whole`` is on all."""

    each: tuple[int, ...]
    scale: int
    whole: int

    def worth(self, values: Sequence[int], kind_of: Sequence[int]) -> list[int]:
        """Values less their charges, scaled, never below zero."""
        return [
            max(value * self.scale - self.each[kind], 0)
            for value, kind in zip(values, kind_of, strict=True)
        ]


class Charging:
    """Charges for one sheet, and layouts within the limits that come up on the way."""

    def __init__(
        self,
        size: tuple[int, int],
        kinds: Sequence[Kind],
        cutter: Cutter,
        origin: tuple[int, int],
        points: int | None,
    ) -> None:
        self.kinds, self.cutter, self.origin = kinds, cutter, origin
        self.limits = np.array([k.count for k in kinds], dtype=np.int64)
        self.values = np.array([k.value for k in kinds], dtype=np.int64)
        whole = sum(k.value * k.count for k in kinds)
        self.scale = SCALE if whole < MOST_SCALED else 1
        ways = [way for k in kinds for way in k.ways]
        self.names = {way.name: index for index, k in enumerate(kinds) for way in k.ways}
        self.kind_of = [self.names[way.name] for way in ways]
        self.pricer = Pricer(*size, ways, cutter, points)
        self.best_charges = np.zeros(len(kinds), dtype=np.int64)
        self.least: int | None = None
        """The least that the unlimited layouts came to with what is paid back, scaled."""
        self.counting: CountingTable | None = None
        places = self.pricer.places
        if places is not None and serves(places, cutter, len(kinds)):
            kind_of = [self.kind_of[at] for at in self.pricer.fitting]
            self.counting = CountingTable(places, kind_of)

    @property
    def steps(self) -> int:
        """Work of one layout: a search, and what fits put into its gaps."""
        return max(self.pricer.steps, self.counting.steps if self.counting else 0) + A_FILL

    @property
    def charges(self) -> Charges:
        """The charges that bound the sheet best."""
        whole = int(self.best_charges @ self.limits)
        return Charges(tuple(map(int, self.best_charges)), self.scale, whole)

    @property
    def bound(self) -> int | None:
        """What no layout within the limits is worth more than; none where sizes were rounded."""
        return None if self.least is None or not self.pricer.exact else self.least // self.scale

    def layouts(self) -> Iterator[Start]:
        """Layouts within the limits: while the charges are found, then at worths astray.

        They end only where :mod:`counting` cannot serve the cutter.
        """
        yield from self._found_on_the_way()
        number = 0
        while self.counting is not None:
            number += 1
            yield self._counted(self.best_charges, number)

    def _found_on_the_way(self) -> Iterator[Start]:
        charges = np.zeros(len(self.kinds), dtype=np.int64)
        step, in_vain, most = 1.0, 0, 0
        for _ in range(STEPS):
            worth = np.maximum(self.values * self.scale - charges, 0)
            found = self.pricer.best([int(worth[kind]) for kind in self.kind_of], self.origin)
            if not found:
                return
            if self.counting is not None:
                start = self._counted(charges, 0)
                most = max(most, start.value)
                yield start
            start = within(found[0].tree, self.kinds, self.names, self.cutter)
            most = max(most, start.value)
            yield start
            total = found[0].value + int(charges @ self.limits)
            in_vain += 1
            if self.least is None or total < self.least:
                self.least, self.best_charges, in_vain = total, charges, 0
            elif in_vain % PATIENCE == 0:
                step /= 2
            counts = counts_of(found[0].tree, self.names, len(self.kinds))
            over = np.where((counts < self.limits) & (charges <= 0), 0, counts - self.limits)
            if not over.any() or step < SMALLEST_STEP:
                return
            gap = max(self.least - most * self.scale, int(LEAST_GAP * self.least))
            moved = charges + step * gap / int(over @ over) * over
            charges = np.clip(moved, 0, self.values * self.scale).astype(np.int64)

    def _counted(self, charges: npt.NDArray[np.int64], number: int) -> Start:
        if self.counting is None:
            raise AssertionError("counting serves this cutter")
        worth = np.maximum(self.values - charges / self.scale, 0.0)
        tree = self.counting.attempt(worth, self.limits, number, self.origin)
        return within(tree, self.kinds, self.names, self.cutter)
