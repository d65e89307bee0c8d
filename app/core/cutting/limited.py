"""The best straight-cut layout of one sheet when each piece may be cut only so often.

Rectangles are built up from pieces: two that were built are set side by side or one above the
other, and every layout that straight cuts can give arises so (Wang, Oper. Res. 31, 1983). The
most promising rectangle is taken first, and what cannot beat the best layout known is left out:
a rectangle's promise is its own value plus a bound on what the rest of the sheet could still
hold (best-first search as in Viswanathan and Bagchi, Oper. Res. 41, 1993, with the outer bound
by recursion of Cung, Hifi and Le Cun, Int. Trans. Oper. Res. 7, 2000).

Bounds on a rest come from two relaxations, whichever is lower: the unlimited layout of
:mod:`unlimited`, and a knapsack of the limited pieces by area. When the best promise left is no
better than the best layout, that layout is proved best; when the time runs out first, the
promise says how far it can be from the best.

Kerf enlarges pieces and sheet, as in :mod:`unlimited`. Where the cutter reaches only so far,
rectangles longer than that are joined end to end alone; where the direction of cutting may
change only so often, each rectangle carries the changes it takes.
"""

from __future__ import annotations

import heapq
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.layout import Part, joined
from app.core.cutting.rounded import rounded_cells
from app.core.cutting.trims import in_a_row, trimmed_free, trims_reach
from app.core.cutting.unlimited import Ints, Lying, Places, Table, cut_free, fitting
from app.core.errors import DomainError

KNAPSACK_CELLS = 100_000
MOST_AROUND = 400_000
"""Rectangles for which a bound on what lies around them is worked out; past it area must do."""
MOST_BUILT = 400_000
"""Rectangles kept at once; past it the search ends with its best, so memory stays bounded."""


@dataclass(frozen=True)
class Kind:
    """A kind of piece: the ways it may lie, its worth, and how many there are to cut."""

    ways: tuple[Lying, ...]
    value: int
    count: int


@dataclass(frozen=True)
class LimitedBest:
    """The most value found, what no layout can exceed, and the tree of cuts."""

    value: int
    bound: int
    tree: Part
    counts: tuple[int, ...]

    @property
    def proved(self) -> bool:
        """Whether nothing better exists."""
        return self.value >= self.bound


@dataclass(frozen=True)
class Start:
    """A layout known before the search, its value and its pieces of each kind."""

    value: int
    tree: Part
    counts: tuple[int, ...]


@dataclass(frozen=True)
class _Built:
    """A rectangle: a piece, or two rectangles joined ``down`` (beside) or ``across`` (above).

    ``changes`` of the cutting direction free its pieces once it is cut out.
    """

    width: int
    height: int
    piece: Lying | None = None
    join: str = ""
    first: _Built | None = None
    second: _Built | None = None
    changes: int = 0

    def changes_in(self, join: str, *, just_fits: bool) -> int:
        """Changes it takes as a strip among others joined that way, as long as they or not."""
        if self.join == join:
            return self.changes if just_fits else max(self.changes, 1)
        if self.piece is not None:
            return 0 if just_fits else 1
        return self.changes + 1


def best_limited(
    width_nm: int,
    height_nm: int,
    kinds: Sequence[Kind],
    cutter: Cutter = KNIFE,
    origin: tuple[int, int] = (0, 0),
    seconds: float = 5.0,
    points: int | None = None,
    start: Start | None = None,
) -> LimitedBest:
    """The most valuable layout with each kind at most its count, in the time given.

    ``points`` plans with sizes rounded up so that there are about so many places to cut along a
    side: quicker, and no longer proved. ``start`` is a layout to be bettered.
    """
    until = time.perf_counter() + seconds
    search = _Search(width_nm, height_nm, kinds, cutter, points)
    if search.nothing:
        return LimitedBest(0, 0, Part(*origin, width_nm, height_nm), (0,) * len(kinds))
    if start is not None:
        search.start, search.best_value = start, start.value
    bound = search.run(until)
    return search.result(origin, bound)


