"""Offcuts: remainders worth keeping, each a lot with its own size and its share of the cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from app.core.cutting.one_sheet.yields import yield_of
from app.core.errors import DomainError
from app.core.money import half_up
from app.core.paper import Piece
from app.core.states import MovementKind, SheetKind
from app.language import say
from app.models import Lot, Movement, StockSheet
from app.models.stock import OPEN
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock


@dataclass(frozen=True)
class Offcut:
    """An offcut, or a length off a roll, with what is left of it and the cost on it."""

    lot: Lot
    quantity: int
    cost: Decimal

    @property
    def sides(self) -> tuple[int, int]:
        """Width and height of one in nanometres, along its sheet's; a length lies along a roll."""
        if self.lot.offcut_width_nm and self.lot.offcut_height_nm:
            return self.lot.offcut_width_nm, self.lot.offcut_height_nm
        return self.lot.stock_sheet.width_nm if self.lot.stock_sheet else 0, self.quantity

    @property
    def number(self) -> int:
        """How many there are; a length is one."""
        return self.quantity if self.lot.offcut_width_nm else 1


def offcuts(session: Session, sheet: StockSheet | None = None) -> list[Offcut]:
    """Offcuts that are here, of one sheet or of all, the largest first."""
    query = (
        select(Lot, Lot.left_quantity, Lot.left_cost)
        .where(OPEN, Lot.offcut_width_nm.is_not(None), Lot.left_quantity > 0)
        .options(joinedload(Lot.stock_sheet).joinedload(StockSheet.paper))
    )
    if sheet is not None:
        query = query.where(Lot.stock_sheet_id == sheet.id)
    found = [Offcut(lot, int(n), cost) for lot, n, cost in session.execute(query)]
    return sorted(found, key=lambda o: (-_area(o.lot), o.lot.id))


def lengths(session: Session, sheet: StockSheet | None = None) -> list[Offcut]:
    """Lengths off rolls that are here, each a lot of its own; the quantity is how long it is."""
    query = (
        select(Lot, Lot.left_quantity, Lot.left_cost)
        .join(Lot.stock_sheet)
        .where(
            OPEN, Lot.offcut_width_nm.is_(None), Lot.left_quantity > 0,
            StockSheet.kind == SheetKind.ROLL,
        )
        .order_by(Lot.came_on, Lot.id)
    )  # fmt: skip
    if sheet is not None:
        query = query.where(Lot.stock_sheet_id == sheet.id)
    return [Offcut(lot, int(n), cost) for lot, n, cost in session.execute(query)]


def _area(lot: Lot) -> int:
    return (lot.offcut_width_nm or 0) * (lot.offcut_height_nm or 0)


def keep_offcuts(
    session: Session,
    sheet: StockSheet,
    *,
    sheets_cut: int,
    width_nm: int,
    height_nm: int,
    quantity: int,
    on: date,
    note: str = "",
) -> Lot:
    """Cut sheets from the stock, for no batch, and keep remainders of one size.

    The sheets leave at their cost; the offcuts come in at their share of it by area, times what
    the shop says an offcut is worth. Refused where they cannot have come out of so many sheets.
    """
    if sheet.by_length:
        raise DomainError(say("Of a roll, count what is left of it."), "sheets_cut")
    if not (
        (width_nm <= sheet.width_nm and height_nm <= sheet.height_nm)
        and width_nm > 0
        and height_nm > 0
    ):
        raise DomainError(say("An offcut cannot be larger than its sheet."), "width_nm")
    whole = sheet.width_nm * sheet.height_nm
    if quantity * width_nm * height_nm > sheets_cut * whole:
        raise DomainError(
            say("So many of that size cannot have come out of so few sheets."), "quantity"
        )
    piece = Piece("offcut", width_nm, height_nm, may_turn=False)
    most = sheets_cut * yield_of(piece, sheet.as_sheet("sheet"), the_shop(session).cutter).best
    if quantity > most:
        raise DomainError(
            say("At most {most} of that size can be cut from so many sheets.", most=most),
            "quantity",
        )
    if (width_nm, height_nm) == (sheet.width_nm, sheet.height_nm):
        raise DomainError(say("That is the whole sheet; count the sheets instead."), "width_nm")
    cost = stock.take(session, sheet, sheets_cut, MovementKind.CUT, on=on, note=note)
    each = Fraction(cost) / (sheets_cut * whole)
    [lot] = keep_rest(session, sheet, {(width_nm, height_nm): quantity}, each, on=on, note=note)
    return lot


