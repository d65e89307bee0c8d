"""The sums behind a price in words: what it was made from, what it leaves, what an hour earns."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from app.core.costing import ChannelTerms, CostSheet, Outcome, exact_price
from app.core.length import plain_decimal
from app.core.money import Currency
from app.core.numbers import styled
from app.language import say, to_say


def suggested_sum(
    suggested: Decimal, sheet: CostSheet, terms: ChannelTerms, money: Currency
) -> str:
    """``(21.17 cost + 0.20 a sale) ÷ ((1 − 35%) ÷ (1 + 20% tax) − 2% fees) = 40.89…``"""
    cost = say("{amount} cost", amount=money.figure(sheet.total()))
    if terms.fixed_fee:
        cost = say("({cost} + {fee} a sale)", cost=cost, fee=_amount(terms.fixed_fee))
    keeps = say("(1 − {share} margin)", share=_percent(terms.margin))
    if terms.tax:
        keeps = say("{kept} ÷ (1 + {rate} tax)", kept=keeps, rate=_percent(terms.tax))
    if terms.fee_rate:
        keeps = say("({kept} − {rate} fees)", kept=keeps, rate=_percent(terms.fee_rate))
    exact = exact_price(sheet.total(), terms)
    shown = money.figure(suggested)
    if exact == Fraction(suggested):
        return f"{cost} ÷ {keeps} = {shown}"
    price = say("{amount}, up to {point}", amount=_amount(exact), point=shown)
    return f"{cost} ÷ {keeps} = {price}"


def profit_sum(at: Outcome, money: Currency) -> str:
    """``46.00 − 7.67 tax − 1.12 fees − 21.17 cost = 16.04``"""
    taken = (
        (at.tax, to_say("{amount} tax")),
        (at.fees, to_say("{amount} fees")),
        (at.cost, to_say("{amount} cost")),
    )
    parts = [say(words, amount=money.figure(amount)) for amount, words in taken if amount]
    less = "".join(f" − {part}" for part in parts)
    return f"{money.figure(at.price)}{less} = {money.figure(at.profit)}"


def pay_sum(at: Outcome, sheet: CostSheet, money: Currency) -> str:
    """``(16.04 profit + 10.45 your pay in the cost) × 60 ÷ 39.2 min = 40.55``; empty without."""
    if at.pay_per_hour is None:
        return ""
    return say(
        "({profit} profit + {pay} your pay in the cost) × 60 ÷ {minutes} min = {each_hour}",
        profit=money.figure(at.profit),
        pay=money.figure(sheet.total("labour")),
        minutes=styled(plain_decimal(sheet.minutes, 2)),
        each_hour=money.figure(at.pay_per_hour),
    )


def _amount(amount: Fraction) -> str:
    """To a ten-thousandth, so that what was rounded can be seen."""
    return styled(plain_decimal(amount, 4))


def _percent(share: Fraction) -> str:
    return styled(plain_decimal(share * 100, 4)) + "%"
