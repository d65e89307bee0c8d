"""The best straight-cut layout of one sheet when each piece may be cut only so often.

Rectangles are built up from pieces: two that were built are set side by side or one above the
other, and every layout that straight cuts can give arises so (Wang, Oper. Res. 31, 1983). The
most promising rectangle is taken first, and what cannot beat the best layout known is left out:
a rectangle's promise is its own value plus a bound on what the rest of the sheet could still
hold (best-first search as in Viswanathan and Bagchi, Oper. Res. 41, 1993, with the outer bound
by recursion of Cung, Hifi and Le Cun, Int. Trans. Oper. Res. 7, 2000).

What the rest can still hold is bounded by :mod:`promises`. When the best promise left is no better
than the best layout, that layout is proved best; when the work is done first, the promise says
how far it can be from the best.

Kerf enlarges pieces and sheet, as in :mod:`unlimited`. Where the cutter reaches only so far,
rectangles longer than that are joined end to end alone; where the direction of cutting may
change only so often, each rectangle carries the changes it takes.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.effort import Work
from app.core.cutting.one_sheet.charges import Charges
from app.core.cutting.one_sheet.limits import Kind, Start
from app.core.cutting.one_sheet.promises import Promises
from app.core.cutting.one_sheet.rounded import rounded_cells
from app.core.cutting.one_sheet.trims import in_a_row, trimmed_free, trims_reach
from app.core.cutting.one_sheet.unlimited import Lying, cut_free, fitting
from app.core.cutting.tree import Part, joined

ROOM, EACH_TAKES = 20_000_000, 40
"""Counts of pieces there is room for, and how many of them a rectangle takes besides its own; past
it the search ends, and past twice as many rectangles in all, so that memory is bounded."""


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
    work: Work | None = None,
    steps: int = 5_000_000,
    points: int | None = None,
) -> LimitedBest:
    """The most valuable layout with each kind at most its count, in so many steps of the work.

    ``points`` plans with sizes rounded up so that there are about so many places to cut along a
    side: quicker, and no longer proved.
    """
    work = work or Work(steps)
    until = min(work.done + steps, work.most)
    search = LimitedSearch(width_nm, height_nm, kinds, cutter, points)
    search.run(work, until)
    return search.result(origin)


class LimitedSearch:
    """The search for the best layout of one sheet; it can be halted and gone on with.

    ``charges`` on limited kinds, where they are known, sharpen the promises.
    """

    def __init__(
        self,
        width: int,
        height: int,
        kinds: Sequence[Kind],
        cutter: Cutter = KNIFE,
        points: int | None = None,
        charges: Charges | None = None,
    ) -> None:
        kerf = self.kerf = cutter.kerf_nm
        self.size = (width, height)
        self.width, self.height = width + kerf, height + kerf
        self.kinds, self.stages = kinds, cutter.stages
        self.longest = None if cutter.longest_nm is None else cutter.longest_nm + kerf
        self.limits = np.array([kind.count for kind in kinds], dtype=np.int32)
        self.best_value = self.bound = 0
        self.start: Start | None = None
        self.best: tuple[_Built, npt.NDArray[np.int32]] | None = None
        self.heap: list[tuple[int, int, int, _Built, npt.NDArray[np.int32]]] = []
        self.starts = [
            (index, way)
            for index, kind in enumerate(kinds)
            if kind.count > 0 and kind.value > 0
            for way in fitting(width, height, kind.ways, cutter)
        ]
        if not self.starts:
            return
        ways = [way for _, way in self.starts]
        exact = [(way.width_nm + kerf, way.height_nm + kerf) for way in ways]
        self.cells = exact
        if points is not None:
            self.cells = rounded_cells(width, height, ways, kerf, points)
        self.rounded = self.cells != exact
        each = charges.each if charges is not None else (0,) * len(kinds)
        self.charge = np.array(each, dtype=np.int64)
        self.promises = Promises(
            (self.width, self.height), kerf, ways, self.cells, [index for index, _ in self.starts],
            [kind.value for kind in kinds], [kind.count for kind in kinds], charges,
        )  # fmt: skip
        self.seen: dict[bytes, list[tuple[int, int]]] = {}
        self.pushed = 0
        self.built: list[_Built] = []
        room = 1024
        self.w, self.h, self.v, self.charged = (np.zeros(room, dtype=np.int64) for _ in range(4))
        self.counts = np.zeros((room, len(kinds)), dtype=np.int32)
        self.bound = int(self.promises.by_area[-1])
        self._begin()

    def better(self, start: Start | None) -> None:
        """Begin from a layout that was found elsewhere, if it is better than the best known."""
        if start is not None and start.value > self.best_value:
            self.best_value, self.start, self.best = start.value, start, None
            self.heap = [row for row in self.heap if -row[0] > start.value]
            heapq.heapify(self.heap)

    @property
    def proved(self) -> bool:
        """Whether no better layout exists."""
        return self.bound <= self.best_value

    @property
    def full(self) -> bool:
        """Whether there is no room to go on."""
        most = ROOM // (len(self.kinds) + EACH_TAKES)
        return len(self.heap) + len(self.built) > most or self.pushed > 2 * most

    def run(self, work: Work, until: int) -> None:
        """Search until the best is proved, or the work done comes to ``until``, or there is no
        room left; ``bound`` is brought down."""
        if self.starts and not self.built:
            work.add(self.promises.steps)
        while self.heap:
            promise, value, _, rectangle, counts = self.heap[0]
            promise, value = -promise, -value
            self.bound = min(self.bound, max(promise, self.best_value))
            if promise <= self.best_value:
                return
            if work.done > until or self.full:
                return
            if len(self.built) % 64 == 0 and work.is_cut_short():
                return
            pushed = self.pushed
            heapq.heappop(self.heap)
            self._keep(len(self.built), rectangle, value, counts)
            self.built.append(rectangle)
            self._join_with_all(self.built, rectangle, value, counts)
            new, kinds = self.pushed - pushed, len(self.kinds)
            work.add(34 + 4 * new + len(self.built) * (kinds + 10) // 180)
        self.bound = self.best_value

    def _begin(self) -> None:
        for (index, way), cell in zip(self.starts, self.cells, strict=True):
            counts = np.zeros(len(self.kinds), dtype=np.int32)
            counts[index] = 1
            rectangle = _Built(*cell, way)
            value = self.kinds[index].value
            one = np.array([1], dtype=np.int64)
            promise = self.promises.of(
                one * rectangle.width, one * rectangle.height, one * value,
                one * self.charge[index],
            )  # fmt: skip
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
            self.w, self.h, self.v, self.charged = (
                np.resize(a, 2 * at) for a in (self.w, self.h, self.v, self.charged)
            )
            self.counts = np.resize(self.counts, (2 * at, len(self.kinds)))
        self.w[at], self.h[at], self.v[at] = rectangle.width, rectangle.height, value
        self.counts[at] = counts
        self.charged[at] = counts @ self.charge

    def _join_with_all(
        self, built: list[_Built], last: _Built, value: int, counts: npt.NDArray[np.int32]
    ) -> None:
        """Set the newest rectangle beside and above every earlier one, itself included."""
        n = len(built)
        w, h, v = self.w[:n], self.h[:n], self.v[:n]
        charged = self.charged[:n] + self.charged[n - 1]
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
            promise = self.promises.of(widths[index], heights[index], values, charged[index])
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

    def result(self, origin: tuple[int, int]) -> LimitedBest:
        """The best rectangle as a tree of cuts over the whole sheet."""
        bound = self.bound
        if self.starts and self.rounded:
            bound = int(self.promises.by_area[-1])
        bound = max(bound, self.best_value)
        if self.best is not None:
            rectangle, counts = self.best
            tree = joined(self._on_the_sheet(rectangle, *origin))
            return LimitedBest(self.best_value, bound, tree, tuple(map(int, counts)))
        if self.start is not None:
            return LimitedBest(self.best_value, bound, self.start.tree, self.start.counts)
        return LimitedBest(0, bound, Part(*origin, *self.size), (0,) * len(self.kinds))

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
