"""Things made here through several levels, against published tables and brute force.

The published ones are textbook data for material requirements planning (two companies' products
over ten weeks, one item over ten, a cart of three levels), worked out there period by period;
weeks are days here. Losses are algebra: to have n good ones of which a share s is lost, begin
n/(1 - s), rounded up at each order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from fractions import Fraction
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.planning.making import (
    CircleError,
    Making,
    Way,
    consumers_first,
    explode,
    makings,
    parts_of,
)
from app.core.planning.requirements import Demand, net

WEEK_0 = date(2027, 1, 1)


def week(number: int) -> date:
    return WEEK_0 + timedelta(days=number)


def wanted(thing: str, *rows: tuple[int, int]) -> list[Demand]:
    """Rows of quantity and week."""
    return [Demand(thing, n, week(w), f"{thing} w{w}", f"market-{w}") for n, w in rows]


def planned(
    ways: Mapping[str, Way], demands: Sequence[Demand], stock: Mapping[str, int] | None = None
) -> tuple[dict[str, list[tuple[int, int]]], dict[str, int]]:
    """Released lots' quantities by thing with their weeks, and what each thing is wanted in all."""
    there = dict(stock or {})

    def begin(thing: str, mine: Sequence[Demand]) -> tuple[Sequence[Making], Sequence[Demand]]:
        short = net(mine, there)[thing]
        begun = makings(thing, ways[thing], short.pegs)
        return begun, [d for m in begun for d in parts_of(ways[thing], m, thing, "x")]

    found, in_all = explode(consumers_first(ways), demands, begin)
    released: dict[str, list[tuple[int, int]]] = {}
    for making in found:
        quantity = making.lots * ways[making.thing].lot
        released.setdefault(making.thing, []).append((quantity, (making.begin_by - WEEK_0).days))
    totals: dict[str, int] = {}
    for demand in in_all:
        totals[demand.thing] = totals.get(demand.thing, 0) + demand.quantity
    return {thing: sorted(rows, key=lambda r: r[1]) for thing, rows in released.items()}, totals


def test_a_published_product_of_three_levels() -> None:
    # A: 2 B, 3 C; B: 2 D, 3 E; C: 2 F, 1 E; lead times A 1, B C E 2, D F 3; 95 A in week 10.
    ways = {
        "A": Way(1, {"B": 2, "C": 3}, days=1), "B": Way(1, {"D": 2, "E": 3}, days=2),
        "C": Way(1, {"F": 2, "E": 1}, days=2), "D": Way(1, {}, days=3), "E": Way(1, {}, days=2),
        "F": Way(1, {}, days=3),
    }  # fmt: skip
    released, _ = planned(ways, wanted("A", (95, 10)))
    assert released == {
        "A": [(95, 9)], "B": [(190, 7)], "C": [(285, 7)], "E": [(855, 5)], "D": [(380, 4)],
        "F": [(570, 4)],
    }  # fmt: skip


def test_a_published_product_with_stock_receipts_and_lots() -> None:
    # A: B, C; B: 3 D, F; C: 3 B, D, 4 E; D: E. Lots of A 20, B 40, D 160; 20 A in week 10. Stock
    # A 5, B 10, D 100, E 100, and due in A 10, B 20, F 40, E 60 before they are wanted.
    ways = {
        "A": Way(20, {"B": 20, "C": 20}, days=2), "B": Way(40, {"D": 120, "F": 40}, days=2),
        "C": Way(1, {"B": 3, "D": 1, "E": 4}, days=1), "D": Way(160, {"E": 160}, days=3),
        "E": Way(1, {}, days=2), "F": Way(1, {}, days=2),
    }  # fmt: skip
    # Low-level codes: C comes before B, B before D, D before E.
    order = consumers_first(ways)
    assert [order.index(t) for t in "ACBDE"] == sorted(order.index(t) for t in "ACBDE")
    released, _ = planned(
        ways, wanted("A", (20, 10)), {"A": 15, "B": 30, "D": 100, "E": 160, "F": 40}
    )
    assert released["A"] == [(20, 8)]
    assert released["C"] == [(20, 7)]
    # 60 for C in week 7 and 20 for A in week 8, 30 there: 40 twice would be 80; 50 are short.
    assert released["B"] == [(40, 5), (40, 6)]
    assert released["D"] == [(160, 2)]
    assert released["F"] == [(40, 4)]
    assert released["E"] == [(80, 5)]


