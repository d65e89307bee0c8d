"""The honest date beside an order: what is on the shelf, to make, to buy, and who is pushed."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.length import METRE
from app.models.shop import WEEKDAYS
from app.services.bench.board import the_bench
from app.services.bench.promising import Promise, in_words, promise
from app.services.designs.journals import take_off_of
from app.services.designs.price_book import read_prices
from app.services.orders import orders
from app.services.shop.settings import change_settings, the_shop
from app.services.stock import ledger as stock
from tests.conftest import DAY
from tests.factories import Bench, offer, supplier


@pytest.fixture
def bench(session: Session) -> Bench:
    """Four hours a day, every day; all materials in stock."""
    made = Bench(session)
    week = dict.fromkeys(WEEKDAYS, 240)
    change_settings(session, {"currency": the_shop(session).currency, **week}, None)
    for item, much in (
        (made.sheet, 300), (made.card_sheet, 90), (made.thread, 500 * METRE),
        (made.cord, 500 * METRE), (made.beads, 900),
    ):  # fmt: skip
        stock.receive(session, item, much, Decimal(9), DAY)
    return made


def asked(session: Session, bench: Bench, number: int, by: int | None = None) -> Promise:
    wanted_by = None if by is None else DAY + timedelta(days=by)
    return promise(session, {bench.variant: number}, wanted_by, DAY)


def bench_days(session: Session, bench: Bench, number: int) -> int:
    """Days of four hours that so many take, and the night they are pressed."""
    one = take_off_of(read_prices(session, DAY), bench.variant)
    return int(-(-one.minutes_for(number) // 240)) - 1 + max(one.waiting_days, 1)


def test_what_is_on_the_shelf_for_nobody_is_there_now(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 5, Decimal(50), DAY, kind="made")
    found = asked(session, bench, 5)
    assert (found.day, found.to_make) == (DAY, 0)
    assert in_words(found, None, DAY) == "On the shelf now, and wanted by nobody else."
    bench.agreed(2)
    assert asked(session, bench, 5).to_make == 2


def test_the_bench_alone_decides_where_all_is_here(session: Session, bench: Bench) -> None:
    found = asked(session, bench, 10)
    assert found.day == DAY + timedelta(days=bench_days(session, bench, 10))
    assert (found.ready, found.waits_for, found.missing) == (DAY, "", ())
    assert "10 to make" in in_words(found, None, DAY)


def test_it_waits_for_what_must_be_bought(session: Session, bench: Bench) -> None:
    stock.count(session, bench.beads, 0, DAY, "spoiled")
    found = asked(session, bench, 3)
    assert (found.ready, found.waits_for) == (DAY + timedelta(days=3), "Beads")
    assert found.day == DAY + timedelta(days=3 + bench_days(session, bench, 3))
    offer(session, bench.beads, "9", 60, lead=1, by=supplier(session, "Round the corner"))
    assert asked(session, bench, 3).ready == DAY + timedelta(days=1)


def test_what_nobody_offers_has_no_date(session: Session, bench: Bench) -> None:
    stock.count(session, bench.beads, 0, DAY, "spoiled")
    for old in bench.beads.offers:
        old.valid_from = DAY + timedelta(days=9)
    session.flush()
    session.expire_all()
    found = asked(session, bench, 3)
    assert found.day is None
    assert any("Beads" in word for word in found.missing)
    assert in_words(found, None, DAY).startswith("No honest day yet")


def test_an_earlier_day_says_whom_it_pushes_and_the_honest_one_pushes_nobody(
    session: Session, bench: Bench
) -> None:
    for number, days in ((60, 12), (20, 22)):
        bench.agreed(number, days, who=f"Customer {days}")
    honest = asked(session, bench, 20).day
    assert honest is not None
    late = promise(session, {bench.variant: 20}, honest, DAY)
    assert late.late == ()
    early = asked(session, bench, 20, 8)
    assert early.late
    assert "it makes late: Order 1, Customer 12" in in_words(early, DAY + timedelta(days=8), DAY)
    # Accepted for the honest day, everybody is still in time: the bench is not too full.
    order = bench.order(20, (honest - DAY).days, who="New")
    orders.agree_order(session, order, DAY)
    assert the_bench(session, DAY).overfull is None


def test_no_hours_no_date(session: Session, bench: Bench) -> None:
    week = dict.fromkeys(WEEKDAYS, 0) | {"monday": 1}
    change_settings(session, {"currency": the_shop(session).currency, **week}, None)
    found = asked(session, bench, 300)
    assert found.day is None
    assert "too few hours" in in_words(found, None, DAY)
