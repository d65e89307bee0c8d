"""The sums behind a price say figures that come to it."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from app.core.costing import (
    ChannelTerms,
    CostLine,
    CostSheet,
    outcome,
    suggested_price,
)
from app.core.money import currency
from app.core.price_sums import pay_sum, profit_sum, suggested_sum

POUND = currency("GBP")
D = Decimal


def sheet_of(materials: str, labour: str, minutes: Fraction) -> CostSheet:
    rows = (("materials", materials), ("labour", labour))
    return CostSheet(tuple(CostLine(g, g, "", "", D(a)) for g, a in rows), minutes)


def test_a_price_by_hand() -> None:
    # By hand: 20 ÷ (0.75 ÷ 1.25 − 0.1) = 20 ÷ 0.5 = 40; tax 8, fees 4, cost 20: 8 is left.
    sheet = sheet_of("12.00", "8.00", Fraction(32))
    terms = ChannelTerms(Fraction(1, 10), Fraction(0), Fraction(1, 4), Fraction(1, 4))
    asked = suggested_price(sheet.total(), terms, POUND)
    assert suggested_sum(asked, sheet, terms, POUND) == (
        "20.00 cost ÷ ((1 − 25% margin) ÷ (1 + 25% tax) − 10% fees) = 40.00"
    )
    at = outcome(asked, sheet, terms, POUND)
    assert profit_sum(at, POUND) == "40.00 − 8.00 tax − 4.00 fees − 20.00 cost = 8.00"
    assert pay_sum(at, sheet, POUND) == (
        "(8.00 profit + 8.00 your pay in the cost) × 60 ÷ 32 min = 30.00"
    )


def test_what_is_rounded_and_what_is_lost_is_said() -> None:
    sheet = sheet_of("10.00", "0.50", Fraction(7, 3))
    terms = ChannelTerms(Fraction(0), Fraction(1, 5), Fraction(0), Fraction(1, 3), "whole")
    asked = suggested_price(sheet.total(), terms, POUND)
    assert suggested_sum(asked, sheet, terms, POUND).startswith(
        "(10.50 cost + 0.2 a sale) ÷ (1 − 33.3333% margin) = 16.05"
    )
    at = outcome(D("9.00"), sheet, terms, POUND)
    assert profit_sum(at, POUND) == "9.00 − 0.20 fees − 10.50 cost = −1.70"
    assert "÷ 2.33 min = −30.86" in pay_sum(at, sheet, POUND)
    idle = sheet_of("10.00", "0.00", Fraction(0))
    assert pay_sum(outcome(D(9), idle, terms, POUND), idle, POUND) == ""


@given(
    st.integers(1, 10_000), st.integers(0, 5_000), st.integers(0, 30), st.integers(0, 25),
    st.integers(0, 50), st.integers(1, 20_000),
)  # fmt: skip
def test_the_figures_of_a_profit_come_to_it(
    materials: int, labour: int, fee: int, tax: int, margin: int, price: int
) -> None:
    sheet = sheet_of(str(D(materials) / 100), str(D(labour) / 100), Fraction(30))
    terms = ChannelTerms(*(Fraction(n, 100) for n in (fee, 0, tax, margin)))
    said = profit_sum(outcome(D(price) / 100, sheet, terms, POUND), POUND)
    left, total = said.replace(",", "").split(" = ")
    figures = [D(n) for n in re.findall(r"\d+\.\d\d", left)]
    assert figures[0] - sum(figures[1:]) == D(total.replace("−", "-"))
