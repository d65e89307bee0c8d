"""Markets: what to take, and how many must be sold to pay for the day."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.services.designs.journals import estimate
from app.services.markets import markets
from app.services.shop.settings import StaleError
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def test_a_take_list_is_set_changed_and_emptied(session: Session, bench: Bench) -> None:
    market = bench.market(take=6)
    markets.set_take_list(session, market, {bench.variant.id: 9})
    assert [line.take for line in market.lines] == [9]
    markets.set_take_list(session, market, {bench.variant.id: 0})
    assert market.lines == []


def test_a_stale_list_is_told_so(session: Session, bench: Bench) -> None:
    market = bench.market()
    opened = market.version
    markets.set_take_list(session, market, {bench.variant.id: 1}, opened)
    with pytest.raises(StaleError):
        markets.set_take_list(session, market, {bench.variant.id: 2}, opened)


@pytest.mark.parametrize("take", [-1, 100_001])
def test_a_number_out_of_all_bounds_is_refused(session: Session, bench: Bench, take: int) -> None:
    with pytest.raises(DomainError) as caught:
        markets.set_take_list(session, bench.market(), {bench.variant.id: take})
    assert caught.value.field == f"take-{bench.variant.id}"


def test_a_variant_that_is_gone_is_refused(session: Session, bench: Bench) -> None:
    with pytest.raises(DomainError, match="gone"):
        markets.set_take_list(session, bench.market(), {999_999: 1})


def test_the_day_pays_for_itself_after_so_many(session: Session, bench: Bench) -> None:
    market = bench.market(take=6)
    worked = estimate(session, bench.variant, DAY)
    left = markets.average_contribution_of(
        market, {line.variant_id: line.take for line in market.lines}, {bench.variant.id: worked}
    )
    assert left is not None
    # The stall wants 38% and asks nothing yet, so its own price stands in: price less fee and
    # materials, the maker's hours and overhead not taken off.
    stall = worked.prices[1].at_suggested
    assert stall is not None
    assert left == Fraction(stall.price - stall.fees - worked.sheet.total("materials"))
    assert markets.sales_to_break_even(market, left) == 2


def test_an_average_that_is_no_decimal_breaks_even_exactly(session: Session, bench: Bench) -> None:
    market = bench.market()
    market.stall_fee = Decimal(10)
    assert markets.sales_to_break_even(market, Fraction(10, 3)) == 3


def test_an_empty_list_has_no_average(session: Session, bench: Bench) -> None:
    market = bench.market(take=0)
    worked = estimate(session, bench.variant, DAY)
    assert (
        markets.average_contribution_of(
            market,
            {line.variant_id: line.take for line in market.lines},
            {bench.variant.id: worked},
        )
        is None
    )
    market = bench.market(take=6)
    assert (
        markets.average_contribution_of(
            market, {line.variant_id: line.take for line in market.lines}, {}
        )
        is None
    )


def test_markets_to_come(session: Session, bench: Bench) -> None:
    market = bench.market(days=3)
    assert markets.upcoming(session, market.day) == [market]
    assert markets.upcoming(session, market.day + timedelta(days=1)) == []
