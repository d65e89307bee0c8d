"""Requirements, packs, bench days, the ledger and the tables of states."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.ledger import OpenLot, draw
from app.core.planning.packs import PackOffer, cheapest, packs_needed
from app.core.planning.requirements import Demand, net, order_by
from app.core.states import ORDER_STATES, PURCHASE_STATES, check_step

MONDAY = date(2027, 3, 1)


def demand(thing: str, quantity: int, days: int, reason: str = "order-1") -> Demand:
    return Demand(thing, quantity, MONDAY + timedelta(days=days), reason, reason)


def test_earlier_demands_are_served_first() -> None:
    found = net([demand("a", 5, 9, "late"), demand("a", 4, 2, "soon")], {"a": 6})
    [peg] = found["a"].pegs
    assert (peg.demand.reason, peg.quantity) == ("late", 3)
    assert found["a"].short == 3
    assert found["a"].first_needed == MONDAY + timedelta(days=9)


def test_what_is_there_is_enough() -> None:
    found = net([demand("a", 5, 9)], {"a": 5})
    assert found["a"].short == 0
    assert found["a"].first_needed is None
    assert found["a"].needed == 5


demands = st.lists(
    st.builds(demand, st.sampled_from("ab"), st.integers(1, 20), st.integers(0, 30),
              st.sampled_from(["x", "y", "z"])),
    max_size=8,
)  # fmt: skip


@given(demands, st.fixed_dictionaries({"a": st.integers(0, 40), "b": st.integers(0, 40)}))
def test_short_and_served_make_the_need(rows: list[Demand], there: dict[str, int]) -> None:
    found = net(rows, there)
    for thing, short in found.items():
        needed = sum(d.quantity for d in rows if d.thing == thing)
        assert short.needed == needed
        assert short.short == max(needed - there[thing], 0)


@given(demands, st.integers(0, 30), st.integers(1, 9))
def test_a_new_demand_changes_nothing_that_is_wanted_earlier(
    rows: list[Demand], days: int, quantity: int
) -> None:
    added = demand("a", quantity, days, "new")
    before, after = net(rows, {"a": 15}), net([*rows, added], {"a": 15})
    earlier = [p for s in before.values() for p in s.pegs if p.demand.by < added.by]
    still = [p for s in after.values() for p in s.pegs if p.demand.by < added.by]
    assert earlier == still
    assert before.get("b") == after.get("b")


def test_order_by_counts_bench_and_lead_days_back() -> None:
    assert order_by(date(2027, 3, 15), 4) == date(2027, 3, 11)


def offer(key: int, quantity: int, *breaks: tuple[int, str], lead: int = 3) -> PackOffer:
    return PackOffer(key, quantity, tuple((n, Decimal(p)) for n, p in breaks), lead)


def test_a_break_is_bought_into_where_it_saves() -> None:
    choice = packs_needed(90, offer(1, 10, (1, "5"), (10, "4")))
    assert (choice.packs, choice.cost) == (10, Decimal(40))


def test_a_least_quantity_is_kept() -> None:
    choice = packs_needed(5, offer(1, 10, (3, "5")))
    assert (choice.packs, choice.cost) == (3, Decimal(15))


def test_the_cheapest_offer_comes_first_and_the_quicker_on_a_tie() -> None:
    rows = cheapest(25, [offer(1, 10, (1, "5")), offer(2, 30, (1, "15"), lead=1)])
    assert [row.offer.key for row in rows] == [2, 1]


@given(st.integers(1, 500), st.integers(1, 40), st.lists(
    st.tuples(st.integers(1, 12), st.integers(1, 99)), min_size=1, max_size=3))  # fmt: skip
def test_packs_equal_trying_every_number(
    quantity: int, pack: int, raw: list[tuple[int, int]]
) -> None:
    raw[0] = (1, raw[0][1])
    breaks = tuple(sorted({n: Decimal(p) for n, p in raw}.items()))
    choice = packs_needed(quantity, PackOffer(1, pack, breaks, 0))
    costs = [
        n * [p for least, p in breaks if least <= n][-1] for n in range(-(-quantity // pack), 600)
    ]
    assert choice.packs * pack >= quantity
    assert choice.cost == min(costs)


STEP = Decimal("0.0001")
lots = st.lists(st.tuples(st.integers(1, 50), st.integers(0, 10**7)), min_size=1, max_size=5).map(
    lambda rows: [OpenLot(i, q, Decimal(c) * STEP) for i, (q, c) in enumerate(rows)]
)


@given(lots, st.data())
def test_shares_of_a_lot_add_up_to_its_cost(rows: list[OpenLot], data: st.DataObject) -> None:
    total, cost = sum(r.left for r in rows), sum(r.cost_left for r in rows)
    taken = Decimal(0)
    while rows:
        wanted = data.draw(st.integers(1, sum(r.left for r in rows)))
        draws = draw(rows, wanted, STEP)
        assert sum(d.quantity for d in draws) == wanted
        taken += sum(d.cost for d in draws)
        by_lot = {d.lot: d for d in draws}
        rows = [
            OpenLot(r.key, r.left - by_lot[r.key].quantity, r.cost_left - by_lot[r.key].cost)
            if r.key in by_lot
            else r
            for r in rows
        ]
        assert all(r.cost_left >= 0 for r in rows)
        rows = [r for r in rows if r.left]
        total -= wanted
    assert total == 0
    assert taken == cost


def test_more_than_is_there_cannot_be_taken() -> None:
    with pytest.raises(DomainError, match="There is 3 here and 4 is wanted"):
        draw([OpenLot(1, 3, Decimal(1))], 4, STEP)


@pytest.mark.parametrize("table", [ORDER_STATES, PURCHASE_STATES])
def test_states_lead_only_to_states(table: dict[str, tuple[str, ...]]) -> None:
    assert {then for onward in table.values() for then in onward} <= set(table)


def test_a_step_that_may_not_follow_is_explained() -> None:
    check_step(ORDER_STATES, "enquiry", "accepted", "order")
    with pytest.raises(DomainError, match="delivered; after that comes ready, not enquiry"):
        check_step(ORDER_STATES, "delivered", "enquiry", "order")
    with pytest.raises(DomainError, match="received; after that comes nothing more"):
        check_step(PURCHASE_STATES, "received", "draft", "purchase")
