"""What a shop makes for itself, through any number of levels: how much to begin, by when, of what.

A thing made here takes other things, some made here as well. Demands are worked through from the
things nothing else is made of downwards (low-level codes), so that all that wants a thing is known
before it is netted. Of what is begun a share is lost, so n good ones take n/(1 - s) to begin.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from app.core.errors import DomainError
from app.core.planning.requirements import Demand, Peg
from app.language import say


class CircleError(DomainError):
    """A thing that would be made of itself; ``way`` leads from it back to it."""

    def __init__(self, way: Sequence[str]) -> None:
        said = way[0]
        for part in way[1:]:
            said = say("{thing} is made of {part}", thing=said, part=part)
        super().__init__(say("{way}: a thing cannot be made of itself.", way=said))
        self.way = tuple(way)


@dataclass(frozen=True)
class Way:
    """How a thing is made: ``lot`` base units at a time, ``loss`` of them lost, in ``days``.

    ``parts`` are what one lot takes of other things, in their base units.
    """

    lot: int
    parts: Mapping[str, int]
    loss: Fraction = Fraction(0)
    days: int = 0

    def lots_for(self, good: int) -> int:
        """Lots to begin for so many good ones."""
        return -(-good // (self.lot * (1 - self.loss)))

    def good_of(self, lots: int) -> int:
        """How many good ones so many lots should give, whole ones."""
        return int(lots * self.lot * (1 - self.loss))


@dataclass(frozen=True)
class Making:
    """So many lots of a thing to begin ``begin_by``, for good ones wanted by their pegs' days."""

    thing: str
    lots: int
    begin_by: date
    pegs: tuple[Peg, ...]


def consumers_first(ways: Mapping[str, Way]) -> list[str]:
    """Things made here, each after all that are made of it; raises CircleError.

    By depth-first search, in the order of their names where that leaves a choice.
    """
    done: dict[str, None] = {}
    under_way: list[str] = []

    def visit(thing: str) -> None:
        if thing in done or thing not in ways:
            return
        if thing in under_way:
            raise CircleError([*under_way[under_way.index(thing) :], thing])
        under_way.append(thing)
        for part in sorted(ways[thing].parts):
            visit(part)
        under_way.pop()
        done[thing] = None

    for thing in sorted(ways):
        visit(thing)
    return list(reversed(done))


def makings(thing: str, way: Way, pegs: Iterable[Peg]) -> list[Making]:
    """Whole lots for what is short, day by day; what a lot gives over goes to the next day."""
    by_day: dict[date, list[Peg]] = {}
    for peg in pegs:
        by_day.setdefault(peg.demand.by, []).append(peg)
    found: list[Making] = []
    over = 0
    for day in sorted(by_day):
        short = sum(peg.quantity for peg in by_day[day]) - over
        if short > 0:
            lots = way.lots_for(short)
            begin = day - timedelta(days=way.days)
            found.append(Making(thing, lots, begin, tuple(by_day[day])))
            over = way.good_of(lots) - short
        else:
            over = -short
            if found:
                last = found[-1]
                found[-1] = replace(last, pegs=(*last.pegs, *by_day[day]))
    return found


def parts_of(way: Way, making: Making, reason: str, link: str) -> list[Demand]:
    """What a making takes, wanted when it begins."""
    return [
        Demand(part, amount * making.lots, making.begin_by, reason, link)
        for part, amount in way.parts.items()
    ]


def explode(
    order: Iterable[str],
    demands: Sequence[Demand],
    begin: Callable[[str, Sequence[Demand]], tuple[Sequence[Making], Sequence[Demand]]],
) -> tuple[list[Making], list[Demand]]:
    """All makings through every level, and what is wanted of all things in the end.

    ``order`` is that of :func:`consumers_first`; ``begin`` says what of one thing is begun for all
    demands of it, and what that takes.
    """
    wanted = list(demands)
    found: list[Making] = []
    for thing in order:
        mine = [demand for demand in wanted if demand.thing == thing]
        if mine:
            begun, parts = begin(thing, mine)
            found += begun
            wanted += parts
    return found, wanted
