"""What comes out of a batch, at once or in parts, and what it cost.

Materials and minutes are shared over what was made by its standard cost. What falls on the spoiled
ones is abnormal waste and no cost of the good ones (IAS 2); it is shown apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from app.core.errors import DomainError
from app.core.money import half_up, share_out
from app.core.states import BATCH_STATES, BatchState, MovementKind, check_step
from app.language import say
from app.models import Batch, Lot, Movement, Order, OrderLine
from app.services.bench.batches import hold
from app.services.bench.materials import materials_left
from app.services.bench.operations import no_clock_runs
from app.services.designs.journals import estimate_by
from app.services.designs.price_book import read_prices
from app.services.orders.shelf import set_aside_made
from app.services.shop.settings import rates, the_shop
from app.services.stock import ledger as stock


@dataclass(frozen=True)
class Came:
    """Of one line so many came out good, so many spoiled, and why."""

    good: int
    spoiled: int = 0
    why: str = ""


@dataclass(frozen=True)
class BatchCost:
    """What a batch cost: materials, labour and overhead, and what of it the spoiled ones took."""

    materials: Decimal
    minutes: Decimal
    work: Decimal
    made: Decimal
    spoiled: Decimal

    @property
    def total(self) -> Decimal:
        """All of it."""
        return self.materials + self.work


def standard_minutes(session: Session, batch: Batch, on: date) -> Decimal:
    """Minutes as the shop's times have it for what is left, setting up shared over each line."""
    book = read_prices(session, on)
    total = sum(
        (estimate_by(book, line.variant, line.left).minutes_for(line.left)
         for line in batch.lines if line.left),
        Fraction(0),
    )  # fmt: skip
    return half_up(total, Decimal("0.1"))


def work_cost(session: Session, minutes: Decimal) -> Decimal:
    """What minutes at the bench cost by the shop's hour."""
    if minutes < 0:
        raise DomainError(say("Minutes cannot be below zero."), "minutes")
    hour = rates(the_shop(session))
    return half_up(
        Fraction(minutes) / 60 * (hour.pay_per_hour + hour.overhead_per_hour), stock.STEP
    )


def finish_batch(
    session: Session,
    batch: Batch,
    good: Mapping[int, int],
    minutes: Decimal,
    on: date,
    why: Mapping[int, str] | None = None,
) -> BatchCost:
    """What came out of what was left of it, by line; the rest of each line was spoiled, and why.

    ``minutes`` are those that were not told when a part of it was finished.
    """
    hold(session, batch)
    check_step(BATCH_STATES, batch.state, BatchState.MADE, "batch")
    no_clock_runs(session, batch)
    came = {}
    for line in batch.lines:
        number = good.get(line.id, line.left)
        if not 0 <= number <= line.left:
            raise DomainError(
                say("Between 0 and {most} came out.", most=line.left), f"good_{line.id}"
            )
        came[line.id] = Came(number, line.left - number, (why or {}).get(line.id, ""))
    left = materials_left(session, batch)
    cost = _come_out(session, batch, came, minutes, on, left, _each(session, batch, on))
    batch.state = BatchState.MADE
    session.flush()
    return cost


