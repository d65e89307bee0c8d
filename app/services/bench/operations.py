"""The operations of a batch: planned minutes beside those worked, by a clock or typed.

The clock is a row with the moment it was started, so it runs on through a closed laptop and a
crash. Nothing is reckoned by it before it is stopped; one that ran for long is not believed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from app.core.costing import show_minutes, standard_time
from app.core.errors import DomainError
from app.core.money import half_up
from app.core.states import BatchState
from app.core.structures.parts import PartPer
from app.language import say
from app.models import Batch, BatchOperation, Clock, LoggedMinutes
from app.services.designs.journals import take_off_of
from app.services.designs.price_book import PriceBook
from app.services.planning.work_left import logged_by
from app.services.shop.wording import within

MOST_AT_ONCE = timedelta(hours=5)
"""Nobody works on one thing longer without a break: a clock that says so was forgotten."""
MOST_MINUTES = Decimal(100_000)
TENTH = Decimal("0.1")


@dataclass(frozen=True)
class OperationNow:
    """An operation with the minutes logged of it, and since when the clock runs for it."""

    row: BatchOperation
    logged: Decimal
    running_since: datetime | None

    @property
    def over(self) -> Decimal:
        """Minutes more than planned; below zero, less."""
        return self.logged - self.row.planned

    def waits_until(self, at: datetime) -> datetime | None:
        """The moment at which what is pressed or dries after it is ready; None if it is."""
        if self.row.done_at is None or not self.row.waiting_hours:
            return None
        ready = self.row.done_at + timedelta(hours=float(self.row.waiting_hours))
        return ready if ready > at else None


def plan_operations(session: Session, batch: Batch, book: PriceBook) -> None:
    """Write down what a batch takes of each operation, at the times the shop has now."""
    found: dict[str, BatchOperation] = {}
    exact: dict[str, Fraction] = {}
    for line in batch.lines:
        try:
            one = take_off_of(book, line.variant)
        except DomainError:
            continue
        for job in one.work:
            row = found.get(job.key)
            if row is None:
                time = book.times.get(job.key)
                row = found[job.key] = BatchOperation(
                    batch_id=batch.id, position=len(found), operation=job.key, label=job.label,
                    driver=job.driver, count=0, setups=0, planned=Decimal(0),
                    waiting_hours=time.waiting_hours if time else Decimal(0),
                )  # fmt: skip
            row.count += job.count * (1 if job.driver == PartPer.BATCH else line.quantity)
            row.setups += 1
            normal = job.setup_minutes + job.count * job.minutes_each * line.quantity
            whole = exact.get(job.key, Fraction(0)) + standard_time(normal, one.allowance)
            exact[job.key] = whole
            row.planned = half_up(whole, TENTH)
    for position, row in enumerate(sorted(found.values(), key=lambda one: _in_turn(one, found))):
        row.position = position
    session.add_all(found.values())
    session.flush()


LAST = ("finish", "wrap_up")
"""What is done when all else is."""
SOON = ("cut", "fold", "corner", "edge", "score", "punch")
"""What is done to pieces and covers before they are sewn."""
ON_COVERS, CASED_IN = ("stamp", "emboss"), "case_in"
"""What needs a cover that lies flat, and what ends that."""


def _in_turn(row: BatchOperation, found: Mapping[str, BatchOperation]) -> tuple[int, float]:
    """Pieces and covers are made ready first, and looked over and wrapped last."""
    if row.operation in SOON:
        return SOON.index(row.operation), row.position
    if row.operation in LAST:
        return len(SOON) + 1 + LAST.index(row.operation), row.position
    if row.operation in ON_COVERS:
        cased = found.get(CASED_IN)
        return (len(SOON), cased.position - 0.5) if cased else (len(SOON) - 1, row.position)
    return len(SOON), row.position


def operations_of(session: Session, batch: Batch) -> list[OperationNow]:
    """A batch's operations in their order, with what was worked of each."""
    return operations_by_batch(session, [batch])[batch.id]


def operations_by_batch(
    session: Session, batches: Sequence[Batch]
) -> dict[int, list[OperationNow]]:
    """The same of several batches, by their ids."""
    numbers = [batch.id for batch in batches]
    rows = session.scalars(
        select(BatchOperation)
        .where(BatchOperation.batch_id.in_(numbers))
        .order_by(BatchOperation.batch_id, BatchOperation.position)
    )
    logged, clock = logged_by(session, numbers), running(session)
    found: dict[int, list[OperationNow]] = {number: [] for number in numbers}
    for row in rows:
        minutes = logged.get((row.batch_id, row.operation), Decimal(0))
        since = clock.started_at if clock is not None and clock.operation is row else None
        found[row.batch_id].append(OperationNow(row, minutes, since))
    return found


def running(session: Session) -> Clock | None:
    """The clock that runs, with its operation and batch."""
    return session.scalar(
        select(Clock).options(joinedload(Clock.operation).joinedload(BatchOperation.batch))
    )


