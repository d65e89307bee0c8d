"""New layouts for the linear program, round by round, as long as it gains by them."""

from __future__ import annotations

from app.core.cutting.many_sheets.columns import Floats, Pool, Pricers, whole
from app.core.cutting.many_sheets.linear_master import Duals
from app.language import say

SMOOTHING, HOPEFUL = 0.5, 0.98
MOST_ROUNDS = 400


class Generation:
    """Column generation over the sheets of one batch; it can be gone on with, other pricers too."""

    def __init__(self, pool: Pool) -> None:
        self.pool, self.work = pool, pool.work
        self.rounds = 0
        self.converged = False
        """Whether no layout at all would make the program gain."""
        self.promise: dict[int, float] = {}
        """How near its price the best layout of each sheet came when it was last asked."""

    def run(self, pricers: Pricers, until: float) -> Duals:
        """Add layouts while they are worth more than their sheet.

        Worths are smoothed over the rounds (Wentges, Int. Trans. Oper. Res. 4, 1997), which keeps
        them from leaping; once that finds nothing, they are taken as they are.
        """
        duals = self.pool.master.solve()
        smooth = duals.pieces
        while self.rounds < MOST_ROUNDS and self.work.used() < until:
            self.rounds += 1
            if self.work.told_to_stop(say("looking for layouts")):
                break
            smooth = SMOOTHING * smooth + (1 - SMOOTHING) * duals.pieces
            if not self._improve(pricers, smooth, duals):
                if not self._improve(pricers, duals.pieces, duals):
                    self.converged = self.work.left() > 0 and pricers.all_exact
                    break
                smooth = duals.pieces
            duals = self.pool.master.solve()
        return duals

    def _improve(self, pricers: Pricers, worth: Floats, duals: Duals) -> bool:
        """Add the best layouts of the sheets where the program gains by them.

        Sheets that were far from paying last time are asked again only when no other gains.
        """
        values, _ = whole(worth)
        asked: set[int] = set()
        for hopeful in (True, False):
            gained = False
            for sheet, price in enumerate(duals.sheets):
                if sheet in asked or (hopeful and self.promise.get(sheet, 1.0) < HOPEFUL):
                    continue
                if self.work.left() <= 0:
                    return gained
                asked.add(sheet)
                self.promise[sheet] = 0.0
                for found in pricers.best(sheet, values, pricers.at_a_time):
                    worth_now = float(duals.pieces @ found.counts)
                    ratio = worth_now / price if price > 0 else 2.0
                    self.promise[sheet] = max(self.promise[sheet], ratio)
                    if worth_now > price * (1 + 1e-7):
                        gained = self.pool.take(sheet, found)[1] or gained
            if gained:
                return True
        return False
