"""Every list of the shop as a table to take away."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import date
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from app.core.length import INCH, METRE, plain_decimal, show_length, show_size
from app.core.money import half_up
from app.core.states import SheetKind
from app.documents.tables import Cell, Table
from app.language import say, to_say
from app.models import Lot, Material, Movement, Order, OrderLine, StockSheet, Variant
from app.services.designs import journals
from app.services.markets import markets
from app.services.planning.supply import came, item_of, purchases
from app.services.purchasing.buy_list import buy_list
from app.services.purchasing.reordering import reorder_proposals
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.stock import materials, offcuts
from app.services.stock.recipes import recipes, thing_of
from app.units import DM2, SQUARE_FOOT, show_quantity, type_quantity

Row = tuple[Cell, ...]
TENTH = Decimal("0.1")
UNITS: dict[SheetKind | None, str] = {
    SheetKind.SHEET: to_say("sheets"),
    SheetKind.HIDE: to_say("hides"),
}
PIECES = to_say("pieces")
GRAIN = {None: "", "width": to_say("width"), "height": to_say("height")}


def name_of(item: StockSheet | Material | Variant, unit: str) -> str:
    """A thing's name with its size where it is a sheet."""
    if isinstance(item, StockSheet):
        return f"{item.paper.name}, {materials.sheet_said(item, unit)}"
    return item.full_name if isinstance(item, Variant) else item.name


def amount(quantity: int, item: StockSheet | Material | Variant, unit: str) -> str:
    """A quantity in the thing's own unit."""
    measure = stock.measure_of(item)
    return show_quantity(quantity, measure, unit) if measure != "count" else str(quantity)


def _papers(session: Session, on: date) -> Table:
    unit = the_shop(session).unit
    here = stock.holdings(session)
    rows: list[Row] = []
    for paper in materials.papers(session):
        for sheet in paper.sheets:
            held = here.get(stock.item_key(sheet))
            rows.append(
                (paper.name, paper.grammage, show_length(paper.caliper_nm, unit), paper.colour,
                 *_size(sheet, unit), sheet.grain or "", *_of_a_hide(sheet, unit),
                 _here(held.quantity if held else 0, sheet, unit), held.cost if held else 0)
            )  # fmt: skip
    heads = (
        "Paper",
        "g/m²",
        "Thickness",
        "Colour",
        "Width",
        "Height",
        "Grain along",
        "Hide",
        "Usable, %",
        "In stock",
        "Worth",
    )
    return Table("papers", heads, tuple(rows))


def _size(sheet: StockSheet, unit: str) -> tuple[str, str]:
    """Width and height as the import reads them; those of a hide are of its largest piece."""
    high = "roll" if sheet.by_length else show_length(sheet.reach_nm or sheet.height_nm, unit)
    return show_length(sheet.width_nm, unit), high


def _of_a_hide(sheet: StockSheet, unit: str) -> tuple[str, str]:
    if sheet.hide_area is None:
        return "", ""
    share = plain_decimal(Fraction(sheet.usable or 0) * 100, 4)
    return type_quantity(sheet.hide_area, "area", unit), share


def _here(quantity: int, sheet: StockSheet, unit: str) -> Cell:
    return amount(quantity, sheet, unit) if sheet.by_length else quantity


def _materials(session: Session, on: date) -> Table:
    unit = the_shop(session).unit
    here = stock.holdings(session)
    rows: list[Row] = []
    for material in materials.materials(session):
        held = here.get(stock.item_key(material))
        rows.append(
            (material.name, material.measure, amount(held.quantity if held else 0, material, unit),
             held.cost if held else 0, plain_decimal(Fraction(material.waste) * 100, 2))
        )  # fmt: skip
    return Table("materials", ("Material", "Measure", "In stock", "Worth", "Waste, %"), tuple(rows))