def finish_part(
    session: Session, batch: Batch, came: Mapping[int, Came], minutes: Decimal, on: date
) -> BatchCost:
    """Some of a batch are finished, and it goes on with the rest.

    They take their share of the materials by standard cost, and the minutes told; what is spoiled
    of them stands apart.
    """
    hold(session, batch)
    if batch.state != BatchState.IN_PROGRESS:
        raise DomainError(
            say("Batch {number} is {state}.", number=batch.number, state=say(batch.state))
        )
    for line in batch.lines:
        one = came.get(line.id, Came(0))
        if one.good < 0 or one.spoiled < 0 or one.good + one.spoiled > line.left:
            raise DomainError(
                say("Of these only {left} are left.", left=line.left), f"good_{line.id}"
            )
    out = sum(one.good + one.spoiled for one in came.values())
    stays = sum(line.left for line in batch.lines) - out
    if not out:
        raise DomainError(say("Say how many are finished."), "form")
    if not stays:
        raise DomainError(say("That is all of it: finish the batch instead."), "form")
    each = _each(session, batch, on)
    whole = sum(each[line.id] * line.left for line in batch.lines)
    part = sum(
        each[line.id] * (came[line.id].good + came[line.id].spoiled)
        for line in batch.lines
        if line.id in came
    )
    left = materials_left(session, batch)
    # Where by that day's prices nothing costs anything, one journal has as much as another.
    share, _ = share_out(left, [part, whole - part] if whole else [out, stays], stock.STEP)
    return _come_out(session, batch, came, minutes, on, share, each)


def _each(session: Session, batch: Batch, on: date) -> dict[int, Fraction]:
    """What one of each line costs by that day's prices, which its share of a batch follows.

    Lines of one journal are made together: one of them costs what another does.
    """
    book = read_prices(session, on)
    together: dict[int, int] = {}
    for line in batch.lines:
        together[line.variant_id] = together.get(line.variant_id, 0) + line.quantity
    return {
        line.id: Fraction(estimate_by(book, line.variant, together[line.variant_id]).sheet.total())
        for line in batch.lines
    }


def _come_out(
    session: Session, batch: Batch, came: Mapping[int, Came], minutes: Decimal, on: date,
    materials: Decimal, each: Mapping[int, Fraction],
) -> BatchCost:  # fmt: skip
    """Put the good ones into the stock with their share of materials and minutes."""
    work = work_cost(session, minutes)
    rows = [(line, came[line.id]) for line in batch.lines if line.id in came]
    numbers = [n for _, one in rows for n in (one.good, one.spoiled)]
    weights = [each[line.id] * n for line, one in rows for n in (one.good, one.spoiled)]
    # Where by that day's prices nothing costs anything, one journal has as much as another.
    shares = share_out(materials + work, weights if any(weights) else numbers, stock.STEP)
    for (line, one), cost in zip(rows, shares[::2], strict=True):
        line.good, line.spoiled = line.good + one.good, line.spoiled + one.spoiled
        if one.spoiled and one.why.strip():
            line.why_spoiled = "; ".join(filter(None, [line.why_spoiled, one.why.strip()]))
        if one.good:
            lot = stock.receive(
                session, line.variant, one.good, cost, on, kind=MovementKind.MADE,
                note=say("Batch {number}", number=batch.number), batch_id=batch.id,
            )  # fmt: skip
            if line.order_line is not None:
                set_aside_made(session, line.order_line, lot, on)
    spoiled = sum(shares[1::2], Decimal(0))
    batch.minutes = (batch.minutes or Decimal(0)) + minutes
    batch.work_cost = (batch.work_cost or Decimal(0)) + work
    batch.spoiled_cost = (batch.spoiled_cost or Decimal(0)) + spoiled
    session.flush()
    return BatchCost(materials, minutes, work, sum(shares[::2], Decimal(0)), spoiled)


def set_aside_of(session: Session, batch: Batch) -> dict[int, int]:
    """How many of a batch's journals were set aside as it was made, by the number of the order."""
    own = aliased(Lot)
    rows = session.execute(
        select(Order.number, func.sum(Movement.quantity))
        .join(OrderLine, OrderLine.order_id == Order.id)
        .join(own, own.order_line_id == OrderLine.id)
        .join(Lot, Lot.id == own.parent_id)
        .join(Movement, Movement.lot_id == own.id)
        .where(
            Lot.batch_id == batch.id, Movement.kind == MovementKind.SET_ASIDE,
            Movement.quantity > 0,
        )
        .group_by(Order.number)
        .order_by(Order.number)
    )  # fmt: skip
    return {number: int(n) for number, n in rows}
