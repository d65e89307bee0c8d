"""The layouts that the batch planner knows, and where it gets more of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from app.core.cutting.cover import Wanted
from app.core.cutting.cutter import Cutter
from app.core.cutting.layout import Part
from app.core.cutting.master import Column, LinearMaster, Supply
from app.core.cutting.pricing import Pricer
from app.core.cutting.unlimited import Best, Lying
from app.core.cutting.yields import lying_ways, yield_of

Floats = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]
WORTH = 10**9
"""Worths are counted in whole numbers: the dearest piece is worth about so much."""


class Pool:
    """Layouts by sheet and by the pieces they give, each one a column of the linear program."""

    def __init__(self, wanted: Sequence[Wanted], sheets: Sequence[Supply], cutter: Cutter) -> None:
        self.wanted, self.sheets, self.cutter = wanted, sheets, cutter
        self.lying = [[lying_ways(w.piece, supply.sheet) for w in wanted] for supply in sheets]
        self.index = {w.key: i for i, w in enumerate(wanted)}
        self.areas = np.array([w.piece.width_nm * w.piece.height_nm * 1e-12 for w in wanted])
        self.known: dict[tuple[int, tuple[int, ...]], Column] = {}
        self.master = LinearMaster(wanted, sheets)

    def take(self, sheet: int, tree: Part) -> tuple[Column, bool]:
        """A layout as a column of the program, and whether it is new to it."""
        key = (sheet, tuple(int(n) for n in self.counts(tree)))
        if key in self.known:
            return self.known[key], False
        column = self.known[key] = Column(sheet, key[1], tree)
        self.master.add(column)
        return column, True

    def counts(self, tree: Part) -> Counts:
        """Pieces of each kind in a layout."""
        counts = np.zeros(len(self.wanted), dtype=np.int64)
        for leaf in tree.leaves():
            if leaf.piece:
                counts[self.index[leaf.piece.name]] += 1
        return counts

    def each_by_itself(self) -> None:
        """A layout of every piece alone on every sheet: a sound place to begin."""
        for sheet, supply in enumerate(self.sheets):
            for w in self.wanted:
                cut = yield_of(w.piece, supply.sheet, self.cutter, quick=True)
                if cut.best:
                    self.take(sheet, renamed(cut.layout.tree, w.key))


class SheetPricers:
    """For every sheet the search for layouts; ``points`` as in :class:`Pricer`."""

    def __init__(self, pool: Pool, points: int | None) -> None:
        self.pool = pool
        self.by_sheet: list[tuple[Pricer, list[int]]] = []
        for supply, by_kind in zip(pool.sheets, pool.lying, strict=True):
            lying: list[Lying] = []
            kinds: list[int] = []
            for kind, (w, ways) in enumerate(zip(pool.wanted, by_kind, strict=True)):
                lying += [replace(way, name=w.key) for way in ways]
                kinds += [kind] * len(ways)
            pricer = Pricer(*supply.sheet.usable, lying, pool.cutter, points)
            self.by_sheet.append((pricer, kinds))

    @property
    def states(self) -> int:
        """Rectangles that one round over all sheets looks at."""
        return sum(p.places.states for p, _ in self.by_sheet if p.places is not None)

    def best(self, sheet: int, values: Sequence[int], most: int) -> list[Best]:
        """Good layouts of a sheet at worths given by kind, the best first."""
        pricer, kinds = self.by_sheet[sheet]
        trim = self.pool.sheets[sheet].sheet.trim_nm
        return pricer.best([values[kind] for kind in kinds], (trim, trim), most)

    def at_most(self, sheet: int, values: Sequence[int]) -> int:
        """A value that no layout of a sheet exceeds."""
        pricer, kinds = self.by_sheet[sheet]
        return pricer.at_most([values[kind] for kind in kinds])

    @property
    def all_exact(self) -> bool:
        """Whether no better layout of any sheet was overlooked."""
        return all(pricer.exact for pricer, _ in self.by_sheet)

    def exact(self, sheet: int) -> bool:
        """Whether the best layout found of a sheet is the best there is."""
        return self.by_sheet[sheet][0].exact


def whole(worth: Floats) -> tuple[list[int], float]:
    """Worths as whole numbers, rounded up so that a bound stays one, and what a unit is worth."""
    unit = max(float(worth.max()), 1e-12) / WORTH
    return [int(np.ceil(d / unit)) if d > 0 else 0 for d in worth], unit


def renamed(tree: Part, key: str) -> Part:
    """The same cuts with the piece known by its kind's key."""
    piece = replace(tree.piece, name=key) if tree.piece else None
    return replace(tree, piece=piece, parts=tuple(renamed(p, key) for p in tree.parts))
