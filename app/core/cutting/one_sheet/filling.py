"""One sheet filled with the most value: exactly where the time allows, else nearly, with a bound.

With limits the search of :mod:`limited` begins from the quick layouts that come up while
:mod:`charges` are found; where it is not through in a part of its time, other quick ones are tried,
and it goes on from the best of them.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.charges import Charging
from app.core.cutting.one_sheet.limited import LimitedSearch
from app.core.cutting.one_sheet.limits import Kind, Start
from app.core.cutting.one_sheet.pricing import Pricer
from app.core.cutting.one_sheet.rounded import states
from app.core.cutting.one_sheet.unlimited import Lying, fitting
from app.core.cutting.one_sheet.yields import best_of
from app.core.cutting.tree import Part
from app.core.errors import DomainError

STATES_A_SECOND = 500_000
MOST_CHARGED, COARSE_POINTS = 1_000_000, 120
"""Up to so many rectangles times kinds, all places to cut are looked at for quick layouts."""
TRIES, FIRST_UNTIL = 40, 0.15
TURNS = ((0.4, 0.55), (0.8, 0.9), (1.0, 1.0))
"""Shares of the time until which the search runs and then quick layouts are tried."""


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
    seconds: float = 5.0,
) -> Filled:
    """The most value from a rectangle, each kind at most its count.

    The names of the kinds' ways must tell the kinds apart.
    """
    most = [
        size[0] * size[1] // (k.ways[0].width_nm * k.ways[0].height_nm) if k.ways else 0
        for k in kinds
    ]
    if all(k.count >= n for k, n in zip(kinds, most, strict=True)):
        freely = _freely(size, kinds, cutter, origin, seconds)
        if freely is not None:
            return freely
    bounded = [replace(k, count=min(k.count, n)) for k, n in zip(kinds, most, strict=True)]
    return _within_limits(size, bounded, cutter, origin, seconds)


def _within_limits(
    size: tuple[int, int], kinds: Sequence[Kind], cutter: Cutter, origin: tuple[int, int],
    seconds: float,
) -> Filled:  # fmt: skip
    """Quick layouts and the exact search by turns; see the top."""
    began = time.perf_counter()
    charging = Charging(size, kinds, cutter, origin, _points_to_charge(size, kinds, cutter))
    layouts = charging.layouts()
    best = _best_of(layouts, None, charging, began + FIRST_UNTIL * seconds, TRIES)
    search = LimitedSearch(*size, kinds, cutter, charges=charging.charges)
    if charging.bound is not None:
        search.bound = min(search.bound, charging.bound)
    for searched, tried in TURNS:
        search.better(best)
        if not search.proved:
            search.run(began + searched * seconds)
        if search.proved:
            break
        best = _best_of(layouts, best, charging, began + tried * seconds, None)
    search.better(best)
    found = search.result(origin)
    return Filled(found.value, found.bound, found.tree)


def _best_of(
    layouts: Iterator[Start], best: Start | None, charging: Charging, until: float,
    tries: int | None,
) -> Start | None:  # fmt: skip
    """The best of a few quick layouts and one known; at least one is looked at."""
    for start in islice(layouts, tries):
        if best is None or start.value > best.value:
            best = start
        proved = charging.bound is not None and best.value >= charging.bound
        if proved or time.perf_counter() > until:
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
    seconds: float,
) -> Filled | None:  # fmt: skip
    """Without limits: exact where the table can be filled in the time, else with coarser sizes."""
    lying = _ways(kinds, [k.value for k in kinds])
    places = states(*size, fitting(*size, lying, cutter), cutter)
    if places is not None and places <= max(seconds * STATES_A_SECOND, 50_000):
        try:
            best = best_of(*size, lying, cutter, origin)
        except DomainError:
            return None
        return Filled(best.value, best.value, best.tree)
    pricer = Pricer(*size, lying, cutter, _points(seconds))
    found = pricer.best([way.value for way in lying], origin)
    if not found:
        return None
    return Filled(found[0].value, pricer.at_most([w.value for w in lying]), found[0].tree)


def _points(seconds: float) -> int:
    """Places along a side that a table of so many seconds can have."""
    return max(min(int((seconds * STATES_A_SECOND) ** 0.5), 700), 60)
