"""Costs, money, papers and lots worked out by hand, up to each bound and one step past it.

The arithmetic beside a figure is what a bookkeeper would do on paper. Published figures carry their
source; what is *computed* came from that arithmetic alone.
"""

from __future__ import annotations

from collections.abc import Iterator
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
from app.core.ledger import Draw, OpenLot, draw, draw_chosen
from app.core.length import (
    CM,
    INCH,
    LONGEST,
    METRE,
    MM,
    NM,
    inch_fraction,
    inches,
    measured_up,
    plain_decimal,
    show_length,
    show_size,
    type_length,
)
from app.core.money import (
    CURRENCIES,
    Currency,
    half_up,
    rounded_together,
    share_out,
    split_tax,
    to_minor,
    up_to_point,
)
from app.core.numbers import number_style, read_number, style_of_language, styled
from app.core.paper import (
    BASIC_SIZES,
    Piece,
    Sheet,
    check_sheet,
    grammage_from_pounds,
    iso_tolerance,
    named_sizes,
    ways_to_lie,
    weight_mg,
)

POUND, YEN, DINAR = CURRENCIES["GBP"], CURRENCIES["JPY"], CURRENCIES["BHD"]
CENT = Decimal("0.01")
STEP = Decimal("0.0001")


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


# Money


@pytest.mark.parametrize(
    ("codes", "step"),
    [
        ("GBP EUR USD CAD AUD NZD CHF SEK NOK DKK PLN CZK INR ZAR BRL MXN", "0.01"),
        ("JPY KRW", "1"),
        ("BHD KWD", "0.001"),
    ],
)
def test_every_currency_has_its_minor_unit(codes: str, step: str) -> None:
    # ISO 4217, minor units (those of JPY, EUR, GBP, USD and BHD seen, the others from memory).
    for code in codes.split():
        assert (CURRENCIES[code].step, CURRENCIES[code].code) == (Decimal(step), code)


def test_no_currency_is_left_unchecked() -> None:
    assert len(CURRENCIES) == 20


def test_nothing_is_shown_without_a_minus_and_a_cent_less_with_one() -> None:
    assert (POUND.show(Decimal("0.00")), POUND.show(Decimal("-0.01"))) == ("£0.00", "−£0.01")
    assert (POUND.figure(Decimal("0.00")), POUND.figure(Decimal("-0.01"))) == ("0.00", "−0.01")
    assert POUND.figure(Decimal("-1234567.5")) == "−1,234,567.50"
    assert YEN.show(Decimal(0)) == "¥0"


@pytest.mark.parametrize(
    ("value", "step", "rounded"),
    [
        ("0.5", "1", "1"), ("-0.5", "1", "-1"), ("0.4999", "1", "0"), ("-0.4999", "1", "0"),
        ("1.5", "1", "2"), ("0", "0.01", "0"), ("0.125", "0.05", "0.15"),
        ("0.1249", "0.05", "0.10"), ("7", "2", "8"), ("6.99", "2", "6"),
    ],
)  # fmt: skip
def test_halves_go_away_from_nothing_and_less_than_half_does_not(
    value: str, step: str, rounded: str
) -> None:
    assert half_up(Decimal(value), Decimal(step)) == Decimal(rounded)


def test_tax_is_worked_out_by_rate_and_not_by_line() -> None:
    # Computed: four lines of 1.02 at 21%. By rate 4.08 × 0.21 = 0.8568, by line 0.2142 each.
    # EN 16931 asks for the first.
    assert to_minor(Fraction("4.08") * Fraction("0.21"), POUND) == Decimal("0.86")
    assert 4 * to_minor(Fraction("1.02") * Fraction("0.21"), POUND) == Decimal("0.84")