def test_a_published_item_period_by_period() -> None:
    # Lead time 2, 120 in stock.
    rows = [41, 44, 84, 42, 84, 86, 7, 18, 49, 30]
    way = Way(1, {}, days=2)
    short = net(wanted("x", *((n, w) for w, n in enumerate(rows, 1))), {"x": 120})["x"]
    found = [(m.lots, (m.begin_by - WEEK_0).days) for m in makings("x", way, short.pegs)]
    assert found == list(zip([49, 42, 84, 86, 7, 18, 49, 30], range(1, 9), strict=True))
    assert 120 - 41 == 79
    assert 79 - 44 == 35


def test_a_published_cart_net_of_stock() -> None:
    # Cart: A, B, C; C: 2 D, 4 E, 3 F; 800 carts; stock A 150, B 60, C 40, F 100.
    ways = {
        "cart": Way(1, {"A": 1, "B": 1, "C": 1}), "C": Way(1, {"D": 2, "E": 4, "F": 3}),
        **{thing: Way(1, {}) for thing in "ABDEF"},
    }  # fmt: skip
    released, _ = planned(ways, wanted("cart", (800, 1)), {"A": 150, "B": 60, "C": 40, "F": 100})
    assert {thing: rows[0][0] for thing, rows in released.items()} == {
        "cart": 800, "A": 650, "B": 740, "C": 760, "D": 1520, "E": 3040, "F": 2180,
    }  # fmt: skip


def test_losses_by_algebra() -> None:
    # 100 good ones of which a fifth is lost take 125, and 120 leave only 96; 27 at a tenth take 30.
    fifth, tenth = Way(1, {}, Fraction(1, 5)), Way(1, {}, Fraction(1, 10))
    assert (fifth.lots_for(100), fifth.good_of(125), fifth.good_of(120)) == (125, 100, 96)
    assert tenth.lots_for(27) == 30
    assert Way(10, {}, Fraction(1, 10)).lots_for(27) == 3
    assert Way(10, {}, Fraction(1, 10)).lots_for(28) == 4
    assert Way(10, {}, Fraction(1, 10)).good_of(3) == 27


def test_books_cases_and_boards_with_losses_at_every_level() -> None:
    # 45 books in week 6, a tenth lost: 50 begun in week 5. Cases, 4% lost, 6 there: 44/.96 is 45.83,
    # so 46 in week 4. Two boards each with 5% lost in use: 92/.95 is 96.84, so 97, less 10 there: 87
    # in week 2.
    ways = {
        "book": Way(1, {"case": 1}, Fraction(1, 10), 1), "case": Way(1, {"cut": 2}, Fraction(4, 100), 1),
        # What is lost in use is lost of what is begun with; cutting itself takes two weeks.
        "cut": Way(1, {"board": 1}, Fraction(5, 100)), "board": Way(1, {}, days=2),
    }  # fmt: skip
    released, _ = planned(ways, wanted("book", (45, 6)), {"case": 6, "board": 10})
    assert released["book"] == [(50, 5)]
    assert released["case"] == [(46, 4)]
    assert released["cut"] == [(97, 4)]
    assert released["board"] == [(87, 2)]


@pytest.mark.parametrize(
    ("ways", "way"),
    [
        ({"a": ["a"]}, ["a", "a"]),
        ({"a": ["b"], "b": ["a"]}, ["a", "b", "a"]),
        ({"x": ["a"], "a": ["b", "c"], "b": [], "c": ["d"], "d": ["a"]}, ["a", "c", "d", "a"]),
    ],
)
def test_a_circle_is_refused_and_named(ways: dict[str, list[str]], way: list[str]) -> None:
    with pytest.raises(CircleError) as caught:
        consumers_first({thing: Way(1, dict.fromkeys(parts, 1)) for thing, parts in ways.items()})
    assert list(caught.value.way) == way
    assert caught.value.message == " is made of ".join(way) + ": a thing cannot be made of itself."


THINGS = "abcde"


