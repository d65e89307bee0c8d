"""The sums behind a price in words: what it was made from, what it leaves, what an hour earns."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from app.core.costing import ChannelTerms, CostSheet, Outcome, exact_price
from app.core.length import plain_decimal
from app.core.money import Currency
from app.core.numbers import styled


def suggested_sum(
    suggested: Decimal, sheet: CostSheet, terms: ChannelTerms, money: Currency
) -> str:
    """``(21.17 cost + 0.20 a sale) ÷ ((1 − 35%) ÷ (1 + 20% tax) − 2% fees) = 40.89…``"""
    cost = f"{money.figure(sheet.total())} cost"
    if terms.fixed_fee:
        cost = f"({cost} + {_amount(terms.fixed_fee)} a sale)"
    keeps = f"(1 − {_percent(terms.margin)} margin)"
    if terms.tax:
        keeps += f" ÷ (1 + {_percent(terms.tax)} tax)"
    if terms.fee_rate:
        keeps = f"({keeps} − {_percent(terms.fee_rate)} fees)"
    exact = exact_price(sheet.total(), terms)
    shown = money.figure(suggested)
    if exact == Fraction(suggested):
        return f"{cost} ÷ {keeps} = {shown}"
    return f"{cost} ÷ {keeps} = {_amount(exact)}, up to {shown}"


def profit_sum(at: Outcome, money: Currency) -> str:
    """``46.00 − 7.67 tax − 1.12 fees − 21.17 cost = 16.04``"""
    taken = ((at.tax, "tax"), (at.fees, "fees"), (at.cost, "cost"))
    less = "".join(f" − {money.figure(amount)} {name}" for amount, name in taken if amount)
    return f"{money.figure(at.price)}{less} = {money.figure(at.profit)}"


def pay_sum(at: Outcome, sheet: CostSheet, money: Currency) -> str:
    """``(16.04 profit + 10.45 your pay in the cost) × 60 ÷ 39.2 min = 40.55``; empty without."""
    if at.pay_per_hour is None:
        return ""
    pay = money.figure(sheet.total("labour"))
    return (
        f"({money.figure(at.profit)} profit + {pay} your pay in the cost) × 60 ÷ "
        f"{styled(plain_decimal(sheet.minutes, 2))} min = {money.figure(at.pay_per_hour)}"
    )


def _amount(amount: Fraction) -> str:
    """To a ten-thousandth, so that what was rounded can be seen."""
    return styled(plain_decimal(amount, 4))


def _percent(share: Fraction) -> str:
    return styled(plain_decimal(share * 100, 4)) + "%"
