"""Reorder levels and economic quantities against textbooks and a general reference library."""

from __future__ import annotations

import warnings
from decimal import Decimal
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.planning.packs import PackOffer
from app.core.planning.reorder import (
    best_lots,
    cost_rate,
    economic_quantity,
    reorder_level,
    safety_factor,
    use_by_week,
)

with warnings.catch_warnings():
    # Its own docstrings have escapes that Python warns about as it compiles them.
    warnings.simplefilter("ignore")
    from stockpyl.eoq import economic_order_quantity_with_all_units_discounts as reference


def test_quantity_of_the_stockpyl_documentation() -> None:
    # stockpyl documentation (Snyder and Shen): K 8, h .225, D 1300: Q 304.0468, cost 68.4105.
    found = economic_quantity(8, 1300, 0.225)
    assert found == pytest.approx(304.0468, abs=5e-5)
    assert cost_rate(found, 8, 1300, 0.225, 0) == pytest.approx(68.4105, abs=5e-5)


def test_quantity_and_reorder_point_of_a_textbook_problem() -> None:
    # An operations textbook: D 2500, S 18.75, H 1.50, 250 days, lead time 3: Q 250, reorder at 30,
    # cost 375.
    found = economic_quantity(18.75, 2500, 1.50)
    assert found == pytest.approx(250)
    assert reorder_level(2500 / 250, 0, 3, 0) == pytest.approx(30)
    assert cost_rate(found, 18.75, 2500, 1.50, 0) == pytest.approx(375)


def single(breaks: dict[int, str], key: int = 1, pack: int = 1, lead: int = 0) -> PackOffer:
    """An offer of packs with its prices, by least number of packs."""
    return PackOffer(key, pack, tuple((n, Decimal(p)) for n, p in sorted(breaks.items())), lead)


def test_quantity_with_breaks_of_a_solved_problem() -> None:
    # A solved problem: D 800, S 60, i 30%; 53, 51.50, 49.50, 48, 47 from 1, 50, 100, 200, 500:
    # Q 200 at 40,080.
    offer = single({1: "53", 50: "51.50", 100: "49.50", 200: "48", 500: "47"})
    [found] = best_lots([offer], 60, 800, 0.30)
    assert (found.packs, found.pack_price) == (200, 48)
    assert found.yearly == pytest.approx(40_080)


def test_quantity_with_breaks_computed() -> None:
    # Computed: D 5000, S 49, i 20%; 5.00, 4.80, 4.75 from 0, 1000, 2000: Q 1000 at 24,725.
    [found] = best_lots([single({1: "5", 1000: "4.80", 2000: "4.75"})], 49, 5000, 0.20)
    assert found.packs == 1000
    assert found.yearly == pytest.approx(24_725)


def test_quantity_with_breaks_of_the_stockpyl_documentation() -> None:
    # stockpyl documentation: K 200, i .20, D 1000; 500, 475, 450 from 0, 200, 500: 500 at 472,900.
    [found] = best_lots([single({1: "500", 200: "475", 500: "450"})], 200, 1000, 0.20)
    assert (found.packs, found.cost) == (500, 225_000)
    assert found.yearly == pytest.approx(472_900)


def test_100_packs_at_the_deepest_break_lose_to_another_supplier_at_73_57_a_year() -> None:
    # Ten and a half packs are used in a year. At 5.00 from 100 packs the deepest break lies 9.6
    # years away: 102.52 a year. The other supplier asks 6.00 from the first pack.
    deep = single({1: "7", 100: "5"}, key=1, pack=10)
    other = single({1: "6"}, key=2, pack=10)
    used = 104.4
    best, worse = best_lots([deep, other], 5, used, 0.2)
    hundred = cost_rate(1000, 5, used, 0.2 * 0.5, 0.5)
    assert hundred == pytest.approx(102.72, abs=0.01)
    assert (best.offer.key, best.packs) == (2, 9)
    assert best.yearly == pytest.approx(73.84, abs=0.01)
    assert worse.packs < 100
    assert worse.yearly < hundred


offers_made = st.lists(
    st.builds(
        lambda pack, price, steps, lead: PackOffer(
            lead, pack,
            tuple(
                (n, (price * (Decimal(1) - Decimal("0.04") * i)).quantize(Decimal("0.01")))
                for i, n in enumerate([1, *sorted(steps)])
            ),
            lead,
        ),
        st.integers(1, 60), st.decimals(1, 90, places=2),
        st.sets(st.integers(2, 40), max_size=3), st.integers(0, 30),
    ),
    min_size=1, max_size=4,
)  # fmt: skip