@given(st.dictionaries(st.sampled_from(THINGS), st.sets(st.sampled_from(THINGS), max_size=3)))
def test_an_order_is_found_just_where_one_exists(parts: dict[str, set[str]]) -> None:
    ways = {thing: Way(1, dict.fromkeys(sorted(of), 1)) for thing, of in parts.items()}

    def fits(order: Sequence[str]) -> bool:
        return all(
            order.index(thing) < order.index(part)
            for thing in order
            for part in ways[thing].parts
            if part in ways
        ) and not any(thing in way.parts for thing, way in ways.items())

    exists = any(fits(order) for order in permutations(ways))
    try:
        order = consumers_first(ways)
    except CircleError as error:
        assert not exists
        for above, below in zip(error.way, error.way[1:], strict=False):
            assert below in ways[above].parts
    else:
        assert sorted(order) == sorted(ways)
        assert fits(order)


@given(
    st.lists(st.tuples(st.integers(1, 30), st.integers(0, 9)), min_size=1, max_size=6),
    st.integers(1, 12), st.integers(0, 60), st.integers(0, 25), st.integers(0, 3),
)  # fmt: skip
def test_what_is_begun_is_enough_each_day_and_no_lot_too_many(
    rows: list[tuple[int, int]], lot: int, loss: int, there: int, days: int
) -> None:
    way = Way(lot, {}, Fraction(loss, 100), days)
    demands = wanted("x", *rows)
    found = makings("x", way, net(demands, {"x": there})["x"].pegs)
    for day in range(11):
        needed = sum(n for n, w in rows if w <= day)
        begun = [m for m in found if m.begin_by + timedelta(days=days) <= week(day)]
        good = sum(way.good_of(m.lots) for m in begun)
        assert there + good >= needed
        # Without the last lot begun it would not be enough on the day it is for.
        if begun and begun[-1].begin_by + timedelta(days=days) == week(day):
            before = sum(way.good_of(m.lots) for m in begun[:-1])
            assert there + before + way.good_of(begun[-1].lots - 1) < needed
    short = sum(peg.quantity for m in found for peg in m.pegs)
    assert short == max(sum(n for n, _ in rows) - there, 0)


def test_parts_are_wanted_when_it_is_begun_with_the_reason_given() -> None:
    way = Way(4, {"paste": 30, "paper": 2}, Fraction(0), 3)
    [making] = makings("x", way, net(wanted("x", (9, 8)), {})["x"].pegs)
    assert (making.lots, making.begin_by) == (3, week(5))
    assert parts_of(way, making, "Paste paper", "sheet-7") == [
        Demand("paste", 90, week(5), "Paste paper", "sheet-7"),
        Demand("paper", 6, week(5), "Paste paper", "sheet-7"),
    ]


NETWORK: dict[str, tuple[int, str]] = {
    "A": (2, ""), "B": (10, "A"), "C": (13, "A"), "D": (12, "A"), "E": (12, "B"), "F": (7, "B"),
    "G": (10, "D"), "H": (16, "D"), "I": (6, "F"), "J": (12, "CG"), "K": (5, "I"), "L": (8, "EK"),
    "M": (5, "H"), "N": (3, "JLM"),
}  # fmt: skip
"""A published project network: each step's length and what it needs done before it."""


def test_latest_starts_through_every_level_are_those_of_a_published_network() -> None:
    """A course module's network of fourteen steps: 41 long, critical by A B F I K L N; its slack.

    The latest starts are the backward pass of the same network.
    """
    ways = {name: Way(1, dict.fromkeys(before, 1), days=n) for name, (n, before) in NETWORK.items()}
    released, _ = planned(ways, wanted("N", (1, 41)))
    latest = {name: min(when for _, when in rows) for name, rows in released.items()}
    assert latest == {
        "A": 0, "B": 2, "C": 13, "D": 4, "E": 18, "F": 12, "G": 16, "H": 17, "I": 19, "J": 26,
        "K": 25, "L": 30, "M": 33, "N": 38,
    }  # fmt: skip
    earliest: dict[str, int] = {}
    for name, (_, before) in NETWORK.items():
        earliest[name] = max((earliest[b] + NETWORK[b][0] for b in before), default=0)
    slack = {name: latest[name] - earliest[name] for name in NETWORK}
    assert "".join(name for name in NETWORK if not slack[name]) == "ABFIKLN"
    assert {name: n for name, n in slack.items() if n} == {
        "C": 11, "E": 6, "D": 2, "G": 2, "J": 2, "H": 3, "M": 3,
    }  # fmt: skip
    # A day less and the first step would have to begin before today.
    released, _ = planned(ways, wanted("N", (1, 40)))
    assert released["A"][0][1] == -1
