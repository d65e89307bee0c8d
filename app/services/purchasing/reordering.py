"""What to keep and when to order it again, proposed from how it was used, with the evidence."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from math import ceil

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from app.core.planning.reorder import (
    PackLot,
    Use,
    best_lots,
    reorder_level,
    safety_factor,
    use_by_week,
)
from app.core.states import MovementKind
from app.language import say, say_many
from app.models import Lot, Material, Movement, Offer, StockSheet
from app.services.planning.supply import Supply, on_the_way, supply_of
from app.services.purchasing.buy_list import buy_list
from app.services.shop.settings import the_shop
from app.services.stock.ledger import holdings, item_key, still_stands
from app.services.stock.materials import as_pack_offers, materials, offers_in_force, papers

WEEKS, LEAST_WEEKS, LEAST_USES = 26, 4, 3
USED = (
    MovementKind.ISSUED,
    MovementKind.COUNTED,
    MovementKind.SPOILED,
    MovementKind.SOLD,
    MovementKind.CUT,
)


@dataclass(frozen=True)
class Proposal:
    """When to order a thing again and how much at once, and what that rests on.

    ``level`` is base units by the lead time of ``offer``; ``lot`` is the number of packs that
    costs least in a year, ``packs`` what to order now besides ``listed``, zero while there is
    enough. ``listed`` is what the buy list asks for already, ``wanted`` what orders, markets and
    the shelf will take: only what they leave counts against the level.
    """

    item: StockSheet | Material
    use: Use
    uses: int
    offer: Offer
    supply: Supply
    listed: int
    wanted: int
    level: int
    lot: PackLot
    packs: int
    cost: Decimal
    others: tuple[tuple[Offer, PackLot], ...] = ()
    """The other suppliers, each by its own best number of packs."""

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
    there, coming = holdings(session), on_the_way(session, on)
    listed, wanted = _listed(session, on)
    rates = _Rates(
        safety_factor(float(shop.service_level)), float(shop.order_cost), float(shop.holding_rate)
    )
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
            unknown.append(NotYet(item, _too_little(uses[key], weeks)))
            continue
        offers = offers_in_force(item.offers, on)
        if not offers:
            unknown.append(NotYet(item, say("nobody offers it")))
            continue
        use = use_by_week([weekly[key].get(week, 0) for week in range(weeks)])
        here = there[key].quantity if key in there else 0
        supply = supply_of(here, coming.get(key, ()))
        found.append(
            _proposal(
                item,
                use,
                uses[key],
                offers,
                supply,
                _Claims(listed.get(key, 0), wanted.get(key, 0)),
                rates,
            )
        )
    found.sort(key=lambda p: (not p.due, item_key(p.item)))
    return found, unknown


def _too_little(days: int, weeks: int) -> str:
    used = say_many(days, "used on {n} day", "used on {n} days")
    return say_many(
        weeks,
        "{used} in {n} week: too little to go by yet",
        "{used} in {n} weeks: too little to go by yet",
        used=used,
    )


def used_since(since: datetime) -> tuple[ColumnElement[bool], ...]:
    """Of movements: sheets and materials that were used, and neither miscounted nor undone."""
    return (
        Movement.at >= since,
        Movement.quantity < 0,
        Movement.kind.in_(USED),
        Movement.note.not_in(("miscounted before", "found again")),
        still_stands(),
        Lot.variant_id.is_(None),
        Lot.offcut_width_nm.is_(None),
    )


def _use(
    session: Session, on: date
) -> tuple[dict[str, dict[int, int]], dict[str, int], dict[str, date]]:
    """Quantities used by item and week back from today, on how many days, and the first day."""
    # A day more, since the maker's days begin at another hour than those of the moments kept.
    since = datetime.combine(on - timedelta(weeks=WEEKS, days=1), time(), UTC)
    rows = session.execute(
        select(Lot.stock_sheet_id, Lot.material_id, Movement.quantity, Movement.at)
        .join(Movement.lot)
        .where(*used_since(since))
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


@dataclass(frozen=True)
class _Rates:
    """Standard deviations of safety, what an order costs, what keeping costs in a year."""

    z: float
    order_cost: float
    holding: float


@dataclass(frozen=True)
class _Claims:
    """What the buy list asks for of a thing, and what the journals still to make take of it."""

    listed: int
    wanted: int


def _listed(session: Session, on: date) -> tuple[dict[str, int], dict[str, int]]:
    """What the buy list asks for or makes, and what it is wanted for, in base units by item key."""
    found: dict[str, int] = defaultdict(int)
    bought = buy_list(session, on)
    for line in bought.lines:
        found[item_key(line.item)] += line.quantity
    for making in bought.makings:
        found[item_key(making.item)] += making.wanted
    return found, bought.wanted


def _proposal(
    item: StockSheet | Material,
    use: Use,
    uses: int,
    offers: list[Offer],
    supply: Supply,
    claims: _Claims,
    rates: _Rates,
) -> Proposal:
    """Every supplier by its own best whole number of packs; the least yearly cost is taken."""
    by_id = {offer.id: offer for offer in offers}
    there = supply.in_all + claims.listed - claims.wanted
    lots = []
    for pack_offer in as_pack_offers(offers):
        level = reorder_level(use.mean, use.sd, pack_offer.lead_days / 7, rates.z)
        missing = max(ceil(level - there), 0)
        [lot] = best_lots([pack_offer], rates.order_cost, use.mean * 52, rates.holding, missing)
        lots.append((lot, round(level), missing))
    lots.sort(key=lambda row: (row[0].yearly, row[0].offer.lead_days, row[0].offer.key))
    (lot, level, missing), *others = lots
    return Proposal(
        item, use, uses, by_id[lot.offer.key], supply, claims.listed, claims.wanted, level, lot,
        lot.packs if missing else 0, lot.cost if missing else Decimal(0),
        tuple((by_id[other.offer.key], other) for other, _, _ in others),
    )  # fmt: skip
