"""Plans of cutting that are worked out, remembered for a while, and kept with what they are for.

A paper keeps the plan by which its sheets were bought: the next plan begins from it, so that
what was bought is enough. A batch keeps the plan it was cut by.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sqlalchemy.orm import Session

from app.core.cutting.cutter import Cutter
from app.core.cutting.effort import Effort
from app.core.cutting.many_sheets.plan import BatchPlan, LayoutUse
from app.core.cutting.many_sheets.planner import plan_apart, plan_batch
from app.core.cutting.many_sheets.warm_start import KnownLayout, as_data, from_data
from app.core.cutting.model import SheetOffer, Wanted
from app.core.planning.requirements import Demand
from app.models import Paper

REMEMBERED = 128


@lru_cache(maxsize=REMEMBERED)
def plan_paper(
    wanted: tuple[Wanted, ...],
    offers: tuple[SheetOffer, ...],
    cutter: Cutter,
    effort: Effort | int,
    known: tuple[KnownLayout, ...] = (),
    *,
    apart: bool = False,
) -> BatchPlan:
    """The cheapest plan found with so much effort; the same question has the same answer.

    ``apart`` keeps every kind of piece on sheets of its own. Raises NoPlanError.
    """
    if apart:
        return plan_apart(wanted, offers, cutter, effort)
    return plan_batch(wanted, offers, cutter, effort, known=known)


def plan_data(plan: BatchPlan, cutter: Cutter) -> dict[str, Any]:
    """A plan as it is kept, with the cutter it is for."""
    known = [KnownLayout(use.layout, use.repeats) for use in plan.uses]
    return {"cutter": _cutter_data(cutter), "layouts": as_data(known)}


def keep_cut_plan(session: Session, paper: Paper, data: Mapping[str, Any]) -> None:
    """Let a paper keep a plan; an open form of the paper is not made stale by it."""
    table = Paper.__table__
    session.execute(table.update().where(table.c.id == paper.id).values(cut_plan=data))  # type: ignore[attr-defined]
    session.refresh(paper, ["cut_plan"])


def known_layouts(data: Mapping[str, Any] | None, cutter: Cutter) -> tuple[KnownLayout, ...]:
    """The layouts of a kept plan; none where the cutter is another by now."""
    if not data or data["cutter"] != _cutter_data(cutter):
        return ()
    return from_data(data["layouts"])


def _cutter_data(cutter: Cutter) -> list[int | None]:
    """What decides whether a layout can be cut."""
    return [cutter.kerf_nm, cutter.longest_nm, cutter.stages]


def kept_cutter(data: Mapping[str, Any]) -> Cutter:
    """The cutter a kept plan is for; how much it lifts is not kept."""
    return Cutter(*data["cutter"])


@dataclass(frozen=True)
class SheetShare:
    """So many sheets of one source, by its offer's key, cut by one layout."""

    source: str
    use: LayoutUse
    sheets: int


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
