"""Minutes by operation: planned as the price has them, worked by a clock that outlives the program."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session, sessionmaker

from app.core.errors import DomainError
from app.core.length import METRE
from app.db import transaction
from app.models import Batch, Clock
from app.services.bench import learning
from app.services.bench import operations as work
from app.services.bench.batches import begin_batch, cancel_batch
from app.services.bench.board import the_bench
from app.services.bench.finishing import finish_batch
from app.services.designs.journals import take_off_of
from app.services.designs.price_book import read_prices
from app.services.shop.settings import operation_times
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench

AT = datetime(2027, 3, 1, 9, tzinfo=UTC)


def later(minutes: float) -> datetime:
    return AT + timedelta(minutes=minutes)


@pytest.fixture
def bench(session: Session) -> Bench:
    return furnished(session)


def furnished(session: Session) -> Bench:
    made = Bench(session)
    for item, much in (
        (made.sheet, 900), (made.card_sheet, 300), (made.thread, 900 * METRE),
        (made.cord, 900 * METRE), (made.beads, 3000),
    ):  # fmt: skip
        stock.receive(session, item, much, Decimal(9), DAY)
    return made


@pytest.fixture
def batch(session: Session, bench: Bench) -> Batch:
    return begin_batch(session, {bench.variant: 6}, DAY)


def test_what_is_planned_is_what_the_price_has(
    session: Session, bench: Bench, batch: Batch
) -> None:
    rows = work.operations_of(session, batch)
    one = take_off_of(read_prices(session, DAY), bench.variant)
    assert {row.row.operation: row.row.count for row in rows} == {
        job.key: job.count * 6 for job in one.work
    }
    # Pieces and covers first, looked over and wrapped last, however the times are listed.
    assert [row.row.operation for row in rows][:4] == ["cut", "fold", "score", "punch"]
    assert rows[-1].row.operation == "finish"
    assert all(row.row.setups == 1 for row in rows)
    planned = sum((row.row.planned for row in rows), Decimal(0))
    assert abs(planned - Decimal(float(one.minutes_for(6)))) < Decimal("0.1") * len(rows)


def test_two_journals_share_an_operation_and_set_up_for_it_twice(
    session: Session, bench: Bench
) -> None:
    other = bench.begin("Smaller", leaf_height=150_000_000).current.variants[0]
    both = begin_batch(session, {bench.variant: 2, other: 3}, DAY)
    fold = next(r for r in work.operations_of(session, both) if r.row.operation == "fold")
    ones = [take_off_of(read_prices(session, DAY), v) for v in (bench.variant, other)]
    counts = [next(j.count for j in one.work if j.key == "fold") for one in ones]
    assert fold.row.count == counts[0] * 2 + counts[1] * 3
    assert fold.row.setups == 2


def test_the_clock_logs_what_it_ran_and_is_one(session: Session, batch: Batch) -> None:
    assert work.start_clock(session, batch, "fold", AT) is None
    with pytest.raises(DomainError, match="runs for this already"):
        work.start_clock(session, batch, "fold", later(1))
    assert work.start_clock(session, batch, "punch", later(12.5)) == Decimal("12.5")
    by_key = {row.row.operation: row for row in work.operations_of(session, batch)}
    assert by_key["fold"].logged == Decimal("12.5")
    assert by_key["punch"].running_since == later(12.5)
    assert by_key["fold"].running_since is None
    work.mark_done(session, batch, "punch", later(20))
    by_key = {row.row.operation: row for row in work.operations_of(session, batch)}
    assert (by_key["punch"].logged, by_key["punch"].row.done_at) == (Decimal("7.5"), later(20))
    assert work.running(session) is None
    assert work.minutes_logged(session, batch) == 20
    assert by_key["fold"].over == Decimal("12.5") - by_key["fold"].row.planned


def test_a_clock_outlives_the_program(sessions: sessionmaker[Session]) -> None:
    """Written down as it starts: another session, as after a crash, finds it running."""
    with transaction(sessions) as session:
        batch = begin_batch(session, {furnished(session).variant: 2}, DAY)
        work.start_clock(session, batch, "sew", AT)
        number = batch.id
    with transaction(sessions) as session:
        clock = work.running(session)
        assert clock is not None
        assert (clock.operation.operation, clock.started_at) == ("sew", AT)
        assert work.stop_clock(session, clock, later(61)) == 61
    with sessions() as session:
        assert work.minutes_logged(session, session.get_one(Batch, number)) == 61
        assert session.scalars(select(Clock)).all() == []


@pytest.mark.parametrize("minutes", [301, -1, 100_000])
def test_a_forgotten_clock_is_not_believed(session: Session, batch: Batch, minutes: int) -> None:
    work.start_clock(session, batch, "fold", AT)
    clock = work.running(session)
    assert clock is not None
    with pytest.raises(DomainError, match="type under Worked"):
        work.stop_clock(session, clock, later(minutes))
    with pytest.raises(DomainError, match="The clock still runs for fold folios"):
        finish_batch(session, batch, {}, Decimal(100), DAY)
    assert batch.state == "in progress"
    assert work.stop_clock(session, clock, later(minutes), Decimal(42)) == 42
    assert work.minutes_logged(session, batch) == 42


def test_minutes_typed_are_all_of_them(session: Session, batch: Batch) -> None:
    work.say_minutes(session, batch, "sew", Decimal(50), AT, Decimal(0))
    work.say_minutes(session, batch, "sew", Decimal(45), AT, Decimal(50))
    assert work.minutes_logged(session, batch) == 45
    with pytest.raises(DomainError, match="Meanwhile"):
        work.say_minutes(session, batch, "sew", Decimal(60), AT, Decimal(50))
    for wrong in (Decimal(-1), Decimal(100_001)):
        with pytest.raises(DomainError, match="Minutes lie between"):
            work.say_minutes(session, batch, "sew", wrong, AT, None)
    with pytest.raises(DomainError, match="no such operation"):
        work.say_minutes(session, batch, "dance", Decimal(1), AT, None)


def test_what_is_done_is_off_the_bench(session: Session, bench: Bench, batch: Batch) -> None:
    bench.agreed(6, 20)
    whole = the_bench(session, DAY).going[0].minutes
    rows = {row.row.operation: row.row for row in work.operations_of(session, batch)}
    planned = sum((row.planned for row in rows.values()), Decimal(0))
    work.mark_done(session, batch, "sew", AT)
    work.say_minutes(session, batch, "fold", rows["fold"].planned / 2, AT, None)
    left = planned - rows["sew"].planned - rows["fold"].planned / 2
    board = the_bench(session, DAY)
    assert board.going[0].minutes == whole * Fraction(left) / Fraction(planned)
    jobs = sum((job.minutes for job in board.needs.times.jobs), Fraction(0))
    assert jobs == board.going[0].minutes
    # More than planned is no time won elsewhere.
    work.say_minutes(session, batch, "fold", rows["fold"].planned * 3, AT, None)
    left = planned - rows["sew"].planned - rows["fold"].planned
    assert the_bench(session, DAY).going[0].minutes == whole * Fraction(left) / Fraction(planned)


def test_glue_waits_and_is_ready_in_time(session: Session, batch: Batch) -> None:
    [row] = [r for r in work.operations_of(session, batch) if r.row.operation == "fold"]
    row.row.waiting_hours = Decimal(12)
    assert row.waits_until(AT) is None
    work.mark_done(session, batch, "fold", AT)
    assert row.waits_until(later(60)) == AT + timedelta(hours=12)
    assert row.waits_until(AT + timedelta(hours=12)) is None
    work.mark_done(session, batch, "fold", AT, done=False)
    assert row.waits_until(later(60)) is None


def test_an_end_of_the_batch_ends_the_clock(session: Session, bench: Bench, batch: Batch) -> None:
    work.start_clock(session, batch, "fold", AT)
    with pytest.raises(DomainError, match="stop it below first"):
        finish_batch(session, batch, {}, Decimal(100), DAY)
    work.mark_done(session, batch, "fold", later(30))
    work.mark_done(session, batch, "fold", later(90))
    [fold] = [r for r in work.operations_of(session, batch) if r.row.operation == "fold"]
    assert fold.row.done_at == later(30)
    finish_batch(session, batch, {}, Decimal(100), DAY)
    assert work.minutes_logged(session, batch) == 30
    with pytest.raises(DomainError, match="is made"):
        work.start_clock(session, batch, "fold", AT)
    with pytest.raises(DomainError, match="is made"):
        work.mark_done(session, batch, "fold", AT)
    other = begin_batch(session, {bench.variant: 1}, DAY)
    work.start_clock(session, other, "fold", AT)
    cancel_batch(session, other)
    assert work.running(session) is None
    assert work.minutes_logged(session, other) == 0
    assert check_books(session) == []


def test_three_batches_say_what_an_operation_takes(session: Session, bench: Bench) -> None:
    allowance = read_prices(session, DAY).rates.allowance
    assert learning.proposals(session) == []
    for number in (2, 4, 7):
        batch = begin_batch(session, {bench.variant: number}, DAY)
        count = next(
            r.row.count for r in work.operations_of(session, batch) if r.row.operation == "fold"
        )
        minutes = (3 + Fraction(1, 2) * count) * (1 + allowance)
        work.say_minutes(session, batch, "fold", Decimal(float(minutes)).quantize(Decimal("0.0001")),
                         AT, None)  # fmt: skip
        finish_batch(session, batch, {}, Decimal(100), DAY)
    [fold] = learning.proposals(session)
    assert (fold.now.key, fold.setup, fold.each, fold.learned.batches) == (
        "fold", Decimal("3.00"), Decimal("0.50"), 3,
    )  # fmt: skip
    assert fold.differs
    with pytest.raises(DomainError, match="More was logged meanwhile"):
        learning.take_proposal(session, "fold", Decimal(3), Decimal("0.49"))
    learning.take_proposal(session, "fold", fold.setup, fold.each)
    now = operation_times(session)["fold"]
    assert (now.setup_minutes, now.minutes_each) == (3, Decimal("0.5"))
    assert not learning.proposals(session)[0].differs


def test_each_batch_begun_for_an_order_keeps_its_own_minutes(
    session: Session, bench: Bench
) -> None:
    first, second = bench.agreed(4, 30), bench.agreed(4, 60)
    done = begin_batch(session, {bench.variant: 4}, DAY, {first.lines[0]: 4})
    begin_batch(session, {bench.variant: 4}, DAY, {second.lines[0]: 4})
    for row in work.operations_of(session, done):
        work.mark_done(session, done, row.row.operation, AT)
    board = the_bench(session, DAY)
    whole = take_off_of(read_prices(session, DAY), bench.variant).minutes_for(4)
    assert [going.minutes for going in board.going] == [0, whole]
    by_reason = {board.needs.times.reasons[job.key]: job.minutes for job in board.needs.times.jobs}
    assert by_reason == {"Order 1, Ada": 0, "Order 2, Ada": whole}


def test_setting_up_for_several_journals_is_learned_as_such(session: Session, bench: Bench) -> None:
    """Twenty to set up and a half each, for two journals a batch; taken once it stays."""
    other = bench.begin("Smaller", leaf_height=150_000_000).current.variants[0]
    allowance = read_prices(session, DAY).rates.allowance
    for number in (1, 2, 4):
        batch = begin_batch(session, {bench.variant: number, other: number}, DAY)
        [fold] = [r.row for r in work.operations_of(session, batch) if r.row.operation == "fold"]
        minutes = (2 * 20 + Fraction(1, 2) * fold.count) * (1 + allowance)
        exact = Decimal(float(minutes)).quantize(Decimal("0.0001"))
        work.say_minutes(session, batch, "fold", exact, AT, None)
        finish_batch(session, batch, {}, Decimal(100), DAY)
    for _ in range(2):
        [found] = learning.proposals(session)
        assert (found.setup, found.each) == (20, Decimal("0.5"))
        learning.take_proposal(session, "fold", found.setup, found.each)
