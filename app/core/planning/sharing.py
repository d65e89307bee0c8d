"""Which source each sheet of a plan is cut from, and which demands its pieces serve.

What the bench begins with first is cut from what is there soonest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from app.core.cutting.many_sheets.plan import BatchPlan, LayoutUse
from app.core.cutting.model import SheetOffer
from app.core.planning.paper_problem import PaperProblem, SheetSource
from app.core.planning.requirements import Demand, Peg


@dataclass(frozen=True)
class SheetShare:
    """So many sheets of one source, by its offer's key, cut by one layout."""

    source: str
    use: LayoutUse
    sheets: int


@dataclass(frozen=True)
class SheetCut(SheetShare):
    """Sheets of one source cut by one layout, and the demands that their pieces serve."""

    pegs: tuple[Peg, ...]


def shared_sheets(
    plan: BatchPlan,
    offers: Sequence[SheetOffer],
    days: Mapping[str, int],
    demands: Sequence[Demand] = (),
) -> list[SheetShare]:
    """Which sheets each layout is cut from, when several sources have sheets of its size.

    Demands for pieces take by turns, in the order given, as many sheets as they need from what
    is there soonest (``days``, by offer); the rest of the plan takes what is left.
    """
    handing = _Handing(plan, offers, days)
    for demand in demands:
        handing.serve(demand.thing, demand.quantity)
    for use in plan.uses:
        handing.take(use, handing.left[id(use)])
    return [
        SheetShare(source, use, sheets)
        for use in plan.uses
        for source, sheets in handing.taken[id(use)].items()
    ]


def sheet_cuts(
    plan: BatchPlan, problem: PaperProblem, sources: Sequence[SheetSource]
) -> list[SheetCut]:
    """What is cut from which of the sources: what the bench needs first, from what is there
    soonest."""
    demands = [row.demand for row in problem.demands]
    waiting = {w.key: [d for d in demands if d.thing == w.key] for w in problem.wanted}
    soon = {source.offer.key: source.days for source in sources}
    shares = shared_sheets(plan, [source.offer for source in sources], soon, demands)
    cuts = []
    for share in sorted(shares, key=lambda share: soon[share.source]):
        pegs = [
            peg
            for key, count in share.use.counts.items()
            for peg in _serve(waiting[key], count * share.sheets)
        ]
        cuts.append(SheetCut(share.source, share.use, share.sheets, tuple(pegs)))
    return cuts


def _serve(demands: list[Demand], room: int) -> list[Peg]:
    """Serve the first demands with so many pieces; what of them is left stays in the list."""
    pegs = []
    while demands and room > 0:
        demand = demands.pop(0)
        taken = min(demand.quantity, room)
        pegs.append(Peg(demand, taken))
        room -= taken
        if taken < demand.quantity:
            demands.insert(0, replace(demand, quantity=demand.quantity - taken))
    return pegs


def sheets_used(plan: BatchPlan, offers: Sequence[SheetOffer]) -> dict[str, int]:
    """Sheets that a plan cuts, by offer, where none is there sooner than another."""
    used: dict[str, int] = {}
    for share in shared_sheets(plan, offers, dict.fromkeys((o.key for o in offers), 0)):
        used[share.source] = used.get(share.source, 0) + share.sheets
    return used


class _Handing:
    """Sheets handed out layout by layout."""

    def __init__(
        self, plan: BatchPlan, offers: Sequence[SheetOffer], days: Mapping[str, int]
    ) -> None:
        bought = {buy.offer.key: buy.sheets for buy in plan.bought}
        self.uses = plan.uses
        self.there = {o.key: o.on_hand + bought.get(o.key, 0) for o in offers}
        soonest = sorted(offers, key=lambda o: (days[o.key], o.key))
        self.sources = {
            id(use): [o.key for o in soonest if o.sheet == use.supply.sheet] for use in plan.uses
        }
        self.left = {id(use): use.repeats for use in plan.uses}
        self.taken: dict[int, dict[str, int]] = {id(use): {} for use in plan.uses}
        self.pieces: dict[str, int] = {}
        """Pieces cut so far that nobody has been given."""

    def serve(self, kind: str, quantity: int) -> None:
        """Cut so many pieces of a kind, with the layouts that hold most of it first."""
        for use in sorted(self.uses, key=lambda use: -use.counts.get(kind, 0)):
            each, missing = use.counts.get(kind, 0), quantity - self.pieces.get(kind, 0)
            if each and missing > 0:
                self.take(use, min(-(-missing // each), self.left[id(use)]))
        self.pieces[kind] = self.pieces.get(kind, 0) - quantity

    def take(self, use: LayoutUse, sheets: int) -> None:
        """Cut so many sheets by a layout, from what is there soonest."""
        self.left[id(use)] -= sheets
        for kind, count in use.counts.items():
            self.pieces[kind] = self.pieces.get(kind, 0) + count * sheets
        for source in self.sources[id(use)]:
            some = min(self.there[source], sheets)
            if some:
                taken = self.taken[id(use)]
                taken[source] = taken.get(source, 0) + some
                self.there[source] -= some
                sheets -= some
