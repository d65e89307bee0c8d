"""One sheet filled with the most value: exactly where the time allows, else nearly, with a bound.

With limits the search of :mod:`limited` begins from a layout made without them, its pieces beyond
the limits left out; kinds it has too many of are made cheaper and it is tried again (a
subgradient step on the limits, as in Lagrangean relaxation).
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

from app.core.cutting.cutter import Cutter
from app.core.cutting.layout import Part
from app.core.cutting.limited import Kind, Start, best_limited
from app.core.cutting.pricing import Pricer
from app.core.cutting.rounded import states
from app.core.cutting.unlimited import Lying, fitting
from app.core.cutting.yields import best_of
from app.core.errors import DomainError

STATES_A_SECOND = 500_000
TRIES, START_SHARE, CHEAPER = 16, 0.4, 0.5


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
    until = time.perf_counter() + seconds
    if all(k.count >= n for k, n in zip(kinds, most, strict=True)):
        freely = _freely(size, kinds, cutter, origin, seconds)
        if freely is not None:
            return freely
    bounded = [replace(k, count=min(k.count, n)) for k, n in zip(kinds, most, strict=True)]
    start = _start(size, bounded, cutter, origin, until - (1 - START_SHARE) * seconds)
    left = max(until - time.perf_counter(), 0.01)
    found = best_limited(*size, bounded, cutter, origin, left, start=start)
    return Filled(found.value, found.bound, found.tree)


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


def _start(
    size: tuple[int, int], kinds: Sequence[Kind], cutter: Cutter, origin: tuple[int, int],
    until: float,
) -> Start | None:  # fmt: skip
    """A layout within the limits, from layouts without them."""
    if cutter.stages is not None:
        return None
    # In thousandths, so that halving them keeps telling them apart.
    worth = [k.value * 1000 for k in kinds]
    names = {way.name: index for index, k in enumerate(kinds) for way in k.ways}
    pricer = Pricer(*size, _ways(kinds, worth), cutter, 120)
    each = [len(k.ways) for k in kinds]
    best: Start | None = None
    for _ in range(TRIES):
        values = [v for v, n in zip(worth, each, strict=True) for _ in range(n)]
        for found in pricer.best(values, origin, 1):
            start = _within(found.tree, kinds, names)
            if best is None or start.value > best.value:
                best = start
            over = _counts(found.tree, names, len(kinds))
        if not any(values) or time.perf_counter() > until:
            break
        cheaper = [n > k.count for n, k in zip(over, kinds, strict=True)]
        if not any(cheaper):
            break
        worth = [int(v * CHEAPER) if c else v for v, c in zip(worth, cheaper, strict=True)]
    return best


def _counts(tree: Part, names: dict[str, int], kinds: int) -> list[int]:
    counts = [0] * kinds
    for leaf in tree.leaves():
        if leaf.piece:
            counts[names[leaf.piece.name]] += 1
    return counts


def _within(tree: Part, kinds: Sequence[Kind], names: dict[str, int]) -> Start:
    """A layout with the pieces beyond the limits left uncut."""
    counts = [0] * len(kinds)

    def kept(part: Part) -> Part:
        if part.piece is not None:
            kind = names[part.piece.name]
            if counts[kind] >= kinds[kind].count:
                return replace(part, piece=None)
            counts[kind] += 1
        return replace(part, parts=tuple(kept(p) for p in part.parts))

    found = kept(tree)
    value = sum(n * k.value for n, k in zip(counts, kinds, strict=True))
    return Start(value, found, tuple(counts))