def test_the_lines_and_the_tax_of_a_published_invoice() -> None:
    # ConnectingEurope/eInvoicing-EN16931, example 8: quantity × price (÷ months), 21% tax.
    exact = [
        Fraction("16000") * Fraction("0.00880"), Fraction("16000") * Fraction("0.00101"),
        Fraction("132") * Fraction("15.24") / 12, Fraction("58") * Fraction("1.53"),
        Fraction("441") / 12, Fraction("678") / 12,
        *map(Fraction, ("83.34", "190.31", "64.21", "64.46")),
    ]  # fmt: skip
    lines = [to_minor(amount, POUND) for amount in exact]
    assert lines[:6] == money("140.80", "16.16", "167.64", "88.74", "36.75", "56.50")
    assert sum(lines) == Decimal("908.91")
    tax = to_minor(Fraction(sum(lines)) * Fraction("0.21"), POUND)
    assert (tax, sum(lines) + tax) == (Decimal("190.87"), Decimal("1099.78"))


def test_the_tax_of_an_invoice_with_two_rates() -> None:
    # The same repository, example 1: 183.23 at 6% and 46.37 at 21%: 10.99 and 9.74.
    taxes = [to_minor(Fraction("183.23") * Fraction("0.06"), POUND),
             to_minor(Fraction("46.37") * Fraction("0.21"), POUND)]  # fmt: skip
    assert taxes == money("10.99", "9.74")
    assert Decimal("183.23") + Decimal("46.37") + sum(taxes) == Decimal("250.33")


@pytest.mark.parametrize(
    ("gross", "rate", "code", "net", "tax"),
    [
        # 120 = 100 + 20; 1 ÷ 1.2 = 0.8333…; 0.03 ÷ 1.2 = 0.025, a half that goes up.
        ("120.00", "0.2", "GBP", "100.00", "20.00"), ("1.00", "0.2", "GBP", "0.83", "0.17"),
        ("0.03", "0.2", "GBP", "0.03", "0.00"), ("5.00", "0", "GBP", "5.00", "0.00"),
        # 1000 ÷ 1.1 = 909.09…; 1.000 ÷ 1.05 = 0.95238…
        ("1000", "0.1", "JPY", "909", "91"), ("1.000", "0.05", "BHD", "0.952", "0.048"),
    ],
)  # fmt: skip
def test_a_price_is_parted_into_net_and_tax(
    gross: str, rate: str, code: str, net: str, tax: str
) -> None:
    assert split_tax(Decimal(gross), Fraction(rate), CURRENCIES[code]) == (
        Decimal(net), Decimal(tax)
    )  # fmt: skip


@pytest.mark.parametrize(
    ("total", "weights", "shares"),
    [
        # A cent left over goes to the largest remainder, to the earlier one where they are equal.
        ("10.00", (1, 1, 1), ("3.34", "3.33", "3.33")),
        ("0.02", (1, 1, 1), ("0.01", "0.01", "0.00")),
        # 1.00 by 1 : 2 : 4 is 14.28…, 28.57…, 57.14… cents; 99 are given, the second lacks most.
        ("1.00", (1, 2, 4), ("0.14", "0.29", "0.57")),
        # Who weighs nothing gets nothing, and may stand anywhere.
        ("0.05", (0, 1, 0, 1), ("0.00", "0.03", "0.00", "0.02")),
        ("5.00", (7,), ("5.00",)),
        ("0.00", (1, 2), ("0.00", "0.00")),
        # What is taken back: half a cent each, and the first is let off.
        ("-0.01", (1, 1), ("0.00", "-0.01")),
    ],
)  # fmt: skip
def test_carriage_is_shared_to_the_last_cent(
    total: str, weights: tuple[int, ...], shares: tuple[str, ...]
) -> None:
    assert share_out(Decimal(total), weights, CENT) == money(*shares)


@pytest.mark.parametrize("weights", [(), (0,), (0, 0), (-1, 2), (3, -1)])
def test_weights_of_nothing_or_less_share_nothing_out(weights: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="non-negative"):
        share_out(Decimal(1), weights, CENT)


def test_half_a_step_cannot_be_shared_out() -> None:
    with pytest.raises(ValueError, match="multiple"):
        share_out(Decimal("0.015"), (1, 1), CENT)


