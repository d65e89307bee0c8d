"""What is drafted and still has to be sent, by which day, and what hangs on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from app.core.planning.requirements import Demand, order_by
from app.models import Material, Purchase, StockSheet
from app.services.planning.requirements import Needs
from app.services.planning.supply import Coming
from app.services.purchasing.buy_lines import arrivals_for, order_by_in_words
from app.services.purchasing.sheet_plan import PaperPlan


@dataclass(frozen=True)
class DraftLine:
    """Packs of one thing on a draft; ``send_by`` is None where nothing wanted hangs on them."""

    purchase: Purchase
    item: StockSheet | Material
    packs: int
    quantity: int
    cost: Decimal
    send_by: date | None
    late: bool
    demands: tuple[Demand, ...]
    sums: tuple[str, ...]
    """How the day to send it by comes about, a sentence a step."""


def draft_lines(found: Needs, plans: Iterable[PaperPlan], on: date) -> list[DraftLine]:
    """Everything drafted, the most pressing first, what nothing hangs on last."""
    wanting = _wanting(found, plans)
    lines = [
        _line(found, coming, coming.purchase, wanting.get(id(coming), []), on)
        for rows in found.coming.values()
        for coming in rows
        if coming.drafted and coming.purchase is not None
    ]
    return sorted(
        lines, key=lambda d: (d.send_by is None, d.send_by or on, d.purchase.number, d.item.id)
    )


def _wanting(found: Needs, plans: Iterable[PaperPlan]) -> dict[int, list[Demand]]:
    """The demands that hang on each arrival."""
    wanting: dict[int, list[Demand]] = {}
    by_material: dict[str, list[Demand]] = {}
    for demand in found.material_demands:
        by_material.setdefault(demand.thing, []).append(demand)
    for key, demands in by_material.items():
        for coming, demand in arrivals_for(found, key, demands):
            wanting.setdefault(id(coming), []).append(demand)
    for plan in plans:
        for cut in plan.cuts:
            arriving = plan.coming.get(cut.source)
            if arriving is not None:
                wanting.setdefault(id(arriving), []).extend(peg.demand for peg in cut.pegs)
    return wanting


def _line(
    found: Needs, coming: Coming, purchase: Purchase, demands: list[Demand], on: date
) -> DraftLine:
    send_by: date | None = None
    sums: tuple[str, ...] = ()
    if demands:
        first = found.times.first(demands)
        send_by = order_by(found.times.start(first), coming.lead_days)
        supplier = purchase.supplier.name
        sums = order_by_in_words(found, first, supplier, coming.lead_days, send_by)
    return DraftLine(
        purchase, coming.item, coming.packs, coming.quantity, coming.cost, send_by,
        send_by is not None and send_by < on, tuple(demands), sums,
    )  # fmt: skip


def drafted_cost(lines: Iterable[DraftLine]) -> Decimal:
    """What all drafts cost."""
    return sum((line.cost for line in lines), Decimal(0))