def _named(thing: StockSheet | Material, unit: str) -> tuple[str, str, str]:
    """A thing as the import finds it again: a sheet by its paper's name and its size."""
    if isinstance(thing, Material):
        return thing.name, "", ""
    return thing.paper.name, *_size(thing, unit)


def _offers(session: Session, on: date) -> Table:
    unit = the_shop(session).unit
    things: list[StockSheet | Material] = [
        *(sheet for paper in materials.papers(session) for sheet in paper.sheets),
        *materials.materials(session),
    ]
    rows: list[Row] = [
        (*_named(thing, unit), offer.supplier.name, amount(offer.pack_quantity, thing, unit),
         row.from_packs, row.pack_price, offer.lead_days, offer.valid_from)
        for thing in things
        for offer in thing.offers
        for row in offer.breaks
    ]  # fmt: skip
    heads = (
        "Thing",
        "Width",
        "Height",
        "Supplier",
        "Pack",
        "From packs",
        "Pack price",
        "Days",
        "Since",
    )
    return Table("offers", heads, tuple(rows))


def _in_numbers(
    quantity: int, item: StockSheet | Material | Variant, unit: str
) -> tuple[Decimal, str]:
    """A quantity as a number with its sign, and the unit it is in, for a sum in a spreadsheet."""
    measure = stock.measure_of(item)
    if measure == "count":
        kind = item.kind if isinstance(item, StockSheet) else None
        return Decimal(quantity), say(UNITS.get(kind, PIECES))
    if measure == "length":
        base, name = (36 * INCH, "yd") if unit == "in" else (METRE, "m")
    elif measure == "area":
        base, name = (SQUARE_FOOT, "sq ft") if unit == "in" else (DM2, "dm²")
    else:
        base, name = 1000, {"mass": "g", "volume": "ml"}[measure]
    return half_up(Fraction(quantity, base), Decimal("0.000001")).normalize(), name


def _movements(session: Session, on: date) -> Table:
    unit = the_shop(session).unit
    query = (
        select(Movement)
        .order_by(Movement.id.desc())
        .limit(50_000)
        .options(
            joinedload(Movement.lot).options(
                joinedload(Lot.stock_sheet).joinedload(StockSheet.paper),
                joinedload(Lot.material),
                joinedload(Lot.variant),
            )
        )
    )
    rows: list[Row] = []
    for movement in session.scalars(query):
        lot = movement.lot
        thing = lot.stock_sheet or lot.material or lot.variant
        if thing is None:
            continue
        number, of = _in_numbers(movement.quantity, thing, unit)
        if lot.offcut_width_nm and lot.offcut_height_nm:
            number = Decimal(movement.quantity)
            of = say(
                "offcut {size}", size=show_size(lot.offcut_width_nm, lot.offcut_height_nm, unit)
            )
        rows.append(
            (movement.at.astimezone().date(), say(movement.kind), name_of(thing, unit), number, of,
             movement.cost, lot.id, movement.note)
        )  # fmt: skip
    heads = (
        say("Day"), say("What"), say("Thing"), say("Quantity"), say("Unit"), say("Cost"),
        say("Lot"), say("Note"),
    )  # fmt: skip
    return Table("movements", heads, tuple(rows))


def _offcuts(session: Session, on: date) -> Table:
    unit = the_shop(session).unit
    rows: list[Row] = [
        (o.lot.stock_sheet.paper.name, show_length(o.lot.offcut_width_nm or 0, unit),
         show_length(o.lot.offcut_height_nm or 0, unit), say(GRAIN[o.lot.stock_sheet.grain]),
         o.quantity, o.cost)
        for o in offcuts.offcuts(session)
        if o.lot.stock_sheet
    ]  # fmt: skip
    heads = (
        say("Paper"), say("Width"), say("Height"), say("Grain along"), say("In stock"),
        say("Worth"),
    )  # fmt: skip
    return Table("offcuts", heads, tuple(rows))