@pytest.mark.parametrize(
    ("amounts", "shown"),
    [
        # 0.333 + 0.333 + 0.334 = 1.00: 33 + 33 + 33 cents, and the last lacks most.
        (("0.333", "0.333", "0.334"), ("0.33", "0.33", "0.34")),
        # 0.005 + 0.005 = 0.01: equal remainders, the earlier gets it.
        (("0.005", "0.005"), ("0.01", "0.00")),
        # 1.004 + 1.004 + 1.004 = 3.012, shown 3.01.
        (("1.004", "1.004", "1.004"), ("1.01", "1.00", "1.00")),
        # 2.675 alone is rounded half up.
        (("2.675",), ("2.68",)),
        (("2.6749",), ("2.67",)),
        # −0.005 + 1 = 0.995, shown 1.00: the first lies between −0.01 and 0.
        (("-0.005", "1"), ("0.00", "1.00")),
        ((), ()),
        (("0", "0"), ("0", "0")),
    ],
)  # fmt: skip
def test_a_column_adds_up_to_its_rounded_sum(
    amounts: tuple[str, ...], shown: tuple[str, ...]
) -> None:
    found = rounded_together([Fraction(amount) for amount in amounts], CENT)
    assert found == money(*shown)
    assert sum(found) == half_up(sum(map(Fraction, amounts)), CENT)


@pytest.mark.parametrize(
    ("amounts", "total", "shown"),
    [
        # A sum rounded with others may be a cent above or below its own rounding.
        (("1.001", "1.003"), "2.01", ("1.00", "1.01")),
        (("1.001", "1.003"), "2.00", ("1.00", "1.00")),
        # Three cents more for two lines: 2 to the one that lacks most.
        (("1.001", "1.003"), "2.03", ("1.01", "1.02")),
        (("1.00", "2.00"), "2.99", ("0.99", "2.00")),
        (("1.00", "2.00"), "2.98", ("0.99", "1.99")),
        (("5",), "5", ("5",)),
    ],
)  # fmt: skip
def test_a_column_adds_up_to_a_sum_shown_elsewhere(
    amounts: tuple[str, ...], total: str, shown: tuple[str, ...]
) -> None:
    found = rounded_together([Fraction(amount) for amount in amounts], CENT, Decimal(total))
    assert found == money(*shown)


@pytest.mark.parametrize(
    ("value", "point", "code", "price"),
    [
        ("12.001", "any", "GBP", "12.01"), ("12.01", "any", "GBP", "12.01"),
        ("12.0001", "any", "BHD", "12.001"), ("12.1", "any", "JPY", "13"),
        ("12", "whole", "GBP", "12.00"), ("12.01", "whole", "GBP", "13.00"),
        ("12.01", "half", "GBP", "12.50"), ("12.50", "half", "GBP", "12.50"),
        ("12.51", "half", "GBP", "13.00"), ("12", "half", "JPY", "12"),
        ("12.2", "half", "JPY", "13"),
        ("12.95", "95", "GBP", "12.95"), ("12.951", "95", "GBP", "13.95"),
        ("12.94", "95", "GBP", "12.95"), ("0.2", "95", "GBP", "0.95"),
        ("12.99", "99", "GBP", "12.99"), ("12.991", "99", "GBP", "13.99"),
        ("12", "99", "GBP", "12.99"), ("12.99", "99", "BHD", "12.990"),
        # No hundredths to end on: whole ones.
        ("12.2", "99", "JPY", "13"), ("13", "95", "JPY", "13"), ("0", "any", "GBP", "0"),
    ],
)  # fmt: skip
def test_a_price_goes_up_to_the_next_point_and_no_further(
    value: str, point: str, code: str, price: str
) -> None:
    found = up_to_point(Decimal(value), point, CURRENCIES[code])
    assert found == Decimal(price)
    assert CURRENCIES[code].figure(found) == f"{Decimal(price):.{CURRENCIES[code].digits}f}"


def test_tenths_are_too_coarse_for_95_and_hundredths_are_enough() -> None:
    tenths, hundredths = Currency("X", "x", 1), Currency("Y", "y", 2)
    assert up_to_point(Decimal("12.2"), "95", tenths) == 13
    assert up_to_point(Decimal("12.2"), "half", tenths) == Decimal("12.5")
    assert up_to_point(Decimal("12.2"), "95", hundredths) == Decimal("12.95")