class _Search:
    def __init__(
        self,
        width: int,
        height: int,
        kinds: Sequence[Kind],
        cutter: Cutter,
        points: int | None,
    ) -> None:
        kerf = self.kerf = cutter.kerf_nm
        self.width, self.height = width + kerf, height + kerf
        self.kinds, self.stages = kinds, cutter.stages
        self.longest = None if cutter.longest_nm is None else cutter.longest_nm + kerf
        self.limits = np.array([kind.count for kind in kinds], dtype=np.int32)
        self.starts = [
            (index, way)
            for index, kind in enumerate(kinds)
            if kind.count > 0 and kind.value > 0
            for way in fitting(width, height, kind.ways, cutter)
        ]
        self.nothing = not self.starts
        if self.nothing:
            return
        ways = [way for _, way in self.starts]
        exact = [(way.width_nm + kerf, way.height_nm + kerf) for way in ways]
        self.cells = exact
        if points is not None:
            self.cells = rounded_cells(width, height, ways, kerf, points)
        self.rounded = self.cells != exact
        self._bounds()
        self.heap: list[tuple[int, int, int, _Built, npt.NDArray[np.int32]]] = []
        self.seen: dict[bytes, list[tuple[int, int]]] = {}
        self.pushed = 0
        self.best_value = 0
        self.start: Start | None = None
        self.best: tuple[_Built, npt.NDArray[np.int32]] | None = None

    def _bounds(self) -> None:
        """What the rest of the sheet around a corner rectangle can hold at the most."""
        lying = [
            Lying(way.name, way.width_nm, way.height_nm, self.kinds[index].value, way.turned)
            for index, way in self.starts
        ]
        # Areas in squares of a unit that keeps them within 64 bits, rounded so as to overrate.
        self.unit = 1
        while (self.width // self.unit + 1) * (self.height // self.unit + 1) >= 2**60:
            self.unit *= 10
        self.whole = (self.width // self.unit + 1) * (self.height // self.unit + 1)
        self.area_step = max(self.whole // KNAPSACK_CELLS, 1)
        self.by_area = self._knapsack()
        self.around: Ints | None = None
        try:
            places = Places(
                self.width - self.kerf, self.height - self.kerf, lying, Cutter(self.kerf),
                self.cells, raster=False,
            )  # fmt: skip
        except DomainError:
            return
        if places.states > MOST_AROUND:
            return
        table = Table(places, [p.value for p in lying])
        xs, ys = table.xs // self.unit + 1, table.ys // self.unit + 1
        cells = xs[:, None] * ys[None, :] // self.area_step + 1
        inside = np.minimum(table.best, self.by_area[np.minimum(cells, len(self.by_area) - 1)])
        self.xs = np.append(table.xs, self.width)
        self.ys = np.append(table.ys, self.height)
        self.around = _around(table.xs, table.ys, self.xs, self.ys, inside)

    def _knapsack(self) -> Ints:
        """The most value of limited pieces by area, areas rounded down in steps."""
        cells = self.whole // self.area_step + 2
        best = np.zeros(cells, dtype=np.int64)
        for kind in self.kinds:
            if not kind.ways:
                continue
            way = kind.ways[0]
            sides = (
                (way.width_nm + self.kerf) // self.unit,
                (way.height_nm + self.kerf) // self.unit,
            )
            area = sides[0] * sides[1] // self.area_step
            left, bundle = kind.count, 1
            while left > 0:
                take = min(bundle, left)
                left, bundle = left - take, bundle * 2
                if area * take < cells:
                    moved = best[: cells - area * take] + kind.value * take
                    best[area * take :] = np.maximum(best[area * take :], moved)
                elif area == 0:
                    best += kind.value * take
        return best

    def promise(self, widths: Ints, heights: Ints, values: Ints) -> Ints:
        """Value of rectangles and of whatever could still lie around them."""
        used = (widths // self.unit) * (heights // self.unit)
        rest = (self.whole - used) // self.area_step + 1
        by_area: Ints = self.by_area[np.minimum(rest, len(self.by_area) - 1)]
        if self.around is None:
            return values + by_area
        i = np.searchsorted(self.xs[:-1], widths)
        j = np.searchsorted(self.ys[:-1], heights)
        found: Ints = values + np.minimum(self.around[i, j], by_area)
        return found

    def run(self, until: float) -> int:
        """Search until the best is proved or time or room run out; the bound left."""
        self._begin()
        built: list[_Built] = []
        room = 1024
        self.w, self.h, self.v = (np.zeros(room, dtype=np.int64) for _ in range(3))
        self.counts = np.zeros((room, len(self.kinds)), dtype=np.int32)
        while self.heap:
            promise, value, _, rectangle, counts = heapq.heappop(self.heap)
            promise, value = -promise, -value
            if promise <= self.best_value:
                break
            if len(built) % 16 == 0 and (time.perf_counter() > until or self.pushed > MOST_BUILT):
                return promise
            self._keep(len(built), rectangle, value, counts)
            built.append(rectangle)
            self._join_with_all(built, rectangle, value, counts)
        return self.best_value

    def _begin(self) -> None:
        for (index, way), cell in zip(self.starts, self.cells, strict=True):
            counts = np.zeros(len(self.kinds), dtype=np.int32)
            counts[index] = 1
            rectangle = _Built(*cell, way)
            value = self.kinds[index].value
            one = np.array([1], dtype=np.int64)
            promise = self.promise(one * rectangle.width, one * rectangle.height, one * value)
            self._push(int(promise[0]), value, rectangle, counts)
            self._note(value, rectangle, counts)

    def _push(
        self, promise: int, value: int, rectangle: _Built, counts: npt.NDArray[np.int32]
    ) -> None:
        self.pushed += 1
        heapq.heappush(self.heap, (-promise, -value, self.pushed, rectangle, counts))

    def _note(self, value: int, rectangle: _Built, counts: npt.NDArray[np.int32]) -> None:
        if value > self.best_value and self._can_end(rectangle):
            self.best_value, self.best = value, (rectangle, counts)

    def _keep(self, at: int, rectangle: _Built, value: int, counts: npt.NDArray[np.int32]) -> None:
        if at == len(self.w):
            self.w, self.h, self.v = (np.resize(a, 2 * at) for a in (self.w, self.h, self.v))
            self.counts = np.resize(self.counts, (2 * at, len(self.kinds)))
        self.w[at], self.h[at], self.v[at] = rectangle.width, rectangle.height, value
        self.counts[at] = counts

    def _join_with_all(
        self, built: list[_Built], last: _Built, value: int, counts: npt.NDArray[np.int32]
    ) -> None:
        """Set the newest rectangle beside and above every earlier one, itself included."""
        n = len(built)
        w, h, v = self.w[:n], self.h[:n], self.v[:n]
        few_enough = ((self.counts[:n] + counts) <= self.limits).all(axis=1)
        for join, widths, heights in (
            ("down", w + last.width, np.maximum(h, last.height)),
            ("across", np.maximum(w, last.width), h + last.height),
        ):
            fits = few_enough & (widths <= self.width) & (heights <= self.height)
            if self.longest is not None:
                fits &= (heights if join == "down" else widths) <= self.longest
            index = np.nonzero(fits)[0]
            if not len(index):
                continue
            values = v[index] + value
            promise = self.promise(widths[index], heights[index], values)
            for at in np.nonzero(promise > self.best_value)[0]:
                other = int(index[at])
                size = (int(widths[other]), int(heights[other]))
                total = self.counts[other] + counts
                joined_up = self._joined(join, size, built[other], last)
                if joined_up is not None and self._is_new(total, joined_up):
                    self._note(int(values[at]), joined_up, total)
                    self._push(int(promise[at]), int(values[at]), joined_up, total)

    def _joined(
        self, join: str, size: tuple[int, int], first: _Built, second: _Built
    ) -> _Built | None:
        """Two rectangles as one; none where the direction of cutting would change too often."""
        if self.stages is None:
            return _Built(*size, None, join, first, second)
        changes = max(
            part.changes_in(
                join,
                just_fits=part.height == size[1] if join == "down" else part.width == size[0],
            )
            for part in (first, second)
        )
        return None if changes > self.stages else _Built(*size, None, join, first, second, changes)

    def _is_new(self, counts: npt.NDArray[np.int32], built: _Built) -> bool:
        """Whether no rectangle with the same pieces fits inside this one.

        With limited turns only one of the very same size, cut the same way, can stand for it.
        """
        key = counts.tobytes()
        if self.stages is not None:
            key += b"%s %d %d" % (built.join.encode(), built.width, built.height)
            size = (built.changes, 0)
        else:
            size = (built.width, built.height)
        known = self.seen.setdefault(key, [])
        if any(w <= size[0] and h <= size[1] for w, h in known):
            return False
        known.append(size)
        return True

    def result(self, origin: tuple[int, int], bound: int) -> LimitedBest:
        """The best rectangle as a tree of cuts over the whole sheet."""
        if self.best is None:
            if self.start is None:
                raise AssertionError("a search that began has a best")
            if self.rounded:
                bound = max(bound, int(self.by_area[-1]))
            tree, counts_ = self.start.tree, self.start.counts
            return LimitedBest(self.best_value, max(bound, self.best_value), tree, counts_)
        rectangle, counts = self.best
        if self.rounded:
            bound = max(bound, int(self.by_area[-1]))
        tree = self._on_the_sheet(rectangle, *origin)
        return LimitedBest(
            self.best_value, max(bound, self.best_value), joined(tree), tuple(map(int, counts))
        )

    def _on_the_sheet(self, built: _Built, x: int, y: int) -> Part:
        """The rectangle in the corner of the sheet, trimmed free or its strips as long as it."""
        whole = (self.width, self.height)
        if self._reached_by_trims(built):
            part = _tree(built, x, y, built.width, built.height, self.kerf)
        elif built.join == "down":
            part = _tree(built, x, y, built.width, self.height, self.kerf)
        else:
            part = _tree(built, x, y, self.width, built.height, self.kerf)
        return trimmed_free(part, whole, self.kerf, self.longest)

    def _reached_by_trims(self, built: _Built) -> bool:
        return self.longest is None or bool(
            trims_reach(built.width, built.height, self.width, self.height, self.longest)
        )

    def _can_end(self, built: _Built) -> bool:
        """Whether it can be cut out of the sheet: trimmed free, or each strip of it by itself."""
        if self._reached_by_trims(built):
            return True
        return self.stages is None or max(built.changes, 1) <= self.stages


def _around(xs: Ints, ys: Ints, all_xs: Ints, all_ys: Ints, inside: Ints) -> Ints:
    """Most value outside a rectangle in the corner, by growing it to the right or upwards."""
    last_x, last_y = len(all_xs) - 1, len(all_ys) - 1
    around = np.zeros((last_x + 1, last_y + 1), dtype=np.int64)
    fits_x = np.searchsorted(xs, all_xs, side="right") - 1
    fits_y = np.searchsorted(ys, all_ys, side="right") - 1
    widths = [np.searchsorted(xs, all_xs[i + 1 :] - all_xs[i], side="right") - 1
              for i in range(last_x + 1)]  # fmt: skip
    heights = [np.searchsorted(ys, all_ys[j + 1 :] - all_ys[j], side="right") - 1
               for j in range(last_y + 1)]  # fmt: skip
    for i in range(last_x, -1, -1):
        row = around[i]
        if i < last_x:
            row[:] = (around[i + 1 :] + inside[widths[i]][:, fits_y]).max(axis=0)
        for j in range(last_y - 1, -1, -1):
            row[j] = max(row[j], (row[j + 1 :] + inside[fits_x[i], heights[j]]).max())
    return around


def _tree(rectangle: _Built, x: int, y: int, width: int, height: int, kerf: int) -> Part:
    """A built rectangle in a strip, what is over cut off at the end of each row of parts."""
    if rectangle.piece is not None:
        return cut_free(rectangle.piece, x, y, width - kerf, height - kerf, kerf)
    first, second = rectangle.first, rectangle.second
    if first is None or second is None:
        raise AssertionError("a joined rectangle has two parts")
    if rectangle.join == "down":
        parts = [
            _tree(first, x, y, first.width, height, kerf),
            _tree(second, x + first.width, y, second.width, height, kerf),
        ]
    else:
        parts = [
            _tree(first, x, y, width, first.height, kerf),
            _tree(second, x, y + first.height, width, second.height, kerf),
        ]
    return in_a_row(rectangle.join, x, y, width, height, parts, kerf)