def keep_rest(
    session: Session,
    sheet: StockSheet,
    sizes: Mapping[tuple[int, int], int],
    cost_a_nm2: Fraction,
    *,
    on: date,
    note: str,
    batch_id: int | None = None,
) -> list[Lot]:
    """Put remainders of sheets just cut on the shelf, so many of each size, at their share of cost.

    The share is that of the area, times what the shop says an offcut is worth of it.
    """
    kind = MovementKind.CUT if batch_id is None else MovementKind.ISSUED
    parent = session.scalar(
        select(Movement.lot_id)
        .join(Movement.lot)
        .where(Lot.stock_sheet_id == sheet.id, Movement.kind == kind, Movement.quantity < 0)
        .order_by(Movement.id.desc())
        .limit(1)
    )
    worth = Fraction(the_shop(session).offcut_worth)
    return [
        stock.receive(
            session, sheet, quantity,
            half_up(cost_a_nm2 * quantity * width * height * worth, stock.STEP), on,
            kind=MovementKind.CUT, note=note, offcut_nm=(width, height), parent_id=parent,
            batch_id=batch_id,
        )
        for (width, height), quantity in sizes.items()
    ]  # fmt: skip


def offcuts_of_batch(session: Session, batch_id: int) -> dict[int, set[tuple[int, int]]]:
    """Sizes of the offcuts of a batch that are in the stock from it, by the id of their paper."""
    query = (
        select(StockSheet.paper_id, Lot.offcut_width_nm, Lot.offcut_height_nm)
        .join(Lot.movements)
        .join(Lot.stock_sheet)
        .where(
            Movement.batch_id == batch_id,
            Movement.kind == MovementKind.CUT,
            stock.still_stands(),
        )
    )
    kept: dict[int, set[tuple[int, int]]] = {}
    for paper_id, width, height in session.execute(query):
        kept.setdefault(paper_id, set()).add((width or 0, height or 0))
    return kept


def cut_off(session: Session, lot: Lot, much: int, why: str) -> Decimal:
    """Cut so much off one length of a roll, for no batch: used at the bench, or spoiled."""
    if lot.stock_sheet is None or not lot.stock_sheet.by_length or lot.offcut_width_nm is not None:
        raise DomainError(say("That lot is no length off a roll."), "lot")
    if much < 1:
        raise DomainError(say("How much? It must be more than nothing."), "much")
    if not stock.left_of(session, lot)[0]:
        raise DomainError(say("Nothing is left of that length any more."), "form")
    if much > stock.left_of(session, lot)[0]:
        raise DomainError(say("That length is not so long."), "much")
    if not why.strip():
        raise DomainError(say("Say what became of it."), "gone")
    kind = MovementKind.SPOILED if why == "spoiled" else MovementKind.ISSUED
    return -stock.take_from(session, lot, much, kind, note=why).cost


def use_offcut(session: Session, lot: Lot, quantity: int, why: str) -> Decimal:
    """Take offcuts away: used at the bench, spoiled, thrown away."""
    if lot.offcut_width_nm is None:
        raise DomainError(say("That lot is no offcut."))
    if quantity < 1:
        raise DomainError(say("How many? At least one."), "quantity")
    if not why.strip():
        raise DomainError(say("Say what became of it."), "why")
    kind = MovementKind.SPOILED if why == "spoiled" else MovementKind.ISSUED
    return -stock.take_from(session, lot, quantity, kind, note=why).cost