def operation(session: Session, batch: Batch, key: str) -> BatchOperation:
    """One operation of a batch in progress. Refused of another, or where there is none."""
    if batch.state != BatchState.IN_PROGRESS:
        raise DomainError(
            say(
                "Batch {number} is {state}: its minutes stay as they are.",
                number=batch.number, state=say(batch.state),
            )
        )  # fmt: skip
    row = session.scalar(
        select(BatchOperation).where(
            BatchOperation.batch_id == batch.id, BatchOperation.operation == key
        )
    )
    if row is None:
        raise DomainError(say("This batch has no such operation."))
    return row


def start_clock(session: Session, batch: Batch, key: str, at: datetime) -> Decimal | None:
    """Start the clock for an operation; one that ran for another is stopped, its minutes kept.

    Those minutes, or None where none ran.
    """
    row = operation(session, batch, key)
    clock, stopped = running(session), None
    if clock is not None:
        if clock.operation is row:
            raise DomainError(say("The clock runs for this already."))
        stopped = stop_clock(session, clock, at)
    row.done_at = None
    session.add(Clock(id=1, batch_operation_id=row.id, started_at=at))
    session.flush()
    return stopped


def stop_clock(
    session: Session, clock: Clock, at: datetime, minutes: Decimal | None = None
) -> Decimal:
    """Stop the clock and log what it ran for, or the ``minutes`` that were really worked."""
    ran = at - clock.started_at
    if minutes is None:
        if ran > MOST_AT_ONCE or ran < timedelta(0):
            raise DomainError(_cannot_be_right(clock, ran))
        minutes = half_up(Fraction(int(ran.total_seconds()), 60), TENTH)
    _log(session, clock.operation, minutes, at)
    session.delete(clock)
    session.flush()
    return minutes


def _cannot_be_right(clock: Clock, ran: timedelta) -> str:
    operation, batch = within(clock.operation.label), clock.operation.batch.number
    if ran > timedelta(0):
        return say(
            "The clock for {operation} in batch {number} runs since {time} ago: type under Worked, "
            "on that batch's page, how long you really worked.",
            operation=operation, number=batch,
            time=show_minutes(Fraction(int(ran.total_seconds()), 60)),
        )  # fmt: skip
    return say(
        "The clock for {operation} in batch {number} was started in the future: type under Worked, "
        "on that batch's page, how long you really worked.",
        operation=operation, number=batch,
    )  # fmt: skip


def forget_clock(session: Session, clock: Clock) -> None:
    """Stop the clock and log nothing."""
    session.delete(clock)
    session.flush()


def _log(session: Session, row: BatchOperation, minutes: Decimal, at: datetime) -> None:
    if not 0 <= minutes <= MOST_MINUTES:
        raise DomainError(say("Minutes lie between 0 and {most}.", most=MOST_MINUTES), "minutes")
    if minutes:
        session.add(
            LoggedMinutes(batch_id=row.batch_id, operation=row.operation, minutes=minutes, at=at)
        )
        session.flush()


def say_minutes(
    session: Session, batch: Batch, key: str, total: Decimal, at: datetime, shown: Decimal | None
) -> None:
    """So many minutes were worked on an operation in all; the difference is logged.

    ``shown`` is what the page had; refused where more was logged meanwhile.
    """
    operation(session, batch, key)
    if not 0 <= total <= MOST_MINUTES:
        raise DomainError(say("Minutes lie between 0 and {most}.", most=MOST_MINUTES), "minutes")
    before = logged_by(session, [batch.id]).get((batch.id, key), Decimal(0))
    if shown is not None and shown != before:
        raise DomainError(
            say(
                "Meanwhile {time} were logged: look again, say all of it.",
                time=show_minutes(Fraction(before)),
            ),
            "minutes",
        )
    if total != before:
        session.add(LoggedMinutes(batch_id=batch.id, operation=key, minutes=total - before, at=at))
        session.flush()


def mark_done(session: Session, batch: Batch, key: str, at: datetime, *, done: bool = True) -> None:
    """An operation is done, or is not after all; a clock that runs for it is stopped."""
    row = operation(session, batch, key)
    clock = running(session)
    if done and clock is not None and clock.operation is row:
        stop_clock(session, clock, at)
    # Said twice it is done since the first time: what presses is not put off.
    row.done_at = (row.done_at or at) if done else None
    session.flush()


def no_clock_runs(session: Session, batch: Batch) -> None:
    """Before a batch ends: refused while the clock runs for it."""
    clock = running(session)
    if clock is not None and clock.operation.batch_id == batch.id:
        raise DomainError(
            say(
                "The clock still runs for {operation}: stop it below first, so that its minutes "
                "count.",
                operation=within(clock.operation.label),
            ),
            "minutes",
        )


def minutes_logged(session: Session, batch: Batch) -> Decimal:
    """All that was logged of a batch."""
    return sum(logged_by(session, [batch.id]).values(), Decimal(0))
