"""What the planner is compared with: grids, shelves, a general packer, a plain sketch of itself.

Each cuts everything wanted and answers with the money for whole sheets, or None where it cannot.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import rectpack
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from app.core.cutting.model import SheetOffer, Wanted
from app.core.cutting.one_sheet.unlimited import Best, Lying, Places, Table
from app.core.cutting.one_sheet.yields import lying_ways, yield_of


def each_on_a_grid(wanted: Sequence[Wanted], offers: Sequence[SheetOffer]) -> int | None:
    """Every product by itself on a plain grid, on the sheet that makes it cheapest."""
    total = 0
    for w in wanted:
        costs = [
            -(-w.count // grid) * offer.breaks[0].price
            for offer in offers
            if (grid := yield_of(w.piece, offer.sheet, quick=True).grid)
        ]
        if not costs:
            return None
        total += min(costs)
    return total


def _fitting(wanted: Wanted, offer: SheetOffer) -> list[Lying]:
    """The ways a piece may lie on a sheet that is large enough for it."""
    width, height = offer.sheet.usable
    ways = lying_ways(wanted.piece, offer.sheet)
    return [p for p in ways if p.width_nm <= width and p.height_nm <= height]


def shelves(wanted: Sequence[Wanted], offers: Sequence[SheetOffer]) -> int | None:
    """First-fit decreasing shelves on one size of sheet, the size that makes it cheapest."""
    costs = [cost for offer in offers if (cost := _shelves_on(wanted, offer)) is not None]
    return min(costs, default=None)


def _shelves_on(wanted: Sequence[Wanted], offer: SheetOffer) -> int | None:
    """Pieces by falling height onto the first shelf with room, else a new shelf, a new sheet."""
    width, height = offer.sheet.usable
    pieces: list[tuple[int, int]] = []
    for w in wanted:
        ways = _fitting(w, offer)
        if not ways:
            return None
        flat = min(ways, key=lambda p: p.height_nm)
        pieces += [(flat.height_nm, flat.width_nm)] * w.count
    pieces.sort(reverse=True)
    sheets: list[int] = []  # height left of each
    open_shelves: list[list[int]] = []  # height, width left
    for high, wide in pieces:
        for shelf in open_shelves:
            if shelf[0] >= high and shelf[1] >= wide:
                shelf[1] -= wide
                break
        else:
            for index, left in enumerate(sheets):
                if left >= high:
                    sheets[index] -= high
                    break
            else:
                sheets.append(height - high)
            open_shelves.append([high, width - wide])
    return len(sheets) * offer.breaks[0].price


def packer(wanted: Sequence[Wanted], offers: Sequence[SheetOffer]) -> int | None:
    """rectpack's guillotine packer, greedily on one size of sheet, the cheapest such size.

    Pieces that the grain keeps one way are given to it as they must lie.
    """
    costs = [cost for offer in offers if (cost := _packed_on(wanted, offer)) is not None]
    return min(costs, default=None)


def _packed_on(wanted: Sequence[Wanted], offer: SheetOffer) -> int | None:
    width, height = offer.sheet.usable
    turns = all(len(lying_ways(w.piece, offer.sheet)) > 1 for w in wanted)
    packing = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline,
        pack_algo=rectpack.GuillotineBssfSas,
        bin_algo=rectpack.PackingBin.BFF,
        sort_algo=rectpack.SORT_AREA,
        rotation=turns,
    )
    number = 0
    for w in wanted:
        ways = _fitting(w, offer)
        if not ways:
            return None
        for _ in range(w.count):
            packing.add_rect(ways[0].width_nm, ways[0].height_nm)
            number += 1
    packing.add_bin(width, height, count=number)
    packing.pack()
    if sum(len(sheet) for sheet in packing) < number:
        return None
    return len(packing) * offer.breaks[0].price


def sketch(wanted: Sequence[Wanted], offers: Sequence[SheetOffer]) -> int | None:
    """Column generation as the books have it: a linear program and the exact search of a sheet
    by turns until nothing is gained, then an integer program over the layouts found.
    """
    searches = [_search(wanted, offer) for offer in offers]
    need = np.array([w.count for w in wanted])
    layouts: dict[tuple[int, tuple[int, ...]], int] = {}
    for sheet, search in enumerate(searches):
        for kind in range(len(wanted)):
            only = [10**6 if kind == k else 0 for k in range(len(wanted))]
            layouts[sheet, _counts(wanted, search(only))] = offers[sheet].breaks[0].price
    if not all(any(counts[kind] for _, counts in layouts) for kind in range(len(wanted))):
        return None
    while True:
        holds = np.array([counts for _, counts in layouts]).T
        costs = np.array(list(layouts.values()), dtype=float)
        worth = -linprog(costs, A_ub=-holds, b_ub=-need).ineqlin.marginals
        known = len(layouts)
        for sheet, search in enumerate(searches):
            price = offers[sheet].breaks[0].price
            counts = _counts(wanted, search([int(v * 10**6) for v in worth]))
            if worth @ np.array(counts) > price * (1 + 1e-7):
                layouts[sheet, counts] = price
        if len(layouts) == known:
            break
    found = milp(
        costs, integrality=np.ones(len(costs)), bounds=Bounds(0, np.inf),
        constraints=LinearConstraint(holds, need, np.inf),
        options={"time_limit": 1.0, "mip_rel_gap": 0.01},
    )  # fmt: skip
    return None if found.x is None else round(float(found.fun))


def _search(wanted: Sequence[Wanted], offer: SheetOffer) -> Callable[[Sequence[int]], Best]:
    """The exact search of one sheet at worths by kind."""
    ways = [(way, kind) for kind, w in enumerate(wanted) for way in _fitting(w, offer)]
    places = Places(*offer.sheet.usable, [replace(way, name=wanted[k].key) for way, k in ways])
    return lambda worth: Table(places, [worth[kind] for _, kind in ways]).best_from((0, 0))


def _counts(wanted: Sequence[Wanted], found: Best) -> tuple[int, ...]:
    names = [leaf.piece.name for leaf in found.tree.leaves() if leaf.piece]
    return tuple(names.count(w.key) for w in wanted)