# Costing


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


# Lots


def test_sixty_left_of_two_hundred_bought_at_four_prices() -> None:
    # Textbook data: 40 at 124, 50 at 136, 20 at 142, 90 at 144 are 27,560; 60 are left. First in first
    # out 18,920 went out and 8,640 is left, by the average of 137.80 19,292 and 8,268.
    bought = [(40, 124), (50, 136), (20, 142), (90, 144)]
    lots = [OpenLot(i, n, Decimal(n * each)) for i, (n, each) in enumerate(bought)]
    assert sum(lot.cost_left for lot in lots) == 27_560
    first = draw(lots, 140, STEP)
    assert [(d.lot, d.quantity, d.cost) for d in first] == [
        (0, 40, 4960), (1, 50, 6800), (2, 20, 2840), (3, 30, 4320)
    ]  # fmt: skip
    assert sum(d.cost for d in first) == 18_920
    average = draw(lots, 140, STEP, "average")
    assert [d.quantity for d in average] == [40, 50, 20, 30]
    assert [d.cost for d in average] == [5512, 6890, 2756, 4134]
    assert sum(d.cost for d in average) == 19_292


def test_consigned_goods_of_a_worked_exercise() -> None:
    # Worked exercise: 750 at 100 and 1,500 freight are 102 each; 420 sold leave 33,660 of stock.
    [sold] = draw([OpenLot(1, 750, Decimal(75_000 + 1_500))], 420, STEP)
    assert (sold.cost, 76_500 - sold.cost) == (42_840, 33_660)


def test_a_gift_goes_out_at_nothing_beside_a_pool() -> None:
    lots = [OpenLot(1, 2, Decimal(6), pooled=True), OpenLot(2, 2, Decimal(0))]
    assert draw(lots, 3, STEP) == [Draw(1, 2, Decimal(6)), Draw(2, 1, Decimal(0))]
    # Gifts pooled by the average, and what was bought since at its own 5 each.
    lots = [OpenLot(1, 2, Decimal(0), pooled=True), OpenLot(2, 2, Decimal(10))]
    assert draw(lots, 3, STEP) == [Draw(1, 2, Decimal(0)), Draw(2, 1, Decimal(5))]


def test_half_a_pound_in_a_pool_is_enough_to_stand_alone() -> None:
    lots = [OpenLot(1, 2, Decimal("0.50"), pooled=True), OpenLot(2, 2, Decimal(10))]
    assert draw(lots, 3, STEP) == [Draw(1, 2, Decimal("0.50")), Draw(2, 1, Decimal(5))]


def test_half_a_pound_left_on_an_emptied_lot_goes_with_the_next() -> None:
    lots = [OpenLot(1, 0, Decimal("0.50")), OpenLot(2, 2, Decimal(4)), OpenLot(3, 1, Decimal(9))]
    # 4.50 for two: 2.25 for one of them. The third is not drawn in.
    assert draw(lots, 1, STEP) == [Draw(2, 1, Decimal("2.25"))]
    assert draw(lots, 3, STEP) == [Draw(2, 2, Decimal("4.50")), Draw(3, 1, Decimal(9))]


def test_a_debt_of_half_a_pound_is_paid_by_the_next() -> None:
    lots = [OpenLot(1, 1, Decimal("-0.50")), OpenLot(2, 1, Decimal("0.50")),
            OpenLot(3, 1, Decimal(9))]  # fmt: skip
    # Together nothing for two; that is no debt, so the third keeps its own.
    assert draw(lots, 3, STEP) == [Draw(1, 1, Decimal(0)), Draw(2, 1, Decimal(0)),
                                   Draw(3, 1, Decimal(9))]  # fmt: skip


