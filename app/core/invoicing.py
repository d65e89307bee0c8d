"""The sums of an invoice, by the arithmetic of EN 16931 (business terms BT, rules BR-CO).

A line's net amount is rounded apart; tax is worked out once a rate on the sum of its lines,
allowances and charges, and rounded to the currency's minor unit. Nothing here knows who pays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from app.core.money import Currency, Exact, share_out, to_minor


@dataclass(frozen=True)
class Part:
    """A line, or a charge on the whole invoice: its net amount and its tax rate.

    A charge below zero is an allowance.
    """

    net: Decimal
    rate: Decimal


@dataclass(frozen=True)
class TaxAt:
    """The tax of one rate: ``base`` is what it is worked out on."""

    rate: Decimal
    base: Decimal
    tax: Decimal


@dataclass(frozen=True)
class Totals:
    """The sums at the foot of an invoice, in their order there."""

    lines: Decimal
    allowances: Decimal
    charges: Decimal
    taxes: tuple[TaxAt, ...]
    paid: Decimal
    rounding: Decimal

    @property
    def net(self) -> Decimal:
        """Lines less allowances and with charges, before tax (BR-CO-13)."""
        return self.lines - self.allowances + self.charges

    @property
    def tax(self) -> Decimal:
        """The tax of all rates (BR-CO-14)."""
        return sum((row.tax for row in self.taxes), Decimal(0))

    @property
    def gross(self) -> Decimal:
        """With tax (BR-CO-15)."""
        return self.net + self.tax

    @property
    def due(self) -> Decimal:
        """What is still to pay (BR-CO-16)."""
        return self.gross - self.paid + self.rounding


def line_net(
    price: Exact,
    quantity: Exact,
    currency: Currency,
    *,
    per: Exact = 1,
    charges: Decimal = Decimal(0),
) -> Decimal:
    """A line's net amount: so many at a price for each ``per`` of them, rounded, then charges."""
    return to_minor(Fraction(price) * Fraction(quantity) / Fraction(per), currency) + charges


def totals(
    lines: Sequence[Part],
    currency: Currency,
    *,
    charges: Sequence[Part] = (),
    paid: Decimal = Decimal(0),
    rounding: Decimal = Decimal(0),
) -> Totals:
    """The sums of lines and charges; rates in the order in which they first come."""
    bases: dict[Decimal, Decimal] = {}
    for part in (*lines, *charges):
        bases[part.rate] = bases.get(part.rate, Decimal(0)) + part.net
    taxes = tuple(
        TaxAt(rate, base, to_minor(base * rate, currency)) for rate, base in bases.items()
    )
    return Totals(
        lines=sum((part.net for part in lines), Decimal(0)),
        allowances=-sum((part.net for part in charges if part.net < 0), Decimal(0)),
        charges=sum((part.net for part in charges if part.net > 0), Decimal(0)),
        taxes=taxes, paid=paid, rounding=rounding,
    )  # fmt: skip


def net_of(
    gross: Sequence[Decimal], rate: Decimal, currency: Currency
) -> tuple[list[Decimal], Decimal]:
    """Amounts that include tax as net amounts, and the rounding that leads back to their sum.

    Prices that include tax are agreed with whoever pays, so what is to pay stays as it is: the net
    amounts are shares of the sum before tax, and where no sum of minor units has just this tax on
    top of it, the minor unit that is missing is the rounding (BT-114).
    """
    whole = sum(gross, Decimal(0))
    base = to_minor(Fraction(whole) / (1 + Fraction(rate)), currency)
    rounding = whole - base - to_minor(base * rate, currency)
    nets = share_out(base, gross, currency.step) if whole else [Decimal(0)] * len(gross)
    return nets, rounding


def tax_within(gross: Decimal, rate: Decimal, currency: Currency) -> Decimal:
    """The tax in an amount that includes it, as an invoice of this amount has it."""
    [net], _ = net_of([gross], rate, currency)
    return to_minor(net * rate, currency)
