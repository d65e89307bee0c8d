"""What a shop has by name: all that rows of a table may refer to or must not repeat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.money import Currency, currency
from app.core.states import SheetKind
from app.models import Customer, Material, Offer, OfferBreak, Order, Paper, StockSheet, Supplier
from app.services.designs.journals import sellable
from app.services.shop.names import folded
from app.services.shop.settings import channels, the_shop

OfferKey = tuple[str, str, int, date]
"""Item key, supplier's name, base units in a pack, and the day it holds from."""


@dataclass(frozen=True)
class KnownSheet:
    """A sheet of a paper; one that a row before brought has no item key yet."""

    key: str
    width_nm: int
    height_nm: int
    grain: str | None
    kind: str = SheetKind.SHEET
    reach_nm: int | None = None

    @property
    def called(self) -> tuple[int, int | None]:
        """Width and height that a row names it by, those of a hide's largest piece."""
        return (
            self.width_nm,
            None if self.kind == SheetKind.ROLL else self.reach_nm or self.height_nm,
        )


@dataclass(frozen=True)
class KnownMaterial:
    """A material; one that a row before brought has no item key yet."""

    key: str
    measure: str
    retired: bool = False


@dataclass(frozen=True)
class PaperFacts:
    """What a paper is; a new one has no more than a table brings."""

    grammage: Decimal
    caliper_nm: int
    colour: str
    retired: bool = False


@dataclass(frozen=True)
class KnownVariant:
    """A journal that can be ordered, with its price by the name of the way it is sold."""

    id: int
    prices: Mapping[str, Decimal]


@dataclass(frozen=True)
class Known:
    """The shop's unit, money and names; compared, it says whether any of it has changed."""

    unit: str
    currency: Currency
    suppliers: tuple[str, ...]
    facts: Mapping[str, PaperFacts]
    papers: Mapping[str, tuple[KnownSheet, ...]]
    materials: Mapping[str, KnownMaterial]
    offers: Mapping[OfferKey, Mapping[int, Decimal]]
    """The prices of each, by the least number of packs."""
    lead_days: Mapping[OfferKey, int]
    variants: Mapping[str, KnownVariant]
    """By what their full names have in common with others."""
    channels: tuple[str, ...]
    """Ways of selling in their order."""
    customers: Mapping[str, tuple[str, ...]]
    """How those of each name are reached."""
    came_in: Mapping[tuple[str, str, date], int]
    """Orders that came in by tables: their number, customer and day wanted, and the shop's own."""


def known_names(session: Session) -> Known:
    """As it is now; a few questions, however much there is."""
    shop = the_shop(session)
    columns = Paper.name, Paper.grammage, Paper.caliper_nm, Paper.colour, Paper.retired
    facts = {
        name: PaperFacts(grammage, caliper, colour, away)
        for name, grammage, caliper, colour, away in session.execute(select(*columns))
    }
    papers: dict[str, list[KnownSheet]] = {name: [] for name in facts}
    sheets = select(
        Paper.name, StockSheet.id, StockSheet.width_nm, StockSheet.height_nm, StockSheet.grain,
        StockSheet.kind, StockSheet.reach_nm,
    ).join(Paper.sheets)  # fmt: skip
    for name, number, *of in session.execute(sheets.order_by(StockSheet.id)):
        papers[name].append(KnownSheet(f"sheet-{number}", *of))  # type: ignore[arg-type]
    goods = select(Material.name, Material.id, Material.measure, Material.retired)
    return Known(
        shop.unit, currency(shop.currency),
        tuple(session.scalars(select(Supplier.name).order_by(Supplier.id))), facts,
        {name: tuple(own) for name, own in papers.items()},
        {
            name: KnownMaterial(f"material-{number}", measure, retired)
            for name, number, measure, retired in session.execute(goods)
        },
        *_offers(session), _variants(session), tuple(c.name for c in channels(session)),
        _customers(session), _came_in(session),
    )  # fmt: skip


def _variants(session: Session) -> dict[str, KnownVariant]:
    return {
        folded(variant.full_name): KnownVariant(
            variant.id, {price.channel.name: price.amount for price in variant.prices}
        )
        for variant in sellable(session)
    }


def _customers(session: Session) -> dict[str, tuple[str, ...]]:
    columns = Customer.name, Customer.email, Customer.phone
    found: dict[str, tuple[str, ...]] = {}
    for name, email, phone in session.execute(select(*columns).where(Customer.erased_at.is_(None))):
        reached = " ".join(filter(None, (email, phone)))
        found[folded(name)] = (*found.get(folded(name), ()), reached)
    return found


def _came_in(session: Session) -> dict[tuple[str, str, date], int]:
    columns = Order.their_number, Customer.name, Order.wanted_by, Order.number
    query = select(*columns).join(Order.customer).where(Order.their_number != "")
    return {
        (theirs, folded(name), by): number for theirs, name, by, number in session.execute(query)
    }


def _offers(session: Session) -> tuple[dict[OfferKey, dict[int, Decimal]], dict[OfferKey, int]]:
    rows = session.execute(
        select(
            Offer.stock_sheet_id, Offer.material_id, Supplier.name, Offer.pack_quantity,
            Offer.valid_from, OfferBreak.from_packs, OfferBreak.pack_price, Offer.lead_days,
        )
        .join(Offer.supplier)
        .join(Offer.breaks)
    )  # fmt: skip
    found: dict[OfferKey, dict[int, Decimal]] = {}
    lead: dict[OfferKey, int] = {}
    for sheet, material, supplier, pack, since, least, price, days in rows:
        item = f"sheet-{sheet}" if sheet else f"material-{material}"
        found.setdefault((item, supplier, pack, since), {})[least] = price
        lead[item, supplier, pack, since] = days
    return found, lead
