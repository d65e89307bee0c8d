"""The best straight-cut layout of one sheet when any number of each piece may be cut.

Exact dynamic programming over the places where a cut can matter: a cut may always be pushed
towards the left or the top until it lies at a sum of piece widths or heights, so only those
sums (*normal patterns*, Herz 1972; Christofides and Whitlock, Oper. Res. 25, 1977) are looked
at; of these only the ones that are also such a sum seen from the far edge (*raster points*,
Terno, Lindemann and Scheithauer 1987). For every pair of them the best value of a rectangle of
that size is the best of one piece, a cut down and a cut across (Beasley, J. Oper. Res. Soc. 36,
1985); whole bands of rectangles are worked out at once with numpy.

Kerf: each cut eats ``kerf``; enlarging every piece and the sheet by it gives the same problem
without one. Longest cut: a rectangle longer than it is only cut across the short way, so a
sheet too long for the trimmer is first cut into bands that it can take.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.tree import Part, Placed, joined
from app.core.errors import DomainError
from app.language import say, to_say

Ints = npt.NDArray[np.int64]

MOST_STATES, MOST_POINTS = 6_000_000, 4_000
"""Rectangles looked at in one search, and places along a side; more would take too long."""
TOO_MANY = to_say("The pieces are too many and too small for the sheet to be searched.")


@dataclass(frozen=True)
class Lying:
    """A piece one way up: its size as it lies, its worth (a whole number) and its name."""

    name: str
    width_nm: int
    height_nm: int
    value: int
    turned: bool = False


@dataclass(frozen=True)
class Best:
    """The most value from one rectangle and the tree that gives it."""

    value: int
    tree: Part


def fitting(
    width_nm: int, height_nm: int, lying: Sequence[Lying], cutter: Cutter = KNIFE
) -> list[Lying]:
    """The ways of lying that a rectangle has room for and that the cutter can free."""
    return [
        p
        for p in lying
        if p.width_nm <= width_nm
        and p.height_nm <= height_nm
        and (cutter.reaches(p.height_nm) or p.width_nm == width_nm)
        and (cutter.reaches(p.width_nm) or p.height_nm == height_nm)
        and (
            cutter.can_begin(width_nm, height_nm)
            or (p.width_nm, p.height_nm) == (width_nm, height_nm)
        )
    ]


def best_layout(
    width_nm: int,
    height_nm: int,
    lying: Sequence[Lying],
    cutter: Cutter = KNIFE,
    origin: tuple[int, int] = (0, 0),
) -> Best:
    """The most valuable straight-cut layout of a rectangle; pieces may repeat without limit.

    Turns of the cutter are not limited here: :mod:`staged` does that. Refuses problems with
    more than :data:`MOST_STATES` rectangles to look at.
    """
    useful = fitting(width_nm, height_nm, lying, cutter)
    if not useful:
        return Best(0, Part(*origin, width_nm, height_nm))
    table = Table(Places(width_nm, height_nm, useful, cutter), [p.value for p in useful])
    return table.best_from(origin)


def normal_points(length: int, sizes: Sequence[int], most: int = MOST_POINTS) -> Ints:
    """Every sum of ``sizes`` (each as often as one likes) up to ``length``, with zero.

    Refuses more than ``most`` of them.
    """
    points = np.zeros(1, dtype=np.int64)
    for size in sorted(set(sizes)):
        if size > length:
            continue
        if length // size >= most:
            raise DomainError(say(TOO_MANY))
        times = np.arange(length // size + 1, dtype=np.int64) * size
        sums = (points[:, None] + times[None, :]).ravel()
        points = np.unique(sums[sums <= length])
        if len(points) > most:
            raise DomainError(say(TOO_MANY))
    return points


def raster_points(length: int, sizes: Sequence[int]) -> Ints:
    """The normal points that also end what fits beyond them: fewer, and as good for one sheet."""
    points = normal_points(length, sizes, 2 * MOST_POINTS)
    found = np.unique(points[np.searchsorted(points, length - points, side="right") - 1])
    if len(found) > MOST_POINTS:
        raise DomainError(say(TOO_MANY))
    return found


class Places:
    """Where a rectangle may be cut for a fixed set of pieces, worked out once for many worths.

    ``cells`` may give each piece a larger size to be planned with (rounded up, so that there
    are fewer places to look at); the piece itself is cut free at its own size. ``raster`` False
    keeps every sum of sizes, for searches that begin in the corner.
    """

    def __init__(
        self,
        width_nm: int,
        height_nm: int,
        lying: Sequence[Lying],
        cutter: Cutter = KNIFE,
        cells: Sequence[tuple[int, int]] | None = None,
        *,
        raster: bool = True,
    ) -> None:
        kerf = self.kerf = cutter.kerf_nm
        self.lying = lying
        self.width, self.height = width_nm + kerf, height_nm + kerf
        self.cells = cells or [(p.width_nm + kerf, p.height_nm + kerf) for p in lying]
        self.longest = None if cutter.longest_nm is None else cutter.longest_nm + kerf
        points = raster_points if raster and self.longest is None else normal_points
        self.xs = points(self.width, [w for w, _ in self.cells])
        self.ys = points(self.height, [h for _, h in self.cells])
        if cutter.stages is not None:
            # Nothing is trimmed for free then, so the sheet's own sides are places as well.
            self.xs = np.unique(np.append(self.xs, self.width))
            self.ys = np.unique(np.append(self.ys, self.height))
        if self.states > MOST_STATES:
            raise DomainError(say(TOO_MANY))
        self.downs = [_splits(self.xs, i) for i in range(len(self.xs))]
        self.acrosses = [_splits(self.ys, j) for j in range(len(self.ys))]

    @property
    def states(self) -> int:
        """Rectangles to look at."""
        return len(self.xs) * len(self.ys)

    @cached_property
    def pairs(self) -> int:
        """Ways to cut all the rectangles in two."""
        return sum(len(first) for first, _ in self.downs) * len(self.ys) + sum(
            len(first) for first, _ in self.acrosses
        ) * len(self.xs)

    @cached_property
    def rows(self) -> int:
        """Rows of rectangles that are worked out together."""
        bands = start = 1
        while start < len(self.xs):
            start = self.band_end(start)
            bands += 1
        return len(self.xs) + bands * len(self.ys)

    def band_end(self, start: int) -> int:
        """Behind the rows from ``start`` on that can be worked out together.

        Both parts of a cut down are narrower than the whole by at least the narrowest piece, so
        that of rows no further apart than that none is cut into another.
        """
        return int(np.searchsorted(self.xs, self.xs[start] + self.xs[1]))

    @property
    def steps(self) -> int:
        """Work of filling one table over them."""
        return self.pairs // 1400 + 3 * self.rows

    def within(self, points: Ints) -> int:
        """How many of the points a cut can be as long as."""
        if self.longest is None:
            return len(points)
        return int(np.searchsorted(points, self.longest, side="right"))


class Table:
    """The recursion's table over the places to cut, sizes enlarged by the kerf."""

    def __init__(self, places: Places, worth: Sequence[int]) -> None:
        self.places, self.worth = places, worth
        self.kerf, self.xs, self.ys = places.kerf, places.xs, places.ys
        self.best = np.zeros((len(self.xs), len(self.ys)), dtype=np.int64)
        self._single_pieces()
        self._cuts()

    def best_from(self, origin: tuple[int, int]) -> Best:
        """The best of the whole rectangle as a tree of cuts."""
        tree = self.tree(*origin, self.places.width, self.places.height)
        return Best(self.value, joined(tree))

    @property
    def value(self) -> int:
        """The most value of the whole rectangle."""
        return int(self.best[-1, -1])

    def _single_pieces(self) -> None:
        for (cell_width, cell_height), value in zip(self.places.cells, self.worth, strict=True):
            i = int(np.searchsorted(self.xs, cell_width))
            j = int(np.searchsorted(self.ys, cell_height))
            block = self.best[i:, j:]
            np.maximum(block, value, out=block)

    def _cuts(self) -> None:
        """Every place for a cut; only values are kept, the cuts are found again later.

        A band of rows is worked out together, all its cuts down first and then its cuts across.
        """
        heights = self.places.within(self.ys)
        start = 1
        while start < len(self.xs):
            end = self.places.band_end(start)
            for i in range(start, end):
                take_best(self.best, i, *self.places.downs[i], heights)
            if self.places.longest is None:
                self._cuts_across(start, end)
            else:
                self._trims_and_cuts_across(start, end, heights)
            start = end

    def _cuts_across(self, start: int, end: int) -> bool:
        """The cuts across of a band, heights rising; whether any is worth more than what was."""
        rows = slice(start, min(end, self.places.within(self.xs)))
        band = np.ascontiguousarray(self.best[rows].T)
        if not band.size:
            return False
        for j in range(1, len(self.ys)):
            take_best(band, j, *self.places.acrosses[j])
            if self.places.longest is not None:
                np.maximum(band[j], band[j - 1], out=band[j])
        better = not np.array_equal(band.T, self.best[rows])
        self.best[rows] = band.T
        return better

    def _trims_and_cuts_across(self, start: int, end: int, heights: int) -> None:
        """The same where the cutter reaches only so far: a strip narrower than any piece may have
        to go before it reaches, so a row is worth what the row before it is, and that in turn
        helps its cuts across; until neither finds more."""
        block = self.best[start - 1 : end, :heights]
        np.maximum.accumulate(block, axis=0, out=block)
        while self._cuts_across(start, end):
            np.maximum.accumulate(block, axis=0, out=block)

    def tree(self, x: int, y: int, width: int, height: int) -> Part:
        """The cuts of a rectangle whose width and height are enlarged by the kerf."""
        i = int(np.searchsorted(self.xs, width, side="right")) - 1
        j = int(np.searchsorted(self.ys, height, side="right")) - 1
        value = int(self.best[i, j])
        real = (x, y, width - self.kerf, height - self.kerf)
        if not value:
            return Part(*real)
        piece = self._piece_worth(value, int(self.xs[i]), int(self.ys[j]))
        if piece is not None:
            return cut_free(piece, *real, self.kerf, self.places.longest)
        longest = self.places.longest
        if longest is not None:
            # A band longer than the cutter's reach is first cut down to what is used of it.
            if height > longest >= self.ys[j]:
                return self.divided(x, y, width, height, "across", int(self.ys[j]))
            if width > longest >= self.xs[i]:
                return self.divided(x, y, width, height, "down", int(self.xs[i]))
            if j < self.places.within(self.ys) and self.best[i - 1, j] == value:
                return self.divided(x, y, width, height, "down", int(self.xs[i - 1]))
            if i < self.places.within(self.xs) and self.best[i, j - 1] == value:
                return self.divided(x, y, width, height, "across", int(self.ys[j - 1]))
        at = (
            place_to_cut(self.best[:, j], self.xs, i, value)
            if j < self.places.within(self.ys)
            else None
        )
        if at is not None:
            return self.divided(x, y, width, height, "down", at)
        at = place_to_cut(self.best[i], self.ys, j, value)
        if at is None:
            raise AssertionError("a value comes from a piece or from a cut")
        return self.divided(x, y, width, height, "across", at)

    def divided(self, x: int, y: int, width: int, height: int, cut: str, at: int) -> Part:
        """A rectangle cut in two at a place, both halves cut further.

        Where nothing but the kerf would remain beyond the cut there is no second half.
        """
        if cut == "down":
            parts = [self.tree(x, y, at, height)]
            if width - at > self.kerf:
                parts.append(self.tree(x + at, y, width - at, height))
        else:
            parts = [self.tree(x, y, width, at)]
            if height - at > self.kerf:
                parts.append(self.tree(x, y + at, width, height - at))
        return Part(x, y, width - self.kerf, height - self.kerf, cut, tuple(parts))

    def _piece_worth(self, value: int, width: int, height: int) -> Lying | None:
        """A single piece worth that much that fits, if there is one."""
        for (cell_width, cell_height), piece, worth in zip(
            self.places.cells, self.places.lying, self.worth, strict=True
        ):
            if worth >= value and cell_width <= width and cell_height <= height:
                return piece
        return None


