"""What people do without a planner, to compare with: grids, shelves, and a general packer.

Each cuts everything wanted and answers with the money for whole sheets, or None where it cannot.
"""

from __future__ import annotations

from collections.abc import Sequence

import rectpack

from app.core.cutting.cover import SheetOffer, Wanted
from app.core.cutting.unlimited import Lying
from app.core.cutting.yields import lying_ways, yield_of


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
