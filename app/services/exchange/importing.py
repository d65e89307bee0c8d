"""Taking in papers, goods, offers, stock and orders from a table, every refused row told why.

All rows are read first, against what the shop has by name; then those that were not refused are
written together. Nobody else has to wait while a table is read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from app.core.errors import DomainError
from app.core.states import MovementKind
from app.documents.tables import Table
from app.language import say, to_say
from app.models import Lot, Material, Movement, Offer, OfferBreak, Paper, StockSheet, Supplier
from app.services.exchange.known import Known, OfferKey, known_names
from app.services.exchange.order_rows import read_order, write_orders
from app.services.exchange.rows import MaterialRow, OfferRow, PaperRow, Reader, StockRow, Values
from app.services.shop.moments import moment_of


@dataclass(frozen=True)
class Column:
    """A column that an import can use; ``like`` are heads that are taken for it.

    Lists to take away have its English label at their head, whatever the shop speaks.
    """

    key: str
    label: str
    needed: bool
    like: tuple[str, ...] = ()


@dataclass(frozen=True)
class Kind:
    """One kind of import: its columns, how a row is read, and how rows are written."""

    key: str
    label: str
    columns: tuple[Column, ...]
    read: Callable[[Reader, Values], Any]
    write: Callable[[Session, Sequence[Any]], None]
    whole: str = ""
    """A column whose rows of one value are written together or not at all."""


@dataclass(frozen=True)
class Refused:
    """A row that was not taken in: its number in the file, and why."""

    row: int
    why: str


@dataclass(frozen=True)
class Read:
    """The rows of a table that can be written, what was refused, and what they rest on."""

    kind: Kind
    rows: tuple[Any, ...]
    refused: tuple[Refused, ...]
    known: Known


@dataclass(frozen=True)
class Taken:
    """What became of an import."""

    taken: int
    refused: tuple[Refused, ...]
    kept: bool


def matched(kind: Kind, heads: Sequence[str]) -> dict[str, int | None]:
    """A guess which column of the file is which, by its head."""
    plain = [head.strip().casefold() for head in heads]
    found: dict[str, int | None] = {}
    for column in kind.columns:
        labels = (column.label.casefold(), say(column.label).casefold())
        names = (*labels, column.key, *column.like)
        found[column.key] = next((i for i, head in enumerate(plain) if head in names), None)
    return found


def read_rows(
    known: Known, kind: Kind, table: Table, match: Mapping[str, int | None], on: date
) -> Read:
    """Read a table; refuses at once where a needed column is matched to none."""
    for column in kind.columns:
        if column.needed and match.get(column.key) is None:
            raise DomainError(
                say("Say which column is “{column}”.", column=say(column.label)),
                f"match_{column.key}",
            )
    reader = Reader(known, on)
    rows: list[tuple[int, str, Any]] = []
    refused: list[Refused] = []
    broken: set[str] = set()
    for number, row in enumerate(table.rows, 2):
        cells = [str(cell or "").strip() for cell in row]
        if not any(cells):
            continue
        values = {column.key: _cell(cells, match.get(column.key)) for column in kind.columns}
        whole = values.get(kind.whole, "")
        try:
            _needed(kind, values)
            rows.append((number, whole, kind.read(reader, values)))
        except DomainError as error:
            refused.append(Refused(number, error.message))
            broken.add(whole)
    broken.discard("")
    with_them = [row for row in rows if row[1] in broken]
    refused += [
        Refused(n, say("Another row of {order} was refused.", order=whole))
        for n, whole, _ in with_them
    ]
    refused.sort(key=lambda row: row.row)
    if not rows and not refused:
        raise DomainError(
            say("There is no row to import: nothing stands below the first one."), "form"
        )
    good = tuple(row for _, whole, row in rows if whole not in broken)
    return Read(kind, good, tuple(refused), known)


def _cell(cells: Sequence[str], at: int | None) -> str:
    return cells[at] if at is not None and at < len(cells) else ""


def _needed(kind: Kind, values: Values) -> None:
    for column in kind.columns:
        if column.needed and not values[column.key]:
            raise DomainError(say("{column} is missing.", column=say(column.label)))


def take_in(
    session: Session,
    kind: Kind,
    table: Table,
    match: Mapping[str, int | None],
    on: date,
    *,
    all_or_nothing: bool = False,
    before: Read | None = None,
) -> Taken:
    """Take a table in: as it was read ``before``, where the shop's names are as they were then."""
    known = known_names(session)
    read = before
    if read is None or read.known != known:
        read = read_rows(known, kind, table, match, on)
    kept = not (all_or_nothing and read.refused)
    if kept:
        kind.write(session, read.rows)
        session.flush()
        session.expire_all()
    return Taken(len(read.rows), read.refused, kept)


def _write_papers(session: Session, rows: Sequence[PaperRow]) -> None:
    papers = {paper.name: paper for paper in session.scalars(select(Paper))}
    for row in rows:
        paper = papers.get(row.paper)
        if paper is None and row.facts is not None:
            paper = papers[row.paper] = Paper(
                name=row.paper, grammage=row.facts.grammage, caliper_nm=row.facts.caliper_nm,
                colour=row.facts.colour, finish="", note="",
            )  # fmt: skip
        session.add(StockSheet(paper=paper, pattern_up=False, trim_nm=0, **row.size))


def _write_materials(session: Session, rows: Sequence[MaterialRow]) -> None:
    session.add_all(
        Material(name=r.name, measure=r.measure, waste=r.waste, weight_mg=0, note=r.note)
        for r in rows
    )


