"""How much of a batch in progress is still to work, by what of its operations is done."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.models import BatchLine, BatchOperation, LoggedMinutes
from app.services.designs.take_off import TakeOff


def logged_by(
    session: Session, batches: Collection[int] | None = None
) -> Mapping[tuple[int, str], Decimal]:
    """Minutes logged of each operation of some batches, or of all."""
    query = select(
        LoggedMinutes.batch_id, LoggedMinutes.operation, func.sum(LoggedMinutes.minutes)
    ).group_by(LoggedMinutes.batch_id, LoggedMinutes.operation)
    if batches is not None:
        query = query.where(LoggedMinutes.batch_id.in_(batches))
    return {(batch, key): minutes for batch, key, minutes in session.execute(query)}


def shares_left(session: Session, batches: Collection[int]) -> dict[int, Fraction]:
    """What share of its planned minutes a batch still takes, where its operations are written down.

    What is done takes none; of what is not, the minutes logged are gone, and none below nothing.
    """
    rows = list(session.scalars(select(BatchOperation).where(BatchOperation.batch_id.in_(batches))))
    logged = logged_by(session, [row.batch_id for row in rows])
    planned: dict[int, Fraction] = {}
    left: dict[int, Fraction] = {}
    for row in rows:
        whole = Fraction(row.planned)
        gone = Fraction(logged.get((row.batch_id, row.operation), Decimal(0)))
        planned[row.batch_id] = planned.get(row.batch_id, Fraction(0)) + whole
        rest = Fraction(0) if row.done_at else max(whole - gone, Fraction(0))
        left[row.batch_id] = left.get(row.batch_id, Fraction(0)) + rest
    return {batch: left[batch] / whole for batch, whole in planned.items() if whole}


def minutes_left(one: TakeOff, line: BatchLine, share: Fraction) -> Fraction:
    """Minutes a line of a batch still takes, of which this share is left by its operations.

    Where some are finished, the rest takes no more than by itself.
    """
    return min(one.minutes_for(line.quantity) * share, one.minutes_for(line.left))
