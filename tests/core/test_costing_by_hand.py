"""Costs and prices redone by hand, and by worked examples of textbooks."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from app.core.costing import (
    Carriage,
    ChannelTerms,
    CostSheet,
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
    show_minutes,
    show_rate,
    standard_time,
    suggested_price,
)
from app.core.errors import DomainError
from app.core.money import (
    CURRENCIES,
)

POUND, YEN, DINAR = CURRENCIES["GBP"], CURRENCIES["JPY"], CURRENCIES["BHD"]


def money(*amounts: str) -> list[Decimal]:
    return [Decimal(amount) for amount in amounts]


def rates(pay: str = "0", overhead: str = "0", allowance: str = "0", spoilage: str = "0") -> Rates:
    return Rates(*(Fraction(rate) for rate in (pay, overhead, allowance, spoilage)))


def deal(
    fee: str = "0", fixed: str = "0", tax: str = "0", margin: str = "0", point: str = "any"
) -> ChannelTerms:
    return ChannelTerms(*(Fraction(part) for part in (fee, fixed, tax, margin)), point)


def lines_of(sheet: CostSheet) -> dict[str, str]:
    return {line.label: str(line.amount) for line in sheet.lines}


def test_a_job_of_the_textbook_costs_931() -> None:
    # OpenStax, Principles of Accounting, vol. 2, job costing: overhead of 250,000 on 100,000 of direct
    # labour is 2.50; a job with materials of 700 and labour of 66 takes 165 of it and costs 931.
    # Here an hour of 66 with 165 of overhead on it.
    each = overhead_rate(250_000, 100_000)
    sheet = cost_sheet(
        [], [MaterialUse("Stock", 7, Fraction(0), Fraction(100), "7", "£100 each")],
        [Work("Make", "piece", 1, Fraction(0), Fraction(60))], 1,
        Rates(Fraction(66), each * 66, Fraction(0), Fraction(0)), POUND,
    )  # fmt: skip
    assert lines_of(sheet) == {"Stock": "700.00", "Bench time": "66.00", "Overhead": "165.00"}
    assert [sheet.total(part) for part in ("materials", "labour", "overhead")] == [700, 66, 165]
    assert sheet.total() == 931


def test_the_rate_of_a_budget_and_what_it_leaves_over() -> None:
    # OpenStax, same: 6,240 hours at 33.50 apply 209,040 of a budget of 209,250: 210 too little.
    assert 6240 * overhead_rate(209_040, 6_240) == 209_040
    assert overhead_rate(209_040, 6_240) == Fraction("33.50")
    assert 209_250 - 6240 * Fraction("33.50") == 210
    assert overhead_rate(5, 0) == 0


def test_standard_times_of_worked_exercises() -> None:
    # Worked exercise: 20 minutes rated 120% are 24 normal ones, and 20% of the job time on them 28.8.
    assert standard_time(Fraction(24), Fraction("0.2")) == Fraction("28.8")
    # Worked exercise: normal times .4068, 1.2818, .9163, 1.15 and 13% of the job time: 4.2430.
    normal = sum(map(Fraction, ("0.4068", "1.2818", "0.9163", "1.15")))
    assert round(standard_time(normal, Fraction("0.13")), 4) == Fraction("4.2430")


def test_setting_up_is_shared_by_the_batch_and_the_allowance_is_on_both() -> None:
    # Computed: 30 ÷ 12 = 2.5 and 9 × 4 = 36 make 38.5; a tenth on it 42.35.
    work = Work("Sew", "station", 9, Fraction(30), Fraction(4))
    assert work.minutes(12, Fraction("0.1")) == Fraction("42.35")
    assert work.minutes(1, Fraction(0)) == 66
    # What is not done is not set up for either.
    assert Work("Sew", "station", 0, Fraction(30), Fraction(4)).minutes(12, Fraction(0)) == 0
    assert Work("Sew", "station", 1, Fraction(30), Fraction(4)).minutes(2, Fraction(0)) == 19


def full_sheet(batch: int = 10, spoilage: str = "0.05") -> CostSheet:
    return cost_sheet(
        [PaperUse("Folios", "folios", 12, 8, "560 × 760 mm", Fraction("4.60")),
         PaperUse("Cover", "cover", 1, 3, "A2", Fraction("1.00"))],
        [MaterialUse("Thread", 1_250, Fraction("0.1"), Fraction("0.0004"), "1.25 m", "£0.40 a m")],
        [Work("Fold", "folio", 12, Fraction(10), Fraction("1.5")),
         Work("Sew", "station", 5, Fraction(0), Fraction("2.25"))],
        batch, rates("15", "4.20", "0.1", spoilage), POUND,
        [Carriage("paper", Fraction("0.07125")), Carriage("thread", Fraction("0.0106"))],
    )  # fmt: skip


def test_a_journal_is_costed_line_by_line() -> None:
    # Computed. Paper 12/8 × 4.60 = 6.90 and 1/3 × 1 = 0.33. Thread 1250 × 1.1 × 0.0004 = 0.55.
    # Spoilage 5% of 7.23 = 0.3615. Carriage 0.08185. Minutes 10/10 + 18 + 11.25 = 30.25, and a tenth
    # 33.275: at 15 an hour 8.31875, at 4.20 an hour 2.32925.
    sheet = full_sheet()
    assert lines_of(sheet) == {
        "Folios": "6.90", "Cover": "0.33", "Thread": "0.55", "Spoilage": "0.36",
        "Carriage": "0.08", "Bench time": "8.32", "Overhead": "2.33",
    }  # fmt: skip
    assert sheet.minutes == Fraction("33.275")
    # 6.90 + 0.33 + 0.55 + 0.36 + 0.08 = 8.22; and 8.32 + 2.33.
    assert [sheet.total(part) for part in ("materials", "labour", "overhead")] == money(
        "8.22", "8.32", "2.33"
    )
    assert sheet.total() == Decimal("18.87")


def test_every_line_says_where_it_came_from() -> None:
    said = {line.label: (line.basis, line.working) for line in full_sheet().lines}
    assert said == {
        "Folios": ("12 at 8 a sheet",
                   "12 folios ÷ 8 from a 560 × 760 mm sheet × £4.60 a sheet"),
        "Cover": ("1 at 3 a sheet", "1 cover ÷ 3 from a A2 sheet × £1.00 a sheet"),
        "Thread": ("1.25 m", "1.25 m and 10% waste × £0.40 a m"),
        "Spoilage": ("5% of paper", "£7.23 of paper × 5%"),
        # 0.07125 + 0.0106 = 0.08185, shown 0.0819: 0.0712, half a step more, and 0.0106.
        "Carriage": ("as offers and receipts say", "£0.0713 for paper + £0.0106 for thread"),
        "Bench time": ("33 min at £15.00 an hour", "33.28 min ÷ 60 × £15.00"),
        "Overhead": ("33 min at £4.20 an hour", "33.28 min ÷ 60 × £4.20"),
    }  # fmt: skip


def test_what_there_is_not_has_no_line() -> None:
    labels = ["Folios", "Cover", "Thread", "Carriage", "Bench time", "Overhead"]
    assert list(lines_of(full_sheet(spoilage="0"))) == labels
    bare = cost_sheet([], [], [], 1, rates("15", "4", "0.1", "0.05"), POUND)
    assert lines_of(bare) == {"Bench time": "0.00", "Overhead": "0.00"}
    assert bare.total() == 0
    plain = MaterialUse("Bead", 2, Fraction(0), Fraction("0.5"), "2", "£0.50 each")
    assert cost_sheet([], [plain], [], 1, rates(), POUND).lines[0].working == "2 × £0.50 each"


def test_a_batch_of_one_is_the_smallest() -> None:
    # Computed: 10 + 18 + 11.25 = 39.25 and a tenth: 43.175.
    assert full_sheet(1).minutes == Fraction("43.175")
    assert full_sheet(2).minutes == Fraction("37.675")
    for batch in (0, -1):
        with pytest.raises(DomainError, match="at least one"):
            full_sheet(batch)


@pytest.mark.parametrize(
    ("rate", "code", "words"),
    [
        ("4.60", "GBP", "£4.60"), ("0.0045", "GBP", "£0.0045"), ("0.00005", "GBP", "£0.0001"),
        ("0.005", "GBP", "£0.0050"), ("12.5", "JPY", "¥12.50"), ("0.0005", "BHD", "BD 0.00050"),
        ("0", "GBP", "£0.00"),
    ],
)  # fmt: skip
def test_a_small_rate_has_two_more_decimals(rate: str, code: str, words: str) -> None:
    assert show_rate(Fraction(rate), CURRENCIES[code]) == words


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        ("0.04", "0 min"), ("0.05", "0.1 min"), ("1", "1 min"), ("1.1", "1.1 min"),
        ("2.55", "2.6 min"), ("9.94", "9.9 min"), ("9.95", "10 min"), ("9.99", "10 min"),
        ("10", "10 min"), ("10.4", "10 min"), ("10.5", "11 min"), ("59.49", "59 min"),
        ("59.5", "1 h"), ("60.4", "1 h"), ("60.5", "1 h 1 min"), ("119.5", "2 h"),
        ("125", "2 h 5 min"), ("150", "2 h 30 min"), ("7", "7 min"),
    ],
)  # fmt: skip
def test_minutes_are_said_to_the_tenth_below_ten_and_then_to_the_minute(
    minutes: str, words: str
) -> None:
    assert show_minutes(Fraction(minutes)) == words
    assert show_minutes(Decimal(minutes)) == words


def test_a_price_at_a_stall_with_fees_and_tax() -> None:
    # Computed: a price of 24 with 20% tax in it is 20 net. Fees 5% of 24 + 0.30 = 1.50. A cost of
    # 12.50 leaves 6.00: 30% of 20. Going back: (12.50 + 0.30) ÷ (0.7/1.2 − 0.05) = 12.80 ÷ 0.5333… = 24.
    terms = deal(fee="0.05", fixed="0.30", tax="0.2", margin="0.3")
    assert exact_price(Decimal("12.50"), terms) == 24
    assert margin_at(24, Decimal("12.50"), terms) == Fraction(3, 10)
    assert suggested_price(Decimal("12.50"), terms, POUND) == 24
    ends = deal(fee="0.05", fixed="0.30", tax="0.2", margin="0.3", point="99")
    assert suggested_price(Decimal("12.50"), ends, POUND) == Decimal("24.99")


def priced(price: str, terms: ChannelTerms, pay: str = "12") -> tuple[object, ...]:
    """What is left of a price where a half hour at the bench and 6.50 of material are in it."""
    sheet = cost_sheet(
        [], [MaterialUse("Kit", 1, Fraction(0), Fraction("6.50"), "1", "£6.50")],
        [Work("Make", "piece", 1, Fraction(0), Fraction(30))], 1, rates(pay), POUND,
    )  # fmt: skip
    found = outcome(Decimal(price), sheet, terms, POUND)
    return found.tax, found.fees, found.profit, found.margin, found.markup, found.pay_per_hour


def test_what_a_price_leaves_by_hand() -> None:
    # Computed. Cost 6.50 + 6.00 = 12.50. 24.00 is 20 net, fees 1.50, leaves 6.00: 6/20 and
    # 6/(12.50 + 1.50); 6 + 6 for half an hour are 24 an hour.
    terms = deal(fee="0.05", fixed="0.30", tax="0.2")
    assert priced("24.00", terms) == (4, Decimal("1.50"), 6, Fraction(3, 10), Fraction(3, 7), 24)
    # 15.00 is 12.50 net and 1.05 fees: it loses 1.05; (6 − 1.05) × 2 = 9.90 an hour.
    found = priced("15.00", terms)
    assert found == (
        Decimal("2.50"), Decimal("1.05"), Decimal("-1.05"), Fraction("-0.084"),
        Fraction("-1.05") / Fraction("13.55"), Decimal("9.90"),
    )  # fmt: skip


def test_losing_begins_a_cent_below_nothing() -> None:
    sheet = cost_sheet(
        [], [MaterialUse("Kit", 1, Fraction(0), Fraction("6.50"), "1", "£6.50")], [], 1,
        rates(), POUND,
    )  # fmt: skip
    even, less = (outcome(Decimal(p), sheet, deal(), POUND) for p in ("6.50", "6.49"))
    assert (even.profit, even.loses, even.margin, even.markup) == (0, False, 0, 0)
    assert (less.profit, less.loses) == (Decimal("-0.01"), True)
    assert outcome(Decimal("7.00"), sheet, deal(), POUND).loses is False
    # No bench time: nothing to share by the hour.
    assert even.pay_per_hour is None


def test_nothing_asked_for_and_nothing_spent_have_no_share() -> None:
    free = cost_sheet([], [], [], 1, rates(), POUND)
    gift, sale = (outcome(Decimal(price), free, deal(), POUND) for price in ("0.00", "5.00"))
    assert (gift.margin, gift.markup, gift.profit) == (0, None, 0)
    assert (sale.margin, sale.markup, sale.profit) == (1, None, 5)
    # A fee is spent as well: 1 of 5, 4 are left.
    assert outcome(Decimal(5), free, deal(fixed="1"), POUND).markup == 4


@pytest.mark.parametrize(
    ("terms", "words"),
    [
        # 0.6/1.2 − 0.5 = 0 is nothing; the most is 1 − 0.5 × 1.2 = 40%.
        (deal(fee="0.5", tax="0.2", margin="0.4"), "take 100% of the price.*stay below 40%"),
        # 0.4/1.25 − 0.5 = −0.18: 118% are taken; 1 − 0.5 × 1.25 = 37.5%.
        (deal(fee="0.5", tax="0.25", margin="0.6"), "take 118% of the price.*stay below 37.5%"),
        # 0.8 × 1.25 = 1: the fees are all there is. A hundredth less leaves 1 − 0.79 × 1.25.
        (deal(fee="0.8", tax="0.25"), "take 100% of the price.*The fees alone take the whole"),
        (deal(fee="0.79", tax="0.25", margin="0.5"), "stay below 1.25%"),
        (deal(fee="0.9", tax="0.25"), "take 110% of the price.*The fees alone take the whole"),
    ],
)  # fmt: skip
def test_terms_that_leave_nothing_say_how_far_they_may_go(terms: ChannelTerms, words: str) -> None:
    with pytest.raises(DomainError, match=words):
        exact_price(10, terms)


def test_a_hundredth_of_a_percent_left_is_enough_for_a_price() -> None:
    # 1 − 0.9999 = 0.0001: 1 ÷ 0.0001.
    assert exact_price(1, deal(margin="0.9999")) == 10_000
    assert exact_price(1, deal(fee="0.5", margin="0.4999")) == 10_000


def test_mark_up_and_margin_say_the_same() -> None:
    # Computed: half of the price is as much again on the cost, 80% four times as much.
    assert markup_from_margin(Fraction(1, 2)) == 1
    assert markup_from_margin(Fraction(4, 5)) == 4
    assert markup_from_margin(Fraction(0)) == 0
    assert markup_from_margin(Fraction(99, 100)) == 99
    for margin in (Fraction(1), Fraction(101, 100)):
        with pytest.raises(DomainError, match="below 100%"):
            markup_from_margin(margin)
    assert price_at_margin(6, Fraction(1, 4)) == 8
    assert price_at_markup(6, Fraction(1, 3)) == 8


def test_the_number_that_breaks_even_is_the_first_that_does() -> None:
    # OpenStax, Principles of Accounting, vol. 2: 18,000 at 80 each: 225. One more pound wants one more.
    assert (break_even(18_000, 80), break_even(18_001, 80), break_even(17_999, 80)) == (
        225, 226, 225
    )  # fmt: skip
    # Computed: 45 ÷ 4.50 = 10 for the stall, and 20 more to keep: 65 ÷ 4.50 = 14.4…
    assert break_even(45, Decimal("4.50")) == 10
    assert break_even(45, Decimal("4.50"), 20) == 15
    assert break_even(0, Decimal("0.01")) == 0
    assert break_even(1, Decimal("0.01")) == 100
    for nothing in (Decimal(0), Decimal("-0.01")):
        with pytest.raises(DomainError, match="no number breaks even"):
            break_even(45, nothing)


def test_the_margin_of_safety_of_the_textbook() -> None:
    # OpenStax, same: sales of 225,000 over 153,000 to break even are 72,000, or 32%.
    assert margin_at(225_000, 153_000, deal()) == Fraction(32, 100)