def _write_offers(session: Session, rows: Sequence[OfferRow]) -> None:
    suppliers = {supplier.name: supplier for supplier in session.scalars(select(Supplier))}
    offers = _offers(session, {row.item for row in rows})
    for row in rows:
        supplier = suppliers.get(row.supplier)
        if supplier is None:
            supplier = suppliers[row.supplier] = Supplier(name=row.supplier, reach="", note="")
        key = (row.item, row.supplier, row.pack, row.since)
        if key not in offers:
            offers[key] = Offer(
                supplier=supplier, pack_quantity=row.pack, lead_days=row.lead_days,
                valid_from=row.since, **_of(row.item),
            )  # fmt: skip
            session.add(offers[key])
        offers[key].breaks.append(OfferBreak(from_packs=row.from_packs, pack_price=row.price))


def _offers(session: Session, items: Iterable[str]) -> dict[OfferKey, Offer]:
    """The offers there are of some things."""
    wanted = set(items)
    query = select(Offer).options(selectinload(Offer.breaks), selectinload(Offer.supplier))
    found = {}
    for offer in session.scalars(query):
        sheet = offer.stock_sheet_id
        item = f"sheet-{sheet}" if sheet else f"material-{offer.material_id}"
        if item in wanted:
            found[item, offer.supplier.name, offer.pack_quantity, offer.valid_from] = offer
    return found


def _write_stock(session: Session, rows: Sequence[StockRow]) -> None:
    note = say("opening stock")
    for row in rows:
        lot = Lot(came_on=row.day, cost=row.cost, note=note, **_of(row.item))
        session.add(lot)
        lot.movements.append(
            Movement(
                kind=MovementKind.OPENING, quantity=row.quantity, cost=row.cost,
                at=moment_of(row.day), note=note,
            )
        )  # fmt: skip


def _of(item: str) -> dict[str, int]:
    kind, _, number = item.partition("-")
    return {"stock_sheet_id" if kind == "sheet" else "material_id": int(number)}


_SIZE = (
    Column("width", to_say("Width"), needed=False),
    Column("height", to_say("Height"), needed=False),
)
_THING = Column("thing", to_say("Thing"), needed=True, like=("material", "paper", "what", "item"))

KINDS = {
    kind.key: kind
    for kind in (
        Kind("papers", to_say("papers and their sheets"), (
            Column("paper", to_say("Paper"), needed=True, like=("name",)),
            Column("grammage", to_say("g/m²"), needed=False, like=("grammage", "gsm", "weight")),
            Column("caliper", to_say("Thickness"), needed=False, like=("caliper",)),
            Column("colour", to_say("Colour"), needed=False, like=("color",)),
            Column("width", to_say("Width"), needed=True),
            Column("height", to_say("Height"), needed=True),
            Column("grain", to_say("Grain along"), needed=False, like=("grain",)),
            Column("hide", to_say("Hide"), needed=False, like=("area", "hide area")),
            Column("usable", to_say("Usable, %"), needed=False, like=("usable",)),
        ), Reader.paper, _write_papers),
        Kind("materials", to_say("materials"), (
            Column("material", to_say("Material"), needed=True, like=("name",)),
            Column("measure", to_say("Measure"), needed=True, like=("measured by",)),
            Column("waste", to_say("Waste, %"), needed=False, like=("waste",)),
            Column("note", to_say("Note"), needed=False),
        ), Reader.material, _write_materials),
        Kind("offers", to_say("suppliers' offers"), (
            _THING, *_SIZE,
            Column("supplier", to_say("Supplier"), needed=True, like=("from",)),
            Column("pack", to_say("Pack"), needed=True, like=("pack quantity",)),
            Column("price", to_say("Pack price"), needed=True, like=("price",)),
            Column("from_packs", to_say("From packs"), needed=False),
            Column("days", to_say("Days"), needed=False, like=("lead days", "lead time")),
            Column("since", to_say("Since"), needed=False, like=("valid from",)),
        ), Reader.offer, _write_offers),
        Kind("stock", to_say("opening stock"), (
            _THING, *_SIZE,
            Column("quantity", to_say("Quantity"), needed=True,
                   like=("in stock", "here", "how much")),
            Column("cost", to_say("Cost"), needed=True, like=("worth", "cost in all")),
            Column("day", to_say("Day"), needed=False, like=("date", "since")),
        ), Reader.stock, _write_stock),
        Kind("orders", to_say("orders"), (
            Column("order", to_say("Order"), needed=False, like=("number", "no.", "order number")),
            Column("customer", to_say("Customer"), needed=True, like=("who", "name")),
            Column("reach", to_say("Reached at"), needed=False, like=("email", "e-mail", "phone")),
            Column("channel", to_say("Sold as"), needed=False, like=("channel",)),
            Column("journal", to_say("Journal"), needed=True, like=("what", "item", "product")),
            Column("quantity", to_say("How many"), needed=False, like=("quantity", "number of")),
            Column("price", to_say("Price each"), needed=False,
                   like=("each", "price", "unit price")),
            Column("request", to_say("Request"), needed=False, like=("asked for",)),
            Column("wanted_by", to_say("By when"), needed=True, like=("wanted by", "due")),
            Column("logged", to_say("Asked on"), needed=False, like=("logged", "date")),
            Column("postage", to_say("Postage"), needed=False),
            Column("note", to_say("Note"), needed=False),
        ), read_order, write_orders, "order"),
    )
}  # fmt: skip
