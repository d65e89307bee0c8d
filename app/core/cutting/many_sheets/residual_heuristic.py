"""Whole numbers out of a linear plan: rounded down, and what is left cut sheet by sheet.

Each attempt rounds more or less boldly and looks for what is left with worths a little astray,
so that other plans come out; every run tries the same ones. The last sheets of a careful one
are cut with searches that count no piece that nobody wants.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np

from app.core.cutting.many_sheets.columns import CountedPricers, Counts, Found, Pool, Pricers, whole
from app.core.cutting.many_sheets.integer_master import Chosen
from app.core.cutting.many_sheets.linear_master import Column, Duals, price_of
from app.core.cutting.model import SheetOffer
from app.core.cutting.one_sheet.limited import best_limited
from app.core.planning.packs import packs_for
from app.language import say, to_say

Repeats = dict[int, tuple[Column, int]]
AT_A_TIME, FEW_TRIES, LAST_SHEETS, FEW_PIECES = 6, 16, 3.0, 40
FIRST_STEPS, LEFT_STEPS, LEFT_POINTS = 10_000, 50_000, 40
BOLDNESS = (0.0, 0.35, 0.15, 0.5)
DOING = to_say("rounding to whole sheets")


class Rounder:
    """Rounds one linear plan again and again."""

    def __init__(
        self,
        pool: Pool,
        quick: Pricers,
        duals: Duals,
        counted: CountedPricers | None = None,
    ) -> None:
        self.pool, self.quick, self.duals, self.work = pool, quick, duals, pool.work
        self.counted = counted
        self.amounts = pool.master.amounts()
        self.columns = list(pool.master.columns)
        self.wanted = np.array([w.count for w in pool.wanted])

    def attempt(self, number: int) -> Chosen | None:
        """One whole-number plan; none where the sheets run out."""
        up = BOLDNESS[number % len(BOLDNESS)]
        left = self.wanted.copy()
        repeats: Repeats = {}
        for at in np.argsort(-self.amounts, kind="stable"):
            times = int(np.floor(self.amounts[at] + up + 1e-6))
            if times <= 0:
                break
            column, counts = self.columns[at], np.array(self.columns[at].counts)
            useful = counts > 0
            times = min(times, int(np.max(-(-left[useful] // counts[useful]))))
            if times > 0:
                left = np.maximum(left - times * counts, 0)
                repeats[id(column)] = (column, times)
        _plain_rest(self._fill_up(left, number, repeats), repeats, self.alone)
        return bought(list(repeats.values()), self.pool)

    def _fill_up(self, left: Counts, number: int, repeats: Repeats) -> Counts:
        """Cut what is left, each time the layout worth most for its price, while work is left.

        Returns what is left even so.
        """
        areas, pieces = self.pool.areas, self.duals.pieces
        worth = areas if number % 2 or not pieces.max() else pieces + 1e-9
        astray = np.random.default_rng(number).uniform(1.0, 1.0 + 0.02 * number, len(worth))
        values, _ = whole(worth ** (1.0 + 0.03 * (number % 3)) * astray)
        while left.any() and not self.work.told_to_stop(say(DOING)):
            options = self._ways_on(values, left, LEFT_STEPS if number else FIRST_STEPS)
            if not options:
                break
            _, sheet, found = max(options, key=lambda option: option[:2])
            column, _ = self.pool.take(-sheet, found)
            counts = found.counts
            cut = counts > 0
            times = max(int(np.min(left[cut] // counts[cut])), 1)
            _, n = repeats.get(id(column), (column, 0))
            repeats[id(column)] = (column, n + times)
            left = np.maximum(left - times * counts, 0)
        return left

    @cached_property
    def alone(self) -> dict[int, Column]:
        """For each kind the layout of it alone that costs least a piece."""
        return _cheapest_alone(self.pool)

    def _ways_on(
        self, values: Sequence[int], left: Counts, steps: int
    ) -> list[tuple[float, int, Found]]:
        """Layouts for what is left: worth for the price, sheet (below zero), layout."""
        options: list[tuple[float, int, Found]] = []
        wanted = [value if n else 0 for value, n in zip(values, left, strict=True)]
        much = float(self.pool.areas @ left)
        for sheet, supply in enumerate(self.pool.sheets):
            price = max(price_of(supply), 1e-9)
            width, height = supply.sheet.usable
            few = int(left.sum()) <= FEW_PIECES or much < LAST_SHEETS * width * height * 1e-12
            layouts: list[Found] = []
            if self.counted and few:
                layouts += self._limited(sheet, values, left, steps)
            else:
                layouts += self.quick.best(sheet, wanted, AT_A_TIME, left)
            if self.counted and (few or any((f.counts > left).any() for f in layouts)):
                layouts += self.counted.best(sheet, wanted, FEW_TRIES if few else 2, left)
            for found in layouts:
                useful = np.minimum(found.counts, left)
                options.append((float(useful @ np.array(wanted)) / price, -sheet, found))
        return options

    def _limited(self, sheet: int, values: Sequence[int], left: Counts, steps: int) -> list[Found]:
        """The best layout of a sheet with no more of each kind than is left, if there is any."""
        supply, cutter = self.pool.sheets[sheet].sheet, self.pool.cutter
        kinds = self.pool.kinds(sheet, values, left)
        found = best_limited(
            *supply.usable, kinds, cutter, (supply.trim_nm, supply.trim_nm),
            work=self.work, steps=steps,
            points=LEFT_POINTS if cutter.stages is None else None,
        )  # fmt: skip
        return [self.pool.found(found.tree)] if found.value else []


def plainly_apart(pool: Pool) -> Chosen | None:
    """Each kind alone on the sheet that is cheapest so; none where there are too few of those."""
    repeats: Repeats = {}
    _plain_rest(np.array([w.count for w in pool.wanted]), repeats, _cheapest_alone(pool))
    return bought(list(repeats.values()), pool)


def _plain_rest(left: Counts, repeats: Repeats, alone: Mapping[int, Column]) -> None:
    """What there was no work left for, each kind alone."""
    for kind in np.nonzero(left)[0]:
        column = alone.get(int(kind))
        if column is not None:
            _, n = repeats.get(id(column), (column, 0))
            more = -(-int(left[kind]) // column.counts[kind])
            repeats[id(column)] = (column, n + more)


def _cheapest_alone(pool: Pool) -> dict[int, Column]:
    """For each kind the layout of it alone that costs least a piece."""
    found: dict[int, tuple[float, int, Column]] = {}
    for column in pool.master.columns:
        kinds = np.nonzero(np.array(column.counts))[0]
        if len(kinds) == 1:
            kind, count = int(kinds[0]), column.counts[kinds[0]]
            way = (price_of(pool.sheets[column.sheet]) / count, -count, column)
            if kind not in found or way[:2] < found[kind][:2]:
                found[kind] = way
    return {kind: way[2] for kind, way in found.items()}


def needed(repeats: Sequence[tuple[Column, int]], pool: Pool) -> list[tuple[Column, int]]:
    """The layouts without the sheets that can be left out and all is still cut, dearest first."""
    over = np.array([-w.count for w in pool.wanted])
    for column, times in repeats:
        over += times * np.array(column.counts)
    kept = [times for _, times in repeats]
    prices = [price_of(pool.sheets[column.sheet]) for column, _ in repeats]
    for at in sorted(range(len(kept)), key=lambda at: (-prices[at], at)):
        counts = np.array(repeats[at][0].counts)
        cut = counts > 0
        spare = min(max(int(np.min(over[cut] // counts[cut])), 0), kept[at])
        kept[at] -= spare
        over -= spare * counts
    return [(column, n) for (column, _), n in zip(repeats, kept, strict=True) if n]


def bought(repeats: Sequence[tuple[Column, int]], pool: Pool) -> Chosen | None:
    """The packs that layouts take, from the cheapest single offer of each size."""
    repeats = needed(repeats, pool)
    packs: list[tuple[SheetOffer, int, int]] = []
    for index, supply in enumerate(pool.sheets):
        short = sum(n for c, n in repeats if c.sheet == index) - supply.on_hand
        if short <= 0:
            continue
        ways = [way for offer in supply.offers if (way := _packs_of(offer, short))]
        if not ways:
            return None
        packs.append(min(ways, key=lambda way: way[2]))
    return Chosen(tuple(repeats), tuple(packs))


def _packs_of(offer: SheetOffer, sheets: int) -> tuple[SheetOffer, int, int] | None:
    """Packs of an offer for so many sheets and their cost; none where its limit forbids it."""
    breaks = sorted((b.from_packs, b.price) for b in offer.breaks)
    found = packs_for(sheets, offer.pack, breaks, offer.limit)
    return (offer, found[0], found[0] * found[1]) if found else None
