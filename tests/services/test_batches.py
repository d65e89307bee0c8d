"""Batches: what went in leads to what came out, at its actual cost, and back."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE
from app.models import Lot
from app.services import batches, stock
from app.services.buying import buy_list
from app.services.checking import check_books
from app.services.in_hand import in_hand
from app.services.journals import estimate
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    made = Bench(session)
    stock.receive(session, made.sheet, 30, Decimal("24.00"), DAY)
    stock.receive(session, made.card_sheet, 10, Decimal("12.00"), DAY)
    stock.receive(session, made.thread, 50 * METRE, Decimal("5.00"), DAY)
    stock.receive(session, made.cord, 50 * METRE, Decimal("12.00"), DAY)
    stock.receive(session, made.beads, 120, Decimal("12.00"), DAY)
    return made


def test_materials_leave_and_journals_come_at_actual_cost(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 12}, DAY)
    # 12 journals: 149 folios at 10 a sheet are 15 sheets at 0.80; 13 covers at 4 are 4 at 1.20;
    # 72 beads at 0.10.
    cost = {
        stock.item_key(stock.thing_of(m.lot)): -m.cost for m in batches.movements_of(session, batch)
    }
    assert cost[stock.item_key(bench.sheet)] == Decimal("12.0000")
    assert cost[stock.item_key(bench.card_sheet)] == Decimal("4.8000")
    assert cost[stock.item_key(bench.beads)] == Decimal("7.2000")
    assert in_hand(session) == {stock.item_key(bench.variant): 12}
    minutes = batches.standard_minutes(session, batch, DAY)
    found = batches.finish_batch(session, batch, {}, minutes, DAY)
    assert found.made == found.total == found.materials + found.work
    [lot] = session.scalars(select(Lot).where(Lot.variant_id == bench.variant.id))
    assert (lot.cost, lot.batch_id) == (found.total, batch.id)
    assert stock.on_hand(session, bench.variant) == 12
    standard = estimate(session, bench.variant, DAY, 12).sheet.total()
    assert abs(found.total / 12 - standard) < standard / 2
    assert check_books(session) == []


def test_a_lot_leads_to_its_journals(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 6}, DAY)
    batches.finish_batch(session, batch, {}, Decimal(100), DAY)
    [row] = batches.where_used(session, bench.sheet)
    assert (row.batch, row.quantity) == (batch, 8)
    assert [line.variant for line in row.batch.lines] == [bench.variant]
    lots = {m.lot_id for m in batches.movements_of(session, batch) if m.kind == "issued"}
    assert len(lots) == 5


def test_spoiled_ones_are_no_cost_of_the_good(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 10}, DAY)
    [line] = batch.lines
    found = batches.finish_batch(session, batch, {line.id: 8}, Decimal(300), DAY)
    assert (line.good, line.spoiled) == (8, 2)
    assert found.made + found.spoiled == found.total
    assert abs(found.spoiled * 4 - found.made) < Decimal("0.001")
    assert check_books(session) == []


def test_what_is_short_is_said_and_nothing_leaves(session: Session, bench: Bench) -> None:
    with pytest.raises(DomainError) as caught, session.begin_nested():
        batches.begin_batch(session, {bench.variant: 200}, DAY)
    for name in (bench.paper.name, bench.card.name, bench.beads.name):
        assert name in caught.value.message
    assert stock.on_hand(session, bench.sheet) == 30
    with pytest.raises(DomainError, match="how many of which"):
        batches.begin_batch(session, {bench.variant: 0}, DAY)


def test_a_batch_not_made_after_all_gives_everything_back(session: Session, bench: Bench) -> None:
    before = stock.holdings(session)
    batch = batches.begin_batch(session, {bench.variant: 12}, DAY)
    batches.cancel_batch(session, batch)
    assert stock.holdings(session) == before
    assert in_hand(session) == {}
    with pytest.raises(DomainError):
        batches.finish_batch(session, batch, {}, Decimal(1), DAY)
    assert batches.where_used(session, bench.sheet) == []
    assert check_books(session) == []


def test_work_in_hand_is_not_bought_for_twice(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=12)
    assert buy_list(session, DAY).needs.to_make[stock.item_key(bench.variant)].short == 12
    batch = batches.begin_batch(session, {bench.variant: 12}, DAY)
    found = buy_list(session, DAY)
    assert found.lines == []
    assert found.needs.to_make[stock.item_key(bench.variant)].short == 0
    batches.finish_batch(session, batch, {}, Decimal(60), DAY)
    assert buy_list(session, DAY).lines == []


def test_nothing_of_a_batch_is_undone_by_itself(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 3}, DAY)
    for movement in batches.movements_of(session, batch):
        with pytest.raises(DomainError, match="belongs to a batch"):
            stock.reverse(session, movement, "a slip")
    batches.finish_batch(session, batch, {}, Decimal(60), DAY)
    for movement in batches.movements_of(session, batch):
        with pytest.raises(DomainError, match="belongs to a batch"):
            stock.reverse(session, movement, "a slip")
    assert (batch.minutes, batch.spoiled_cost) == (60, 0)
    assert check_books(session) == []


def test_more_than_were_begun_cannot_come_out(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 3}, DAY)
    [line] = batch.lines
    with pytest.raises(DomainError, match="Between 0 and 3"):
        batches.finish_batch(session, batch, {line.id: 4}, Decimal(1), DAY)
    with pytest.raises(DomainError, match="below zero"):
        batches.finish_batch(session, batch, {}, Decimal(-1), DAY)
