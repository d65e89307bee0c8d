"""More of a material for a batch, and some of it back: what it cost follows, to the last unit."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE
from app.models import Batch
from app.services.bench import materials
from app.services.bench.batches import (
    begin_batch,
    cancel_batch,
    where_used,
)
from app.services.bench.finishing import finish_batch
from app.services.bench.materials import materials_cost
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    made = Bench(session)
    for item, much, cost in (
        (made.sheet, 8, "8.00"), (made.sheet, 20, "40.00"), (made.card_sheet, 10, "10"),
        (made.thread, 50 * METRE, "5"), (made.cord, 50 * METRE, "12"), (made.beads, 120, "12"),
    ):  # fmt: skip
        stock.receive(session, item, much, Decimal(cost), DAY)
    return made


@pytest.fixture
def batch(session: Session, bench: Bench) -> Batch:
    return begin_batch(session, {bench.variant: 6}, DAY)


def test_more_is_taken_from_the_oldest_and_costs_the_batch(
    session: Session, bench: Bench, batch: Batch
) -> None:
    before, used = materials_cost(session, batch), materials.left_over(session, batch, bench.sheet)
    assert used == 8
    assert materials.take_more(session, batch, bench.sheet, 2, "spoiled", DAY) == Decimal("4.0000")
    assert materials_cost(session, batch) == before + 4
    assert materials.left_over(session, batch, bench.sheet) == 10
    [row] = where_used(session, bench.sheet)
    assert row.quantity == 10
    assert check_books(session) == []


def test_what_comes_back_goes_where_it_came_from_at_its_cost(
    session: Session, bench: Bench, batch: Batch
) -> None:
    stock_before = stock.holdings(session)[stock.item_key(bench.sheet)]
    before = materials_cost(session, batch)
    materials.take_more(session, batch, bench.sheet, 3, "more was needed", DAY)
    # The last lot first: two of the three at 2.00, and then the third with one of the first eight.
    assert materials.bring_back(session, batch, bench.sheet, 2, DAY) == Decimal("4.0000")
    assert materials.bring_back(session, batch, bench.sheet, 1, DAY) == Decimal("2.0000")
    assert materials_cost(session, batch) == before
    assert stock.holdings(session)[stock.item_key(bench.sheet)] == stock_before
    assert materials.bring_back(session, batch, bench.beads, 5, DAY) == Decimal("0.5000")
    batch_cost = materials_cost(session, batch)
    done = finish_batch(session, batch, {}, Decimal(100), DAY)
    assert (done.materials, done.total) == (batch_cost, done.made)
    assert check_books(session) == []
    with pytest.raises(DomainError, match="is made"):
        materials.bring_back(session, batch, bench.beads, 1, DAY)
    with pytest.raises(DomainError, match="is made"):
        materials.take_more(session, batch, bench.beads, 1, "spoiled", DAY)


@pytest.mark.parametrize("quantity", [0, -1, 37, 10**9])
def test_no_more_comes_back_than_went_in(
    session: Session, bench: Bench, batch: Batch, quantity: int
) -> None:
    with pytest.raises(DomainError) as refused:
        materials.bring_back(session, batch, bench.beads, quantity, DAY)
    assert refused.value.field == "quantity"
    with pytest.raises(DomainError):
        materials.take_more(session, batch, bench.beads, min(quantity, 0) or quantity * 9, "x", DAY)
    with pytest.raises(DomainError, match="Say why"):
        materials.take_more(session, batch, bench.beads, 1, " ", DAY)


def test_a_batch_given_up_gives_all_of_it_back(
    session: Session, bench: Bench, batch: Batch
) -> None:
    materials.take_more(session, batch, bench.beads, 10, "spoiled", DAY)
    materials.bring_back(session, batch, bench.beads, 4, DAY)
    cancel_batch(session, batch)
    assert stock.holdings(session)[stock.item_key(bench.beads)] == stock.Holding(120, Decimal(12))
    assert materials_cost(session, batch) == 0
    assert check_books(session) == []
