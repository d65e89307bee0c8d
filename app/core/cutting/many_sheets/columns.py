"""The layouts that the batch planner knows, and where it gets more of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Protocol

import numpy as np
import numpy.typing as npt

from app.core.cutting.cutter import Cutter
from app.core.cutting.effort import Work
from app.core.cutting.many_sheets.linear_master import Column, LinearMaster
from app.core.cutting.model import Supply, Wanted
from app.core.cutting.one_sheet.blocks import Blocks, InBlocks
from app.core.cutting.one_sheet.charges import Charging
from app.core.cutting.one_sheet.limits import Kind, Start, counts_of, filled_up
from app.core.cutting.one_sheet.pricing import A_TREE, Pricer
from app.core.cutting.one_sheet.unlimited import Lying
from app.core.cutting.one_sheet.yields import Yield, lying_ways
from app.core.cutting.tree import Part, joined

Floats = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]
WORTH = 10**9
"""Worths are counted in whole numbers: the dearest piece is worth about so much."""
EFFORT = 4e7
"""Places cubed times kinds that are counted in a hundred thousand steps or less."""
A_BLOCK_LAYOUT, A_COUNT, A_GAP = 23, 16, 4
"""Steps for a layout of blocks, and for a piece and a gap it is tried in."""
A_CHARGING = 900
"""Steps to find the places to cut for a search that counts."""
DEAR_SEARCH = 60_000
"""Rectangles from which on a search costs so much that a few more trees of cuts do not."""


@dataclass(frozen=True)
class Found:
    """A layout that a search offers: pieces of each kind, and its cuts when asked for."""

    counts: Counts
    draw: Callable[[], Part]
    count_cuts: Callable[[], int]


class Pool:
    """Layouts by sheet and by the pieces they give, each one a column of the linear program."""

    def __init__(
        self, wanted: Sequence[Wanted], sheets: Sequence[Supply], cutter: Cutter, work: Work
    ) -> None:
        self.wanted, self.sheets, self.cutter, self.work = wanted, sheets, cutter, work
        self.lying = [
            [
                [replace(way, name=w.key) for way in lying_ways(w.piece, supply.sheet)]
                for w in wanted
            ]
            for supply in sheets
        ]
        self.index = {w.key: i for i, w in enumerate(wanted)}
        self.areas = np.array([w.piece.width_nm * w.piece.height_nm * 1e-12 for w in wanted])
        self.known: dict[tuple[int, tuple[int, ...]], Column] = {}
        self.master = LinearMaster(wanted, sheets, work)

    def take(self, sheet: int, found: Found) -> tuple[Column, bool]:
        """A layout as a column of the program, and whether it is new to it."""
        key = (sheet, tuple(found.counts.tolist()))
        if key in self.known:
            return self.known[key], False
        column = self.known[key] = Column(sheet, key[1], found.draw, found.count_cuts)
        self.master.add(column)
        return column, True

    def take_alone(self, sheet: int, kind: int, cut: Yield) -> Column:
        """A layout with one kind of piece."""
        counts = np.zeros(len(self.wanted), dtype=np.int64)
        counts[kind] = cut.best
        key = self.wanted[kind].key
        found = Found(counts, lambda: renamed(cut.layout.tree, key), lambda: cut.layout.tree.cuts())
        return self.take(sheet, found)[0]

    def found(self, tree: Part) -> Found:
        """A layout known by its cuts."""
        counts = counts_of(tree, self.index, len(self.wanted))
        return Found(counts, lambda: tree, tree.cuts)

    def kinds(self, sheet: int, values: Sequence[int], limits: Counts) -> list[Kind]:
        """The kinds that are worth something on a sheet, and how many of each it may hold."""
        return [
            Kind(tuple(replace(way, value=value) for way in ways), value, int(limit))
            for ways, value, limit in zip(self.lying[sheet], values, limits, strict=True)
            if value and limit
        ]

    def ways(self, sheet: int) -> tuple[list[Lying], list[int]]:
        """How the pieces may lie on a sheet, and the number of each one's kind."""
        kinds = [kind for kind, ways in enumerate(self.lying[sheet]) for _ in ways]
        return [way for ways in self.lying[sheet] for way in ways], kinds


class Pricers(Protocol):
    """What finds layouts of a sheet at worths given by kind, the best first."""

    all_exact: bool
    """Whether no better layout of any sheet is overlooked."""
    at_a_time: int
    """How many layouts of a sheet it is well asked for in a round."""

    def best(
        self, sheet: int, values: Sequence[int], most: int, left: Counts | None = None
    ) -> list[Found]:
        """Up to ``most`` layouts; with ``left`` as many of a kind are of use at the most."""
        ...


class BlockPricers:
    """For every sheet its layouts in blocks."""

    all_exact, at_a_time = False, 6

    def __init__(self, pool: Pool) -> None:
        self.work = pool.work
        self.by_sheet: list[tuple[Blocks, tuple[int, int]]] = []
        for sheet, supply in enumerate(pool.sheets):
            blocks = Blocks(supply.sheet.usable, *pool.ways(sheet), len(pool.wanted), pool.cutter)
            self.by_sheet.append((blocks, (supply.sheet.trim_nm, supply.sheet.trim_nm)))

    @staticmethod
    def suit(pool: Pool) -> bool:
        """Whether every sheet can be cut into blocks."""
        return all(pool.cutter.is_free(*supply.sheet.usable) for supply in pool.sheets)

    def best(
        self, sheet: int, values: Sequence[int], most: int, left: Counts | None = None
    ) -> list[Found]:
        """Layouts of four blocks at the most."""
        blocks, origin = self.by_sheet[sheet]

        def offered(layout: InBlocks) -> Found:
            return Found(
                layout.counts, lambda: blocks.tree(layout, origin), lambda: blocks.cuts(layout)
            )

        self.work.add(blocks.steps + most * A_BLOCK_LAYOUT)
        return [offered(layout) for layout in blocks.best(values, most, left)]


