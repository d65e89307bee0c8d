"""Papers, sheets, materials, suppliers and what they offer."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from app.core.errors import DomainError
from app.core.length import MM, show_length, show_size
from app.core.paper import Sheet, check_sheet
from app.core.planning.packs import PackChoice, PackOffer, cheapest
from app.core.states import SheetKind
from app.core.structures.base import PaperFacts
from app.language import say, to_say
from app.models import (
    GoodsLine,
    Lot,
    Material,
    Offer,
    OfferBreak,
    Paper,
    PurchaseLine,
    Recipe,
    RecipePart,
    StockSheet,
    Supplier,
)
from app.services.shop.names import other_named
from app.services.shop.settings import check_version
from app.units import show_quantity

MOST_LEAD_DAYS, LEAST_LENGTH = 3650, 10 * MM
MEASURED_BY = {
    "length": to_say("length"),
    "count": to_say("count"),
    "mass": to_say("mass"),
    "volume": to_say("volume"),
    "area": to_say("area"),
}
"""What a material is counted by, in words."""
CALLED_SO = {
    "paper": to_say("There is a paper called “{name}” already."),
    "material": to_say("There is a material called “{name}” already."),
    "supplier": to_say("There is a supplier called “{name}” already."),
}
THIN_NM, THIN_GRAMS = 100_000, Fraction(100)
"""A thin paper that lets a drawing be made before one is chosen."""


def paper_facts(paper: Paper | Material | None) -> PaperFacts:
    """What a structure must know of a paper; a stand-in where none is chosen."""
    if not isinstance(paper, Paper):
        return PaperFacts(say("paper not chosen yet"), THIN_NM, THIN_GRAMS)
    return PaperFacts(paper.name, paper.caliper_nm, Fraction(paper.grammage))


def papers(session: Session) -> list[Paper]:
    """Papers in use with their sheets and offers, by name."""
    query = (
        select(Paper)
        .where(~Paper.retired)
        .order_by(Paper.name)
        .options(
            selectinload(Paper.sheets)
            .selectinload(StockSheet.offers)
            .options(selectinload(Offer.breaks), selectinload(Offer.supplier))
        )
    )
    return list(session.scalars(query))


def materials(session: Session) -> list[Material]:
    """Materials in use with their offers, by name."""
    query = (
        select(Material)
        .where(~Material.retired)
        .order_by(Material.name)
        .options(
            selectinload(Material.offers).options(
                selectinload(Offer.breaks), selectinload(Offer.supplier)
            )
        )
    )
    return list(session.scalars(query))


Shelved = TypeVar("Shelved", Paper, Material)


def away(session: Session, kind: type[Shelved]) -> list[Shelved]:
    """Papers or materials that were put away, by name."""
    return list(session.scalars(select(kind).where(kind.retired).order_by(kind.name)))


def put_away(thing: Paper | Material, *, away: bool = True) -> None:
    """Take a paper or a material off the lists, or put it back; what rests on it stays."""
    thing.retired = away


def suppliers(session: Session) -> list[Supplier]:
    """Suppliers in use, by name."""
    return list(session.scalars(select(Supplier).where(~Supplier.retired).order_by(Supplier.name)))


def _check_name(session: Session, kind: type[Any], name: str, record: object, what: str) -> None:
    same = other_named(session, kind, name, record)
    if same is not None:
        raise name_taken(what, same.name, retired=same.retired)


def name_taken(what: str, name: str, *, retired: bool) -> DomainError:
    """That something is called so already, put away or not."""
    said = [say(CALLED_SO[what], name=name)]
    if retired:
        said.append(say("It was put away; bring it back instead."))
    return DomainError(" ".join(said), "name")


def _save(session: Session, record: Any, values: Mapping[str, Any]) -> Any:
    for key, value in values.items():
        setattr(record, key, value)
    session.add(record)
    session.flush()
    return record


def save_paper(
    session: Session, paper: Paper | None, values: Mapping[str, Any], version: int | None = None
) -> Paper:
    """Add a paper or change one."""
    check_version(paper, version)
    _check_name(session, Paper, values["name"], paper, "paper")
    saved: Paper = _save(session, paper or Paper(), values)
    return saved


def save_stock_sheet(
    session: Session,
    paper: Paper,
    sheet: StockSheet | None,
    values: Mapping[str, Any],
    version: int | None = None,
) -> StockSheet:
    """Add a size to a paper or change one; the same size and grain twice is refused.

    What it is bought as stays once there is stock or an offer of it: these count sheets, or length.
    """
    check_version(sheet, version)
    values = as_bought(values)
    by_length = values["kind"] == SheetKind.ROLL
    if sheet is not None and sheet.by_length != by_length:
        kinds = (Lot, Recipe, GoodsLine, PurchaseLine)
        if sheet.offers or any(
            session.scalar(select(kind.id).where(kind.stock_sheet_id == sheet.id).limit(1))
            for kind in kinds
        ):
            raise DomainError(
                say("Offers and stock of it are by length; add a new size instead.")
                if sheet.by_length
                else say("Offers and stock of it are by the sheet; add a new size instead."),
                "kind",
            )
    trim = values.get("trim_nm", 0)
    high = values["width_nm"] if by_length else values["height_nm"]
    check_sheet(Sheet("", values["width_nm"], high, values.get("grain"), trim_nm=trim))
    for other in paper.sheets:
        same = (other.width_nm, other.height_nm, other.grain) == (
            values["width_nm"], values["height_nm"], values.get("grain"),
        )  # fmt: skip
        if same and other is not sheet:
            raise DomainError(
                say("This paper has a sheet of that size and grain already."), "width_nm"
            )
    if sheet is None:
        sheet = StockSheet(paper=paper)
    saved: StockSheet = _save(session, sheet, values)
    return saved


def as_bought(values: Mapping[str, Any]) -> dict[str, Any]:
    """A size's values as they are kept: what only a hide has is kept of nothing else.

    ``width_nm`` and ``height_nm`` of a hide come as the sides of its largest piece.
    """
    kind = values.get("kind", SheetKind.SHEET)
    found = {**values, "kind": kind}
    if kind != SheetKind.HIDE:
        found |= {"hide_area": None, "usable": None, "reach_nm": None}
        return found | ({"height_nm": 1} if kind == SheetKind.ROLL else {})
    area, usable, wide, high = (
        values[key] for key in ("hide_area", "usable", "width_nm", "height_nm")
    )
    if not 0 < usable <= 1:
        raise DomainError(say("Some of a hide can be used, and no more than all of it."), "usable")
    # A unit of area is a million square nanometres.
    whole = Fraction(usable) * area * 10**6
    if wide * high > whole:
        raise DomainError(
            say("Its largest piece is larger than all that can be used of it."), "width_nm"
        )
    return found | {"height_nm": int(whole / wide), "reach_nm": high}


def sheet_said(sheet: StockSheet, unit: str) -> str:
    """A size as it is bought: a sheet's two sides, a roll's width, a hide and its area."""
    if sheet.by_length:
        return say("{width} wide, by length", width=show_length(sheet.width_nm, unit))
    if sheet.kind == SheetKind.HIDE and sheet.hide_area:
        return say("hide of {area}", area=show_quantity(sheet.hide_area, "area", unit))
    return show_size(sheet.width_nm, sheet.height_nm, unit)


def save_material(
    session: Session,
    material: Material | None,
    values: Mapping[str, Any],
    version: int | None = None,
) -> Material:
    """Add a material or change one; its measure stays once it has an offer."""
    check_version(material, version)
    _check_name(session, Material, values["name"], material, "material")
    if material is not None and values["measure"] != material.measure:
        kinds = (Lot, Recipe, RecipePart, GoodsLine)
        used = any(
            session.scalar(select(kind.id).where(kind.material_id == material.id).limit(1))
            for kind in kinds
        )
        if material.offers or used:
            raise DomainError(
                say(
                    "Offers, stock and recipes of this material are by {measure}; add a new "
                    "material instead.",
                    measure=say(MEASURED_BY[material.measure]),
                ),
                "measure",
            )
    saved: Material = _save(session, material or Material(), values)
    return saved


def save_supplier(
    session: Session,
    supplier: Supplier | None,
    values: Mapping[str, Any],
    version: int | None = None,
) -> Supplier:
    """Add a supplier or change one."""
    check_version(supplier, version)
    _check_name(session, Supplier, values["name"], supplier, "supplier")
    saved: Supplier = _save(session, supplier or Supplier(), values)
    return saved


def supplier_called(session: Session, name: str) -> Supplier:
    """The supplier of a name, in whatever capitals; a new one where there is none."""
    known = other_named(session, Supplier, name, None)
    if known is not None and not known.retired:
        return known
    return save_supplier(session, None, {"name": name})


def check_offer(pack_quantity: int, breaks: Mapping[int, Decimal], lead_days: int) -> None:
    """Refuse an offer that cannot be meant; its prices fall with the number of packs or stay."""
    if pack_quantity < 1:
        raise DomainError(say("A pack holds at least one."), "pack_quantity")
    if not breaks:
        raise DomainError(say("An offer needs a price."), "pack_price")
    if not 0 <= lead_days <= MOST_LEAD_DAYS:
        raise DomainError(
            say("Days to come lie between 0 and {most}.", most=MOST_LEAD_DAYS), "lead_days"
        )
    ordered = [breaks[least] for least in sorted(breaks)]
    if any(later > earlier for earlier, later in itertools.pairwise(ordered)):
        raise DomainError(say("A pack must not cost more when more are bought."), "breaks")


def make_offer(
    session: Session,
    supplier: Supplier,
    item: StockSheet | Material,
    *,
    pack_quantity: int,
    breaks: Mapping[int, Decimal],
    lead_days: int,
    valid_from: date,
    carriage: Decimal | None = None,
) -> Offer:
    """Record what a supplier sells from a date on; older offers stay for the record.

    ``breaks`` maps the least number of packs to the price of a pack and must start at some
    number; prices must not rise with the number of packs. ``carriage`` is that of one pack.
    """
    check_offer(pack_quantity, breaks, lead_days)
    if isinstance(item, StockSheet) and item.by_length and pack_quantity < LEAST_LENGTH:
        raise DomainError(say("A roll is sold by the centimetre at least."), "pack_quantity")
    offer = Offer(
        supplier=supplier,
        pack_quantity=pack_quantity,
        lead_days=lead_days,
        valid_from=valid_from,
        carriage=carriage,
        breaks=[OfferBreak(from_packs=n, pack_price=p) for n, p in sorted(breaks.items())],
    )
    if isinstance(item, StockSheet):
        offer.stock_sheet = item
    else:
        offer.material = item
    session.add(offer)
    session.flush()
    return offer


def offers_in_force(offers: Iterable[Offer], on: date) -> list[Offer]:
    """The newest offer of each supplier that holds on a day."""
    newest: dict[int, Offer] = {}
    for offer in offers:
        if offer.valid_from > on or offer.supplier.retired:
            continue
        known = newest.get(offer.supplier_id)
        if known is None or (offer.valid_from, offer.id) > (known.valid_from, known.id):
            newest[offer.supplier_id] = offer
    return list(newest.values())


def offers_with(item: StockSheet | Material, on: date, own: Offer | None) -> list[Offer]:
    """What holds on a day, and the shop's own offer where it makes the thing."""
    return [*offers_in_force(item.offers, on), *([own] if own is not None else ())]


def as_pack_offers(offers: Sequence[Offer]) -> list[PackOffer]:
    """Offers as the planning core wants them."""
    return [
        PackOffer(
            offer.id, offer.pack_quantity, tuple(sorted(offer.prices.items())), offer.lead_days
        )
        for offer in offers
    ]


@dataclass(frozen=True)
class UnitPrice:
    """The price of one base unit when buying a quantity, and the offer it comes from."""

    offer: Offer
    choice: PackChoice

    @property
    def each(self) -> Fraction:
        """Price of one base unit."""
        return Fraction(self.choice.pack_price) / self.offer.pack_quantity


def price_for(
    item: StockSheet | Material, quantity: int, on: date, own: Offer | None = None
) -> UnitPrice | None:
    """The offer that would be taken for a quantity on a day, the shop's ``own`` among them.

    None where nobody offers it.
    """
    offers = offers_with(item, on, own)
    if not offers:
        return None
    choice = cheapest(quantity, as_pack_offers(offers))[0]
    return UnitPrice(next(o for o in offers if o.id == choice.offer.key), choice)
