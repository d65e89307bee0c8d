"""What no plan can undercut: known at once from areas, raised as worths become better known.

Worths under which no layout of a sheet is worth more than the sheet costs are a feasible dual of
the linear program (Farley, Oper. Res. 38, 1990), so what all pieces are worth then, less the
sheets that are here, is the least that has to be spent.
"""

from __future__ import annotations

from math import ceil, gcd

from app.core.cutting.many_sheets.columns import Pool, SheetPricers, whole
from app.core.cutting.many_sheets.integer_master import least_money
from app.core.cutting.many_sheets.linear_master import Duals, price_of


class Bound:
    """The best bound so far, in minor units."""

    def __init__(self, pool: Pool) -> None:
        self.wanted, self.sheets, self.work = pool.wanted, pool.sheets, pool.work
        self.value = self._by_area(pool)

    def _by_area(self, pool: Pool) -> float:
        """No sheet holds more than its area, and area has to be bought at its least price."""
        areas = [s.sheet.usable[0] * s.sheet.usable[1] * 1e-12 for s in self.sheets]
        worth = min(
            (price_of(s) / area for s, area in zip(self.sheets, areas, strict=True) if s.offers),
            default=0.0,
        )
        need = sum(w.count * float(a) for w, a in zip(self.wanted, pool.areas, strict=True))
        here = sum(s.on_hand * area for s, area in zip(self.sheets, areas, strict=True))
        return max(worth * (need - here), 0.0)

    def raise_by(self, pricers: SheetPricers, duals: Duals) -> None:
        """From worths, scaled down until no layout is worth more than its sheet."""
        values, unit = whole(duals.pieces)
        worst = 1.0
        for sheet, price in enumerate(duals.sheets):
            if self.work.left() <= 0:
                return
            value = pricers.at_most(sheet, values)
            if value and price <= 0:
                return
            worst = max(worst, value * unit / price if value else 0.0)
        pieces = sum(w.count * d for w, d in zip(self.wanted, duals.pieces, strict=True))
        here = sum(s.on_hand * d for s, d in zip(self.sheets, duals.sheets, strict=True))
        self.value = max(self.value, pieces / worst - here + duals.limits)
        need = pieces / worst * (1 - 1e-7)
        self.value = max(
            self.value, least_money(need, duals.sheets.tolist(), self.sheets, self.work)
        )

    @property
    def money(self) -> int:
        """The bound in whole money, up to what packs can add up to."""
        step = 0
        for supply in self.sheets:
            for offer in supply.offers:
                for tier in offer.breaks:
                    step = gcd(step, tier.price)
        step = max(step, 1)
        lowest = max(self.value - 1e-6 * max(abs(self.value), 1.0), 0.0)
        return -(-ceil(lowest) // step) * step
