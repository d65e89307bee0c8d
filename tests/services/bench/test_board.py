"""The bench at a glance: what is next, what goes on, what to begin together, by the hand's sums."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.length import METRE
from app.models.shop import WEEKDAYS
from app.services.bench.batches import begin_batch
from app.services.bench.board import Going, Proposal, the_bench
from app.services.bench.finishing import finish_batch
from app.services.designs.journals import begin_journal, take_off_of
from app.services.designs.price_book import read_prices
from app.services.orders import shelf
from app.services.shop.settings import change_settings, the_shop
from app.services.stock import ledger as stock
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    made = Bench(session)
    week = dict.fromkeys(("monday", "tuesday", "wednesday", "thursday", "friday"), 120)
    change_settings(session, {"currency": the_shop(session).currency, **week}, None)
    for item, much in (
        (made.sheet, 90), (made.card_sheet, 30), (made.thread, 90 * METRE),
        (made.cord, 90 * METRE), (made.beads, 300),
    ):  # fmt: skip
        stock.receive(session, item, much, Decimal(9), DAY)
    return made


def test_an_empty_bench_has_nothing_next(session: Session) -> None:
    board = the_bench(session, DAY)
    assert (board.next, board.going, board.proposals, board.has_hours) == (None, (), (), True)
    assert len(board.weeks) == 8
    none = dict.fromkeys(WEEKDAYS, 0)
    change_settings(session, {"currency": the_shop(session).currency, **none}, None)
    assert not the_bench(session, DAY).has_hours


def test_what_is_wanted_soon_is_proposed_apart_from_what_is_wanted_late(
    session: Session, bench: Bench
) -> None:
    soon, near, late = bench.agreed(3, 10), bench.agreed(2, 13), bench.agreed(4, 60)
    board = the_bench(session, DAY)
    assert [[(p.variant, p.quantity) for p in one.parts] for one in board.proposals] == [
        [(bench.variant, 5)], [(bench.variant, 4)],
    ]  # fmt: skip
    first, second = board.proposals
    assert (first.orders, second.orders) == ((soon.id, near.id), (late.id,))
    one = take_off_of(read_prices(session, DAY), bench.variant)
    assert (first.minutes, second.minutes) == (one.minutes_for(5), one.minutes_for(4))
    assert board.next is first
    assert first.start_by == min(board.needs.times.start(peg.demand) for peg in first.pegs)
    assert any("is wanted by" in sentence for sentence in first.sums)


def test_journals_of_one_paper_go_together_and_of_another_do_not(
    session: Session, bench: Bench
) -> None:
    other = begin_journal(session, "Same paper", bench.draft(leaf_height=150_000_000))
    draft = bench.draft()
    draft.choices["leaves"] = bench.card
    third = begin_journal(session, "Of card", draft)
    bench.agreed(3, 12)
    bench.agreed(2, 13, variant=other.current.variants[0])
    bench.agreed(1, 13, variant=third.current.variants[0])
    found = [{p.variant.full_name for p in one.parts} for one in the_bench(session, DAY).proposals]
    assert {bench.variant.full_name, other.current.variants[0].full_name} in found
    assert {third.current.variants[0].full_name} in found


def test_what_is_begun_goes_on_for_whom_it_is_and_is_proposed_no_more(
    session: Session, bench: Bench
) -> None:
    order = bench.agreed(4, 12)
    begin_batch(session, {bench.variant: 6}, DAY, {order.lines[0]: 4})
    board = the_bench(session, DAY)
    [going] = board.going
    assert board.proposals == ()
    assert [demand.link for demand in going.demands] == [f"order-{order.id}"]
    one = take_off_of(read_prices(session, DAY), bench.variant)
    assert going.minutes == one.minutes_for(4) + one.minutes_for(2)
    assert going.leave_by == order.wanted_by - timedelta(days=max(one.waiting_days, 1))
    assert board.next is going
    assert not going.late
    assert the_bench(session, order.wanted_by).going[0].late
    finish_batch(session, going.batch, {}, Decimal(100), DAY)
    shelf.set_aside(session, order, DAY)
    after = the_bench(session, DAY)
    assert (after.going, after.proposals, after.next) == ((), (), None)


def test_next_is_what_presses_most(session: Session, bench: Bench) -> None:
    begin_batch(session, {bench.variant: 1}, DAY)
    assert isinstance(the_bench(session, DAY).next, Going)
    bench.agreed(20, 6)
    board = the_bench(session, DAY)
    assert isinstance(board.next, Proposal)
    assert board.next.late
    assert board.weeks[0].over > 0
    assert board.overfull is not None
