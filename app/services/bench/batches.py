"""Batches at the bench: materials issued when one begins, finished journals when it is made.

What a batch took and what came out of it hang together by its number, so a lot of paper leads to
the journals it went into, and a finished journal to the lots it was made of.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload, selectinload

from app.core.errors import DomainError
from app.core.planning.sharing import SheetCut
from app.core.states import BATCH_STATES, BatchState, MovementKind, check_step
from app.language import say
from app.models import (
    Batch,
    BatchLine,
    Design,
    Lot,
    Material,
    Movement,
    OrderLine,
    Shop,
    StockSheet,
    Variant,
)
from app.services.bench.batch_supply import PaperCut, ShortError, Taking, what_it_takes
from app.services.bench.cut_papers import kept_size
from app.services.bench.operations import forget_clock, plan_operations, running
from app.services.designs.journals import freeze
from app.services.designs.price_book import read_prices
from app.services.planning.cut_plans import plan_data
from app.services.shop.settings import next_number
from app.services.stock import ledger as stock
from app.services.stock.offcuts import keep_rest

MOST_IN_BATCH = 10_000


MOST_LISTED = 50
"""Batches on one page."""


def batches(session: Session, *, before: int | None = None, most: int | None = None) -> list[Batch]:
    """Batches, the newest first; those before a number, so many."""
    query = (
        select(Batch)
        .order_by(Batch.number.desc())
        .options(
            selectinload(Batch.lines)
            .joinedload(BatchLine.variant)
            .joinedload(Variant.design)
            .joinedload(Design.journal),
            selectinload(Batch.goods),
        )
    )
    if before is not None:
        query = query.where(Batch.number < before)
    if most is not None:
        query = query.limit(most)
    return list(session.scalars(query))


def begun_on(session: Session, shown: Collection[Batch]) -> dict[int, date]:
    """The day each of some batches was begun, by its id."""
    rows = session.execute(
        select(Batch.id, func.min(Movement.at))
        .join(Movement, Movement.batch_id == Batch.id)
        .where(
            Movement.kind == MovementKind.ISSUED,
            stock.still_stands(),
            Batch.id.in_([batch.id for batch in shown]),
        )
        .group_by(Batch.id)
    )
    return {batch_id: at.astimezone().date() for batch_id, at in rows}


def begin_batch(
    session: Session,
    wanted: Mapping[Variant, int],
    on: date,
    made_for: Mapping[OrderLine, int] | None = None,
) -> Batch:
    """Begin so many of some journals: their materials leave the stock for it.

    Of these so many are ``made_for`` lines of orders: good ones are set aside for them.

    Sheets leave whole; what a layout leaves over and is worth keeping comes back as an offcut with
    its share of the cost. Raises ShortError, with everything that is short, where not all is here.
    """
    wanted = {variant: n for variant, n in wanted.items() if n}
    if not wanted:
        raise DomainError(say("Say how many of which journal to make."), "form")
    if max(wanted.values()) > MOST_IN_BATCH:
        raise DomainError(
            say("A batch has at most {most} of a journal.", most=MOST_IN_BATCH), "form"
        )
    taking = _all_of_it(session, wanted, on)
    batch = Batch(
        number=next_number(session, "batch"), state=BatchState.IN_PROGRESS, note="", name=""
    )
    batch.lines = _lines(wanted, made_for or {})
    session.add(batch)
    session.flush()
    issue(session, batch, taking, on)
    plan_operations(session, batch, read_prices(session, on))
    for variant in wanted:
        freeze(session, variant.design)
    return batch


def _lines(wanted: Mapping[Variant, int], made_for: Mapping[OrderLine, int]) -> list[BatchLine]:
    """A line for each line of an order, as far as so many are made, and one for the rest."""
    lines, left = [], dict(wanted)
    for line, number in sorted(made_for.items(), key=lambda row: row[0].order.wanted_by):
        some = min(number, left.get(line.variant, 0))
        if some > 0:
            lines.append(BatchLine(variant=line.variant, quantity=some, order_line=line))
            left[line.variant] -= some
    return lines + [BatchLine(variant=v, quantity=n) for v, n in left.items() if n]


def resume_batch(session: Session, batch: Batch, on: date) -> None:
    """Undo a cancellation: the batch takes its materials again, if they are still here."""
    hold(session, batch)
    check_step(BATCH_STATES, batch.state, BatchState.IN_PROGRESS, "batch")
    wanted: dict[Variant, int] = {}
    for line in batch.lines:
        wanted[line.variant] = wanted.get(line.variant, 0) + line.quantity
    taking = _all_of_it(session, wanted, on)
    batch.state = BatchState.IN_PROGRESS
    issue(session, batch, taking, on)


def _all_of_it(session: Session, wanted: Mapping[Variant, int], on: date) -> Taking:
    taking = what_it_takes(session, wanted, on)
    if not taking.feasible:
        raise ShortError(taking.shorts, taking.problems)
    return taking


def issue(session: Session, batch: Batch, taking: Taking, on: date) -> None:
    """Everything leaves the stock for a batch, and the offcuts of its sheets come back."""
    cut_plan: dict[str, Any] = {}
    shop = taking.needs.shop
    for cut in taking.cuts:
        pieces = {
            row.key: [row.piece.name, row.piece.width_nm, row.piece.height_nm]
            for row in cut.asked.rows
        }
        cut_plan[str(cut.asked.paper.id)] = plan_data(cut.answer.plan, cut.asked.problem.cutter) | {
            "pieces": pieces
        }
        _cut_sheets(session, batch, cut, shop, on)
    batch.cut_plan = cut_plan
    for key, amount in taking.materials.items():
        material = taking.needs.materials[key]
        stock.take(
            session, material, amount, MovementKind.ISSUED, on=on, note=_said(batch),
            batch_id=batch.id,
        )  # fmt: skip
    session.flush()


def _cut_sheets(session: Session, batch: Batch, cut: PaperCut, shop: Shop, on: date) -> None:
    """Take the sheets and offcuts that the pieces are cut from, and keep what is over of them."""
    by_source: dict[str, list[SheetCut]] = {}
    for share in cut.answer.cuts:
        by_source.setdefault(share.source, []).append(share)
    for key, shares in by_source.items():
        sheets = sum(share.sheets for share in shares)
        source = cut.asked.by_key[key]
        sheet, own = source.stock_sheet, source.offcut or source.length
        if own is not None:
            # Of a length off a roll only what the plan cuts off it leaves.
            taken = sheets * cut.answer.problem.by_key[key].takes
            gone = stock.take_from(
                session, own.lot, taken, MovementKind.ISSUED, on=on, note=_said(batch),
                batch_id=batch.id,
            )  # fmt: skip
            cost = -gone.cost
        else:
            cost = stock.take(
                session, sheet, sheets, MovementKind.ISSUED, on=on, note=_said(batch),
                batch_id=batch.id,
            )  # fmt: skip
        kept: dict[tuple[int, int], int] = {}
        for share in shares:
            for part in share.use.layout.offcuts_worth_keeping(shop.smallest_offcut):
                size = kept_size(part, sheet)
                kept[size] = kept.get(size, 0) + share.sheets
        whole = shares[0].use.supply.sheet
        area = sheets * whole.width_nm * whole.height_nm
        keep_rest(
            session, sheet, kept, Fraction(cost) / area,
            on=on, note=_said(batch), batch_id=batch.id,
        )  # fmt: skip


def _said(batch: Batch) -> str:
    return say("Batch {number}", number=batch.number)


def hold(session: Session, batch: Batch) -> None:
    """Hold a batch until the transaction ends, and know its state as it is now.

    PostgreSQL locks the row; SQLite holds its one write lock already and ignores this.
    """
    session.refresh(batch, ["state"], with_for_update=True)


def cancel_batch(session: Session, batch: Batch) -> None:
    """It is not made after all: everything issued to it goes back, by its opposite.

    Refused where offcuts kept of it were used since.
    """
    hold(session, batch)
    check_step(BATCH_STATES, batch.state, BatchState.CANCELLED, "batch")
    if any(line.good or line.spoiled for line in batch.lines):
        raise DomainError(
            say("Some of it came out already: finish it with what there is, and say why no more.")
        )
    clock = running(session)
    if clock is not None and clock.operation.batch_id == batch.id:
        forget_clock(session, clock)
    taken = session.scalars(
        select(Movement)
        .where(
            Movement.batch_id == batch.id, stock.still_stands(),
            Movement.kind.in_((MovementKind.ISSUED, MovementKind.RETURNED, MovementKind.CUT)),
        )
        .order_by(Movement.id.desc())
    )  # fmt: skip
    for movement in list(taken):
        try:
            cancelled = say("Batch {number} is cancelled", number=batch.number)
            stock.reverse(session, movement, cancelled, together=True)
        except DomainError as error:
            if movement.kind != MovementKind.CUT:
                raise
            raise DomainError(
                say(
                    "Offcuts kept of this batch were used since, so its sheets cannot go back "
                    "whole. Finish it with as many good ones as there are."
                )
            ) from error
    batch.state = BatchState.CANCELLED
    session.flush()


def movements_of(session: Session, batch: Batch) -> list[Movement]:
    """Everything issued to a batch and made in it, in the order it was written down."""
    query = (
        select(Movement)
        .where(Movement.batch_id == batch.id)
        .order_by(Movement.id)
        .options(
            joinedload(Movement.lot).options(
                joinedload(Lot.stock_sheet).joinedload(StockSheet.paper),
                joinedload(Lot.material),
                joinedload(Lot.variant),
            )
        )
    )
    return list(session.scalars(query))


@dataclass(frozen=True)
class WhereUsed:
    """A batch that took from a lot, how much, and what was made in it."""

    batch: Batch
    quantity: int


def where_used(session: Session, item: StockSheet | Material) -> list[WhereUsed]:
    """The batches a thing went into, the newest first, whole sheets and not their offcuts."""
    column = Lot.stock_sheet_id if isinstance(item, StockSheet) else Lot.material_id
    query = (
        select(Movement.batch_id, func.sum(Movement.quantity))
        .join(Movement.lot)
        .where(
            column == item.id,
            Lot.offcut_width_nm.is_(None),
            Movement.kind.in_((MovementKind.ISSUED, MovementKind.RETURNED)),
            Movement.batch_id.is_not(None),
            stock.still_stands(),
        )
        .group_by(Movement.batch_id)
    )
    taken = {batch: -int(n) for batch, n in session.execute(query) if n}
    rows = session.scalars(
        select(Batch)
        .where(Batch.id.in_(taken))
        .order_by(Batch.number.desc())
        .options(selectinload(Batch.lines).joinedload(BatchLine.variant))
    )
    return [WhereUsed(batch, taken[batch.id]) for batch in rows]
