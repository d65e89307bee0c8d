"""Rows across a roll for few pieces, of the least length: by dynamic programming over what is left.

With few pieces of each kind this finds what a plan by repeated layouts does not, and that begins
from it. Packing by levels is in Coffman, Garey, Johnson and Tarjan, SIAM J. Comput. 9, 1980.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import prod

from app.core.cutting.many_sheets.warm_start import KnownLayout
from app.core.cutting.model import Wanted
from app.core.cutting.one_sheet.unlimited import Lying
from app.core.cutting.one_sheet.yields import lying_ways
from app.core.cutting.tree import Layout, Part, Placed, joined
from app.core.paper import Sheet

MOST_STATES, MOST_PIECES = 600, 150
"""More pieces, that may be left in more ways, are for the planner alone."""


@dataclass(frozen=True)
class _Row:
    high: int
    pieces: tuple[Lying, ...]


def filled_rows(
    wanted: Sequence[Wanted], sheet: Sheet, kerf: int, most: int | None = None
) -> tuple[KnownLayout, ...]:
    """Rows across a roll, none higher than ``most``, that hold all that is wanted, as layouts.

    None where that is too much, or a piece fits in no row.
    """
    wide = sheet.width_nm - 2 * sheet.trim_nm
    counts = [w.count for w in wanted]
    if sum(counts) > MOST_PIECES or prod(n + 1 for n in counts) > MOST_STATES:
        return ()
    filling = _Filling(wanted, sheet, kerf, most)
    if not filling.all_fit:
        return ()
    rows = filling.rows()
    return tuple(KnownLayout(_layout(row, wide, kerf), 1) for row in rows)


class _Filling:
    """The least length for what is left of each kind, by which row is cut first.

    A row is as high as some piece lies. In one of a height each kind lies the narrowest way that
    is no higher, and a row that could hold another piece is never better than one that does.
    """

    def __init__(self, wanted: Sequence[Wanted], sheet: Sheet, kerf: int, most: int | None) -> None:
        wide = sheet.width_nm - 2 * sheet.trim_nm
        self.counts, self.wide, self.kerf = tuple(w.count for w in wanted), wide + kerf, kerf
        ways = [
            [
                replace(x, name=w.key)
                for x in lying_ways(w.piece, sheet)
                if x.width_nm <= wide and (most is None or x.height_nm <= most)
            ]
            for w in wanted
        ]
        self.all_fit = all(ways)
        self.lying = {
            high: [
                min(
                    (x for x in each if x.height_nm <= high), key=lambda x: x.width_nm, default=None
                )
                for each in ways
            ]
            for high in sorted({way.height_nm for each in ways for way in each})
        }
        self.known: dict[tuple[int, ...], tuple[int, int, tuple[int, ...]]] = {}
        """Length, height of the first row and pieces of each kind in it, by what is left."""

    def rows(self) -> list[_Row]:
        """The rows of the least length."""
        found, left = [], self.counts
        while any(left):
            _, high, counts = self._best(left)
            lying = zip(self.lying[high], counts, strict=True)
            found.append(_Row(high, tuple(way for way, n in lying if way for _ in range(n))))
            left = tuple(a - b for a, b in zip(left, counts, strict=True))
        return found

    def _best(self, left: tuple[int, ...]) -> tuple[int, int, tuple[int, ...]]:
        if left not in self.known:
            self.known[left] = min(self._choices(left), default=(0, 0, left))
        return self.known[left]

    def _choices(self, left: tuple[int, ...]) -> Iterator[tuple[int, int, tuple[int, ...]]]:
        """Every first row that holds a piece of the first kind left, and what that comes to."""
        first = next((n for n, count in enumerate(left) if count), None)
        for high, lying in self.lying.items() if first is not None else ():
            if lying[first or 0] is None:
                continue
            for counts in self._filled(left, lying, first or 0):
                rest = tuple(a - b for a, b in zip(left, counts, strict=True))
                yield high + self.kerf + self._best(rest)[0], high, counts

    def _filled(
        self, left: tuple[int, ...], lying: Sequence[Lying | None], first: int
    ) -> Iterator[tuple[int, ...]]:
        """How many of each kind a row may hold so that no further piece goes in."""
        wide = [way.width_nm + self.kerf if way else 0 for way in lying]

        def fill(kind: int, room: int) -> Iterator[tuple[int, ...]]:
            if kind == len(left):
                yield ()
                return
            most = min(left[kind], room // wide[kind]) if wide[kind] else 0
            for n in range(most, -1, -1):
                for rest in fill(kind + 1, room - n * wide[kind]):
                    yield (n, *rest)

        for counts in fill(0, self.wide):
            room = self.wide - sum(n * w for n, w in zip(counts, wide, strict=True))
            more = any(
                w and n < m and w <= room for n, m, w in zip(counts, left, wide, strict=True)
            )
            if counts[first] and not more:
                yield counts


def _layout(row: _Row, wide: int, kerf: int) -> Layout:
    """A row as it is cut: pieces side by side, each cut to its height, the rest at the end."""
    at, parts = 0, []
    for way in row.pieces:
        parts.append(_column(way, at, row.high, kerf))
        at += way.width_nm + kerf
    if at < wide:
        parts.append(Part(at, 0, wide - at, row.high))
    if len(parts) == 1 and parts[0].width_nm == wide:
        return Layout(wide, row.high, 0, parts[0])
    return Layout(wide, row.high, 0, joined(Part(0, 0, wide, row.high, "down", tuple(parts))))


def _column(way: Lying, at: int, high: int, kerf: int) -> Part:
    """One piece of a row, what is over it cut off."""
    placed = Placed(way.name, at, 0, way.width_nm, way.height_nm, way.turned)
    piece = Part(at, 0, way.width_nm, way.height_nm, piece=placed)
    if way.height_nm == high:
        return piece
    over = way.height_nm + kerf
    rest = (Part(at, over, way.width_nm, high - over),) if over < high else ()
    return Part(at, 0, way.width_nm, high, "across", (piece, *rest))
