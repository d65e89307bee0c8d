"""What can be made from paper that lies here, and what it then earns."""

from __future__ import annotations

from flask import Blueprint, abort, render_template, request

from app.models import StockSheet
from app.services.planning.from_the_shelf import makeable, pile_of
from app.services.stock.ledger import find_item
from app.web.frame.asked import number_asked
from app.web.frame.session import db, prices

pages = Blueprint("makes", __name__, url_prefix="/stockroom")


@pages.get("/items/<key>/makes")
def what(key: str) -> str:
    """Every journal on sale that a sheet, its offcuts, or one of them would do for."""
    item = find_item(db(), key)
    if not isinstance(item, StockSheet):
        abort(404)
    lot = number_asked(request.args, "offcut")
    pile = pile_of(db(), item, lot)
    if lot is not None and not pile.offcuts:
        abort(404)
    # Of an offcut alone only what it does for is of interest.
    found = [m for m in makeable(db(), prices(), pile) if m.number or lot is None]
    return render_template(
        "stockroom/makes.html", item=item, key=key, pile=pile, alone=lot is not None,
        as_they_are=[m for m in found if not m.instead_of],
        instead=[m for m in found if m.instead_of],
    )  # fmt: skip
