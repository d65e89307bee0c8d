"""Reorder levels and economic quantities against textbooks and a general reference library."""

from __future__ import annotations

import warnings

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.planning.reorder import (
    cost_rate,
    economic_quantity,
    economic_with_breaks,
    reorder_level,
    safety_factor,
    use_by_week,
    whole_packs,
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


def test_quantity_with_breaks_of_a_solved_problem() -> None:
    # A solved problem: D 800, S 60, i 30%; 53, 51.50, 49.50, 48, 47 from 1, 50, 100, 200, 500:
    # Q 200 at 40,080.
    breaks = {1.0: 53.0, 50.0: 51.5, 100.0: 49.5, 200.0: 48.0, 500.0: 47.0}
    found = economic_with_breaks(60, 800, 0.30, breaks)
    assert (found.quantity, found.price) == (200, 48)
    assert found.cost == pytest.approx(40_080)


def test_quantity_with_breaks_computed() -> None:
    # Computed: D 5000, S 49, i 20%; 5.00, 4.80, 4.75 from 0, 1000, 2000: Q 1000 at 24,725.
    found = economic_with_breaks(49, 5000, 0.20, {0.0: 5.0, 1000.0: 4.8, 2000.0: 4.75})
    assert found.quantity == 1000
    assert found.cost == pytest.approx(24_725)


def test_quantity_with_breaks_of_the_stockpyl_documentation() -> None:
    # stockpyl documentation: K 200, i .20, D 1000; 500, 475, 450 from 0, 200, 500: 500 at 472,900.
    found = economic_with_breaks(200, 1000, 0.20, {0.0: 500.0, 200.0: 475.0, 500.0: 450.0})
    assert found.quantity == 500
    assert found.cost == pytest.approx(472_900)


@given(
    st.floats(1, 500), st.floats(10, 50_000), st.floats(0.05, 0.6),
    st.lists(st.integers(1, 500), min_size=1, max_size=4, unique=True), st.floats(1, 100),
)  # fmt: skip
def test_breaks_agree_with_a_reference_library(
    fixed: float, demand: float, rate: float, steps: list[int], price: float
) -> None:
    # stockpyl (Snyder and Shen), the all-units discount model.
    points = [0.0, *sorted(float(10 * step) for step in steps)]
    costs = [price * (1 - 0.03 * n) for n in range(len(points))]
    found = economic_with_breaks(fixed, demand, rate, dict(zip(points, costs, strict=True)))
    _, _, cost = reference(fixed, rate, demand, points, costs)
    assert found.cost == pytest.approx(cost, rel=1e-9)


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
    assert whole_packs(found, 1) == 514
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
    assert whole_packs(25.0, 25) == 1
    assert whole_packs(25.1, 25) == 2
