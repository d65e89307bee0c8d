"""The way a length of thread takes, from which its length, its drawing and its words are made."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import isqrt


@dataclass(frozen=True)
class Stitch:
    """Where the thread is: at a station of a row, on the inside or the outside of the fold.

    ``over`` says what it goes round there: an edge of the block, a board, an earlier stitch.
    """

    row: int
    station: int
    inside: bool
    over: str = ""


@dataclass(frozen=True)
class ThreadPath:
    """The way one length of thread takes, point by point, tails left over at both ends.

    ``places`` has x, y and z of each point: across the spine, down from the head, and depth from
    the outside in. Thread runs straight over the face and then through, so its length is the sum
    of both and two tails.
    """

    points: tuple[Stitch, ...]
    places: tuple[tuple[int, int, int], ...]
    tail_nm: int
    sides: tuple[str, str] = ("outside", "inside")
    row_names: tuple[str, ...] = ()
    """What the rows are called, where a number would mislead."""

    @classmethod
    def through_fold(
        cls, points: tuple[Stitch, ...], at: tuple[int, ...], deep: tuple[int, ...], tail_nm: int
    ) -> ThreadPath:
        """Through one fold ``at`` its stations, at each so ``deep`` from the outside in."""
        places = tuple((0, at[p.station], deep[p.station] if p.inside else 0) for p in points)
        return cls(points, places, tail_nm)

    @cached_property
    def steps(self) -> tuple[tuple[int, int, int], ...]:
        """How far each step goes across, along, and through."""
        pairs = zip(self.places, self.places[1:], strict=False)
        return tuple((abs(a[0] - b[0]), abs(a[1] - b[1]), abs(a[2] - b[2])) for a, b in pairs)

    @property
    def passes(self) -> int:
        """How often the thread goes through a fold, a board or a block at its hole."""
        pairs = zip(self.points, self.points[1:], strict=False)
        return sum(
            (a.row, a.station, a.over) == (b.row, b.station, b.over) and a.inside != b.inside
            for a, b in pairs
        )

    @property
    def pass_nm(self) -> int:
        """The longest way through."""
        return max((step[2] for step in self.steps), default=0)

    @property
    def stations_nm(self) -> tuple[int, ...]:
        """Distances from the head at which it goes through."""
        return tuple(
            sorted({q[1] for p, q in zip(self.points, self.places, strict=True) if not p.over})
        )

    @property
    def run_nm(self) -> int:
        """Length along the fold alone."""
        return sum(step[1] for step in self.steps)

    @property
    def length_nm(self) -> int:
        """The whole length to cut."""
        return sum(over(x, y) + z for x, y, z in self.steps) + 2 * self.tail_nm


def over(x_nm: int, y_nm: int) -> int:
    """Straight over the face, so far across and so far along, to the next whole nanometre."""
    if not x_nm or not y_nm:
        return x_nm + y_nm
    return isqrt(x_nm**2 + y_nm**2 - 1) + 1