def _journals(session: Session, on: date) -> Table:
    unit = the_shop(session).unit
    here = stock.holdings(session)
    rows: list[Row] = []
    for variant in journals.sellable(session):
        held = here.get(stock.item_key(variant))
        dims = variant.design.dimensions
        leaf = [
            show_length(int(dims[key]), unit) if key in dims else ""
            for key in ("leaf_height", "leaf_width")
        ]
        prices = "; ".join(f"{p.channel.name} {p.amount}" for p in variant.prices)
        rows.append(
            (variant.design.journal.name, variant.name, variant.design.number, *leaf,
             held.quantity if held else 0, variant.shelf_level, prices)
        )  # fmt: skip
    heads = (
        say("Journal"), say("Variant"), say("Design"), say("Leaf height"), say("Leaf width"),
        say("In stock"), say("To keep"), say("Prices"),
    )  # fmt: skip
    return Table("journals", heads, tuple(rows))


def _orders(session: Session, on: date) -> Table:
    query = (
        select(Order)
        .order_by(Order.number)
        .options(
            joinedload(Order.customer),
            selectinload(Order.payments),
            selectinload(Order.lines).joinedload(OrderLine.variant).joinedload(Variant.design),
        )
    )
    rows: list[Row] = [
        (order.number, order.customer.name, order.state, order.logged_on, order.wanted_by,
         line.variant.full_name, line.wanted, line.unit_price, line.amount,
         line.asked_for, *([None] * 4 if number else _money(order)))
        for order in session.scalars(query)
        for number, line in enumerate(order.lines)
    ]  # fmt: skip
    heads = ("Order", "Customer", "State", "Logged", "Wanted by", "Journal", "How many", "Each",
             "Together", "Asked for", "Postage", "Tax on top", "Paid", "To pay")  # fmt: skip
    return Table("orders", heads, tuple(rows))


def _money(order: Order) -> tuple[Cell, ...]:
    """What is once an order: postage, tax the prices do not include, paid, still to pay."""
    return order.postage, order.tax_on_top, order.paid, order.balance


def _markets(session: Session, on: date) -> Table:
    rows: list[Row] = [
        (market.name, market.day, market.ends, line.variant.full_name, line.take, line.packed,
         None if number else market.stall_fee, None if number else market.travel)
        for market in markets.markets(session)
        for number, line in enumerate(market.lines)
    ]  # fmt: skip
    heads = (
        say("Market"), say("Day"), say("Last day"), say("Journal"), say("Take"), say("Packed"),
        say("Stall fee"), say("Travel"),
    )  # fmt: skip
    return Table("markets", heads, tuple(rows))


def buy_list_table(
    session: Session, on: date, market_ids: Collection[int] | None = None, *, apart: bool = False
) -> Table:
    """The buy list for the markets chosen; None takes all of them."""
    unit = the_shop(session).unit
    rows: list[Row] = [
        (line.order_by, line.name, line.offer.supplier.name, line.packs,
         amount(line.quantity, line.item, unit), line.cost, line.needed,
         "; ".join(dict.fromkeys(peg.demand.reason for peg in line.pegs)))
        for line in buy_list(session, on, market_ids, apart=apart).lines
    ]  # fmt: skip
    heads = (
        say("Order by"), say("What"), say("From"), say("Packs"), say("In all"), say("Cost"),
        say("Needed"), say("For"),
    )  # fmt: skip
    return Table("buy-list", heads, tuple(rows))


def making_list_table(
    session: Session, on: date, market_ids: Collection[int] | None = None, *, apart: bool = False
) -> Table:
    """What has to be made here first, for the markets chosen; None takes all of them."""
    unit = the_shop(session).unit
    rows: list[Row] = [
        (line.begin_by, line.name, line.times, amount(line.begun, line.item, unit),
         amount(line.wanted, line.item, unit), half_up(line.minutes, TENTH),
         "; ".join(dict.fromkeys(peg.demand.reason for peg in line.pegs)))
        for line in buy_list(session, on, market_ids, apart=apart).makings
    ]  # fmt: skip
    heads = (
        say("Begin by"), say("What"), say("Times"), say("Begun"), say("Wanted"), say("Minutes"),
        say("For"),
    )  # fmt: skip
    return Table("to-make", heads, tuple(rows))