def test_emptied_lots_give_nothing_and_are_not_named() -> None:
    lots = [OpenLot(1, 0, Decimal(0)), OpenLot(2, 1, Decimal(3)), OpenLot(3, 1, Decimal(5))]
    assert draw(lots, 1, STEP) == [Draw(2, 1, Decimal(3))]
    assert draw(lots, 2, STEP) == [Draw(2, 1, Decimal(3)), Draw(3, 1, Decimal(5))]
    assert draw(lots, 0, STEP) == draw(lots, 0, STEP, "average") == []
    for valuation in ("fifo", "average"):
        with pytest.raises(DomainError, match="There is 2 here and 3 is wanted"):
            draw(lots, 3, STEP, valuation)


def test_all_of_a_chosen_lot_may_be_taken_and_one_more_may_not() -> None:
    lots = [OpenLot(4, 3, Decimal(10)), OpenLot(5, 1, Decimal(7))]
    assert draw_chosen(lots, {4: 3, 5: 1}, STEP) == [
        Draw(4, 3, Decimal(10)), Draw(5, 1, Decimal(7))
    ]  # fmt: skip
    # 10 × 2 ÷ 3 = 6.6666…, rounded down.
    assert draw_chosen(lots, {4: 2}, STEP) == [Draw(4, 2, Decimal("6.6666"))]
    with pytest.raises(DomainError, match="There is 3 of that lot and 4 is wanted"):
        draw_chosen(lots, {4: 4}, STEP)
    with pytest.raises(DomainError, match="There is 0 of that lot and 1 is wanted"):
        draw_chosen(lots, {6: 1}, STEP)


# Papers


@pytest.mark.parametrize(
    ("name", "pounds", "grams"),
    [
        # Trade paper tables: pounds × 3.760, 2.704, 1.627, 1.480, 2.193, 1.808 by basic size.
        ("bond", 20, "75.2"), ("cover", 100, "270.4"), ("tag", 100, "162.7"),
        ("text", 90, "133.2"), ("bristol", 100, "219.3"), ("index", 100, "180.8"),
        # Computed from 1406.14 ÷ (22 × 30) = 2.1305.
        ("watercolour", 140, "298.3"),
    ],
)  # fmt: skip
def test_every_basic_size_gives_the_weight_of_the_trade(name: str, pounds: int, grams: str) -> None:
    exact = grammage_from_pounds(pounds, *BASIC_SIZES[name])
    assert abs(exact - Fraction(grams)) <= Fraction(1, 20)
    assert len(BASIC_SIZES) == 7


def test_a_sheet_of_a4_weighs_five_grams() -> None:
    # Computed: 0.21 × 0.297 = 0.06237 m², at 80 g/m² 4.9896 g.
    assert weight_mg(210 * MM, 297 * MM, Fraction(80)) == Fraction("4989.6")


@pytest.mark.parametrize(
    ("name", "size"),
    [
        # Encyclopædia Britannica, 11th edition (1911), vol. 20, p. 735.
        ("Imperial", ("22", "30")), ("Double elephant", ("26.5", "40")), ("Royal", ("19", "24")),
        # Common practice, no source.
        ("Letter", ("8.5", "11")), ("Legal", ("8.5", "14")), ("Tabloid", ("11", "17")),
    ],
)  # fmt: skip
def test_sizes_in_inches_can_be_picked_by_name(name: str, size: tuple[str, str]) -> None:
    assert named_sizes()[name] == tuple(int(Fraction(side) * INCH) for side in size)
    # A0 to A6, B0 to B5, RA0 to RA4, SRA0 to SRA4 (ISO 216 and 217), and these six.
    assert len(named_sizes()) == 7 + 6 + 5 + 5 + 6


def test_a_side_just_over_150_and_600_may_stray_further() -> None:
    # ISO 216: up to 150 mm ±1.5, up to 600 ±2, over that ±3.
    assert [iso_tolerance(nm) for nm in (150 * MM, 150 * MM + 1, 600 * MM, 600 * MM + 1)] == [
        1_500_000, 2 * MM, 2 * MM, 3 * MM
    ]  # fmt: skip


