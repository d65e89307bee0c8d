"""What to keep and when to order it again, proposed from how it was used, with the evidence."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.planning.reorder import (
    Use,
    economic_with_breaks,
    reorder_level,
    safety_factor,
    use_by_week,
    whole_packs,
)
from app.models import Lot, Material, Movement, Offer, StockSheet
from app.services.materials import materials, offers_in_force, papers
from app.services.on_the_way import on_the_way
from app.services.shop import the_shop
from app.services.stock import holdings, item_key, still_stands

WEEKS, LEAST_WEEKS, LEAST_USES = 26, 4, 3
USED = ("issued", "counted", "spoiled", "sold", "cut")


@dataclass(frozen=True)
class Proposal:
    """When to order a thing again and how much at once, and what that rests on.

    ``level`` and ``economic`` are base units; ``packs`` is what to order now, zero while there is
    enough.
    """

    item: StockSheet | Material
    use: Use
    uses: int
    offer: Offer
    here: int
    coming: int
    level: int
    economic: int
    packs: int
    cost: Decimal

    @property
    def due(self) -> bool:
        """Whether it should be ordered now."""
        return self.packs > 0


@dataclass(frozen=True)
class NotYet:
    """A thing about which too little is known, and why."""

    item: StockSheet | Material
    why: str


def reorder_proposals(session: Session, on: date) -> tuple[list[Proposal], list[NotYet]]:
    """A proposal for everything that was used often enough and that somebody offers."""
    weekly, uses, first = _use(session, on)
    shop = the_shop(session)
    here, coming = holdings(session), on_the_way(session, on)
    z = safety_factor(float(shop.service_level))
    found: list[Proposal] = []
    unknown: list[NotYet] = []
    sheets = [s for paper in papers(session) for s in paper.sheets if not s.retired]
    items: list[StockSheet | Material] = [*sheets, *materials(session)]
    for item in items:
        key = item_key(item)
        since = first.get(key)
        if since is None:
            continue
        weeks = min((on - since).days // 7 + 1, WEEKS)
        if uses.get(key, 0) < LEAST_USES or weeks < LEAST_WEEKS:
            unknown.append(
                NotYet(
                    item,
                    f"used on {uses[key]} {'day' if uses[key] == 1 else 'days'} in {weeks} "
                    f"{'week' if weeks == 1 else 'weeks'}: too little to go by yet",
                )
            )
            continue
        offers = offers_in_force(item.offers, on)
        if not offers:
            unknown.append(NotYet(item, "nobody offers it"))
            continue
        use = use_by_week([weekly[key].get(week, 0) for week in range(weeks)])
        held = here[key].quantity if key in here else 0
        arriving = sum(c.quantity for c in coming.get(key, ()))
        found.append(
            _proposal(item, use, uses[key], offers, held, arriving, z, float(shop.order_cost),
                      float(shop.holding_rate))
        )  # fmt: skip
    found.sort(key=lambda p: (not p.due, item_key(p.item)))
    return found, unknown


def _use(
    session: Session, on: date
) -> tuple[dict[str, dict[int, int]], dict[str, int], dict[str, date]]:
    """Quantities used by item and week back from today, on how many days, and the first day."""
    rows = session.execute(
        select(Lot.stock_sheet_id, Lot.material_id, Movement.quantity, Movement.at)
        .join(Movement.lot)
        .where(
            Movement.quantity < 0,
            Movement.kind.in_(USED),
            Movement.note.not_in(("miscounted before", "found again")),
            still_stands(),
            Lot.variant_id.is_(None),
            Lot.offcut_width_nm.is_(None),
        )
    )
    weekly: dict[str, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    days: dict[str, set[date]] = defaultdict(set)
    first: dict[str, date] = {}
    for sheet, material, quantity, at in rows:
        day = at.astimezone().date()
        week = (on - day).days // 7
        if not 0 <= week < WEEKS:
            continue
        key = f"sheet-{sheet}" if sheet else f"material-{material}"
        weekly[key][week] -= quantity
        days[key].add(day)
        first[key] = min(first.get(key, day), day)
    return weekly, {key: len(found) for key, found in days.items()}, first


def _proposal(
    item: StockSheet | Material,
    use: Use,
    uses: int,
    offers: list[Offer],
    here: int,
    coming: int,
    z: float,
    order_cost: float,
    holding_rate: float,
) -> Proposal:
    """From the offer that is cheapest a unit; whole packs up to the economic quantity."""
    offer = min(offers, key=lambda o: (min(o.prices.values()) / o.pack_quantity, o.lead_days))
    level = reorder_level(use.mean, use.sd, offer.lead_days / 7, z)
    breaks = {
        float(packs * offer.pack_quantity): float(price) / offer.pack_quantity
        for packs, price in offer.prices.items()
    }
    economic = economic_with_breaks(order_cost, use.mean * 52, holding_rate, breaks)
    packs = 0
    if here + coming < level:
        missing = max(economic.quantity, level - here - coming)
        packs = whole_packs(missing, offer.pack_quantity, min(offer.prices))
    earned = [price for least, price in offer.prices.items() if least <= packs]
    cost = packs * min(earned) if earned else Decimal(0)
    return Proposal(
        item, use, uses, offer, here, coming, round(level), round(economic.quantity), packs, cost
    )
