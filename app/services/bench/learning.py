"""Minutes of each operation as batches show them, beside those the shop reckons with."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.learning import Learned, Worked, learn
from app.core.money import half_up
from app.core.states import BatchState
from app.language import say
from app.models import Batch, BatchOperation
from app.services.planning.work_left import logged_by
from app.services.shop.settings import (
    TimeOf,
    operation_times,
    own_time,
    rates,
    set_operation_time,
    the_shop,
)

HUNDREDTH = Decimal("0.01")
LATEST = 40
"""So many of the latest batches count: the hand gets quicker."""


@dataclass(frozen=True)
class Proposal:
    """An operation with the minutes it is reckoned at and those that the batches show."""

    now: TimeOf
    learned: Learned

    @property
    def setup(self) -> Decimal:
        """To set up, to a hundredth."""
        return half_up(self.learned.setup, HUNDREDTH)

    @property
    def each(self) -> Decimal:
        """For each, to a hundredth."""
        return half_up(self.learned.each, HUNDREDTH)

    @property
    def spread(self) -> Decimal:
        """How far half of the batches are from that at the most, in minutes."""
        return half_up(self.learned.spread, Decimal("0.1"))

    @property
    def differs(self) -> bool:
        """Whether it is not what the shop reckons with already."""
        return (self.setup, self.each) != (
            self.now.setup_minutes.quantize(HUNDREDTH), self.now.minutes_each.quantize(HUNDREDTH),
        )  # fmt: skip


def proposals(session: Session) -> list[Proposal]:
    """For every operation of which enough batches were logged, what they show.

    Logged minutes have the rest in them that the shop allows for; it is taken out again. Where an
    operation was set up for several times, each had its share. Batches that are made count.
    """
    times, allowance = operation_times(session), rates(the_shop(session)).allowance
    rows = session.scalars(
        select(BatchOperation)
        .join(BatchOperation.batch)
        .where(Batch.state == BatchState.MADE)
        .order_by(Batch.number.desc())
    )
    logged = logged_by(session)
    worked: dict[str, list[Worked]] = {}
    for row in rows:
        minutes = logged.get((row.batch_id, row.operation), Decimal(0))
        of_it = worked.setdefault(row.operation, [])
        if row.operation not in times or minutes <= 0 or len(of_it) >= LATEST:
            continue
        setups = max(row.setups, 1)
        normal = Fraction(minutes) / (1 + allowance)
        of_it.append(Worked(Fraction(row.count, setups), normal / setups))
    found = []
    for key, time in times.items():
        learned = learn(worked.get(key, ()), Fraction(time.setup_minutes))
        if learned is not None:
            found.append(Proposal(time, learned))
    return found


def take_proposal(
    session: Session, key: str, setup: Decimal, each: Decimal, version: int | None = None
) -> None:
    """Reckon with what the batches show from now on; ``setup`` and ``each`` are what was shown.

    Refused where they show something else by now.
    """
    known = next((one for one in proposals(session) if one.now.key == key), None)
    if known is None or (known.setup, known.each) != (setup, each):
        raise DomainError(say("More was logged meanwhile: look at what it says now."))
    own = own_time(session, key)
    if version is None and own is not None:
        version = own.version
    set_operation_time(session, key, setup, each, known.now.waiting_hours, version)