def test_trimming_comes_off_all_four_edges() -> None:
    # 560 − 2 × 5 and 760 − 2 × 5.
    assert Sheet("s", 560, 760, trim_nm=5).usable == (550, 750)
    assert Sheet("s", 560, 760).usable == (560, 760)


def test_a_sheet_may_shrink_to_a_single_nanometre_and_no_further() -> None:
    for sheet in (Sheet("s", 1, 1), Sheet("s", 11, 15, trim_nm=5), Sheet("s", 15, 11, trim_nm=5),
                  Sheet("s", 9, 9, "width"), Sheet("s", 9, 9, "height")):  # fmt: skip
        check_sheet(sheet)
    for sheet in (Sheet("s", 0, 5), Sheet("s", 5, 0), Sheet("s", -1, 5), Sheet("s", 5, -1)):
        with pytest.raises(DomainError, match="above zero"):
            check_sheet(sheet)
    for sheet in (Sheet("s", 10, 15, trim_nm=5), Sheet("s", 15, 10, trim_nm=5),
                  Sheet("s", 9, 9, trim_nm=-1)):  # fmt: skip
        with pytest.raises(DomainError, match="trim less"):
            check_sheet(sheet)
    for grain in ("across", ""):
        with pytest.raises(DomainError, match="Grain"):
            check_sheet(Sheet("s", 9, 9, grain))


def test_a_piece_may_be_a_nanometre_wide_and_no_less() -> None:
    assert Piece("strip", 1, 5).count == 1
    assert Piece("strip", 5, 1).grain is None
    for size in ((0, 5), (5, 0), (-1, 5)):
        with pytest.raises(DomainError, match="no width or no height"):
            Piece("strip", *size)


def test_one_leaf_two_leaves_and_two_folios() -> None:
    leaf, folio = Piece("leaf", 1, 1), Piece("folio", 1, 1)
    assert [leaf.named(n) for n in (0, 1, 2)] == ["leaves", "leaf", "leaves"]
    assert [folio.named(n) for n in (0, 1, 2)] == ["folios", "folio", "folios"]


@pytest.mark.parametrize(
    ("sheet_grain", "piece_grain", "ways"),
    [
        ("width", "width", (True, False)), ("width", "height", (False, True)),
        ("height", "height", (True, False)), (None, "width", (True, True)),
        ("width", None, (True, True)), (None, None, (True, True)),
    ],
)  # fmt: skip
def test_a_piece_lies_straight_with_the_grain_and_turned_against_it(
    sheet_grain: str | None, piece_grain: str | None, ways: tuple[bool, bool]
) -> None:
    piece = Piece("p", 1, 2, 1, piece_grain)
    assert ways_to_lie(piece, Sheet("s", 9, 9, sheet_grain)) == ways
    # A print with a top, or a piece that must stand, is never turned.
    assert ways_to_lie(piece, Sheet("s", 9, 9, sheet_grain, pattern_up=True)) == (ways[0], False)
    upright = Piece("p", 1, 2, 1, piece_grain, may_turn=False)
    assert ways_to_lie(upright, Sheet("s", 9, 9, sheet_grain)) == (ways[0], False)


# Lengths and numbers as they are written


@pytest.fixture(params=["point"])
def style(request: pytest.FixtureRequest) -> Iterator[str]:
    """The shop's number style for one test."""
    token = number_style.set(request.param)
    yield request.param
    number_style.reset(token)


def test_units_are_what_they_are_defined_as() -> None:
    # The inch is 25.4 mm by the agreement of 1959; ten thousand metres are the longest.
    assert (NM, MM, CM, METRE) == (1, 10**6, 10**7, 10**9)
    assert Fraction(INCH, MM) == Fraction("25.4")
    assert LONGEST == 10**13
    assert (inches("4 1/2"), inches(2), inches(Fraction(1, 64))) == (
        114_300_000,
        50_800_000,
        396_875,
    )
    for odd in ("1/3", Fraction(1, 7)):
        with pytest.raises(ValueError, match="whole number"):
            inches(odd)


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        ("1.005", 2, "1.01"), ("1.0049", 2, "1"), ("-1.005", 2, "-1.01"), ("-0.004", 2, "0"),
        ("-0.005", 2, "-0.01"), ("0", 2, "0"), ("12.30", 2, "12.3"), ("0.05", 1, "0.1"),
        ("2.5", 0, "3"), ("2.4", 0, "2"), ("10", 0, "10"), ("0.007", 3, "0.007"), ("100", 2, "100"),
    ],
)  # fmt: skip
def test_decimals_are_rounded_half_up_and_end_without_zeros(
    value: str, places: int, text: str
) -> None:
    assert plain_decimal(Fraction(value), places) == text
    assert plain_decimal(Decimal(value), places) == text


