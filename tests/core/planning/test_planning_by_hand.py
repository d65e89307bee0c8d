"""What to buy, when, how much, and when to begin: worked out by hand and from published examples.

Weeks of the examples are seven days here, the first of them beginning on a Monday.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from math import ceil

import pytest

from app.core.errors import DomainError
from app.core.planning.capacity import (
    LONGEST_DAYS,
    Job,
    LatestStart,
    MinutesOn,
    latest_starts,
    minutes_short,
)
from app.core.planning.packs import PackChoice, PackOffer, cheapest, packs_for, packs_needed
from app.core.planning.reorder import (
    PackLot,
    Use,
    best_lots,
    cost_rate,
    economic_quantity,
    reorder_level,
    safety_factor,
    use_by_week,
)
from app.core.planning.requirements import Demand, Peg, Shortage, net, order_by

MONDAY = date(2027, 3, 1)


def day(number: int) -> date:
    """So many days after a Monday."""
    return MONDAY + timedelta(days=number)


def week(number: int) -> date:
    """The Monday of a week; the first is week 1."""
    return day(7 * (number - 1))


def demand(thing: str, quantity: int, by: date, link: str = "order") -> Demand:
    return Demand(thing, quantity, by, link, link)


# Requirements


def test_what_a_cart_is_short_of() -> None:
    # Textbook data: 800 carts of one A, B and C; a C is 2 D, 4 E and 3 F; 150 A, 60 B, 40 C and 100 F
    # are there. Short: A 650, B 740, C 760, D 1520, E 3040, F 3 × 760 − 100 = 2180.
    there = {"A": 150, "B": 60, "C": 40, "F": 100}
    found = net([demand(part, 800, week(9)) for part in "ABC"], there)
    assert {part: short.short for part, short in found.items()} == {"A": 650, "B": 740, "C": 760}
    cs = found["C"].short
    parts = net(
        [demand(part, n * cs, week(8)) for part, n in (("D", 2), ("E", 4), ("F", 3))], there
    )
    assert {part: (short.needed, short.there, short.short) for part, short in parts.items()} == {
        "D": (1520, 0, 1520), "E": (3040, 0, 3040), "F": (2280, 100, 2180)
    }  # fmt: skip


def test_ten_weeks_from_a_stock_of_120_with_two_weeks_to_wait() -> None:
    # Textbook data: 41 44 84 42 84 86 7 18 49 30 a week, 120 there, two weeks' lead time. Left 79, 35,
    # nothing; to order in weeks 1 to 8: 49 42 84 86 7 18 49 30.
    wanted = [41, 44, 84, 42, 84, 86, 7, 18, 49, 30]
    rows = [demand("it", n, week(at)) for at, n in enumerate(wanted, 1)]
    found = net(rows, {"it": 120})["it"]
    orders = [(order_by(peg.demand.by, 14), peg.quantity) for peg in found.pegs]
    assert orders == [
        (week(at), n) for at, n in enumerate([49, 42, 84, 86, 7, 18, 49, 30], 1)
    ]  # fmt: skip
    assert (found.needed, found.short, found.first_needed) == (485, 365, week(3))
    for weeks, left in ((1, 79), (2, 35)):
        served = net(rows[:weeks], {"it": 120})["it"]
        assert (served.pegs, served.there - served.needed) == ((), left)


def test_parts_of_parts_are_ordered_their_lead_times_before() -> None:
    # Textbook data: an A is 2 B and 3 C, a B 2 D and 3 E, a C 2 F and 1 E; lead times in weeks A 1,
    # B, C and E 2, D and F 3. 95 A in week 10: A in week 9; B 190 and C 285 in 7; E 855 in 5; D 380 and
    # F 570 in 4.
    made_of = {"A": {"B": 2, "C": 3}, "B": {"D": 2, "E": 3}, "C": {"F": 2, "E": 1}}
    lead = {"A": 1, "B": 2, "C": 2, "E": 2, "D": 3, "F": 3}
    released: dict[str, tuple[int, date]] = {}
    level = [demand("A", 95, week(10))]
    while level:
        found = net(level, {})
        level = []
        for part, short in found.items():
            begins = order_by(short.demands[0].by, 7 * lead[part])
            released[part] = (short.short, begins)
            level += [
                demand(inner, n * short.short, begins) for inner, n in made_of.get(part, {}).items()
            ]
    assert released == {
        "A": (95, week(9)), "B": (190, week(7)), "C": (285, week(7)), "E": (855, week(5)),
        "D": (380, week(4)), "F": (570, week(4)),
    }  # fmt: skip


def test_books_that_are_lost_on_the_way_are_begun_as_well() -> None:
    # Computed: 45 books in week 6 with a tenth lost want 45/0.9 = 50 begun in week 5; their cases with
    # 4% lost, 6 there: 44/0.96 = 45.83, so 46 in week 4; two boards each with 5% lost, 10 there:
    # 92/0.95 = 96.84, so 97 and 87 of them to buy, in week 2.
    books = ceil(net([demand("book", 45, week(6))], {})["book"].short / Fraction(9, 10))
    assert (books, order_by(week(6), 7)) == (50, week(5))
    cases = net([demand("case", books, week(5))], {"case": 6})["case"].short
    begun = ceil(cases / Fraction("0.96"))
    assert (cases, begun, order_by(week(5), 7)) == (44, 46, week(4))
    boards = ceil(2 * begun / Fraction("0.95"))
    assert net([demand("board", boards, week(4))], {"board": 10})["board"].short == 87
    assert order_by(week(4), 14) == week(2)


def test_nothing_there_serves_nobody_and_one_there_serves_one() -> None:
    rows = [demand("a", 1, day(2), "first"), demand("a", 2, day(3), "second")]
    for nothing in ({}, {"a": 0}, {"b": 5}):
        found = net(rows, nothing)["a"]
        assert [(peg.demand.link, peg.quantity) for peg in found.pegs] == [
            ("first", 1),
            ("second", 2),
        ]
        assert (found.there, found.short, found.first_needed) == (0, 3, day(2))
    found = net(rows, {"a": 1})["a"]
    assert (found.pegs, found.first_needed) == ((Peg(rows[1], 2),), day(3))
    found = net(rows, {"a": 3})["a"]
    assert (found.pegs, found.short, found.first_needed, found.needed) == ((), 0, None, 3)


def test_more_taken_than_was_there_serves_nobody_either() -> None:
    # A count that went below nothing is no stock: all three are short.
    found = net([demand("a", 1, day(2)), demand("a", 2, day(3))], {"a": -4})["a"]
    assert ([peg.quantity for peg in found.pegs], found.there) == ([1, 2], -4)


def test_on_one_day_the_earlier_link_is_served_first() -> None:
    rows = [demand("a", 2, day(5), "order 2"), demand("a", 2, day(5), "order 1")]
    found = net(rows, {"a": 3})["a"]
    assert found.pegs == (Peg(rows[0], 1),)
    assert found.demands == (rows[1], rows[0])
    assert found == Shortage("a", 4, 3, (Peg(rows[0], 1),), (rows[1], rows[0]))


def test_what_takes_no_time_is_ordered_on_the_day() -> None:
    assert order_by(day(14), 0) == day(14)
    assert order_by(day(14), 1) == day(13)
    assert order_by(date(2028, 3, 1), 1) == date(2028, 2, 29)


# Whole packs


def offer(key: int, quantity: int, *breaks: tuple[int, str], lead: int = 3) -> PackOffer:
    return PackOffer(key, quantity, tuple((n, Decimal(p)) for n, p in breaks), lead)


def test_162_and_a_half_reams_are_163() -> None:
    # Dawe 1914, p. 148: 400 pages, 6,500 copies, 32 pages a sheet, 500 to the ream: 162½ reams.
    sheets = 400 * 6_500 // 32
    assert Fraction(sheets, 500) == Fraction("162.5")
    assert packs_for(sheets, 500, ((1, 12),)) == (163, 12)


@pytest.mark.parametrize(
    ("quantity", "packs"),
    [(0, 1), (1, 1), (9, 1), (10, 1), (11, 2), (20, 2), (21, 3)],
)
def test_a_pack_begun_is_a_pack(quantity: int, packs: int) -> None:
    assert packs_for(quantity, 10, ((1, 5),)) == (packs, 5)


@pytest.mark.parametrize(
    ("quantity", "packs", "price"),
    [
        # Packs of ten at 5 each, at 4 from the tenth on: 8 at 5 are 40 as 10 at 4 are, so 8 are bought;
        # 9 at 5 would be 45.
        (70, 7, 5), (80, 8, 5), (81, 10, 4), (90, 10, 4), (100, 10, 4), (101, 11, 4),
    ],
)  # fmt: skip
def test_a_break_is_reached_for_only_where_it_is_cheaper(
    quantity: int, packs: int, price: int
) -> None:
    assert packs_for(quantity, 10, ((1, 5), (10, 4))) == (packs, price)
    choice = packs_needed(quantity, offer(7, 10, (1, "5"), (10, "4")))
    assert choice == PackChoice(offer(7, 10, (1, "5"), (10, "4")), packs, Decimal(price))
    assert choice.cost == packs * price


def test_the_deepest_of_three_breaks_is_reached_for_too() -> None:
    # Three at 9 are 27, four at 7 28, six at 4 24.
    assert packs_for(30, 10, ((1, 9), (4, 7), (6, 4))) == (6, 4)
    # At 4.50 six are 27 as three are: the fewer.
    assert packs_for(30, 10, ((1, Decimal(9)), (6, Decimal("4.50")))) == (3, 9)


def test_no_more_is_bought_than_there_is() -> None:
    breaks = ((1, 5), (3, 2))
    # Three at 2 are 6, two at 5 are 10; with 29 to be had only two packs of ten.
    assert packs_for(20, 10, breaks, 30) == (3, 2)
    assert packs_for(20, 10, breaks, 29) == (2, 5)
    assert packs_for(20, 10, breaks, 20) == (2, 5)
    assert packs_for(20, 10, breaks, 19) is None
    assert packs_for(21, 10, breaks, 29) is None
    # Who sells three at the least sells none of two.
    assert packs_for(20, 10, ((3, 2),), 30) == (3, 2)
    assert packs_for(20, 10, ((3, 2),), 29) is None
    assert packs_for(30, 10, ((3, 2),), 30) == (3, 2)


def test_the_cheapest_offer_is_first_then_the_quicker_then_the_one_known_longer() -> None:
    # For 25: three tens at 5 are 15, one thirty at 15, five fives at 2.90 14.50.
    dear, twin = offer(1, 10, (1, "5")), offer(4, 10, (1, "5"))
    thirty, fives = offer(2, 30, (1, "15"), lead=1), offer(3, 5, (1, "2.90"), lead=30)
    found = cheapest(25, [twin, dear, thirty, fives])
    assert [(row.offer.key, row.packs, row.cost) for row in found] == [
        (3, 5, Decimal("14.50")), (2, 1, 15), (1, 3, 15), (4, 3, 15)
    ]  # fmt: skip


# Ordering again


def test_a_service_of_half_needs_no_safety_and_all_of_it_cannot_be_had() -> None:
    # The middle of the normal distribution; 0.99 is 2.326 in every table of it.
    assert safety_factor(0.5) == pytest.approx(0, abs=1e-12)
    assert safety_factor(0.99) == pytest.approx(2.326, abs=5e-4)
    assert safety_factor(0.9999) == pytest.approx(3.719, abs=5e-4)
    for service in (0.4999, 0.0, 1.0, 1.5):
        with pytest.raises(DomainError, match="between 50% and less than 100%"):
            safety_factor(service)


def test_safety_stock_grows_with_the_root_of_both_spreads() -> None:
    # Computed: use 8 ± 3 a week, lead time 4 ± 1 weeks: √(4 × 9 + 64 × 1) = 10; 32 and 2 × 10.
    assert reorder_level(8, 3, 4, 2, 1) == pytest.approx(52)
    # Without a spread of the lead time √36 = 6; with it alone √64 = 8.
    assert reorder_level(8, 3, 4, 2) == pytest.approx(44)
    assert reorder_level(8, 0, 4, 2, 1) == pytest.approx(48)
    assert reorder_level(8, 3, 4, 0, 1) == pytest.approx(32)
    # Lead time 4 ± 2: √(36 + 64 × 4) = √292 = 17.088.
    assert reorder_level(8, 3, 4, 1, 2) == pytest.approx(49.088, abs=5e-4)
    # Stevenson, Operations Management, 14th ed., p. 528: 50, σ 5, z 1.88: 59.40.
    assert reorder_level(50, 5, 1, 1.88) == pytest.approx(59.40)


def test_the_quantity_whose_ordering_costs_what_its_keeping_does() -> None:
    # Computed: K 2, D 1, h 1: √4 = 2; 1 × ½ to order (2 × 1/2 = 1) and 1 × 2/2 = 1 to keep.
    assert economic_quantity(2, 1, 1) == pytest.approx(2)
    assert cost_rate(2, 2, 1, 1, 0) == pytest.approx(2)
    # K 10, D 180, h 4: √900 = 30; 60 + 60, and 180 × 5 for what is bought.
    assert economic_quantity(10, 180, 4) == pytest.approx(30)
    assert cost_rate(30, 10, 180, 4, 5) == pytest.approx(1_020)
    # Ordering that costs nothing is done piece by piece.
    assert economic_quantity(0, 180, 4) == 0


@pytest.mark.parametrize(("demand_", "holding"), [(0, 4), (-1, 4), (180, 0), (180, -1), (0, 0)])
def test_without_use_or_keeping_there_is_no_such_quantity(demand_: float, holding: float) -> None:
    assert economic_quantity(10, demand_, holding) == 0


def test_a_published_quantity_of_stockpyl() -> None:
    # stockpyl documentation (Snyder and Shen): K 8, h .225, D 1300: Q 304.0468, cost 68.4105.
    assert economic_quantity(8, 1300, 0.225) == pytest.approx(304.0468, abs=5e-5)
    assert cost_rate(304.0468, 8, 1300, 0.225, 0) == pytest.approx(68.4105, abs=5e-5)


def best(
    breaks: Sequence[tuple[int, str]], fixed: float, used: float, rate: float, least: int = 0,
    pack: int = 1,
) -> PackLot:  # fmt: skip
    [found] = best_lots([offer(1, pack, *breaks)], fixed, used, rate, least)
    return found


def test_packs_of_ten_are_weighed_by_what_they_cost_in_a_year() -> None:
    # Computed: 100 used a year, 4.50 an order, packs of ten at 10 (1.00 each), a quarter a year to keep
    # them: √(2 × 4.50 × 100 ÷ 0.25) = 60, six packs: 100 + 7.50 + 7.50.
    found = best([(1, "10")], 4.5, 100, 0.25, pack=10)
    assert (found.packs, found.quantity, found.pack_price, found.cost) == (6, 60, 10, 60)
    assert found.yearly == pytest.approx(115)


def test_of_two_neighbours_the_cheaper_is_bought() -> None:
    # Computed: K 1, D 10, price 10, 20%: h 2, √10 = 3.16. Three: 10/3 + 3 = 6.33; four: 2.5 + 4 = 6.50.
    found = best([(1, "10")], 1, 10, 0.2)
    assert (found.packs, round(found.yearly, 2)) == (3, 106.33)
    # K 1.3: √13 = 3.61. Three: 13/3 + 3 = 7.33; four: 3.25 + 4 = 7.25.
    found = best([(1, "10")], 1.3, 10, 0.2)
    assert (found.packs, round(found.yearly, 2)) == (4, 107.25)
    # Two and three cost alike where √6 lies between: K 0.6: 3 + 2 = 2 + 3. The fewer.
    assert best([(1, "10")], 0.6, 10, 0.2).packs == 2


def test_at_least_one_pack_and_at_least_what_is_needed() -> None:
    # Computed: K 0.01, D 10, h 2: √0.1 = 0.32, so a single one; eight where eight are needed, and of
    # packs of five two, as 6 as well as 10 need.
    assert best([(1, "10")], 0.01, 10, 0.2).packs == 1
    assert best([(1, "10")], 0.01, 10, 0.2, 8).packs == 8
    assert [best([(1, "10")], 0.01, 10, 0.2, n, 5).packs for n in (1, 5, 6, 10, 11)] == [
        1,
        1,
        2,
        2,
        3,
    ]
    # Who sells three at the least.
    assert best([(3, "10")], 0.01, 10, 0.2).packs == 3


def test_a_break_is_bought_into_exactly_at_its_first_number() -> None:
    # A solved problem: D 800, S 60, i 30%; 53, 51.50, 49.50, 48, 47 from 1, 50, 100, 200, 500:
    # Q 200 at 40,080.
    prices = [(1, "53"), (50, "51.50"), (100, "49.50"), (200, "48"), (500, "47")]
    found = best(prices, 60, 800, 0.3)
    assert (found.packs, found.pack_price, found.cost) == (200, 48, 9600)
    assert found.yearly == pytest.approx(40_080)


def test_the_last_number_before_a_break_may_be_the_best() -> None:
    # Computed. Nine are needed, ordering costs nothing, so the fewest are best where the break saves
    # less than keeping one more costs: D 1, 100% to keep. Nine at 4.00: 4 + 18 = 22; ten at 3.99:
    # 3.99 + 19.95 = 23.94.
    found = best([(1, "4"), (10, "3.99")], 0, 1, 1, 9)
    assert (found.packs, found.pack_price) == (9, 4)
    assert found.yearly == pytest.approx(22)
    # Ten needed: the break's price, though it begins just there.
    found = best([(1, "4"), (10, "3.99")], 0, 1, 1, 10)
    assert (found.packs, found.pack_price) == (10, Decimal("3.99"))
    # At a break of a single number: nine and only nine at 4.00, before it 5.00.
    found = best([(1, "9"), (9, "4"), (10, "3.99")], 0, 1, 1, 8)
    assert (found.packs, found.pack_price) == (9, 4)


def test_who_asks_more_for_many_is_paid_the_low_price_up_to_the_last_of_it() -> None:
    # Computed. 5.00 up to nine, 6.00 from ten: D 100, K 3.60, 100% to keep: at 5.00 √(720 ÷ 5) = 12
    # would be best, so nine are: 500 + 40 + 22.50. Twelve at 6.00: 600 + 30 + 36.
    found = best([(1, "5"), (10, "6")], 3.6, 100, 1)
    assert (found.packs, found.pack_price) == (9, 5)
    assert found.yearly == pytest.approx(562.5)


def test_suppliers_are_ordered_by_the_year_then_the_days_then_the_key() -> None:
    offers = [offer(4, 1, (1, "6"), lead=2), offer(3, 1, (1, "6"), lead=9),
              offer(2, 1, (1, "6"), lead=2), offer(1, 1, (1, "7"), lead=0)]  # fmt: skip
    assert [lot.offer.key for lot in best_lots(offers, 5, 100, 0.2)] == [2, 4, 3, 1]
    with pytest.raises(DomainError, match="no price"):
        best_lots([], 5, 100, 0.2)


def test_the_spread_of_weeks_is_that_of_a_sample() -> None:
    # Computed: 4 and 8 are 2 each from 6; √((4 + 4) ÷ 1) = 2.828. Three weeks 2, 4, 9: mean 5,
    # √((9 + 1 + 16) ÷ 2) = 3.606.
    use = use_by_week([4, 8])
    assert (use.weeks, use.mean, use.total) == (2, 6, 12)
    assert use.sd == pytest.approx(2.828, abs=5e-4)
    assert use_by_week([2, 4, 9]).sd == pytest.approx(3.606, abs=5e-4)
    assert use_by_week([7]) == Use(1, 7.0, 0.0, 7)
    assert use_by_week([]) == Use(0, 0.0, 0.0, 0)


# The bench


def every_day(minutes: int, *closed: int) -> MinutesOn:
    shut = {day(n) for n in closed}
    return lambda on: 0 if on in shut else minutes


def job(key: str, due: int, minutes: int | Fraction, waiting: int = 0) -> Job:
    return Job(key, day(due), Fraction(minutes), waiting)


def starts(found: dict[str, LatestStart]) -> dict[str, tuple[int, int]]:
    """First and last day, counted from the Monday."""
    return {key: ((row.start - MONDAY).days, (row.end - MONDAY).days) for key, row in found.items()}


def test_the_latest_starts_of_five_textbook_jobs() -> None:
    # Textbook data, days of work and day due: A 6/8, B 2/6, C 8/18, D 3/15, E 9/23. Set back from the
    # dates due: E starts 14, C 6, D 3, A −3, B −5. A day is one minute here; a job due on day 23 is
    # worked on up to day 22.
    jobs = [job("A", 8, 6), job("B", 6, 2), job("C", 18, 8), job("D", 15, 3), job("E", 23, 9)]
    found = latest_starts(jobs, every_day(1))
    assert starts(found) == {
        "E": (14, 22), "C": (6, 13), "D": (3, 5), "A": (-3, 2), "B": (-5, -4)
    }  # fmt: skip
    assert {key: row.next_key for key, row in found.items()} == {
        "E": "", "C": "E", "D": "C", "A": "D", "B": "A"
    }  # fmt: skip


def test_five_textbook_jobs_want_too_much_by_day_18_and_nothing_too_much_from_day_5_before() -> (
    None
):
    # The same: by day 6 two are wanted of six days (0 to 5); by day 8 eight of eight; by 15 eleven of
    # fifteen; by 18 nineteen of eighteen.
    jobs = [job("A", 8, 6), job("B", 6, 2), job("C", 18, 8), job("D", 15, 3), job("E", 23, 9)]
    assert minutes_short(jobs, every_day(1), MONDAY) == (day(18), Fraction(19), 18)
    # A day more and all is enough but the last: 28 of 24 by day 23.
    assert minutes_short(jobs, every_day(1), day(-1)) == (day(23), Fraction(28), 24)
    # From day −5 on there are 28 for 28.
    assert minutes_short(jobs, every_day(1), day(-5)) is None
    assert minutes_short(jobs, every_day(1), day(-4)) == (day(23), Fraction(28), 27)


def test_a_full_day_is_one_day_and_a_minute_more_is_two() -> None:
    assert starts(latest_starts([job("a", 5, 60)], every_day(60))) == {"a": (4, 4)}
    assert starts(latest_starts([job("a", 5, 61)], every_day(60))) == {"a": (3, 4)}
    assert starts(latest_starts([job("a", 5, 120)], every_day(60))) == {"a": (3, 4)}
    assert starts(latest_starts([job("a", 5, 121)], every_day(60))) == {"a": (2, 4)}
    half = job("a", 5, Fraction(121, 2))
    assert starts(latest_starts([half], every_day(60))) == {"a": (3, 4)}


def test_what_is_left_of_a_day_is_used_before_the_day_before() -> None:
    # Of 60 minutes on day 4 the later job takes 45; 15 are left, and a minute more goes to day 3.
    later = job("z", 5, 45)
    assert starts(latest_starts([job("a", 5, 15), later], every_day(60)))["a"] == (4, 4)
    assert starts(latest_starts([job("a", 5, 16), later], every_day(60)))["a"] == (3, 4)
    # All of day 4 is taken: the next one ends on day 3, not on day 4 with nothing.
    found = latest_starts([job("a", 5, 10), job("z", 5, 60)], every_day(60))
    assert starts(found) == {"z": (4, 4), "a": (3, 3)}


def test_closed_days_neither_begin_nor_end_work() -> None:
    # Days 3 and 4 are closed: two hours due on day 5 are days 1 and 2.
    assert starts(latest_starts([job("a", 5, 120)], every_day(60, 3, 4))) == {"a": (1, 2)}
    # Closed in the middle: days 1 and 4.
    assert starts(latest_starts([job("a", 5, 120)], every_day(60, 2, 3))) == {"a": (1, 4)}


@pytest.mark.parametrize(("waiting", "last"), [(0, 8), (1, 8), (2, 7), (3, 6)])
def test_a_night_is_always_between_the_bench_and_the_day_due(waiting: int, last: int) -> None:
    assert job("a", 9, 60, waiting).last_bench_day == day(last)
    asked_for_none = Job("a", day(9), Fraction(60))
    assert (asked_for_none.waiting_days, asked_for_none.last_bench_day) == (0, day(8))


def test_work_without_minutes_takes_none_and_waits_its_turn() -> None:
    # It is done when it must leave the bench, or when the bench is free before that.
    found = latest_starts([job("none", 5, 0), job("a", 6, 60)], every_day(60))
    assert starts(found) == {"a": (5, 5), "none": (4, 4)}
    found = latest_starts([job("none", 5, 0), job("a", 6, 180)], every_day(60))
    assert starts(found) == {"a": (3, 5), "none": (3, 3)}
    # Whoever comes after it follows the one that worked.
    found = latest_starts([job("b", 5, 60), job("none", 5, 0), job("a", 6, 180)], every_day(60))
    assert (found["b"].next_key, starts(found)["b"]) == ("a", (2, 2))


def test_a_job_of_its_own_day_follows_nobody() -> None:
    # a ends on day 4; z takes day 5 alone, so a's own day decides.
    found = latest_starts([job("a", 5, 60), job("z", 6, 60)], every_day(60))
    assert (found["a"].next_key, found["z"].next_key) == ("", "")
    # z reaches back into day 4: a follows it.
    found = latest_starts([job("a", 5, 60), job("z", 6, 61)], every_day(60))
    assert (found["a"].next_key, starts(found)["a"]) == ("z", (3, 4))


def test_the_search_for_a_free_day_ends_after_ten_years() -> None:
    assert LONGEST_DAYS == 3650
    found = latest_starts([job("a", 1, 60)], every_day(0))
    assert starts(found) == {"a": (-3650, -3650)}
    # A minute short after all those days: it ends there as well.
    opened_once = {day(0)}
    found = latest_starts([job("a", 1, 61)], lambda on: 60 if on in opened_once else 0)
    assert starts(found) == {"a": (-3650, 0)}
    # Open on the very first of them, a day earlier not.
    found = latest_starts([job("a", 1, 61)], lambda on: 60 if on in {day(0), day(-3650)} else 0)
    assert starts(found) == {"a": (-3650, 0)}


def test_minutes_are_counted_from_today_to_the_last_bench_day() -> None:
    bench = every_day(60)
    # Due on day 2: days 0 and 1, 120 minutes.
    assert minutes_short([job("a", 2, 120)], bench, MONDAY) is None
    assert minutes_short([job("a", 2, 121)], bench, MONDAY) == (day(2), Fraction(121), 120)
    # Two nights of drying: day 0 alone.
    assert minutes_short([job("a", 2, 61, 2)], bench, MONDAY) == (day(2), Fraction(61), 60)
    # Due today there is no bench day left, due tomorrow there is today.
    assert minutes_short([job("a", 0, 1)], bench, MONDAY) == (MONDAY, Fraction(1), 0)
    assert minutes_short([job("a", 1, 60)], bench, MONDAY) is None
    assert minutes_short([job("a", 0, 0)], bench, MONDAY) is None
    # The last day of those wanted by then counts: the second may still be worked on on day 1.
    both = [job("a", 2, 30, 2), job("b", 2, 91)]
    assert minutes_short(both, bench, MONDAY) == (day(2), Fraction(121), 120)
    assert minutes_short([job("a", 2, 30, 2), job("b", 2, 90)], bench, MONDAY) is None
    assert minutes_short([], bench, MONDAY) is None
    # Days before today count for nothing: day 1 is closed, day −1 was not.
    found = minutes_short([job("a", 2, 61)], every_day(60, 1), MONDAY)
    assert found == (day(2), Fraction(61), 60)
