"""From demands with dates to what is short, each shortage pegged to the demands behind it.

Demands are served in order of their dates: an earlier one takes from what is there first, so
what is short always belongs to the latest demands and adding one changes only those at or
after it. *Order by* is the day the bench must begin less the supplier's lead time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta


@dataclass(frozen=True)
class Demand:
    """So many of one thing wanted by a date, for a reason that leads back to its page."""

    thing: str
    quantity: int
    by: date
    reason: str
    link: str


@dataclass(frozen=True)
class Peg:
    """The part of a shortage that one demand causes."""

    demand: Demand
    quantity: int


@dataclass(frozen=True)
class Shortage:
    """What is short of one thing: the whole need, what is there, and who is left without."""

    thing: str
    needed: int
    there: int
    pegs: tuple[Peg, ...]
    demands: tuple[Demand, ...] = field(default=())

    @property
    def short(self) -> int:
        """How much more is needed than there is."""
        return sum(peg.quantity for peg in self.pegs)

    @property
    def first_needed(self) -> date | None:
        """The earliest day on which something is missing."""
        return min((peg.demand.by for peg in self.pegs), default=None)


def net(demands: Sequence[Demand], there: Mapping[str, int]) -> dict[str, Shortage]:
    """Serve demands by date from what is there; one entry a thing, short or not."""
    left = dict(there)
    grouped: dict[str, list[Demand]] = {}
    for demand in sorted(demands, key=lambda d: (d.by, d.link, d.thing)):
        grouped.setdefault(demand.thing, []).append(demand)
    result: dict[str, Shortage] = {}
    for thing, rows in grouped.items():
        pegs: list[Peg] = []
        for demand in rows:
            served = min(max(left.get(thing, 0), 0), demand.quantity)
            left[thing] = left.get(thing, 0) - served
            if demand.quantity > served:
                pegs.append(Peg(demand, demand.quantity - served))
        needed = sum(d.quantity for d in rows)
        result[thing] = Shortage(thing, needed, there.get(thing, 0), tuple(pegs), tuple(rows))
    return result


def order_by(bench_starts: date, lead_days: int) -> date:
    """The last day to order so that it is there when the bench begins."""
    return bench_starts - timedelta(days=lead_days)
