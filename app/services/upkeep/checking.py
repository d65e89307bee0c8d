"""Recomputes what must always hold and names what is off: ``tallyfold check``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from sqlalchemy import and_, case, func, select
from sqlalchemy.orm import Session, aliased, selectinload, undefer

from app.core.cutting.many_sheets.warm_start import from_data
from app.core.cutting.tree import is_whole
from app.core.planning.making import CircleError, consumers_first
from app.core.states import (
    ORDER_OPEN,
    BatchState,
    DocumentKind,
    MovementKind,
    OrderState,
    PurchaseState,
    SheetKind,
)
from app.documents.customer_paper import CustomerPaper, split
from app.models import (
    Batch,
    Document,
    GoodsLine,
    Lot,
    Movement,
    NumberSeries,
    Order,
    Paper,
    Payment,
    Purchase,
    PurchaseLine,
    Receipt,
    ReceiptLine,
    Sale,
    SaleDraw,
    SaleLine,
    Shop,
    Statement,
    StatementDraw,
    StatementLine,
    StockSheet,
)
from app.services.orders.documents import paper_of
from app.services.orders.sealing import broken_seals
from app.services.orders.standing import standings
from app.services.planning.supply import came_in_all
from app.services.stock.ledger import still_stands
from app.services.stock.recipes import recipes, ways

AT_ONCE = 2_000
"""Orders looked at together: a query has room for so many numbers."""
COMING_IN = (
    MovementKind.RECEIVED,
    MovementKind.OPENING,
    MovementKind.MADE,
    MovementKind.COUNTED,
    MovementKind.CUT,
)


def check_books(session: Session) -> list[str]:
    """Everything that is off, in words; nothing where the books agree."""
    if session.get(Shop, 1) is None:
        return ["the shop's settings are gone"]
    return [
        *_lots(session), *_reversals(session), *_costs(session), *_offcuts(session),
        *_orders(session), *_purchases(session), *_receipts(session), *_batches(session),
        *_goods(session), *_cut_plans(session),
        *_sales(session), *_statements(session), *_numbers(session), *_documents(session),
        *broken_seals(session),
    ]  # fmt: skip


def _lots(session: Session) -> Iterator[str]:
    """No lot below nothing; what a thing has none of carries no cost."""
    by_item: dict[tuple[str, int], tuple[int, Decimal]] = {}
    rows = session.execute(
        select(Lot, func.sum(Movement.quantity), func.sum(Movement.cost))
        .join(Movement, Movement.lot_id == Lot.id)
        .group_by(Lot.id)
        .options(undefer(Lot.left_quantity), undefer(Lot.left_cost))
        .execution_options(populate_existing=True)
    )
    for lot, quantity, cost in rows:
        if (int(quantity), cost) != (lot.left_quantity, lot.left_cost):
            yield (
                f"lot {lot.id}: {lot.left_quantity} for {lot.left_cost} are said to be left, its "
                f"movements add up to {quantity} for {cost}"
            )
        if quantity < 0:
            yield f"lot {lot.id} holds {quantity}: less than nothing"
        kind = "sheet" if lot.stock_sheet_id else "material" if lot.material_id else "journal"
        number = lot.stock_sheet_id or lot.material_id or lot.variant_id or 0
        if lot.offcut_width_nm is not None:
            kind, number = "offcut", lot.id
        elif lot.order_line_id is not None:
            kind, number = "journals set aside in lot", lot.id
        elif lot.outlet_id is not None:
            kind, number = "journals at a shop in lot", lot.id
        known = by_item.get((kind, number), (0, Decimal(0)))
        by_item[kind, number] = (known[0] + int(quantity), known[1] + cost)
    for (kind, number), (quantity, cost) in by_item.items():
        if not quantity and cost:
            yield f"{kind} {number}: none is here and {cost} of cost is still on it"
        if quantity > 0 and cost < 0:
            yield f"{kind} {number}: {quantity} here cost {cost}, less than nothing"
    empty = session.scalars(select(Lot.id).where(Lot.id.not_in(select(Movement.lot_id))))
    for lot_id in empty:
        yield f"lot {lot_id} has no movement"


def _reversals(session: Session) -> Iterator[str]:
    """A reversal is the exact opposite of what it undoes, in the same lot."""
    other = aliased(Movement)
    rows = session.execute(select(Movement, other).join(other, Movement.reverses_id == other.id))
    for undoing, undone in rows:
        if (undoing.quantity, undoing.cost, undoing.lot_id) != (
            -undone.quantity, -undone.cost, undone.lot_id,
        ):  # fmt: skip
            yield f"movement {undoing.id} does not undo movement {undone.id} exactly"


def _costs(session: Session) -> Iterator[str]:
    """A lot came in once, at the cost written on it."""
    rows = session.execute(
        select(Lot.id, Lot.cost, func.sum(Movement.cost), func.count())
        .join(Movement, Movement.lot_id == Lot.id)
        .where(Movement.quantity > 0, Movement.kind.in_(COMING_IN))
        .group_by(Lot.id, Lot.cost)
    )
    for lot_id, cost, moved, times in rows:
        if times != 1 or cost != moved:
            yield f"lot {lot_id} cost {cost} and came in {times} times for {moved}"


def _offcuts(session: Session) -> Iterator[str]:
    """An offcut fits its sheet, and all that was kept of a cut is no more than was cut."""
    rows = session.scalars(select(Lot).where(Lot.offcut_width_nm.is_not(None)))
    for lot in rows:
        sheet = session.get(StockSheet, lot.stock_sheet_id) if lot.stock_sheet_id else None
        if sheet is None:
            yield f"offcut {lot.id} belongs to no sheet"
        elif (lot.offcut_width_nm or 0) > sheet.width_nm or (
            not sheet.by_length and (lot.offcut_height_nm or 0) > sheet.height_nm
        ):
            yield f"offcut {lot.id} is larger than its sheet"


def _orders(session: Session) -> Iterator[str]:
    """Nobody has more than was ordered, and each state says what is set aside and delivered."""
    numbers = session.scalars(select(Order.id).order_by(Order.id)).all()
    for first in range(0, len(numbers), AT_ONCE):
        some = numbers[first : first + AT_ONCE]
        yield from _some_orders(session, some)


def _some_orders(session: Session, numbers: Sequence[int]) -> Iterator[str]:
    query = select(Order).where(Order.id.in_(numbers)).options(selectinload(Order.lines))
    every = list(session.scalars(query.order_by(Order.id)))
    known = standings(session, every)
    for order in every:
        own = [known[line.id] for line in order.lines]
        of = f"order {order.number}"
        for one in own:
            if one.delivered < 0 or one.delivered > one.line.wanted:
                yield f"{of}: {one.delivered} of {one.line.wanted} are delivered"
            if one.set_aside > one.outstanding:
                yield f"{of}: {one.set_aside} are set aside and {one.outstanding} are wanted"
        # Of orders from before there were lots of their own not all is known.
        own = [one for one in own if one.traced]
        if order.state == OrderState.READY and any(one.missing for one in own):
            yield f"{of} is ready and not all of it is set aside"
        if order.state == OrderState.DELIVERED and any(one.outstanding for one in own):
            yield f"{of} is delivered and not all of it was"
        if order.state not in ORDER_OPEN and any(one.set_aside for one in own):
            yield f"{of} is {order.state} and something is set aside for it"


def _purchases(session: Session) -> Iterator[str]:
    """Nothing came that was not ordered, and each state says what came."""
    rows = session.scalars(select(Purchase).options(selectinload(Purchase.lines)))
    here = came_in_all(session)
    for purchase in rows:
        for line in purchase.lines:
            came = here.get(line.id, 0)
            if came > line.packs:
                yield f"purchase {purchase.number}: {came} came of {line.packs} ordered"
        lines = purchase.lines
        whole = bool(lines) and all(here.get(x.id, 0) >= x.packs for x in lines)
        if (
            purchase.state == PurchaseState.RECEIVED
        ) != whole and purchase.state != PurchaseState.CANCELLED:
            yield f"purchase {purchase.number} is {purchase.state} and that is not what came"


def _receipts(session: Session) -> Iterator[str]:
    """The lots of a receipt cost what was paid: the packs and the carriage, to the last unit."""
    rows = session.execute(
        select(
            Receipt.id, Receipt.carriage, func.sum(Lot.cost),
            func.sum(ReceiptLine.packs * PurchaseLine.pack_price),
        )
        .join(ReceiptLine, ReceiptLine.receipt_id == Receipt.id)
        .join(Lot, Lot.id == ReceiptLine.lot_id)
        .join(PurchaseLine, PurchaseLine.id == ReceiptLine.purchase_line_id)
        .group_by(Receipt.id, Receipt.carriage)
    )  # fmt: skip
    for receipt_id, carriage, lots, paid in rows:
        exact = Decimal(paid) if isinstance(paid, Decimal) else Decimal(paid) / 10_000
        if lots != exact + carriage:
            yield f"receipt {receipt_id}: its lots cost {lots} and {exact + carriage} was paid"


def _batches(session: Session) -> Iterator[str]:
    """What was made and spoiled cost what went in; nothing is issued to one that was given up."""
    kinds = (
        MovementKind.ISSUED, MovementKind.RETURNED, MovementKind.REVERSED, MovementKind.CUT,
        MovementKind.MADE,
    )  # fmt: skip
    rows = session.execute(
        select(Movement.batch_id, Movement.kind, func.sum(Movement.cost))
        .where(Movement.batch_id.is_not(None), Movement.kind.in_(kinds))
        .group_by(Movement.batch_id, Movement.kind)
    )
    sums: dict[int, dict[str, Decimal]] = {}
    for number, kind, cost in rows:
        sums.setdefault(number or 0, {})[kind] = cost
    for batch in session.scalars(select(Batch)):
        found = sums.get(batch.id, {})
        nothing = Decimal(0)
        went_in = -sum((found.get(kind, nothing) for kind in kinds[:-1]), nothing)
        if batch.state == BatchState.CANCELLED and went_in:
            yield f"batch {batch.number} was cancelled and {went_in} of materials is still in it"
        if batch.state == BatchState.MADE and batch.work_cost is not None:
            came_out = found.get(MovementKind.MADE, nothing) + (batch.spoiled_cost or nothing)
            if came_out != went_in + batch.work_cost:
                yield f"batch {batch.number}: {went_in + batch.work_cost} went in, {came_out} out"


def _goods(session: Session) -> Iterator[str]:
    """What a batch of goods gave is what was put into the stock; one given up gave nothing."""
    rows = session.execute(
        select(Movement.batch_id, func.sum(Movement.quantity))
        .where(Movement.kind == MovementKind.MADE, Movement.batch_id.is_not(None))
        .group_by(Movement.batch_id)
    )
    made = {batch: int(quantity) for batch, quantity in rows}
    for line in session.scalars(select(GoodsLine)):
        batch, came = line.batch, made.get(line.batch_id, 0)
        if len(batch.goods) != 1 or batch.lines:
            yield f"batch {batch.number} is of goods and of something else as well"
        if came != line.good:
            yield f"batch {batch.number} gave {line.good}, and {came} of it came into the stock"
    try:
        consumers_first(ways(recipes(session).values()))
    except CircleError as error:
        yield f"recipes lie in a circle: {error.message}"


def _cut_plans(session: Session) -> Iterator[str]:
    """Every sheet of a kept plan is accounted for, and a batch was issued the sheets it cuts."""
    issued = _sheets_issued(session)
    for batch in session.scalars(select(Batch).where(Batch.cut_plan.is_not(None))):
        for paper_id, plan in (batch.cut_plan or {}).items():
            yield from _areas(f"batch {batch.number}", plan)
            cut = sum(row["repeats"] for row in plan["layouts"])
            went = issued.get((batch.id, int(paper_id)), 0)
            # More may have been taken, as some were spoiled.
            if batch.state != BatchState.CANCELLED and cut > went:
                yield f"batch {batch.number} cuts {cut} sheets of a paper, {went} were issued to it"
    for paper in session.scalars(select(Paper).where(Paper.cut_plan.is_not(None))):
        yield from _areas(f"{paper.name}: the plan it was bought by", paper.cut_plan or {})


def _areas(whose: str, plan: Mapping[str, Any]) -> Iterator[str]:
    for row in from_data(plan.get("layouts", ())):
        if not is_whole(row.layout, plan["cutter"][0]):
            yield f"{whose} has a sheet whose parts do not add up to it"


def _sheets_issued(session: Session) -> dict[tuple[int, int], int]:
    """Sheets, offcuts and lengths of each paper that went into each batch and did not come back."""
    off_a_roll = and_(StockSheet.kind == SheetKind.ROLL, Lot.offcut_width_nm.is_(None))
    sheets = func.sum(case((off_a_roll, -1), else_=Movement.quantity))
    rows = session.execute(
        select(Movement.batch_id, StockSheet.paper_id, sheets)
        .join(Lot, Lot.id == Movement.lot_id)
        .join(StockSheet, StockSheet.id == Lot.stock_sheet_id)
        .where(Movement.batch_id.is_not(None), Movement.kind == MovementKind.ISSUED, still_stands())
        .group_by(Movement.batch_id, StockSheet.paper_id)
    )
    return {(batch or 0, paper): -int(quantity) for batch, paper, quantity in rows}


def _sales(session: Session) -> Iterator[str]:
    """What was sold at a stall left the shelf, once; what was undone came back."""
    for line, left in _drawn(session, SaleLine.sale, SaleDraw, SaleDraw.sale_line_id):
        sale = line.sale
        stands = sale.paid_at is not None and sale.undone_at is None
        wanted = line.quantity if stands else 0
        if left != wanted:
            yield f"sale {sale.number}: {left} left the shelf of {wanted} sold"


def _statements(session: Session) -> Iterator[str]:
    """What a shop says it sold left what it had, once; what was taken back is there again."""
    drawn = _drawn(session, StatementLine.statement, StatementDraw, StatementDraw.statement_line_id)
    for line, left in drawn:
        wanted = line.quantity if line.statement.undone_at is None else 0
        if left != wanted:
            yield f"statement {line.statement.number}: {left} left the shop of {wanted} sold"


def _drawn(session: Session, belongs_to: Any, draw: Any, of: Any) -> Iterator[tuple[Any, int]]:
    """Lines of what was sold, by what they belong to, with how many left and did not come back."""
    line = belongs_to.class_
    still = case((still_stands(), -Movement.quantity), else_=0)
    rows = session.execute(
        select(line, func.sum(still))
        .outerjoin(draw, of == line.id)
        .outerjoin(Movement, Movement.id == draw.movement_id)
        .group_by(line.id)
        .options(selectinload(belongs_to))
    )
    for one, left in rows:
        yield one, int(left or 0)


def _numbers(session: Session) -> Iterator[str]:
    """Numbers have no gaps and no doubles."""
    numbers: dict[str, list[int]] = {
        "order": list(session.scalars(select(Order.number))),
        "purchase": list(session.scalars(select(Purchase.number))),
        "batch": list(session.scalars(select(Batch.number))),
        "receipt": list(session.scalars(select(Payment.receipt_number))),
        "sale": list(session.scalars(select(Sale.number).where(Sale.number.is_not(None)))),
    }
    numbers["statement"] = list(session.scalars(select(Statement.number)))
    for kind in DocumentKind:
        of_kind = select(Document.number).where(Document.kind == kind)
        numbers[kind.value] = list(session.scalars(of_kind))
    for name, found in numbers.items():
        series = session.get(NumberSeries, name)
        last = series.next_number - 1 if series else 0
        if sorted(found) != list(range(1, last + 1)):
            yield f"{name} numbers do not run from 1 to {last} without gaps"


def _documents(session: Session) -> Iterator[str]:
    """What stands on a numbered paper is what was numbered, and its sums follow from its prices."""
    for document in session.scalars(select(Document).order_by(Document.id)):
        paper, name = paper_of(document), f"{document.kind} {document.number}"
        if (paper.kind, paper.number, paper.issued_on) != (
            document.kind, document.number, document.issued_on,
        ):  # fmt: skip
            yield f"{name} is on record as something else than it says"
        amounts = [*(line.amount for line in paper.lines), paper.postage]
        nets, rounding = split(amounts, paper.rate, paper.currency, before_tax=paper.before_tax)
        if [*(line.net for line in paper.lines), paper.postage_net, paper.rounding] != [
            *nets, rounding,
        ]:  # fmt: skip
            yield f"{name}: its amounts before tax do not follow from its prices"
        answered = document.answers
        if answered is not None and _asked(paper_of(answered)) != _asked(paper):
            yield f"{name} is not for what invoice {answered.number} asked"


def _asked(paper: CustomerPaper) -> object:
    lines = [(line.name, line.quantity, line.price) for line in paper.lines]
    return lines, paper.postage, paper.rate, paper.rounding
