"""Money never strays by a unit."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.invoicing import net_of, tax_within
from app.core.money import CURRENCIES, currency, half_up, share_out

EURO = CURRENCIES["EUR"]
cents = st.integers(-(10**9), 10**9).map(lambda n: Decimal(n).scaleb(-2))


@pytest.mark.parametrize(
    ("code", "digits"), [("JPY", 0), ("EUR", 2), ("GBP", 2), ("USD", 2), ("BHD", 3)]
)
def test_minor_units(code: str, digits: int) -> None:
    # ISO 4217, minor units.
    assert CURRENCIES[code].digits == digits
    assert CURRENCIES[code].step == Decimal(1).scaleb(-digits)


def test_tax_in_a_price_of_2_99() -> None:
    # OpenStax, Principles of Accounting (4% tax included in 2.99). Rounding the net first gives
    # 2.88 + 0.11, the tax first 2.87 + 0.12: one side is rounded, the other is what remains.
    [net], rounding = net_of([Decimal("2.99")], Decimal("0.04"), EURO)
    tax = tax_within(Decimal("2.99"), Decimal("0.04"), EURO)
    assert (net, tax + rounding) == (Decimal("2.88"), Decimal("0.11"))
    tax = half_up(Fraction("2.99") * Fraction(4, 104), EURO.step)
    assert (Decimal("2.99") - tax, tax) == (Decimal("2.87"), Decimal("0.12"))


@pytest.mark.parametrize(
    ("value", "rounded"),
    [("0.005", "0.01"), ("0.0049", "0.00"), ("-0.005", "-0.01"), ("2.675", "2.68"), ("1", "1.00")],
)
def test_half_up(value: str, rounded: str) -> None:
    assert half_up(Decimal(value), Decimal("0.01")) == Decimal(rounded)


@given(cents, st.lists(st.integers(0, 1000), min_size=1, max_size=9).filter(any))
def test_shares_add_up_and_are_fair(total: Decimal, weights: list[int]) -> None:
    shares = share_out(total, weights, EURO.step)
    assert sum(shares) == total
    for part, weight in zip(shares, weights, strict=True):
        exact = Fraction(total) * weight / sum(weights)
        assert abs(Fraction(part) - exact) < Fraction(1, 100)


def test_shares_of_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="non-negative"):
        share_out(Decimal(1), [0, 0], EURO.step)
    with pytest.raises(ValueError, match="multiple"):
        share_out(Decimal("1.001"), [1], EURO.step)


def test_amounts_in_words() -> None:
    assert CURRENCIES["GBP"].show(Decimal("-1234.5")) == "−£1,234.50"
    assert CURRENCIES["JPY"].show(Decimal(1234)) == "¥1,234"
    assert CURRENCIES["BHD"].figure(Decimal("0.5")) == "0.500"


def test_an_unknown_currency_is_refused() -> None:
    with pytest.raises(DomainError, match="XXX"):
        currency("XXX")
