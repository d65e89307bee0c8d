"""Plans of cutting that are worked out, remembered for a while, and kept with what they are for.

A paper keeps the plan by which its sheets were bought: the next plan begins from it, so that
what was bought is enough. A batch keeps the plan it was cut by.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from app.core.cutting.batch import BatchPlan, LayoutUse, plan_apart, plan_batch
from app.core.cutting.cover import SheetOffer, Wanted
from app.core.cutting.cutter import Cutter
from app.core.cutting.known import KnownLayout, as_data, from_data

REMEMBERED = 128


@lru_cache(maxsize=REMEMBERED)
def plan_paper(
    wanted: tuple[Wanted, ...],
    offers: tuple[SheetOffer, ...],
    cutter: Cutter,
    seconds: float,
    known: tuple[KnownLayout, ...] = (),
    *,
    apart: bool = False,
) -> BatchPlan:
    """The cheapest plan found in the time; the same question soon after has the same answer.

    ``apart`` keeps every kind of piece on sheets of its own. Raises NoPlanError.
    """
    if apart:
        return plan_apart(wanted, offers, cutter, seconds)
    return plan_batch(wanted, offers, cutter, seconds, known=known)


def plan_data(plan: BatchPlan, cutter: Cutter) -> dict[str, Any]:
    """A plan as it is kept, with the cutter it is for."""
    known = [KnownLayout(use.layout, use.repeats) for use in plan.uses]
    return {"cutter": _cutter_data(cutter), "layouts": as_data(known)}


def known_layouts(data: Mapping[str, Any] | None, cutter: Cutter) -> tuple[KnownLayout, ...]:
    """The layouts of a kept plan; none where the cutter is another by now."""
    if not data or data["cutter"] != _cutter_data(cutter):
        return ()
    return from_data(data["layouts"])


def _cutter_data(cutter: Cutter) -> list[int | None]:
    """What decides whether a layout can be cut."""
    return [cutter.kerf_nm, cutter.longest_nm, cutter.stages]


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
) -> list[SheetShare]:
    """Which sheets each layout is cut from, when several sources have sheets of its size.

    The layouts take by turns, each from what is there soonest (``days``, by offer).
    """
    bought = {buy.offer.key: buy.sheets for buy in plan.bought}
    there = {o.key: o.on_hand + bought.get(o.key, 0) for o in offers}
    shares: list[SheetShare] = []
    for use in plan.uses:
        left = use.repeats
        sources = [o.key for o in offers if o.sheet == use.supply.sheet and there[o.key]]
        for key in sorted(sources, key=lambda key: (days[key], key)):
            sheets = min(there[key], left)
            if sheets:
                shares.append(SheetShare(key, use, sheets))
                there[key] -= sheets
                left -= sheets
    return shares
