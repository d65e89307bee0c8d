"""What a sheet can be worth at the most once a rectangle stands in its corner.

Three relaxations, whichever is lowest: the unlimited layout of :mod:`unlimited` on what lies
around the rectangle, a knapsack of the limited pieces by area, and the unlimited layout of pieces
that are charged for their limits (Lagrangean relaxation): there every piece of a kind costs its
charge, and what the limit leaves over of them is paid back.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.charges import Charges
from app.core.cutting.one_sheet.unlimited import Ints, Lying, Places, Table
from app.core.errors import DomainError

KNAPSACK_CELLS = 100_000
MOST_AREA = 1 << 60
MOST_AROUND = 400_000
"""Rectangles for which a bound on what lies around them is worked out; past it area must do."""


class Promises:
    """Bounds for rectangles in the corner of one sheet.

    ``lying`` are the ways pieces may lie, with the worth and the number of the kind of each in
    ``values``, ``kind_of`` and ``limits``; sizes of ``cells`` and of the sheet include the kerf.
    """

    def __init__(
        self,
        size: tuple[int, int],
        kerf: int,
        lying: Sequence[Lying],
        cells: Sequence[tuple[int, int]],
        kind_of: Sequence[int],
        values: Sequence[int],
        limits: Sequence[int],
        charges: Charges | None,
    ) -> None:
        self.width, self.height = size
        self.kerf, self.charges = kerf, charges
        # Areas in squares of a unit that keeps them within 64 bits, rounded so as to overrate.
        self.unit = 1
        while (self.width // self.unit) * (self.height // self.unit) >= MOST_AREA:
            self.unit *= 10
        self.whole = (self.width // self.unit + 1) * (self.height // self.unit + 1)
        self.steps = 0
        """Work it took to get ready."""
        self.area_step = max(self.whole // KNAPSACK_CELLS, 1)
        first_way = dict(zip(kind_of[::-1], lying[::-1], strict=True))
        self.by_area = self._knapsack(first_way, values, limits)
        self.around: Ints | None = None
        try:
            places = Places(
                self.width - kerf, self.height - kerf, lying, Cutter(kerf), cells, raster=False
            )
        except DomainError:
            return
        if places.states > MOST_AROUND:
            return
        self._look_around(places, [values[kind] for kind in kind_of], kind_of)

    def _look_around(self, places: Places, worth: Sequence[int], kind_of: Sequence[int]) -> None:
        tables = 1 if self.charges is None else 2
        self.steps += tables * places.steps + 12 * places.states + 2 * places.pairs // 700 * tables
        table = Table(places, worth)
        xs, ys = table.xs // self.unit + 1, table.ys // self.unit + 1
        cells = xs[:, None] * ys[None, :] // self.area_step + 1
        inside = [np.minimum(table.best, self.by_area[np.minimum(cells, len(self.by_area) - 1)])]
        if self.charges is not None:
            inside.append(Table(places, self.charges.worth(worth, kind_of)).best)
        self.xs = np.append(table.xs, self.width)
        self.ys = np.append(table.ys, self.height)
        self.around = _around(table.xs, table.ys, self.xs, self.ys, np.stack(inside))

    def _knapsack(
        self, first_way: dict[int, Lying], values: Sequence[int], limits: Sequence[int]
    ) -> Ints:
        """The most value of limited pieces by area, areas rounded down in steps."""
        cells = self.whole // self.area_step + 2
        best = np.zeros(cells, dtype=np.int64)
        for kind, way in sorted(first_way.items()):
            value, left, bundle = values[kind], limits[kind], 1
            sides = (
                (way.width_nm + self.kerf) // self.unit,
                (way.height_nm + self.kerf) // self.unit,
            )
            area = sides[0] * sides[1] // self.area_step
            while left > 0:
                take = min(bundle, left)
                self.steps += cells // 700
                left, bundle = left - take, bundle * 2
                if area * take < cells:
                    moved = best[: cells - area * take] + value * take
                    best[area * take :] = np.maximum(best[area * take :], moved)
        return best

    def of(self, widths: Ints, heights: Ints, values: Ints, charged: Ints) -> Ints:
        """Value of rectangles and of whatever could still lie around them.

        ``charged`` is what the pieces in each of them are charged in all.
        """
        used = (widths // self.unit) * (heights // self.unit)
        rest = (self.whole - used) // self.area_step + 1
        most: Ints = self.by_area[rest]
        if self.around is not None:
            i = np.searchsorted(self.xs[:-1], widths)
            j = np.searchsorted(self.ys[:-1], heights)
            most = np.minimum(most, self.around[0, i, j])
            if self.charges is not None:
                paid_back = self.charges.whole - charged
                most = np.minimum(most, (self.around[1, i, j] + paid_back) // self.charges.scale)
        found: Ints = values + most
        return found


def _around(xs: Ints, ys: Ints, all_xs: Ints, all_ys: Ints, inside: Ints) -> Ints:
    """Most value outside a rectangle in the corner, by growing it to the right or upwards.

    ``inside`` has one table of values of rectangles after another.
    """
    last_x, last_y = len(all_xs) - 1, len(all_ys) - 1
    around = np.zeros((len(inside), last_x + 1, last_y + 1), dtype=np.int64)
    fits_x = np.searchsorted(xs, all_xs, side="right") - 1
    fits_y = np.searchsorted(ys, all_ys, side="right") - 1
    widths = [np.searchsorted(xs, all_xs[i + 1 :] - all_xs[i], side="right") - 1
              for i in range(last_x + 1)]  # fmt: skip
    heights = [np.searchsorted(ys, all_ys[j + 1 :] - all_ys[j], side="right") - 1
               for j in range(last_y + 1)]  # fmt: skip
    for i in range(last_x, -1, -1):
        row = around[:, i]
        if i < last_x:
            grown = around[:, i + 1 :] + inside[:, widths[i]][:, :, fits_y]
            row[:] = grown.max(axis=1)
        above = inside[:, fits_x[i]]
        for j in range(last_y - 1, -1, -1):
            higher = (row[:, j + 1 :] + above[:, heights[j]]).max(axis=1)
            np.maximum(row[:, j], higher, out=row[:, j])
    return around