def _recipes(session: Session, on: date) -> Table:
    """A row for everything that one time of a recipe takes."""
    unit = the_shop(session).unit
    rows: list[Row] = []
    for recipe in recipes(session).values():
        for part in recipe.parts:
            taken, size = "", ""
            if part.paper is not None:
                taken = str(part.quantity)
                size = show_size(part.width_nm or 0, part.height_nm or 0, unit)
            elif part.material is not None:
                taken = amount(part.quantity, part.material, unit)
            rows.append((
                name_of(recipe.item, unit), amount(recipe.makes, recipe.item, unit),
                thing_of(part).name, taken, size, recipe.setup_minutes, recipe.minutes,
                recipe.days, recipe.loss,
            ))  # fmt: skip
    heads = (
        say("Makes"), say("One time"), say("Takes"), say("How much"), say("Cut to"),
        say("Minutes to set up"), say("Minutes each time"), say("Days"), say("Lost"),
    )  # fmt: skip
    return Table("recipes", heads, tuple(rows))


def _purchases(session: Session, on: date) -> Table:
    unit = the_shop(session).unit
    rows: list[Row] = []
    for purchase in purchases(session):
        here = came(session, purchase.lines)
        rows += [
            (purchase.number, purchase.supplier.name, say(purchase.state), purchase.sent_on,
             purchase.expected_on, name_of(item_of(line), unit), line.packs, line.pack_price,
             line.packs * line.pack_price, here[line.id])
            for line in purchase.lines
        ]  # fmt: skip
    heads = (
        say("Purchase"), say("Supplier"), say("State"), say("Sent"), say("Expected"), say("What"),
        say("Packs"), say("A pack"), say("Cost"), say("Packs come"),
    )  # fmt: skip
    return Table("purchases", heads, tuple(rows))


def _a_week(mean: float, item: StockSheet | Material, unit: str) -> str:
    """What goes in a week; tenths of what is counted, as on the page."""
    counted = stock.measure_of(item) == "count"
    return f"{mean:.1f}" if counted else amount(round(mean), item, unit)


def _reorder(session: Session, on: date) -> Table:
    unit = the_shop(session).unit
    found, _ = reorder_proposals(session, on)
    rows: list[Row] = [
        (name_of(p.item, unit), amount(p.supply.in_stock, p.item, unit),
         amount(p.supply.on_its_way, p.item, unit), amount(p.supply.drafted, p.item, unit),
         amount(p.listed, p.item, unit), amount(p.wanted, p.item, unit),
         _a_week(p.use.mean, p.item, unit), p.use.weeks,
         amount(p.level, p.item, unit), p.lot.packs, p.packs, p.offer.supplier.name, p.cost)
        for p in found
    ]  # fmt: skip
    heads = (
        say("Thing"), say("In stock"), say("On its way"), say("Drafted"), say("On the buy list"),
        say("Wanted"), say("Used a week"), say("Weeks"), say("Order at"), say("Best packs"),
        say("Packs now"), say("From"), say("Cost"),
    )  # fmt: skip
    return Table("reorder", heads, tuple(rows))


LISTS: dict[str, Callable[[Session, date], Table]] = {
    "papers": _papers, "materials": _materials, "offers": _offers, "offcuts": _offcuts,
    "movements": _movements, "journals": _journals, "orders": _orders, "markets": _markets,
    "buy-list": buy_list_table, "purchases": _purchases, "reorder": _reorder,
    "to-make": making_list_table, "recipes": _recipes,
}  # fmt: skip
"""What can be taken away, by the name of its file."""


def list_of(session: Session, name: str, on: date) -> Table | None:
    """One list; None where there is none of that name."""
    make = LISTS.get(name)
    return make(session, on) if make else None
