"""The answer of the batch planner: what to cut, how often, and what to buy for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from app.core.cutting.model import Buy, SheetOffer, Supply, worth_of
from app.core.cutting.tree import Layout
from app.core.paper import Sheet


@dataclass(frozen=True)
class LayoutUse:
    """A layout cut ``repeats`` times, with the pieces of each kind it gives."""

    layout: Layout
    supply: Supply
    counts: dict[str, int]
    repeats: int


@dataclass(frozen=True)
class BatchPlan:
    """What to cut and to buy; ``bound`` is what no plan can undercut, in minor units.

    ``steps`` is the work it took; ``cut_short`` says that the clock or somebody ended that.
    """

    uses: tuple[LayoutUse, ...]
    bought: tuple[Buy, ...]
    bound: int
    steps: int = field(default=0)
    rounds: int = field(default=0)
    cut_short: bool = field(default=False)

    @property
    def spend(self) -> int:
        """Money for the packs."""
        return sum(row.cost for row in self.bought)

    @property
    def proved(self) -> bool:
        """Whether no plan costs less."""
        return self.spend <= self.bound

    @property
    def sheets(self) -> int:
        """Sheets cut."""
        return sum(use.repeats for use in self.uses)

    def worth_cut(self, offers: Sequence[SheetOffer]) -> Fraction:
        """What the sheets it cuts are worth, in minor units: those on hand first, then bought."""
        cut: dict[Sheet, int] = {}
        for use in self.uses:
            cut[use.supply.sheet] = cut.get(use.supply.sheet, 0) + use.repeats
        return worth_of(cut, {buy.offer.key: buy.sheets for buy in self.bought}, offers)
