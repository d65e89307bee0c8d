"""Taking in papers, materials, offers and opening stock from a table, every refused row told why.

Each row is taken in by itself, so that a refused one leaves the others; on request nothing at all
is taken in while one is refused. Values are typed as on the pages.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import MM, show_length
from app.core.money import currency
from app.core.numbers import read_number
from app.core.paper import GRAINS
from app.documents.tables import Table
from app.models import Material, Paper, StockSheet, Supplier
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.stock.materials import (
    add_break,
    make_offer,
    save_material,
    save_paper,
    save_stock_sheet,
    save_supplier,
)
from app.units import parse_length, parse_quantity

Values = Mapping[str, str]
MEASURES = ("length", "count", "mass", "volume")


@dataclass(frozen=True)
class Column:
    """A column that an import can use; ``like`` are heads that are taken for it."""

    key: str
    label: str
    needed: bool
    like: tuple[str, ...] = ()


@dataclass(frozen=True)
class Kind:
    """One kind of import: its columns, and what is done with a row."""

    key: str
    label: str
    columns: tuple[Column, ...]
    take: Callable[[Session, Values, date], None]


@dataclass(frozen=True)
class Refused:
    """A row that was not taken in: its number in the file, and why."""

    row: int
    why: str


@dataclass(frozen=True)
class Taken:
    """What became of an import."""

    taken: int
    refused: tuple[Refused, ...]
    kept: bool


class _NothingKeptError(Exception):
    """Undoes an import that was only tried, or of which all or nothing was wanted."""


def matched(kind: Kind, heads: Sequence[str]) -> dict[str, int | None]:
    """A guess which column of the file is which, by its head."""
    plain = [head.strip().casefold() for head in heads]
    found: dict[str, int | None] = {}
    for column in kind.columns:
        names = (column.label.casefold(), column.key, *column.like)
        found[column.key] = next((i for i, head in enumerate(plain) if head in names), None)
    return found


def take_in(
    session: Session,
    kind: Kind,
    table: Table,
    match: Mapping[str, int | None],
    on: date,
    *,
    all_or_nothing: bool = False,
    only_try: bool = False,
) -> Taken:
    """Take a table in; refuses at once where a needed column is matched to none."""
    for column in kind.columns:
        if column.needed and match.get(column.key) is None:
            raise DomainError(f"Say which column is “{column.label}”.", f"match_{column.key}")
    refused: list[Refused] = []
    taken = 0
    kept = True
    try:
        with session.begin_nested():
            for number, row in enumerate(table.rows, 2):
                if not any(str(cell or "").strip() for cell in row):
                    continue
                values = {
                    key: row[at].strip() if at is not None and at < len(row) else ""  # type: ignore[union-attr]
                    for key, at in match.items()
                }
                try:
                    with session.begin_nested():
                        _needed(kind, values)
                        kind.take(session, values, on)
                except DomainError as error:
                    refused.append(Refused(number, error.message))
                else:
                    taken += 1
            if only_try or (all_or_nothing and refused):
                raise _NothingKeptError
    except _NothingKeptError:
        kept = False
    session.expire_all()
    return Taken(taken, tuple(refused), kept)


def _needed(kind: Kind, values: Values) -> None:
    for column in kind.columns:
        if column.needed and not values[column.key]:
            raise DomainError(f"{column.label} is missing.")


LONGEST_NM, THICKEST_NM = 10_000 * MM, 20 * MM
"""A sheet's longest side and a paper's greatest thickness, as its page has them."""


def _decimal(text: str, what: str, least: int = 0) -> Decimal:
    try:
        value = read_number(text.strip().strip("£€$¥% "))
    except DomainError as error:
        raise DomainError(f"{what}: {error.message}") from None
    if not value.is_finite() or not least <= value < 10**9 or value != round(value, 4):
        raise DomainError(f"{what}: {text[:30]} is out of bounds, or finer than four decimals.")
    return value


def _amount(session: Session, text: str, what: str) -> Decimal:
    """Money, no finer than the shop's currency counts it."""
    value, money = _decimal(text, what), currency(the_shop(session).currency)
    if text.strip().endswith("%"):
        raise DomainError(f"{what}: “{text[:30]}” is a share and no amount.")
    if value != round(value, money.digits):
        raise DomainError(f"{what}: {text[:30]} is finer than {money.show(money.step)}.")
    return value


def _within(nm: int, least: int, most: int, what: str, unit: str) -> int:
    if not least <= nm <= most:
        low, high = show_length(least, unit), show_length(most, unit)
        raise DomainError(f"{what} lies between {low} and {high}.")
    return nm


def _whole(text: str, what: str, least: int) -> int:
    value = _decimal(text, what, least)
    if value != int(value):
        raise DomainError(f"{what}: “{text[:30]}” is not a whole number.")
    return int(value)


def _day(text: str, on: date) -> date:
    if not text:
        return on
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise DomainError(f"“{text[:30]}” is no day; write it as 2027-03-01.") from None
    if not 2000 <= day.year <= 2100:
        raise DomainError(f"“{text[:30]}” lies outside the years 2000 to 2100.")
    return day


def _name(text: str, what: str) -> str:
    if len(text) > 120:
        raise DomainError(f"{what} has more than 120 characters.")
    return text


