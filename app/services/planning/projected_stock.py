"""What comes and goes of a thing, day by day, and when it runs short."""

from __future__ import annotations

from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from app.language import say
from app.models import Material, Variant
from app.services.planning.requirements import Needs, needs
from app.services.planning.supply import Coming
from app.services.shop.wording import capital
from app.services.stock.ledger import item_key


def timeline(
    session: Session, item: Material | Variant, on: date, here: int, wanted: Needs | None = None
) -> list[dict[str, Any]]:
    """Dated rows of demands and arrivals, what is left after each; below zero it is short.

    ``wanted`` are the needs where they are known already. Materials go when the bench must begin
    with them, journals on the day they are wanted.
    """
    found = wanted or needs(session, on)
    key = item_key(item)
    rows: list[tuple[date, int, str, str]] = []
    if isinstance(item, Material):
        for demand in found.material_demands:
            if demand.thing == key:
                starts = found.times.start(demand)
                rows.append((starts, -demand.quantity, demand.reason, demand.link))
    else:
        short = found.to_make.get(key)
        rows += [(d.by, -d.quantity, d.reason, d.link) for d in (short.demands if short else ())]
    for coming in found.coming.get(key, ()):
        rows.append((coming.expected_on, coming.quantity, _arrival(coming), coming.link))
    left = here
    table = []
    for day, quantity, what, ref in sorted(rows, key=lambda r: (r[0], -r[1], r[2])):
        left += quantity
        table.append({"day": day, "quantity": quantity, "what": what, "ref": ref, "left": left})
    return table


def _arrival(coming: Coming) -> str:
    origin = capital(coming.said)
    return say("{origin}, not sent yet", origin=origin) if coming.drafted else origin
