"""How many of one piece a sheet yields: the plain grid, and the best that straight cuts give.

The *stairs* follow one dimension of the piece: the yield can only change where a whole number
of pieces just fits along a side, so those places are listed and, the yield never rising with
size, halving between them finds every step exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.one_sheet.grid import Grid
from app.core.cutting.one_sheet.staged import StagedTable
from app.core.cutting.one_sheet.unlimited import Best, Lying, Places, best_layout, fitting
from app.core.cutting.tree import Layout, Part
from app.core.errors import DomainError
from app.core.paper import Piece, Sheet, ways_to_lie
from app.language import say

MOST_PIECES = 20_000
"""From one sheet; nobody cuts confetti by plan, and every piece is a part of a tree."""


@dataclass(frozen=True)
class Yield:
    """Pieces from one sheet: by a plain grid, by straight cuts, and the most by area alone."""

    sheet: Sheet
    piece: Piece
    grid: int
    best: int
    by_area: int
    exact: bool
    draw: Callable[[], Part] = field(compare=False, repr=False)

    @cached_property
    def layout(self) -> Layout:
        """Where the pieces lie; made when somebody looks, since most yields are only counted."""
        return Layout(self.sheet.width_nm, self.sheet.height_nm, self.sheet.trim_nm, self.draw())

    @property
    def used_share(self) -> tuple[int, int]:
        """Area of the pieces and of the whole sheet, as a fraction's two numbers."""
        pieces = self.best * self.piece.width_nm * self.piece.height_nm
        return pieces, self.sheet.width_nm * self.sheet.height_nm


def lying_ways(piece: Piece, sheet: Sheet, value: int = 1) -> list[Lying]:
    """The ways a piece may lie on a sheet; grain and pattern may leave none."""
    straight, turned = ways_to_lie(piece, sheet)
    ways: list[Lying] = []
    if straight:
        ways.append(Lying(piece.name, piece.width_nm, piece.height_nm, value))
    if turned and (piece.width_nm != piece.height_nm or not straight):
        ways.append(Lying(piece.name, piece.height_nm, piece.width_nm, value, turned=True))
    return ways


def best_of(
    width_nm: int,
    height_nm: int,
    lying: Sequence[Lying],
    cutter: Cutter = KNIFE,
    origin: tuple[int, int] = (0, 0),
) -> Best:
    """The most valuable layout the cutter can make, its turns limited or not."""
    useful = fitting(width_nm, height_nm, lying, cutter)
    if cutter.stages is None or not useful:
        return best_layout(width_nm, height_nm, useful, cutter, origin)
    places = Places(width_nm, height_nm, useful, cutter, raster=False)
    return StagedTable(places, [p.value for p in useful], cutter.stages).best_from(origin)


def yield_of(piece: Piece, sheet: Sheet, cutter: Cutter = KNIFE, *, quick: bool = False) -> Yield:
    """The exact best straight-cut yield of one piece, with the layout that gives it.

    Where a plain grid gives as many, its layout is taken: it has the fewest cuts. A ``quick``
    one looks at grids only and says so.
    """
    width, height = sheet.usable
    ways = fitting(width, height, lying_ways(piece, sheet), cutter)
    origin = (sheet.trim_nm, sheet.trim_nm)
    grids = [Grid.of(way, width, height, cutter) for way in ways]
    grid = max(grids, key=lambda g: g.count, default=None)
    count = grid.count if grid else 0
    area = width * height // (piece.width_nm * piece.height_nm) if ways else 0
    if area > MOST_PIECES:
        raise DomainError(
            say("The pieces are too many and too small for the sheet to be searched.")
        )
    best = count
    found = None
    exact = not quick or count == area or (len(ways) < 2 and cutter.stages is None)
    if count < area and not quick and (len(ways) > 1 or cutter.stages is not None):
        found = best_of(width, height, ways, cutter, origin)
        best = max(best, found.value)

    def draw() -> Part:
        if found is not None and found.value > count:
            return found.tree
        return grid.tree(origin, width, height) if grid and count else Part(*origin, width, height)

    return Yield(sheet, piece, count, best, area, exact, draw)


@dataclass(frozen=True)
class Step:
    """Up to and with this length of the dimension a sheet yields ``count`` pieces."""

    up_to_nm: int
    count: int


@dataclass(frozen=True)
class Line:
    """A side of the piece as a straight line of the dimension watched: slope × x + offset."""

    slope: int
    offset_nm: int

    def at(self, x: int) -> int:
        """The side's length."""
        return self.slope * x + self.offset_nm


def stairs(
    piece: Piece,
    width: Line,
    height: Line,
    sheet: Sheet,
    span: tuple[int, int],
    cutter: Cutter = KNIFE,
) -> list[Step]:
    """Every step of the yield as a dimension runs over ``span`` (nanometres, both ends in).

    ``width`` and ``height`` say how the piece follows the dimension, with slopes of zero or
    more. The last step ends at the end of the span.
    """
    _low, high = span

    def count(x: int) -> int:
        sized = Piece(
            piece.name, width.at(x), height.at(x), piece.count, piece.grain, piece.may_turn
        )
        return yield_of(sized, sheet, cutter).best

    places = sorted({high, *_fitting_places(width, height, sheet, span, cutter)})
    return _steps_between(places, count)


def _fitting_places(
    width: Line, height: Line, sheet: Sheet, span: tuple[int, int], cutter: Cutter
) -> set[int]:
    """Lengths at which i widths and j heights just fill a side of the sheet, rounded down.

    The cutter's longest cut is such a side too: a strip may be as long as it and no longer.
    """
    low, high = span
    kerf = cutter.kerf_nm
    places: set[int] = set()
    sides = {*sheet.usable, *([cutter.longest_nm] if cutter.longest_nm else [])}
    for length in {side + kerf for side in sides}:
        for i in range(length // max(width.at(low) + kerf, 1) + 1):
            for j in range(length // max(height.at(low) + kerf, 1) + 1):
                slope = i * width.slope + j * height.slope
                if slope:
                    fixed = i * (width.offset_nm + kerf) + j * (height.offset_nm + kerf)
                    x = (length - fixed) // slope
                    if low <= x < high:
                        places.add(x)
    return places


def _steps_between(places: list[int], count: Callable[[int], int]) -> list[Step]:
    """Steps of a count that never rises, constant between neighbouring places."""
    known: dict[int, int] = {}

    def at(index: int) -> int:
        if index not in known:
            known[index] = count(places[index])
        return known[index]

    ends: list[int] = []

    def search(first: int, last: int) -> None:
        """Collect each index in [first, last) after which the count falls."""
        if first == last or at(first) == at(last):
            return
        if last - first == 1:
            ends.append(first)
            return
        middle = (first + last) // 2
        search(first, middle)
        search(middle, last)

    final = len(places) - 1
    search(0, final)
    return [Step(places[index], at(index)) for index in [*ends, final]]
