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
    MovementKind,
    OrderState,
    PurchaseState,
    SheetKind,
)
from app.language import say, to_say
from app.models import (
    Batch,
    GoodsLine,
    Lot,
    Movement,
    Order,
    Paper,
    Purchase,
    PurchaseLine,
    Receipt,
    ReceiptLine,
    SaleDraw,
    SaleLine,
    Shop,
    StatementDraw,
    StatementLine,
    StockSheet,
)
from app.services.orders.sealing import broken_seals
from app.services.orders.standing import standings
from app.services.planning.supply import came_in_all
from app.services.stock.ledger import still_stands
from app.services.stock.recipes import recipes, ways
from app.services.upkeep.checking_numbers import check_numbers, check_papers

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
        return [say("the shop's settings are gone")]
    return [
        *_lots(session), *_reversals(session), *_costs(session), *_offcuts(session),
        *_orders(session), *_purchases(session), *_receipts(session), *_batches(session),
        *_goods(session), *_cut_plans(session),
        *_sales(session), *_statements(session), *check_numbers(session), *check_papers(session),
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
            yield say(
                "lot {lot}: {quantity} for {cost} are said to be left, its movements add up to "
                "{moved} for {moved_cost}",
                lot=lot.id,
                quantity=lot.left_quantity,
                cost=lot.left_cost,
                moved=quantity,
                moved_cost=cost,
            )
        if quantity < 0:
            yield say(
                "lot {lot} holds {quantity}: less than nothing", lot=lot.id, quantity=quantity
            )
        item = _item_of(lot)
        known = by_item.get(item, (0, Decimal(0)))
        by_item[item] = (known[0] + int(quantity), known[1] + cost)
    for (what, number), (quantity, cost) in by_item.items():
        thing = say(what, number=number)
        if not quantity and cost:
            yield say(
                "{thing}: none is here and {cost} of cost is still on it", thing=thing, cost=cost
            )
        if quantity > 0 and cost < 0:
            yield say(
                "{thing}: {quantity} here cost {cost}, less than nothing",
                thing=thing,
                quantity=quantity,
                cost=cost,
            )
    empty = session.scalars(select(Lot.id).where(Lot.id.not_in(select(Movement.lot_id))))
    for lot_id in empty:
        yield say("lot {lot} has no movement", lot=lot_id)


def _item_of(lot: Lot) -> tuple[str, int]:
    """What a lot is of, and its number."""
    if lot.offcut_width_nm is not None:
        return to_say("offcut {number}"), lot.id
    if lot.order_line_id is not None:
        return to_say("journals set aside in lot {number}"), lot.id
    if lot.outlet_id is not None:
        return to_say("journals at a shop in lot {number}"), lot.id
    if lot.stock_sheet_id:
        return to_say("sheet {number}"), lot.stock_sheet_id
    if lot.material_id:
        return to_say("material {number}"), lot.material_id
    return to_say("journal {number}"), lot.variant_id or 0


def _reversals(session: Session) -> Iterator[str]:
    """A reversal is the exact opposite of what it undoes, in the same lot."""
    other = aliased(Movement)
    rows = session.execute(select(Movement, other).join(other, Movement.reverses_id == other.id))
    for undoing, undone in rows:
        if (undoing.quantity, undoing.cost, undoing.lot_id) != (
            -undone.quantity, -undone.cost, undone.lot_id,
        ):  # fmt: skip
            yield say(
                "movement {movement} does not undo movement {other} exactly",
                movement=undoing.id,
                other=undone.id,
            )


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
            yield say(
                "lot {lot} cost {cost} and came in {times} times for {moved}",
                lot=lot_id,
                cost=cost,
                times=times,
                moved=moved,
            )


def _offcuts(session: Session) -> Iterator[str]:
    """An offcut fits its sheet, and all that was kept of a cut is no more than was cut."""
    rows = session.scalars(select(Lot).where(Lot.offcut_width_nm.is_not(None)))
    for lot in rows:
        sheet = session.get(StockSheet, lot.stock_sheet_id) if lot.stock_sheet_id else None
        if sheet is None:
            yield say("offcut {offcut} belongs to no sheet", offcut=lot.id)
        elif (lot.offcut_width_nm or 0) > sheet.width_nm or (
            not sheet.by_length and (lot.offcut_height_nm or 0) > sheet.height_nm
        ):
            yield say("offcut {offcut} is larger than its sheet", offcut=lot.id)


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
        of = say("order {number}", number=order.number)
        for one in own:
            if one.delivered < 0 or one.delivered > one.line.wanted:
                yield say(
                    "{order}: {number} of {wanted} are delivered",
                    order=of,
                    number=one.delivered,
                    wanted=one.line.wanted,
                )
            if one.set_aside > one.outstanding:
                yield say(
                    "{order}: {number} are set aside and {wanted} are wanted",
                    order=of,
                    number=one.set_aside,
                    wanted=one.outstanding,
                )
        # Of orders from before there were lots of their own not all is known.
        own = [one for one in own if one.traced]
        if order.state == OrderState.READY and any(one.missing for one in own):
            yield say("{order} is ready and not all of it is set aside", order=of)
        if order.state == OrderState.DELIVERED and any(one.outstanding for one in own):
            yield say("{order} is delivered and not all of it was", order=of)
        if order.state not in ORDER_OPEN and any(one.set_aside for one in own):
            yield say(
                "{order} is {state} and something is set aside for it",
                order=of,
                state=say(order.state),
            )


def _purchases(session: Session) -> Iterator[str]:
    """Nothing came that was not ordered, and each state says what came."""
    rows = session.scalars(select(Purchase).options(selectinload(Purchase.lines)))
    here = came_in_all(session)
    for purchase in rows:
        for line in purchase.lines:
            came = here.get(line.id, 0)
            if came > line.packs:
                yield say(
                    "purchase {number}: {packs} came of {ordered} ordered",
                    number=purchase.number,
                    packs=came,
                    ordered=line.packs,
                )
        lines = purchase.lines
        whole = bool(lines) and all(here.get(x.id, 0) >= x.packs for x in lines)
        if (
            purchase.state == PurchaseState.RECEIVED
        ) != whole and purchase.state != PurchaseState.CANCELLED:
            yield say(
                "purchase {number} is {state} and that is not what came",
                number=purchase.number,
                state=say(purchase.state),
            )


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
            yield say(
                "receipt {number}: its lots cost {lots} and {paid} was paid",
                number=receipt_id,
                lots=lots,
                paid=exact + carriage,
            )


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
            yield say(
                "batch {number} was cancelled and {amount} of materials is still in it",
                number=batch.number,
                amount=went_in,
            )
        if batch.state == BatchState.MADE and batch.work_cost is not None:
            came_out = found.get(MovementKind.MADE, nothing) + (batch.spoiled_cost or nothing)
            if came_out != went_in + batch.work_cost:
                yield say(
                    "batch {number}: {went_in} went in, {came_out} out",
                    number=batch.number,
                    went_in=went_in + batch.work_cost,
                    came_out=came_out,
                )


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
            yield say(
                "batch {number} is of goods and of something else as well", number=batch.number
            )
        if came != line.good:
            yield say(
                "batch {number} gave {good}, and {came} of it came into the stock",
                number=batch.number,
                good=line.good,
                came=came,
            )
    try:
        consumers_first(ways(recipes(session).values()))
    except CircleError as error:
        yield say("recipes lie in a circle: {why}", why=error.message)


def _cut_plans(session: Session) -> Iterator[str]:
    """Every sheet of a kept plan is accounted for, and a batch was issued the sheets it cuts."""
    issued = _sheets_issued(session)
    for batch in session.scalars(select(Batch).where(Batch.cut_plan.is_not(None))):
        for paper_id, plan in (batch.cut_plan or {}).items():
            yield from _areas(
                say(
                    "batch {number} has a sheet whose parts do not add up to it",
                    number=batch.number,
                ),
                plan,
            )
            cut = sum(row["repeats"] for row in plan["layouts"])
            went = issued.get((batch.id, int(paper_id)), 0)
            # More may have been taken, as some were spoiled.
            if batch.state != BatchState.CANCELLED and cut > went:
                yield say(
                    "batch {number} cuts {sheets} sheets of a paper, {issued} were issued to it",
                    number=batch.number,
                    sheets=cut,
                    issued=went,
                )
    for paper in session.scalars(select(Paper).where(Paper.cut_plan.is_not(None))):
        yield from _areas(
            say(
                "{paper}: the plan it was bought by has a sheet whose parts do not add up to it",
                paper=paper.name,
            ),
            paper.cut_plan or {},
        )


def _areas(says: str, plan: Mapping[str, Any]) -> Iterator[str]:
    """What is said of each sheet of a plan whose parts are not the whole of it."""
    for row in from_data(plan.get("layouts", ())):
        if not is_whole(row.layout, plan["cutter"][0]):
            yield says


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
            yield say(
                "sale {number}: {left} left the shelf of {sold} sold",
                number=sale.number,
                left=left,
                sold=wanted,
            )


def _statements(session: Session) -> Iterator[str]:
    """What a shop says it sold left what it had, once; what was taken back is there again."""
    drawn = _drawn(session, StatementLine.statement, StatementDraw, StatementDraw.statement_line_id)
    for line, left in drawn:
        wanted = line.quantity if line.statement.undone_at is None else 0
        if left != wanted:
            yield say(
                "statement {number}: {left} left the shop of {sold} sold",
                number=line.statement.number,
                left=left,
                sold=wanted,
            )


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
