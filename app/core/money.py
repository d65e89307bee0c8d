"""Money: decimals to the currency's minor unit, with every rounding named.

No float is accepted anywhere. Amounts are worked out as exact fractions and become money once,
on the line of a document, by :func:`to_minor`; totals are then plain sums of lines, so a
column always adds up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from app.core.errors import DomainError
from app.core.numbers import styled
from app.language import say

Exact = int | Fraction | Decimal

MOST = Decimal("1000000000")
"""A single amount is below this; a larger one is a mistake of the keyboard."""


@dataclass(frozen=True)
class Currency:
    """A currency's code, sign and number of decimals.

    Minor units as in ISO 4217: two for most, none for JPY and KRW, three for BHD and KWD.
    """

    code: str
    sign: str
    digits: int

    @property
    def step(self) -> Decimal:
        """The smallest amount that changes hands."""
        return Decimal(1).scaleb(-self.digits)

    def show(self, amount: Decimal) -> str:
        """``£1,250.00``; a minus sign goes before the currency's."""
        figure = styled(f"{abs(amount):,.{self.digits}f}")
        return f"{'−' if amount < 0 else ''}{self.sign}{figure}"

    def figure(self, amount: Decimal) -> str:
        """The amount for a column whose head carries the sign."""
        return f"{'−' if amount < 0 else ''}" + styled(f"{abs(amount):,.{self.digits}f}")


CURRENCIES = {
    currency.code: currency
    for currency in (
        Currency("GBP", "£", 2),
        Currency("EUR", "€", 2),
        Currency("USD", "$", 2),
        Currency("CAD", "CA$", 2),
        Currency("AUD", "A$", 2),
        Currency("NZD", "NZ$", 2),
        Currency("CHF", "CHF ", 2),
        Currency("SEK", "SEK ", 2),
        Currency("NOK", "NOK ", 2),
        Currency("DKK", "DKK ", 2),
        Currency("PLN", "zł ", 2),
        Currency("CZK", "Kč ", 2),
        Currency("INR", "₹", 2),
        Currency("ZAR", "R", 2),
        Currency("BRL", "R$", 2),
        Currency("MXN", "MX$", 2),
        Currency("JPY", "¥", 0),
        Currency("KRW", "₩", 0),
        Currency("BHD", "BD ", 3),
        Currency("KWD", "KD ", 3),
    )
}


def currency(code: str) -> Currency:
    """The currency of an ISO 4217 code; unknown codes are refused."""
    try:
        return CURRENCIES[code]
    except KeyError:
        raise DomainError(
            say("“{code}” is no currency this program knows.", code=code), "currency"
        ) from None


def half_up(value: Exact, step: Decimal) -> Decimal:
    """Round to a multiple of ``step``, halves away from zero."""
    scaled = Fraction(value) / Fraction(step)
    whole = (abs(scaled.numerator) * 2 + scaled.denominator) // (2 * scaled.denominator)
    return (whole if scaled >= 0 else -whole) * step


def to_minor(value: Exact, currency: Currency) -> Decimal:
    """The one rounding of a document's line: half up to the minor unit."""
    return half_up(value, currency.step)


def share_out(total: Decimal, weights: Sequence[Exact], step: Decimal) -> list[Decimal]:
    """Split ``total`` by ``weights`` into multiples of ``step`` that add up to it exactly.

    Each share is rounded down and the steps left over go to the largest remainders, earlier
    ones first on a tie. ``total`` must be a multiple of ``step``; weights must not be negative
    and one must be above zero.
    """
    exact = [Fraction(w) for w in weights]
    if not exact or min(exact) < 0 or not sum(exact):
        raise ValueError("weights must be non-negative and not all zero")
    steps = Fraction(total) / Fraction(step)
    if steps.denominator != 1:
        raise ValueError("the total is no multiple of the step")
    whole = sum(exact)
    shares = [steps * w / whole for w in exact]
    floors = [s.numerator // s.denominator for s in shares]
    left = int(steps) - sum(floors)
    order = sorted(range(len(shares)), key=lambda i: (floors[i] - shares[i], i))
    for i in order[:left]:
        floors[i] += 1
    return [f * step for f in floors]


def rounded_together(
    amounts: Sequence[Exact], step: Decimal, total: Decimal | None = None
) -> list[Decimal]:
    """Amounts to show in one column: multiples of ``step`` that add up to their rounded sum.

    Each is rounded down and the steps left over go to the largest remainders, earlier ones first
    on a tie, so none is a whole step away from what it is. ``total`` is what they add up to where
    their sum is shown elsewhere, rounded together with other sums.
    """
    scaled = [Fraction(amount) / Fraction(step) for amount in amounts]
    if total is None:
        total = half_up(sum(scaled, Fraction(0)) * Fraction(step), step)
    floors = [s.numerator // s.denominator for s in scaled]
    left = int(total / step) - sum(floors)
    order = sorted(range(len(scaled)), key=lambda i: (floors[i] - scaled[i], i))
    for turn in range(left):
        floors[order[turn % len(order)]] += 1
    for turn in range(-left):
        floors[order[turn % len(order)]] -= 1
    return [f * step for f in floors]


def up_to_point(value: Exact, point: str, currency: Currency) -> Decimal:
    """The lowest price at or above ``value`` that ends on the shop's price point.

    Points: ``whole`` (12.00), ``half`` (12.00, 12.50), ``95`` (12.95), ``99`` (12.99) and
    ``any`` (the next minor unit). Points below the minor unit fall back to ``whole``.
    """
    exact = Fraction(value)
    if point == "any":
        return _ceiling(exact, currency.step)
    if point == "half" and currency.digits:
        return _ceiling(exact, Decimal("0.5")).quantize(currency.step)
    if point in ("95", "99") and currency.digits >= 2:
        tail = Decimal(point) / 100
        return (_ceiling(exact - Fraction(tail), Decimal(1)) + tail).quantize(currency.step)
    return _ceiling(exact, Decimal(1)).quantize(currency.step)


def _ceiling(value: Fraction, step: Decimal) -> Decimal:
    scaled = value / Fraction(step)
    return -(-scaled.numerator // scaled.denominator) * step
