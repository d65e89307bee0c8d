"""The layouts of one sheet worth most at the worths that the batch planner gives the pieces.

The places to cut are found once for a sheet and its pieces; every round fills the table anew.
Where the sheet has so many places that filling it takes long, there is a quick pricer beside
the exact one, with sizes rounded up; where it has too many to search at all, only that.
"""

from __future__ import annotations

from collections.abc import Sequence

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.rounded import most_by_rounding, rounded_cells, states
from app.core.cutting.one_sheet.staged import StagedTable
from app.core.cutting.one_sheet.unlimited import Best, Ints, Lying, Places, Table, fitting
from app.core.cutting.tree import joined

MOST_EXACT = 700_000
"""Rectangles in a table that is filled again and again."""
COARSEST = 700
A_TREE = 700
"""Steps to find the cuts of a layout again."""


class Pricer:
    """Good layouts of one rectangle for a fixed set of pieces at changing worths.

    ``points`` is about how many places to cut there may be along a side; None for all of them.
    """

    def __init__(
        self,
        width_nm: int,
        height_nm: int,
        lying: Sequence[Lying],
        cutter: Cutter,
        points: int | None = None,
    ) -> None:
        self.size, self.cutter = (width_nm, height_nm), cutter
        keep = {id(p) for p in fitting(width_nm, height_nm, lying, cutter)}
        self.fitting = [index for index, p in enumerate(lying) if id(p) in keep]
        self.lying = [lying[index] for index in self.fitting]
        searchable = states(width_nm, height_nm, self.lying, cutter)
        self.exact = points is None and searchable is not None and searchable <= MOST_EXACT
        self.cells = None
        if not self.exact and cutter.stages is None:
            self.cells = rounded_cells(
                width_nm, height_nm, self.lying, cutter.kerf_nm, points or COARSEST
            )
        self.places: Places | None = None
        # Coarser sizes would need trims that limited turns may not allow.
        if self.lying and (self.exact or self.cells):
            self.places = Places(
                width_nm, height_nm, self.lying, cutter, self.cells, raster=cutter.stages is None
            )

    @property
    def steps(self) -> int:
        """Work of one search, layouts besides the first not counted."""
        if self.places is None:
            return 0
        tables = 1 if self.cutter.stages is None else self.cutter.stages + 1
        return tables * self.places.steps + A_TREE

    def best(
        self, values: Sequence[int], origin: tuple[int, int] = (0, 0), most: int = 1
    ) -> list[Best]:
        """Up to ``most`` good layouts at these worths (one for each way a piece may lie).

        The best comes first; the others begin with another first cut, so that they differ.
        """
        worth = [values[index] for index in self.fitting]
        if self.places is None or not any(worth):
            return []
        if self.cutter.stages is not None:
            found = StagedTable(self.places, worth, self.cutter.stages).best_from(origin)
            return [found] if found.value else []
        table = Table(self.places, worth)
        whole = table.best_from(origin)
        return [whole, *_others(table, origin, most - 1)] if whole.value else []

    def at_most(self, values: Sequence[int]) -> int:
        """A value that no layout exceeds at these worths: the best there is, where exact."""
        if self.exact:
            return max((found.value for found in self.best(values)), default=0)
        worth = [values[index] for index in self.fitting]
        lying = [
            Lying(p.name, p.width_nm, p.height_nm, value, p.turned)
            for p, value in zip(self.lying, worth, strict=True)
        ]
        return most_by_rounding(*self.size, lying, self.cutter)


def _others(table: Table, origin: tuple[int, int], most: int) -> list[Best]:
    """Good layouts by their first cuts, split off as wide or high as some piece."""
    places = table.places
    if most <= 0 or places.longest is not None:
        return []
    cuts: list[tuple[int, str, int]] = []
    for way, sizes, line, points in (
        ("down", [w for w, _ in places.cells], table.best[:, -1], table.xs),
        ("across", [h for _, h in places.cells], table.best[-1], table.ys),
    ):
        cuts += [(value, way, at) for value, at in _first_cuts(sizes, line, points)]
    cuts.sort(key=lambda cut: (-cut[0], cut[1], cut[2]))
    return [
        Best(value, joined(table.divided(*origin, places.width, places.height, way, at)))
        for value, way, at in cuts[1 : most + 1]
        if value
    ]


def _first_cuts(sizes: Sequence[int], line: Ints, points: Ints) -> list[tuple[int, int]]:
    """Value and place of each first cut that splits a piece's width or height off."""
    found = []
    for size in sorted(set(sizes)):
        at = int(points.searchsorted(size))
        if at < len(points) - 1 and points[at] == size:
            rest = int(points.searchsorted(points[-1] - size, side="right")) - 1
            found.append((int(line[at] + line[rest]), size))
    return found