def _take_paper(session: Session, values: Values, on: date) -> None:
    unit = the_shop(session).unit
    name = _name(values["paper"], "Paper")
    paper = session.scalar(select(Paper).where(Paper.name == name))
    if paper is None:
        if not values["grammage"] or not values["caliper"]:
            raise DomainError("A new paper needs its weight and its thickness.")
        caliper = parse_length(values["caliper"], unit)
        facts = {
            "name": name, "grammage": round(_decimal(values["grammage"], "g/m²", 1), 2),
            "caliper_nm": _within(caliper, 1000, THICKEST_NM, "Thickness", unit),
            "colour": _name(values["colour"], "Colour"),
            "finish": "", "note": "",
        }  # fmt: skip
        paper = save_paper(session, None, facts)
    grain = values["grain"].casefold().removeprefix("along the ").strip()
    if grain and grain not in GRAINS:
        raise DomainError("Grain runs along the width or along the height.")
    size: dict[str, Any] = {
        "width_nm": _within(parse_length(values["width"], unit), MM, LONGEST_NM, "Width", unit),
        "height_nm": _within(parse_length(values["height"], unit), MM, LONGEST_NM, "Height", unit),
        "grain": grain or None, "pattern_up": False, "trim_nm": 0,
    }  # fmt: skip
    save_stock_sheet(session, paper, None, size)
    session.refresh(paper)


def _take_material(session: Session, values: Values, on: date) -> None:
    measure = values["measure"].casefold()
    if measure not in MEASURES:
        raise DomainError("Measured by length, count, mass or volume.")
    waste = _decimal(values["waste"] or "0", "Waste") / 100
    if waste >= 1:
        raise DomainError("Waste is below 100 per cent.")
    facts = {
        "name": _name(values["material"], "Material"), "measure": measure,
        "waste": round(waste, 6), "weight_mg": 0, "note": values["note"],
    }  # fmt: skip
    save_material(session, None, facts)


def thing_named(session: Session, values: Values) -> StockSheet | Material:
    """The material of a name, or the sheet of a paper's name and a size."""
    name = values["thing"]
    material = session.scalar(select(Material).where(Material.name == name))
    if material is not None:
        return material
    paper = session.scalar(select(Paper).where(Paper.name == name))
    if paper is None:
        raise DomainError(f"There is no material or paper called “{name[:60]}”.")
    unit = the_shop(session).unit
    if not values["width"] or not values["height"]:
        if len(paper.sheets) == 1:
            return paper.sheets[0]
        raise DomainError("Which sheet? Give its width and height.")
    size = parse_length(values["width"], unit), parse_length(values["height"], unit)
    for sheet in paper.sheets:
        if (sheet.width_nm, sheet.height_nm) == size:
            return sheet
    raise DomainError(f"{paper.name} has no sheet of that size yet.")


def _take_offer(session: Session, values: Values, on: date) -> None:
    item = thing_named(session, values)
    name = _name(values["supplier"], "Supplier")
    supplier = session.scalar(select(Supplier).where(Supplier.name == name))
    if supplier is None:
        supplier = save_supplier(session, None, {"name": name, "reach": "", "note": ""})
    pack = _quantity(session, item, values["pack"])
    price = _amount(session, values["price"], "Pack price")
    least = _whole(values["from_packs"] or "1", "From packs", 1)
    since = _day(values["since"], on)
    for known in item.offers:
        same = (known.supplier_id, known.pack_quantity, known.valid_from)
        if same == (supplier.id, pack, since):
            add_break(session, known, least, price)
            return
    make_offer(
        session, supplier, item, pack_quantity=pack, breaks={least: price},
        lead_days=_whole(values["days"] or "0", "Days", 0), valid_from=since,
    )  # fmt: skip
    session.refresh(item)


def _quantity(session: Session, item: StockSheet | Material, text: str) -> int:
    measure = item.measure if isinstance(item, Material) else "count"
    return parse_quantity(text, measure, the_shop(session).unit)


def _take_stock(session: Session, values: Values, on: date) -> None:
    item = thing_named(session, values)
    stock.receive(
        session, item, _quantity(session, item, values["quantity"]),
        _amount(session, values["cost"], "Cost"), _day(values["day"], on), kind="opening",
        note="opening stock",
    )  # fmt: skip


_SIZE = (
    Column("width", "Width", needed=False),
    Column("height", "Height", needed=False),
)
_THING = Column("thing", "Thing", needed=True, like=("material", "paper", "what", "item"))

KINDS = {
    kind.key: kind
    for kind in (
        Kind("papers", "papers and their sheets", (
            Column("paper", "Paper", needed=True, like=("name",)),
            Column("grammage", "g/m²", needed=False, like=("grammage", "gsm", "weight")),
            Column("caliper", "Thickness", needed=False, like=("caliper",)),
            Column("colour", "Colour", needed=False, like=("color",)),
            Column("width", "Width", needed=True), Column("height", "Height", needed=True),
            Column("grain", "Grain along", needed=False, like=("grain",)),
        ), _take_paper),
        Kind("materials", "materials", (
            Column("material", "Material", needed=True, like=("name",)),
            Column("measure", "Measure", needed=True, like=("measured by",)),
            Column("waste", "Waste, %", needed=False, like=("waste",)),
            Column("note", "Note", needed=False),
        ), _take_material),
        Kind("offers", "suppliers' offers", (
            _THING, *_SIZE,
            Column("supplier", "Supplier", needed=True, like=("from",)),
            Column("pack", "Pack", needed=True, like=("pack quantity",)),
            Column("price", "Pack price", needed=True, like=("price",)),
            Column("from_packs", "From packs", needed=False),
            Column("days", "Days", needed=False, like=("lead days", "lead time")),
            Column("since", "Since", needed=False, like=("valid from",)),
        ), _take_offer),
        Kind("stock", "opening stock", (
            _THING, *_SIZE,
            Column("quantity", "Quantity", needed=True, like=("in stock", "here", "how much")),
            Column("cost", "Cost", needed=True, like=("worth", "cost in all")),
            Column("day", "Day", needed=False, like=("date", "since")),
        ), _take_stock),
    )
}  # fmt: skip