@pytest.mark.parametrize(
    ("nm", "text"),
    [
        (0, "0"), (INCH, "1"), (-INCH, "-1"), (396_875, "1/64"), (-396_875, "-1/64"),
        (INCH + INCH // 2, "1 1/2"), (-(2 * INCH + INCH // 4), "-2 1/4"), (3 * INCH // 8, "3/8"),
        (1, None), (396_876, None), (INCH // 5, None),
    ],
)  # fmt: skip
def test_inches_are_binary_fractions_down_to_a_64th(nm: int, text: str | None) -> None:
    assert inch_fraction(nm) == text


@pytest.mark.parametrize(
    ("nm", "unit", "text"),
    [
        (0, "mm", "0 mm"), (2 * METRE - 1, "mm", "2000 mm"), (2 * METRE - 10_000, "mm", "1999.99 mm"),
        (2 * METRE, "mm", "2 m"), (-2 * METRE, "mm", "-2 m"), (2_345_678_901, "mm", "2.35 m"),
        (12_345_000, "mm", "12.35 mm"), (12_344_999, "mm", "12.34 mm"), (-5 * MM, "mm", "-5 mm"),
        # An inch and a 64th; a tenth, 0.1 in; below an eighth a decimal more: 0.123456 → 0.1235.
        (INCH + 396_875, "in", "1 1/64 in"), (INCH // 10, "in", "0.1 in"),
        (3_135_782, "in", "0.1235 in"),
        # 0.125 in is 3 175 000 nm exactly; one nanometre more is 0.125 again, one less 0.1250.
        (3_175_000, "in", "1/8 in"), (3_175_001, "in", "0.125 in"), (3_180_000, "in", "0.125 in"),
        (3_170_000, "in", "0.1248 in"), (-3_170_000, "in", "-0.1248 in"),
        (-3_180_000, "in", "-0.125 in"), (3 * METRE, "in", "118.11 in"),
    ],
)  # fmt: skip
def test_lengths_are_shown_as_finely_as_they_are_measured(nm: int, unit: str, text: str) -> None:
    assert show_length(nm, unit) == text


@pytest.mark.parametrize(
    ("nm", "unit", "text"),
    [
        (1, "mm", "0.000001 mm"), (160 * MM, "mm", "160 mm"), (3 * METRE, "mm", "3000 mm"),
        (INCH // 2, "in", "1/2 in"), (INCH // 10, "in", "0.1 in"), (2_540, "in", "0.0001 in"),
        (INCH + 2_540, "in", "1.0001 in"),
        # Neither a 64th nor a ten-thousandth: in millimetres, exactly.
        (2_541, "in", "0.002541 mm"), (1_270, "in", "0.00127 mm"), (0, "in", "0 in"),
    ],
)  # fmt: skip
def test_lengths_in_fields_are_exact(nm: int, unit: str, text: str) -> None:
    assert type_length(nm, unit) == text


@pytest.mark.parametrize(
    ("nm", "unit", "measured"),
    [
        (0, "mm", 0), (1, "mm", 5 * MM), (5 * MM, "mm", 5 * MM), (5 * MM + 1, "mm", 10 * MM),
        (1, "in", INCH // 4), (INCH // 4, "in", INCH // 4), (INCH // 4 + 1, "in", INCH // 2),
    ],
)  # fmt: skip
def test_thread_is_measured_up_to_the_next_mark(nm: int, unit: str, measured: int) -> None:
    assert measured_up(nm, unit) == measured


def test_a_size_says_both_units_where_they_differ() -> None:
    assert show_size(160 * MM, 2 * METRE, "mm") == "160 mm × 2 m"
    assert show_size(3 * METRE, 2 * METRE, "mm") == "3 × 2 m"
    assert show_size(17 * INCH // 2, 11 * INCH, "in") == "8 1/2 × 11 in"


@pytest.mark.parametrize(
    ("style", "text", "shown"),
    [
        ("point", "1,234.5", "1,234.5"), ("comma", "1,234.5", "1.234,5"),
        ("space", "1,234,567.25", "1\u202f234\u202f567,25"), ("comma", "5 at 0.40", "5 at 0,40"),
        ("comma", "a, b. c", "a, b. c"),
    ],
    indirect=["style"],
)  # fmt: skip
def test_figures_are_written_as_the_shop_writes_them(style: str, text: str, shown: str) -> None:
    assert styled(text) == shown


@pytest.mark.parametrize(
    ("style", "typed", "number"),
    [
        # Thirty signs are read; a digit, a sign before it, a mark with digits after it.
        ("point", "9" * 30, "9" * 30), ("point", "7", "7"), ("point", "-7", "-7"),
        ("point", "+7.5", "7.5"), ("point", "-.5", "-0.5"), ("point", "−2", "-2"),
        # One mark before three digits, and before fewer or more.
        ("point", "100,000", "100000"), ("point", "1000,000", "1000"), ("point", "1,00", "1"),
        ("point", "1,0000", "1"), ("point", "0,000", "0"), ("comma", "12.345", "12345"),
        ("comma", "-12.34", "-12.34"), ("point", "-1.234,5", "-1234.5"),
        ("point", "-1,234,567", "-1234567"), ("point", "12,345,678.9", "12345678.9"),
        ("point", "1 234 567", "1234567"), ("space", "0,125", "0.125"), ("point", "-12", "-12"),
        ("point", "-1.250", "-1.25"), ("comma", "1,250", "1.25"), ("space", "1,250", "1.25"),
    ],
    indirect=["style"],
)  # fmt: skip
def test_a_number_that_means_one_thing_is_read(style: str, typed: str, number: str) -> None:
    assert read_number(typed) == Decimal(number)


@pytest.mark.parametrize(
    "typed",
    ["", "-", "1.", ",", "1..2", "9" * 31, "1,2,345", "1.2345,6", ".1,2", "1,234.567.8", "1234,567.8",
     "12,34,567", "--1", "1,,234", "0,123.4", ",123.4"],
)  # fmt: skip
def test_what_means_nothing_is_refused_as_it_was_typed(typed: str) -> None:
    with pytest.raises(DomainError, match="is not a number") as caught:
        read_number(typed)
    assert typed[:30] in caught.value.message


@pytest.mark.parametrize(
    ("style", "typed", "words"),
    [
        # 1.500 in a shop that writes 1 500,0: fifteen hundred, or one and a half.
        ("space", "1.500", "“1.500” can be read two ways: type 1500 for 1\u202f500, or 1,500 for 1,5."),
        ("space", "12.000",
         "“12.000” can be read two ways: type 12000 for 12\u202f000, or 12,000 for 12."),
    ],
    indirect=["style"],
)  # fmt: skip
def test_what_means_two_things_is_asked_back(style: str, typed: str, words: str) -> None:
    with pytest.raises(DomainError) as caught:
        read_number(typed)
    assert caught.value.message == words


@pytest.mark.parametrize(
    ("tag", "expected"),
    [("de-ch", "point"), ("fr_CH.UTF-8", "point"), ("es-MX", "point"), ("es", "comma"),
     ("nb_NO", "space"), ("ja_JP", "point"), ("pt_BR.UTF-8", "comma"), ("it", "comma")],
)  # fmt: skip
def test_a_language_has_its_usual_style(tag: str, expected: str) -> None:
    # Common practice, no source.
    assert style_of_language(tag) == expected