class SheetPricers:
    """For every sheet the search for layouts; ``points`` as in :class:`Pricer`."""

    def __init__(self, pool: Pool, points: int | None) -> None:
        self.pool = pool
        self.by_sheet: list[tuple[Pricer, list[int]]] = []
        for sheet, supply in enumerate(pool.sheets):
            lying, kinds = pool.ways(sheet)
            pricer = Pricer(*supply.sheet.usable, lying, pool.cutter, points)
            self.by_sheet.append((pricer, kinds))
        self.all_exact = all(pricer.exact for pricer, _ in self.by_sheet)
        self.at_a_time = 6 if self.states > DEAR_SEARCH else 2

    @property
    def states(self) -> int:
        """Rectangles that one round over all sheets looks at."""
        return sum(p.places.states for p, _ in self.by_sheet if p.places is not None)

    def best(
        self, sheet: int, values: Sequence[int], most: int, left: Counts | None = None
    ) -> list[Found]:
        """Good layouts of a sheet at worths given by kind, the best first; none is limited."""
        pricer, kinds = self.by_sheet[sheet]
        trim = self.pool.sheets[sheet].sheet.trim_nm
        self.pool.work.add(pricer.steps + (most - 1) * A_TREE)
        found = pricer.best([values[kind] for kind in kinds], (trim, trim), most)
        return [self.pool.found(layout.tree) for layout in found]

    def at_most(self, sheet: int, values: Sequence[int]) -> int:
        """A value that no layout of a sheet exceeds: the best there is, where that is known."""
        pricer, kinds = self.by_sheet[sheet]
        self.pool.work.add(pricer.steps)
        return pricer.at_most([values[kind] for kind in kinds])


class CountedPricers:
    """For every sheet a layout that takes no more of a kind than is wanted or left.

    ``points`` is about how many places to cut there may be along a side; fewer where there are
    many kinds to count.
    """

    all_exact, at_a_time = False, 1

    def __init__(self, pool: Pool, points: int) -> None:
        self.pool = pool
        self.points = min(points, int((EFFORT / len(pool.wanted)) ** (1 / 3)))
        self.wanted = np.array([w.count for w in pool.wanted])

    @property
    def serve(self) -> bool:
        """Whether pieces can be counted on every sheet."""
        values = [1] * len(self.wanted)
        every = range(len(self.pool.sheets))
        return all(self._charging(sheet, values, self.wanted).counting for sheet in every)

    def best(
        self, sheet: int, values: Sequence[int], most: int, left: Counts | None = None
    ) -> list[Found]:
        """The best of ``most`` layouts or as many as there is work left for; one at the most."""
        self.pool.work.add(A_CHARGING)
        charging = self._charging(sheet, values, self.wanted if left is None else left)
        if charging.counting is None:
            return []
        best: Start | None = None
        for start in islice(charging.layouts(), most):
            if best is None or start.value > best.value:
                best = start
            self.pool.work.add(charging.steps)
            if self.pool.work.left() <= 0:
                break
        return [self.pool.found(best.tree)] if best is not None and best.value else []

    def _charging(self, sheet: int, values: Sequence[int], limits: Counts) -> Charging:
        supply, kinds = self.pool.sheets[sheet].sheet, self.pool.kinds(sheet, values, limits)
        trim = (supply.trim_nm, supply.trim_nm)
        return Charging(supply.usable, kinds, self.pool.cutter, trim, self.points)


class PlainPricers:
    """For every sheet what is left, the dearest first, each piece where least room is lost."""

    all_exact, at_a_time = False, 1

    def __init__(self, pool: Pool) -> None:
        self.pool = pool
        self.wanted = np.array([w.count for w in pool.wanted])

    def best(
        self, sheet: int, values: Sequence[int], most: int, left: Counts | None = None
    ) -> list[Found]:
        """One layout, made in a moment."""
        limits = self.wanted if left is None else left
        supply, kinds = self.pool.sheets[sheet].sheet, self.pool.kinds(sheet, values, limits)
        whole = Part(supply.trim_nm, supply.trim_nm, *supply.usable)
        tree = filled_up(whole, kinds, [k.count for k in kinds], self.pool.cutter.kerf_nm)
        found = self.pool.found(joined(tree))
        placed = int(found.counts.sum())
        self.pool.work.add(placed * (A_COUNT + A_GAP * min(placed, 20)))
        return [found] if found.counts.any() else []


def whole(worth: Floats) -> tuple[list[int], float]:
    """Worths as whole numbers, rounded up so that a bound stays one, and what a unit is worth."""
    unit = max(float(worth.max()), 1e-12) / WORTH
    return [int(np.ceil(d / unit)) if d > 0 else 0 for d in worth], unit


def renamed(tree: Part, key: str) -> Part:
    """The same cuts with the piece known by its kind's key."""
    piece = replace(tree.piece, name=key) if tree.piece else None
    return replace(tree, piece=piece, parts=tuple(renamed(p, key) for p in tree.parts))
