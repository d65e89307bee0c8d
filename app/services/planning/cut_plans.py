"""The plans that things were bought and cut by, kept with them.

A paper keeps the plan by which its sheets were bought: the next plan begins from it, so that
what was bought is enough. A batch keeps the plan it was cut by.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from app.core.cutting.cutter import Cutter
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.many_sheets.warm_start import KnownLayout, as_data, from_data
from app.models import Paper


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