@given(offers_made, st.floats(0, 60), st.floats(1, 5000), st.floats(0.01, 1), st.integers(0, 900))
def test_no_whole_number_of_packs_of_anybody_costs_less_in_a_year(
    offers: list[PackOffer], fixed: float, demand: float, rate: float, least: int
) -> None:
    found = best_lots(offers, fixed, demand, rate, least)

    def yearly(offer: PackOffer, packs: int) -> float:
        each = float([p for n, p in offer.breaks if n <= packs][-1]) / offer.quantity
        return cost_rate(packs * offer.quantity, fixed, demand, rate * each, each)

    for lot in found:
        fewest = max(-(-least // lot.offer.quantity), 1)
        every = [yearly(lot.offer, n) for n in range(fewest, max(fewest, lot.packs, 40) + 60)]
        assert lot.quantity >= least
        assert lot.yearly == pytest.approx(min(every), rel=1e-12)
        assert lot.pack_price == [p for n, p in lot.offer.breaks if n <= lot.packs][-1]
    assert found[0].yearly == min(lot.yearly for lot in found)


def test_nobody_to_order_from_is_refused() -> None:
    with pytest.raises(DomainError, match="no price"):
        best_lots([], 5, 100, 0.2)


def test_of_two_suppliers_of_one_cost_the_quicker_comes_first() -> None:
    slow, quick = single({1: "6"}, key=1, lead=9), single({1: "6"}, key=2, lead=2)
    assert [lot.offer.key for lot in best_lots([slow, quick], 5, 100, 0.2)] == [2, 1]


@given(
    st.floats(1, 500), st.floats(10, 50_000), st.floats(0.05, 0.6),
    st.lists(st.integers(1, 500), min_size=1, max_size=4, unique=True), st.integers(100, 10_000),
)  # fmt: skip
def test_breaks_agree_with_a_reference_library(
    fixed: float, demand: float, rate: float, steps: list[int], price: int
) -> None:
    # stockpyl (Snyder and Shen), the all-units discount model: whole numbers cost no less than its
    # continuous answer, and hardly more.
    points = [1, *sorted(10 * step for step in steps)]
    cents = [Decimal(price * (100 - 3 * n)).scaleb(-4) for n in range(len(points))]
    [found] = best_lots(
        [PackOffer(1, 1, tuple(zip(points, cents, strict=True)), 0)], fixed, demand, rate
    )
    quantity, _, cost = reference(
        fixed, rate, demand, [0.0, *points[1:]], [float(c) for c in cents]
    )
    assert found.yearly >= cost * (1 - 1e-9)
    for near in {max(int(quantity), 1), ceil(quantity)}:
        price_there = float(
            next(c for n, c in reversed(list(zip(points, cents, strict=True))) if n <= near)
        )
        assert found.yearly <= cost_rate(near, fixed, demand, rate * price_there, price_there) * (
            1 + 1e-9
        )


def test_safety_stock_of_stevenson() -> None:
    # Stevenson, Operations Management, 14th ed., p. 528: demand in lead time 50, σ 5, 3% risk:
    # z 1.88, safety 9.40, reorder at 59.40.
    z = safety_factor(0.97)
    assert round(z, 2) == 1.88
    assert reorder_level(50, 5, 1, 1.88) == pytest.approx(59.40)


def test_a_lead_time_that_varies() -> None:
    # An operations textbook, ch. 12: 60 a week, lead time 6 weeks with σ 2 weeks, service 90%
    # (z 1.28): 513.6, so 514.
    found = reorder_level(60, 0, 6, 1.28, 2)
    assert found == pytest.approx(513.6)
    assert ceil(found) == 514
    assert round(safety_factor(0.90), 2) == 1.28


@pytest.mark.parametrize("service", [0.2, 1.0, 1.4])
def test_a_service_that_cannot_be_wanted(service: float) -> None:
    with pytest.raises(DomainError):
        safety_factor(service)


def test_use_counts_quiet_weeks() -> None:
    use = use_by_week([4, 0, 0, 8])
    assert (use.weeks, use.mean, use.total) == (4, 3, 12)
    assert use_by_week([5]).sd == 0
    assert use_by_week([]).weeks == 0
