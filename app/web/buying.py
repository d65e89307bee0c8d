"""What to buy: which sheets and packs, from whom, by when, and for what."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, render_template, request

from app.documents.drawings import sheet_drawing
from app.services.buying import BuyList, buy_list, demands_of
from app.services.markets import upcoming
from app.web.filters import bare_length
from app.web.session import db, today

pages = Blueprint("buying", __name__, url_prefix="/buying")


@pages.get("")
def page() -> str:
    """The buy list for the open orders, the shelf and the markets ticked."""
    coming = upcoming(db(), today())
    asked = {int(m) for m in request.args.getlist("market") if m.isdecimal() and len(m) < 10}
    chosen = asked if "chosen" in request.args or asked else {m.id for m in coming}
    found = buy_list(db(), today(), chosen, with_other_ways=True)
    return render_template(
        "buying/page.html",
        found=found,
        markets=coming,
        chosen=chosen,
        demands_of=demands_of,
        drawings=_drawings(found),
    )


def _drawings(found: BuyList) -> dict[tuple[str, str], Any]:
    """A drawing for every sheet size and piece that is cut."""
    made: dict[tuple[str, str], Any] = {}
    for plan in found.papers:
        for row in plan.uses:
            name = (row.need.key, row.use.cut.sheet.name)
            if name not in made:
                made[name] = sheet_drawing(row.use.cut, bare_length, f"cut-{len(made)}", 150)
    return made
