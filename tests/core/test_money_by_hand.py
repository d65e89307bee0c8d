"""Money redone by hand: minor units, tax, shares, columns that add up, price points."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from app.core.invoicing import net_of, tax_within
from app.core.money import (
    CURRENCIES,
    Currency,
    half_up,
    rounded_together,
    share_out,
    to_minor,
    up_to_point,
)

POUND, YEN, DINAR = CURRENCIES["GBP"], CURRENCIES["JPY"], CURRENCIES["BHD"]

CENT = Decimal("0.01")


def money(*amounts: str) -> list[Decimal]:
    return [Decimal(amount) for amount in amounts]


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
    [found], rounding = net_of([Decimal(gross)], Decimal(rate), CURRENCIES[code])
    within = tax_within(Decimal(gross), Decimal(rate), CURRENCIES[code])
    assert (found, within + rounding) == (Decimal(net), Decimal(tax))


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
