"""Patterns of sewing through the side: their holes, what joins them, and one way through it all.

Every stretch between two holes is sewn on both sides, every turn round an edge once. The thread
changes sides at each hole it comes to, so a pattern is a graph whose edges all join the front and
back of holes in equal numbers, and one closed way goes through every edge (Hierholzer's). Where the
extra holes of a pattern lie is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from app.core.structures.base import Hole
from app.core.structures.thread import Stitch, ThreadPath
from app.language import say, to_say

LINE, EXTRA = 0, 1
"""The rows of holes: those all patterns have, and those a pattern adds nearer the spine."""
PLAIN, CORNERED, FORKED, LEAFED = "line", "noble", "tortoise", "hemp"
PATTERNS = (
    (PLAIN, to_say("plain line")), (CORNERED, to_say("noble, a hole more in each corner")),
    (FORKED, to_say("tortoise-shell, two beside each hole")),
    (LEAFED, to_say("hemp-leaf, corners and one between each two")),
)  # fmt: skip
SIDES = ("front", "back")


@dataclass(frozen=True)
class SidePattern:
    """Holes by number; pairs that are ``joined`` on both sides; edges a hole's thread ``turns``."""

    holes: tuple[Hole, ...]
    joined: tuple[tuple[int, int], ...]
    turns: tuple[tuple[int, str], ...]

    def of_row(self, row: int) -> tuple[Hole, ...]:
        """The holes of one row, from the head."""
        return tuple(hole for hole in self.holes if hole.row == row)


def side_pattern(
    pattern: str, at: Sequence[int], height_nm: int, margin_nm: int, end_nm: int
) -> SidePattern:
    """A pattern on a line ``at`` these stations, ``margin_nm`` from the spine."""
    last = len(at) - 1
    joined = [(i, i + 1) for i in range(last)]
    turns = [(i, "spine") for i in range(last + 1)]
    more: list[tuple[int, tuple[int, ...], str]] = []
    if pattern in (CORNERED, LEAFED):
        more += [(end_nm // 2, (0,), "head"), (height_nm - end_nm // 2, (last,), "tail")]
    if pattern == LEAFED:
        more += [((a + b) // 2, (i, i + 1), "") for i, (a, b) in enumerate(pairwise(at))]
    if pattern == FORKED:
        beside = min((at[1] - at[0]) // 6, end_nm // 2)
        more += [(y + way * beside, (i,), "") for i, y in enumerate(at) for way in (-1, 1)]
    more.sort()
    for number, (_, whose, end) in enumerate(more, last + 1):
        joined += [(hole, number) for hole in whose]
        turns.append((number, "spine"))
        if end:
            turns.append((number, end))
    turns += [(0, "head"), (last, "tail")]
    holes = [Hole(margin_nm, y, LINE, i) for i, y in enumerate(at)]
    holes += [Hole(margin_nm // 2, y, EXTRA, i) for i, (y, _, _) in enumerate(more)]
    return SidePattern(tuple(holes), tuple(joined), tuple(turns))


@dataclass(frozen=True)
class _Move:
    """From one hole's side to another's: along one side, or round an ``edge`` to the other."""

    start: tuple[int, int]
    end: tuple[int, int]
    edge: str = ""

    def back(self) -> _Move:
        return _Move(self.end, self.start, self.edge)


class _Sewing:
    """The moves of a pattern, and which of them are still to be sewn."""

    def __init__(self, pattern: SidePattern) -> None:
        self.pattern = pattern
        moves = [_Move((h, 0), (h, 1), edge) for h, edge in pattern.turns]
        moves += [_Move((a, side), (b, side)) for a, b in pattern.joined for side in (0, 1)]
        self.left = dict.fromkeys(moves)

    def _from(self, state: tuple[int, int]) -> Iterator[_Move]:
        for move in self.left:
            if move.start == state:
                yield move
            elif move.end == state:
                yield move.back()

    def _order(self, move: _Move) -> tuple[bool, bool, bool, int]:
        """Round the edges first, then to the extra holes, then on towards the tail."""
        here, there = (self.pattern.holes[h] for h, _ in (move.start, move.end))
        edges = ("spine", "head", "tail", "")
        return (not move.edge, there.row != EXTRA, there.y_nm < here.y_nm, edges.index(move.edge))

    def walk(self, state: tuple[int, int]) -> list[_Move]:
        """Moves from a hole's side until there is none left there, through every hole come to."""
        found: list[_Move] = []
        while following := min(self._from(state), key=self._order, default=None):
            self.left = {m: None for m in self.left if m not in (following, following.back())}
            found.append(following)
            hole, side = following.end
            state = (hole, 1 - side)
        return found

    def whole(self, start: tuple[int, int]) -> list[_Move]:
        """One closed way; what a walk has passed by is sewn where it first comes past."""
        way = self.walk(start)
        at = 0
        while at < len(way):
            way[at:at] = self.walk(way[at].start)
            at += 1
        return way


@dataclass(frozen=True)
class SideSewing:
    """A pattern sewn through a block lying on its front, beginning between the leaves at a hole."""

    pattern: SidePattern
    height_nm: int
    thickness_nm: int
    tail_nm: int
    begin: int = 1

    @cached_property
    def path(self) -> ThreadPath:
        """The thread's way, there and back to where it began."""
        points: list[tuple[Stitch, tuple[int, int, int]]] = [self._between()]
        points.append(self._at((self.begin, 0)))
        way = _Sewing(self.pattern).whole((self.begin, 0))
        for number, move in enumerate(way):
            if move.edge:
                points += [self._at(state, move.edge) for state in (move.start, move.end)]
            points.append(self._at(move.end))
            hole, side = move.end
            # The last comes in between the leaves; all others go through to the other side.
            points.append(self._between() if number == len(way) - 1 else self._at((hole, 1 - side)))
        extra = self.pattern.of_row(EXTRA)
        return ThreadPath(
            tuple(stitch for stitch, _ in points), tuple(place for _, place in points),
            self.tail_nm, sides=SIDES,
            row_names=(say("the line"), say("the extra ones")) if extra else (),
        )  # fmt: skip

    def _between(self) -> tuple[Stitch, tuple[int, int, int]]:
        hole = self.pattern.holes[self.begin]
        stitch = Stitch(hole.row, hole.station, inside=True, over="leaves")
        return stitch, (hole.x_nm, hole.y_nm, self.thickness_nm // 2)

    def _at(self, state: tuple[int, int], edge: str = "") -> tuple[Stitch, tuple[int, int, int]]:
        """At a hole on the front (0) or the back (1), or at an edge beside it."""
        hole, side = self.pattern.holes[state[0]], state[1]
        x, y = {
            "": (hole.x_nm, hole.y_nm), "spine": (0, hole.y_nm), "head": (hole.x_nm, 0),
            "tail": (hole.x_nm, self.height_nm),
        }[edge]  # fmt: skip
        return Stitch(hole.row, hole.station, side == 1, edge), (x, y, side * self.thickness_nm)
