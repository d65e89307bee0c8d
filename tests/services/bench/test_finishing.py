"""A batch finished in parts: nothing costs more or less for it, and the rest goes on."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import BatchState, MovementKind
from app.models import Batch, Movement, Offer, OfferBreak, OrderLine
from app.services.bench.batches import begin_batch, cancel_batch
from app.services.bench.board import the_bench
from app.services.bench.finishing import (
    Came,
    finish_batch,
    finish_part,
    set_aside_of,
    standard_minutes,
    work_cost,
)
from app.services.bench.materials import bring_back, left_over, materials_cost, materials_left
from app.services.designs.journals import estimate_by
from app.services.designs.price_book import read_prices
from app.services.orders.deliveries import made_in
from app.services.orders.orders import agree_order
from app.services.orders.shelf import to_make_for
from app.services.planning.requirements import needs
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.stock.ledger import item_key
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    found = Bench(session)
    for thing, much in ((found.sheet, 200), (found.card_sheet, 60), (found.thread, 10**12),
                        (found.cord, 10**12), (found.beads, 900)):  # fmt: skip
        stock.receive(session, thing, much, Decimal("77.77"), DAY)
    return found


def out_of(session: Session, batch: Batch) -> Decimal:
    made = session.scalar(
        select(func.sum(Movement.cost)).where(
            Movement.batch_id == batch.id, Movement.kind == MovementKind.MADE
        )
    )
    return (made or Decimal(0)) + (batch.spoiled_cost or Decimal(0))


def test_a_part_takes_its_share_of_materials_and_the_minutes_told(
    session: Session, bench: Bench
) -> None:
    batch = begin_batch(session, {bench.variant: 4}, DAY)
    [line] = batch.lines
    whole = materials_cost(session, batch)
    cost = finish_part(session, batch, {line.id: Came(1, 1, "torn")}, Decimal(60), DAY)
    assert cost.materials == whole / 2
    # An hour is 15.00: shared by one good and one spoiled, to a hundredth of a cent.
    assert (cost.work, cost.made + cost.spoiled) == (15, whole / 2 + 15)
    assert abs(cost.made - cost.spoiled) <= Decimal("0.0001")
    assert (line.good, line.spoiled, line.left, line.why_spoiled) == (1, 1, 2, "torn")
    assert (batch.state, stock.on_hand(session, bench.variant)) == (BatchState.IN_PROGRESS, 1)
    assert materials_left(session, batch) == whole / 2
    assert check_books(session) == []
    done = finish_batch(session, batch, {line.id: 1}, Decimal(30), DAY, {line.id: "glue"})
    assert (batch.state, batch.minutes, batch.work_cost) == (BatchState.MADE, 90, Decimal("22.5"))
    assert (line.good, line.spoiled, line.why_spoiled) == (2, 2, "torn; glue")
    assert done.made + done.spoiled == whole / 2 + Decimal("7.5")
    assert out_of(session, batch) == whole + Decimal("22.5")
    assert check_books(session) == []


def test_what_is_finished_is_set_aside_and_only_the_rest_is_still_to_come(
    session: Session, bench: Bench
) -> None:
    order = bench.agreed(4)
    [wanted] = order.lines
    batch = begin_batch(session, {bench.variant: 4}, DAY, {wanted: 4})
    [line] = batch.lines
    before = standard_minutes(session, batch, DAY)
    worked_out = estimate_by(read_prices(session, DAY), bench.variant, 4).minutes_for(4)
    assert abs(Fraction(before) - worked_out) <= Fraction(1, 20)
    [going] = the_bench(session, DAY).going
    finish_part(session, batch, {line.id: Came(3, 0)}, Decimal(90), DAY)
    [made] = made_in(session, order)
    assert (made.quantity, made.good, made.left) == (4, 3, 1)
    assert to_make_for(session, [order]) == {}
    assert not needs(session, DAY).to_make[item_key(bench.variant)].short
    assert standard_minutes(session, batch, DAY) < before
    [now] = the_bench(session, DAY).going
    assert 0 < now.minutes < going.minutes
    finish_batch(session, batch, {line.id: 0}, Decimal(5), DAY)
    assert to_make_for(session, [order]) == {wanted: 1}
    assert check_books(session) == []


def test_lines_of_one_journal_cost_the_same(session: Session, bench: Bench) -> None:
    order = bench.order(2)
    order.lines.append(
        OrderLine(variant=bench.variant, quantity=1, unit_price=Decimal(40), asked_for="A.B.")
    )
    agree_order(session, order, DAY)
    first, second = order.lines
    batch = begin_batch(session, {bench.variant: 4}, DAY, {first: 2, second: 1})
    cost = finish_batch(
        session, batch, {line.id: line.left for line in batch.lines}, Decimal(150), DAY
    )
    made = session.execute(
        select(Movement.cost, Movement.quantity).where(
            Movement.batch_id == batch.id, Movement.kind == MovementKind.MADE
        )
    ).all()
    each = {Fraction(one) / n for one, n in made}
    assert sum(n for _, n in made) == 4
    assert max(each) - min(each) <= Fraction(1, 10_000)
    assert sum(one for one, _ in made) == cost.total


def test_an_hour_costs_its_pay_and_its_overhead(session: Session, bench: Bench) -> None:
    shop = the_shop(session)
    shop.pay_per_hour, shop.overhead_a_year, shop.bench_hours_a_year = (
        Decimal(15),
        Decimal(1500),
        500,
    )
    assert work_cost(session, Decimal(40)) == Decimal(12)


def test_where_nothing_has_a_price_each_takes_as_much_as_another(
    session: Session, bench: Bench
) -> None:
    batch = begin_batch(session, {bench.variant: 4}, DAY)
    went_in = materials_left(session, batch)
    shop = the_shop(session)
    shop.pay_per_hour = shop.overhead_a_year = Decimal(0)
    for table in (OfferBreak, Offer):
        session.execute(delete(table))
    session.expire_all()
    [line] = batch.lines
    assert estimate_by(read_prices(session, DAY), line.variant, 4).sheet.total() == 0
    cost = finish_part(session, batch, {line.id: Came(1)}, Decimal(0), DAY)
    assert went_in > 1
    assert abs(cost.total - went_in / 4) <= Decimal("0.0001")
    assert cost.total == cost.materials == cost.made


def test_what_is_not_left_cannot_come_out(session: Session, bench: Bench) -> None:
    batch = begin_batch(session, {bench.variant: 3}, DAY)
    [line] = batch.lines
    for came, words in ((Came(4), "only 3 are left"), (Came(2, 2), "only 3 are left"),
                        (Came(-1, 2), "only 3 are left"), (Came(0), "how many are finished"),
                        (Came(2, 1), "finish the batch instead")):  # fmt: skip
        with pytest.raises(DomainError, match=words):
            finish_part(session, batch, {line.id: came}, Decimal(10), DAY)
    with pytest.raises(DomainError, match="below zero"):
        finish_part(session, batch, {line.id: Came(1)}, Decimal(-1), DAY)
    finish_part(session, batch, {line.id: Came(1)}, Decimal(10), DAY)
    with pytest.raises(DomainError, match="Some of it came out already"):
        cancel_batch(session, batch)
    with pytest.raises(DomainError, match="Between 0 and 2"):
        finish_batch(session, batch, {line.id: 3}, Decimal(10), DAY)
    finish_batch(session, batch, {}, Decimal(10), DAY)
    with pytest.raises(DomainError, match="is made"):
        finish_part(session, batch, {line.id: Came(1)}, Decimal(10), DAY)


def test_what_went_into_the_finished_ones_is_not_brought_back(
    session: Session, bench: Bench
) -> None:
    batch = begin_batch(session, {bench.variant: 4}, DAY)
    [line] = batch.lines
    finish_part(session, batch, {line.id: Came(2, 1, "torn")}, Decimal(30), DAY)
    goods = (bench.cord, bench.thread, bench.sheet, bench.card_sheet, bench.beads)

    def bring_all() -> None:
        for thing in goods:
            bring_back(session, batch, thing, left_over(session, batch, thing), DAY)

    kept = session.begin_nested()
    with pytest.raises(DomainError, match="bring back less"):
        bring_all()
    kept.rollback()
    bring_back(session, batch, bench.beads, 1, DAY)
    assert materials_left(session, batch) >= 0
    finish_batch(session, batch, {}, Decimal(0), DAY)
    assert check_books(session) == []


def test_a_journal_of_a_batch_that_is_all_out_stands_in_no_other_parts_way(
    session: Session, bench: Bench
) -> None:
    second = bench.begin("Other", leaf_height=150_000_000).current.variants[0]
    batch = begin_batch(session, {bench.variant: 1, second: 2}, DAY)
    first, other = batch.lines
    finish_part(session, batch, {first.id: Came(1)}, Decimal(0), DAY)
    finish_part(session, batch, {other.id: Came(1)}, Decimal(0), DAY)
    assert (first.left, other.left) == (0, 1)


def test_a_part_of_one_journal_leaves_the_other_its_own(session: Session, bench: Bench) -> None:
    second = bench.begin("Other", leaf_height=150_000_000).current.variants[0]
    batch = begin_batch(session, {bench.variant: 2, second: 2}, DAY)
    whole = materials_cost(session, batch)
    assert materials_left(session, batch) == whole
    first, other = batch.lines
    book = read_prices(session, DAY)
    costs = [Fraction(estimate_by(book, x.variant, 2).sheet.total()) for x in (first, other)]
    # Nothing was spoiled, so a reason that was typed says nothing.
    cost = finish_part(session, batch, {first.id: Came(1, 0, "hm")}, Decimal(0), DAY)
    exact = Fraction(whole) * costs[0] / (2 * costs[0] + 2 * costs[1])
    assert abs(Fraction(cost.made) - exact) <= Fraction("0.0001")
    assert (first.why_spoiled, first.left, other.left) == ("", 1, 2)
    assert materials_left(session, batch) == whole - cost.made


def test_whom_it_was_set_aside_for_is_told_by_order(session: Session, bench: Bench) -> None:
    one, two = bench.agreed(2), bench.agreed(3)
    made_for = {one.lines[0]: 2, two.lines[0]: 3}
    elsewhere = begin_batch(session, {bench.variant: 5}, DAY, made_for)
    batch = begin_batch(session, {bench.variant: 1}, DAY)
    finish_batch(session, elsewhere, {}, Decimal(9), DAY)
    finish_batch(session, batch, {}, Decimal(9), DAY)
    assert set_aside_of(session, elsewhere) == {one.number: 2, two.number: 3}
    assert set_aside_of(session, batch) == {}


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 2), st.integers(0, 200)), max_size=5),
       st.booleans())  # fmt: skip
def test_in_any_parts_cost_in_is_cost_out(
    session: Session, bench: Bench, parts: list[tuple[int, int, int]], other: bool
) -> None:
    with session.begin_nested() as kept:
        second = bench.begin("Other", leaf_height=150_000_000).current.variants[0]
        wanted = {bench.variant: 7} | ({second: 3} if other else {})
        batch = begin_batch(session, wanted, DAY)
        for n, (good, spoiled, minutes) in enumerate(parts):
            line = batch.lines[n % len(batch.lines)]
            try:
                came = {line.id: Came(good, spoiled, "x")}
                finish_part(session, batch, came, Decimal(minutes), DAY)
            except DomainError:
                continue
            whole = materials_cost(session, batch) + (batch.work_cost or Decimal(0))
            assert out_of(session, batch) + materials_left(session, batch) == whole
            assert materials_left(session, batch) >= 0
        finish_batch(session, batch, {}, Decimal(33), DAY)
        assert out_of(session, batch) == materials_cost(session, batch) + batch.work_cost  # type: ignore[operator]
        assert all(line.left == 0 for line in batch.lines)
        assert check_books(session) == []
        kept.rollback()