def take_best(best: Ints, at: int, first: Ints, rest: Ints, within: int | None = None) -> None:
    """Let row ``at`` be worth its best division into rows ``first`` and ``rest``.

    Only as far along the row as ``within``. It is called a million times, hence its plain steps.
    """
    if len(first):
        sums = best.take(rest, axis=0)[:, :within]
        sums += best[1 : len(first) + 1, :within]
        row = best[at, :within]
        np.maximum(row, np.maximum.reduce(sums, axis=0), out=row)


def place_to_cut(values: Ints, points: Ints, index: int, value: int) -> int | None:
    """A place to cut so that both parts together are worth ``value``."""
    first, rest = _splits(points, index)
    if not len(first):
        return None
    # The last such place halves best, which keeps the tree low.
    good = np.nonzero(values[first] + values[rest] >= value)[0]
    return int(points[first[good[-1]]]) if len(good) else None


def cut_free(
    piece: Lying, x: int, y: int, width: int, height: int, kerf: int, longest: int | None = None
) -> Part:
    """A part with one piece in its corner, freed by a cut down and a cut across as needed.

    The first cut is the one that leaves the larger remainder whole, if the cutter reaches.
    """
    placed = Placed(piece.name, x, y, piece.width_nm, piece.height_nm, piece.turned)
    beside, below = width - piece.width_nm, height - piece.height_nm
    down_first = beside * height >= below * width
    if longest is not None:
        down_first = height + kerf <= longest if down_first else width + kerf > longest
    own = Part(x, y, piece.width_nm, piece.height_nm, piece=placed)
    for cut in ("across", "down") if down_first else ("down", "across"):
        own = _with_rest(own, cut, width, height, kerf, last=(cut == "down") == down_first)
    return own


def _with_rest(part: Part, cut: str, width: int, height: int, kerf: int, *, last: bool) -> Part:
    """A part and what one cut leaves beside or below it, as wide or high as there is room."""
    x, y = part.x_nm, part.y_nm
    if cut == "down":
        whole = (x, y, width, height if last else part.height_nm)
        left, at = width - part.width_nm - kerf, (x + part.width_nm + kerf, y)
        rest = Part(*at, left, whole[3])
        same = width == part.width_nm
    else:
        whole = (x, y, width if last else part.width_nm, height)
        left, at = height - part.height_nm - kerf, (x, y + part.height_nm + kerf)
        rest = Part(*at, whole[2], left)
        same = height == part.height_nm
    if same:
        return part
    return Part(*whole, cut, (part, rest) if left > 0 else (part,))


def _splits(points: Ints, index: int) -> tuple[Ints, Ints]:
    """Ways to cut ``points[index]`` in two: index of the smaller part, index of what remains."""
    whole = points[index]
    last = int(np.searchsorted(points, whole // 2, side="right"))
    first = np.arange(1, last, dtype=np.int64)
    rest = np.searchsorted(points, whole - points[first], side="right") - 1
    return first, rest.astype(np.int64)
