"""What to buy: which sheets and packs, from whom, by when, and for what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flask import Blueprint, render_template, request

from app.core.cutting.many_sheets.plan import LayoutUse
from app.core.planning.sharing import SheetCut
from app.documents.drawings import layout_drawing
from app.services.markets.markets import upcoming
from app.services.purchasing.buy_list import buy_list, demands_of
from app.services.purchasing.changes import in_short
from app.services.purchasing.sheet_plan import PaperPlan
from app.web.frame.asked import apart_asked, markets_asked
from app.web.frame.filters import bare_length, piece_names
from app.web.frame.session import db, today

pages = Blueprint("buying", __name__, url_prefix="/buying")


@pages.get("")
def page() -> str:
    """The buy list for the open orders, the shelf and the markets ticked."""
    coming = upcoming(db(), today())
    ticked = markets_asked(request.args)
    chosen = {market.id for market in coming} if ticked is None else ticked
    apart = apart_asked(request.args)
    found = buy_list(db(), today(), chosen, apart=apart)
    names = {plan.paper.id: _names(plan) for plan in found.papers}
    return render_template(
        "buying/page.html",
        found=found,
        markets=coming,
        chosen=chosen,
        apart=apart,
        asked={"chosen": 1, "market": sorted(chosen)} | ({"apart": 1} if apart else {}),
        demands_of=demands_of,
        in_short=in_short(found),
        layouts={plan.paper.id: _layouts(plan, names[plan.paper.id]) for plan in found.papers},
        names=names,
    )


@dataclass(frozen=True)
class Drawn:
    """A layout, drawn, and the sheets that are cut by it."""

    use: LayoutUse
    drawing: str
    cuts: tuple[SheetCut, ...]


def _names(plan: PaperPlan) -> dict[str, str]:
    return piece_names({need.key: need.piece for need in plan.needs})


def _layouts(plan: PaperPlan, names: Mapping[str, str]) -> list[Drawn]:
    """Every layout of a paper's plan with its sheets."""
    drawn = []
    for number, use in enumerate(plan.plan.uses):
        picture = layout_drawing(
            use.layout, (), names, bare_length, f"cut-{plan.paper.id}-{number}",
            use.supply.sheet.grain, small=True,
        )  # fmt: skip
        drawn.append(Drawn(use, picture, tuple(cut for cut in plan.cuts if cut.use is use)))
    return drawn
