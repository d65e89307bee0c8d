"""Costs that add up, prices that solve back, against a published accounting course."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.core.costing import (
    ChannelTerms,
    MaterialUse,
    PaperUse,
    Rates,
    Work,
    break_even,
    cost_sheet,
    exact_price,
    margin_at,
    markup_from_margin,
    outcome,
    overhead_rate,
    price_at_margin,
    price_at_markup,
    price_divisor,
    show_minutes,
    show_rate,
    standard_time,
    suggested_price,
)
from app.core.errors import DomainError
from app.core.money import CURRENCIES, Currency, half_up

POUND = CURRENCIES["GBP"]


def terms(fee: str = "0", fixed: str = "0", tax: str = "0", margin: str = "0") -> ChannelTerms:
    return ChannelTerms(*(Fraction(v) for v in (fee, fixed, tax, margin)))


def test_break_even_and_target_profit() -> None:
    # OpenStax, Principles of Accounting, vol. 2, cost-volume-profit: price 100, variable 20,
    # fixed 18,000: 225 break even, 425 leave 16,000.
    assert break_even(18_000, 100 - 20) == 225
    assert break_even(18_000, 100 - 20, 16_000) == 425


def test_break_even_without_a_contribution_is_refused() -> None:
    with pytest.raises(DomainError, match="no number breaks even"):
        break_even(10, 0)


def test_margin_and_markup() -> None:
    # OpenStax, Principles of Accounting: a 20% margin is a 25% mark-up. Computed: 25.88 at a 20%
    # margin is 32.35, at a 20% mark-up 31.06.
    cent = Decimal("0.01")
    assert markup_from_margin(Fraction(1, 5)) == Fraction(1, 4)
    assert half_up(price_at_margin(Decimal("25.88"), Fraction(1, 5)), cent) == Decimal("32.35")
    assert half_up(price_at_markup(Decimal("25.88"), Fraction(1, 5)), cent) == Decimal("31.06")
    with pytest.raises(DomainError):
        markup_from_margin(Fraction(1))


def test_predetermined_overhead_rate() -> None:
    # OpenStax, Principles of Accounting, vol. 2, job costing: 250,000 on 100,000 of direct labour.
    assert overhead_rate(250_000, 100_000) == Fraction(5, 2)
    assert overhead_rate(0, 0) == 0


def test_standard_time() -> None:
    # Time-study notes: 28.5 normal minutes and 15% allowance make 32.775.
    assert standard_time(Fraction("28.5"), Fraction("0.15")) == Fraction("32.775")


positive = st.fractions(min_value=0, max_value=1000, max_denominator=1000)
share = st.fractions(min_value=0, max_value=1, max_denominator=100)


@given(positive, positive, share, share, share)
def test_a_price_solves_back_to_its_margin(
    cost: Fraction, fixed: Fraction, fee: Fraction, tax: Fraction, margin: Fraction
) -> None:
    deal = ChannelTerms(fee, fixed, tax, margin)
    assume(price_divisor(deal) > 0)
    assume(cost + fixed > 0)
    price = exact_price(cost, deal)
    assert margin_at(price, cost, deal) == margin


@pytest.mark.parametrize(
    ("deal", "words"),
    [
        (terms(fee="0.3", margin="0.7"), "At these fees the margin must stay below 70%"),
        (terms(fee="0.5", tax="0.2", margin="0.5"), "stay below 40%"),
        (terms(fee="1"), "The fees alone take the whole price"),
    ],
)
def test_fees_that_leave_no_price_are_explained(deal: ChannelTerms, words: str) -> None:
    with pytest.raises(DomainError, match="no price can pay the cost") as caught:
        exact_price(10, deal)
    assert words in caught.value.message


@given(positive, share, share, st.sampled_from(["any", "half", "whole", "95", "99"]))
def test_a_price_point_is_never_below_the_exact_price(
    cost: Fraction, fee: Fraction, margin: Fraction, point: str
) -> None:
    deal = ChannelTerms(fee, Fraction(0), Fraction(0), margin, point)
    assume(price_divisor(deal) > 0)
    exact, price = exact_price(cost, deal), suggested_price(cost, deal, POUND)
    assert exact <= Fraction(price) < exact + 1
    ends = {"half": ("00", "50"), "whole": ("00",), "95": ("95",), "99": ("99",)}
    assert point == "any" or f"{price:.2f}"[-2:] in ends[point]


whole = st.integers(0, 10**12)
paper_uses = st.builds(
    PaperUse, st.just("Folios"), st.just("folios"), st.integers(1, 200), st.integers(1, 100),
    st.just("a"), st.fractions(0, 50, max_denominator=1000),
)  # fmt: skip
goods = st.builds(
    MaterialUse, st.just("Thread"), st.integers(0, 10**10), share,
    st.fractions(0, 1, max_denominator=10**9).map(lambda f: f / 10**9), st.just("1 m"),
    st.just("1"),
)  # fmt: skip
jobs = st.builds(
    Work, st.just("Sew"), st.just("station"), st.integers(0, 50),
    st.fractions(0, 60, max_denominator=60), st.fractions(0, 10, max_denominator=60),
)  # fmt: skip
all_rates = st.builds(Rates, positive, positive, share, share)


@given(
    st.lists(paper_uses, max_size=3), st.lists(goods, max_size=4), st.lists(jobs, max_size=5),
    st.integers(1, 500), all_rates, st.sampled_from(sorted(CURRENCIES)),
)  # fmt: skip
def test_cost_lines_add_up_exactly(
    papers: list[PaperUse], materials: list[MaterialUse], work: list[Work], batch: int,
    rates: Rates, code: str,
) -> None:  # fmt: skip
    money = CURRENCIES[code]
    sheet = cost_sheet(papers, materials, work, batch, rates, money)
    parts = ("materials", "labour", "overhead")
    assert sheet.total() == sum(line.amount for line in sheet.lines)
    assert sheet.total() == sum(sheet.total(part) for part in parts)
    for line in sheet.lines:
        assert line.amount == line.amount.quantize(money.step)
        assert line.working
    assert sheet.minutes == sum((job.minutes(batch, rates.allowance) for job in work), Fraction(0))


@given(
    st.lists(paper_uses, max_size=3), st.lists(jobs, max_size=5), all_rates,
    st.decimals(0, 500, places=2), share, positive, share,
)  # fmt: skip
def test_what_a_price_leaves_is_all_of_it(
    papers: list[PaperUse], work: list[Work], rates: Rates, price: Decimal, fee: Fraction,
    fixed: Fraction, tax: Fraction,
) -> None:  # fmt: skip
    sheet = cost_sheet(papers, [], work, 12, rates, POUND)
    found = outcome(price, sheet, ChannelTerms(fee, fixed, tax, Fraction(0)), POUND)
    assert found.price == found.tax + found.fees + found.cost + found.profit
    assert found.loses == (found.profit < 0)


def test_a_worked_cost_with_every_line_traced() -> None:
    # Computed by hand: 12 folios at 8 a sheet of 4.60 are 6.90.
    rates = Rates(Fraction(16), Fraction("3.2"), Fraction(0), Fraction("0.03"))
    sheet = cost_sheet(
        [PaperUse("Folios", "folios", 12, 8, "560 × 760 mm", Fraction("4.60"))],
        [MaterialUse("Beads", 6, Fraction(0), Fraction("0.12"), "6", "£0.12 each")],
        [Work("Sew", "station", 9, Fraction(12), Fraction(5))],
        12, rates, POUND,
    )  # fmt: skip
    assert [(line.label, str(line.amount)) for line in sheet.lines] == [
        ("Folios", "6.90"), ("Beads", "0.72"), ("Spoilage", "0.21"), ("Bench time", "12.27"),
        ("Overhead", "2.45"),
    ]  # fmt: skip
    assert sheet.lines[0].working == ("12 folios ÷ 8 from a 560 × 760 mm sheet × £4.60 a sheet")
    assert sheet.minutes == 46


def test_a_batch_of_none_is_refused() -> None:
    rates = Rates(Fraction(0), Fraction(0), Fraction(0), Fraction(0))
    with pytest.raises(DomainError):
        cost_sheet([], [], [], 0, rates, POUND)


def test_small_rates_show_more_decimals() -> None:
    assert show_rate(Fraction("0.12"), POUND) == "£0.12"
    assert show_rate(Fraction("0.0045"), POUND) == "£0.0045"
    assert show_rate(Fraction("0.5"), Currency("JPY", "¥", 0)) == "¥0.50"


@pytest.mark.parametrize(
    ("minutes", "words"),
    [("0", "0 min"), ("2.5", "2.5 min"), ("9", "9 min"), ("52.4", "52 min"), ("60", "1 h"),
     ("67.6", "1 h 8 min")],
)  # fmt: skip
def test_minutes_in_words(minutes: str, words: str) -> None:
    assert show_minutes(Fraction(minutes)) == words
