"""One sheet filled with the most value: exactly where that is not too much work, else nearly,
with a bound.

With limits the search of :mod:`limited` begins from the quick layouts that come up while
:mod:`charges` are found; where it is not through in a part of its work, other quick ones are
tried, and it goes on from the best of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from math import isqrt

from app.core.cutting.cutter import Cutter
from app.core.cutting.effort import Effort, Work
from app.core.cutting.one_sheet.charges import Charging
from app.core.cutting.one_sheet.limited import LimitedSearch
from app.core.cutting.one_sheet.limits import Kind, Start
from app.core.cutting.one_sheet.pricing import Pricer
from app.core.cutting.one_sheet.rounded import states
from app.core.cutting.one_sheet.unlimited import Lying, fitting
from app.core.cutting.one_sheet.yields import best_of
from app.core.cutting.tree import Part
from app.core.errors import DomainError

STEPS_A_STATE, FEW_STATES = 2, 50_000
"""Roughly, to fill a table; few rectangles are always looked at."""
MOST_CHARGED, COARSE_POINTS = 1_000_000, 120
"""Up to so many rectangles times kinds, all places to cut are looked at for quick layouts."""
TRIES, FIRST_UNTIL = 40, 0.15
TURNS = ((0.4, 0.55), (0.8, 0.9), (1.0, 1.0))
"""Shares of the work until which the search runs and then quick layouts are tried."""


@dataclass(frozen=True)
class Filled:
    """The value reached, what no layout can exceed, and the layout."""

    value: int
    bound: int
    tree: Part


def fill_sheet(
    size: tuple[int, int],
    kinds: Sequence[Kind],
    cutter: Cutter,
    origin: tuple[int, int] = (0, 0),
    work: Work | None = None,
) -> Filled:
    """The most value from a rectangle, each kind at most its count.

    The names of the kinds' ways must tell the kinds apart.
    """
    work = work or Work.of(Effort.NORMAL, len(kinds))
    most = [
        size[0] * size[1] // (k.ways[0].width_nm * k.ways[0].height_nm) if k.ways else 0
        for k in kinds
    ]
    if all(k.count >= n for k, n in zip(kinds, most, strict=True)):
        freely = _freely(size, kinds, cutter, origin, work)
        if freely is not None:
            return freely
    bounded = [replace(k, count=min(k.count, n)) for k, n in zip(kinds, most, strict=True)]
    return _within_limits(size, bounded, cutter, origin, work)


def _within_limits(
    size: tuple[int, int], kinds: Sequence[Kind], cutter: Cutter, origin: tuple[int, int],
    work: Work,
) -> Filled:  # fmt: skip
    """Quick layouts and the exact search by turns; see the top."""
    charging = Charging(size, kinds, cutter, origin, _points_to_charge(size, kinds, cutter))
    layouts = charging.layouts()
    best = _best_of(layouts, None, charging, work, FIRST_UNTIL, TRIES)
    search = LimitedSearch(*size, kinds, cutter, charges=charging.charges)
    if charging.bound is not None:
        search.bound = min(search.bound, charging.bound)
    for searched, tried in TURNS:
        search.better(best)
        if not search.proved:
            search.run(work, round(searched * work.most))
        if search.proved:
            break
        best = _best_of(layouts, best, charging, work, tried, None)
    search.better(best)
    found = search.result(origin)
    return Filled(found.value, found.bound, found.tree)


def _best_of(
    layouts: Iterator[Start], best: Start | None, charging: Charging, work: Work, until: float,
    tries: int | None,
) -> Start | None:  # fmt: skip
    """The best of a few quick layouts and one known; at least one is looked at."""
    for start in islice(layouts, tries):
        work.add(charging.steps)
        if best is None or start.value > best.value:
            best = start
        proved = charging.bound is not None and best.value >= charging.bound
        if proved or work.used() > until or work.is_cut_short():
            break
    return best


def _points_to_charge(
    size: tuple[int, int], kinds: Sequence[Kind], cutter: Cutter
) -> int | None:  # fmt: skip
    """Places along a side for charges and quick layouts; none for all of them."""
    lying = fitting(*size, _ways(kinds, [k.value for k in kinds]), cutter)
    found = states(*size, lying, cutter) if lying else 0
    return None if found is not None and found * len(kinds) <= MOST_CHARGED else COARSE_POINTS


def _ways(kinds: Sequence[Kind], worth: Sequence[int]) -> list[Lying]:
    return [
        replace(way, value=value) for k, value in zip(kinds, worth, strict=True) for way in k.ways
    ]


def _freely(
    size: tuple[int, int], kinds: Sequence[Kind], cutter: Cutter, origin: tuple[int, int],
    work: Work,
) -> Filled | None:  # fmt: skip
    """Without limits: exact where a table is not too much work, else with coarser sizes."""
    lying = _ways(kinds, [k.value for k in kinds])
    places = states(*size, fitting(*size, lying, cutter), cutter)
    if places is not None and places <= max(work.most // STEPS_A_STATE, FEW_STATES):
        try:
            best = best_of(*size, lying, cutter, origin)
        except DomainError:
            return None
        return Filled(best.value, best.value, best.tree)
    pricer = Pricer(*size, lying, cutter, _points(work.most))
    found = pricer.best([way.value for way in lying], origin)
    if not found:
        return None
    return Filled(found[0].value, pricer.at_most([w.value for w in lying]), found[0].tree)


def _points(steps: int) -> int:
    """Places along a side that a table of so much work can have."""
    return max(min(isqrt(steps // STEPS_A_STATE), 700), 60)
