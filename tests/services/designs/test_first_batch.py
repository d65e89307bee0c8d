"""A first batch by the learning curve: never cheaper than practised, and the same once practised."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from app.services.bench.batches import begin_batch
from app.services.bench.finishing import finish_batch
from app.services.designs.estimating import Estimate
from app.services.designs.first_batch import first_batch, made_so_far
from app.services.designs.journals import estimate_by
from app.services.designs.price_book import read_prices
from app.services.shop.settings import rates, the_shop
from app.services.stock import ledger as stock
from tests.conftest import DAY
from tests.factories import Bench

RATE = Decimal("0.8")


@pytest.fixture
def worked(session: Session) -> Estimate:
    return estimate_by(read_prices(session, DAY), Bench(session).variant, 4)


def test_by_hand(session: Session, worked: Estimate) -> None:
    """Practised after 4 at 80%: the first takes 1/0.64 of the time, the second 1/0.8."""
    normal = sum((job.count * job.minutes_each for job in worked.work), Fraction(0))
    each = normal * (1 + worked.allowance)
    found = first_batch(worked, RATE, 4, 0)
    third = float(each) / 0.64 * 3**-0.32192809
    more = float(each) * (1 / 0.64 - 1 + 1 / 0.8 - 1) + third - float(each)
    assert abs(float(found.more) - more) <= 0.05
    assert [number for number, _ in found.milestones] == [1, 2, 4]
    assert abs(float(found.milestones[0][1]) - float(each) / 0.64) <= 0.05
    hour = rates(the_shop(session))
    an_hour = hour.pay_per_hour + hour.overhead_per_hour
    assert abs(float(found.more_cost) - float(found.more) / 60 * float(an_hour)) <= 0.0051
    assert abs(found.each - found.each_standard - found.more_cost / 4) <= Decimal("0.005")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rate=st.integers(50, 100), practised=st.integers(1, 60), before=st.integers(0, 80))
def test_it_never_takes_less_and_practice_ends_it(
    worked: Estimate, rate: int, practised: int, before: int
) -> None:
    found = first_batch(worked, Decimal(rate) / 100, practised, before)
    assert found.more >= 0
    if before >= practised or rate == 100:
        assert (found.more, found.more_cost, found.each) == (0, 0, found.each_standard)
    times = [minutes for _, minutes in found.milestones]
    assert times == sorted(times, reverse=True)
    assert first_batch(worked, Decimal(rate) / 100, practised, before + 1).more <= found.more


def test_what_was_made_counts_whatever_its_design(session: Session) -> None:
    bench = Bench(session)
    assert made_so_far(session, bench.variant) == 0
    for thing, much in ((bench.sheet, 60), (bench.card_sheet, 20), (bench.thread, 10**11),
                        (bench.cord, 10**11), (bench.beads, 200)):  # fmt: skip
        stock.receive(session, thing, much, Decimal(9), DAY)
    batch = begin_batch(session, {bench.variant: 3}, DAY)
    assert made_so_far(session, bench.variant) == 0
    finish_batch(session, batch, {batch.lines[0].id: 2}, Decimal(90), DAY)
    assert made_so_far(session, bench.variant) == 3
