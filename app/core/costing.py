"""What one costs, line by line, and what it should sell for.

A cost sheet is a list of lines, each an exact fraction of its inputs rounded once, half up, to
the minor unit; every total is the plain sum of its lines. Inputs are kept on the line as
words, so that any figure can be followed back to where it came from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import plain_decimal
from app.core.money import Currency, Exact, rounded_together, to_minor, up_to_point
from app.core.numbers import styled
from app.language import say


@dataclass(frozen=True)
class CostLine:
    """One amount with what it is for, a short basis, and the sum it came from in words."""

    group: str
    label: str
    basis: str
    working: str
    amount: Decimal


@dataclass(frozen=True)
class CostSheet:
    """All lines of one journal's cost; groups are ``materials``, ``labour``, ``overhead``."""

    lines: tuple[CostLine, ...]
    minutes: Fraction

    def total(self, group: str | None = None) -> Decimal:
        """The sum of a group's lines, or of all."""
        return sum((line.amount for line in self.lines if group in (None, line.group)), Decimal(0))


@dataclass(frozen=True)
class PaperUse:
    """Pieces of one kind in a journal, how many a sheet yields, and the sheet's price.

    ``source`` says what it is where it is no sheet: a length off a roll, a hide.
    """

    label: str
    piece: str
    count: int
    per_sheet: int
    sheet: str
    sheet_price: Fraction
    source: str = ""


@dataclass(frozen=True)
class MaterialUse:
    """What one journal takes of a material in base units, its waste share, the price of a unit.

    ``shown`` is the quantity and ``shown_price`` the price in words.
    """

    label: str
    quantity: Exact
    waste: Fraction
    unit_price: Fraction
    shown: str
    shown_price: str


@dataclass(frozen=True)
class Carriage:
    """What it costs to get the material of one journal here, exactly, and what it is for."""

    label: str
    amount: Fraction


@dataclass(frozen=True)
class Work:
    """An operation in a journal: how often, setup minutes for the batch, minutes each."""

    label: str
    driver: str
    count: int
    setup_minutes: Fraction
    minutes_each: Fraction
    key: str = ""
    """What its minutes are logged by."""

    def minutes(self, batch: int, allowance: Fraction) -> Fraction:
        """Standard minutes for one of the batch: normal time and the allowance on it."""
        if not self.count:
            return Fraction(0)
        return standard_time(self.setup_minutes / batch + self.count * self.minutes_each, allowance)


@dataclass(frozen=True)
class Rates:
    """What an hour costs: the maker's pay, and overhead; and the allowance on normal time."""

    pay_per_hour: Fraction
    overhead_per_hour: Fraction
    allowance: Fraction
    spoilage: Fraction


def standard_time(normal: Fraction, allowance: Fraction) -> Fraction:
    """Normal time × (1 + allowance)."""
    return normal * (1 + allowance)


def overhead_rate(budget: Exact, hours: Exact) -> Fraction:
    """Predetermined overhead rate: budgeted overhead ÷ budgeted bench hours."""
    if not hours:
        return Fraction(0)
    return Fraction(budget) / Fraction(hours)


def cost_sheet(
    papers: Sequence[PaperUse],
    materials: Sequence[MaterialUse],
    work: Sequence[Work],
    batch: int,
    rates: Rates,
    currency: Currency,
    carriage: Sequence[Carriage] = (),
) -> CostSheet:
    """The cost of one journal made in a batch of ``batch``."""
    if batch < 1:
        raise DomainError(say("A batch is at least one."), "batch")
    lines = [_paper_line(use, currency) for use in papers]
    paper = sum((line.amount for line in lines), Decimal(0))
    lines += [_material_line(use, currency) for use in materials]
    if papers and rates.spoilage:
        share = _percent(rates.spoilage)
        lines.append(
            CostLine(
                "materials",
                say("Spoilage"),
                say("{share} of paper", share=share),
                say("{amount} of paper × {share}", amount=currency.show(paper), share=share),
                to_minor(Fraction(paper) * rates.spoilage, currency),
            )
        )
    if carriage:
        lines.append(_carriage_line(carriage, currency))
    minutes = sum((job.minutes(batch, rates.allowance) for job in work), Fraction(0))
    hours = minutes / 60
    pay, overhead = rates.pay_per_hour, rates.overhead_per_hour
    shown = show_minutes(minutes)
    for group, label, rate in (
        ("labour", say("Bench time"), pay),
        ("overhead", say("Overhead"), overhead),
    ):
        each_hour = currency.show(to_minor(rate, currency))
        lines.append(
            CostLine(
                group,
                label,
                say("{minutes} at {rate} an hour", minutes=shown, rate=each_hour),
                styled(f"{plain_decimal(minutes, 2)} min ÷ 60 × ") + each_hour,
                to_minor(hours * rate, currency),
            )
        )
    return CostSheet(tuple(lines), minutes)


def _paper_line(use: PaperUse, currency: Currency) -> CostLine:
    price = show_rate(use.sheet_price, currency)
    figures: dict[str, object] = {
        "count": use.count, "pieces": use.piece, "out": use.per_sheet, "price": price,
        "source": use.source, "size": use.sheet,
    }  # fmt: skip
    if use.source:
        basis = say("{count} at {out} from {source}", **figures)
        working = say("{count} {pieces} ÷ {out} from {source} × {price} for it", **figures)
    else:
        basis = say("{count} at {out} a sheet", **figures)
        working = say("{count} {pieces} ÷ {out} from a {size} sheet × {price} a sheet", **figures)
    return CostLine(
        "materials",
        use.label,
        basis,
        working,
        to_minor(Fraction(use.count, use.per_sheet) * use.sheet_price, currency),
    )


def _material_line(use: MaterialUse, currency: Currency) -> CostLine:
    taken = use.shown
    if use.waste:
        taken = say("{amount} and {share} waste", amount=taken, share=_percent(use.waste))
    return CostLine(
        "materials",
        use.label,
        use.shown,
        f"{taken} × {use.shown_price}",
        to_minor(Fraction(use.quantity) * (1 + use.waste) * use.unit_price, currency),
    )


def _carriage_line(carriage: Sequence[Carriage], currency: Currency) -> CostLine:
    """All carriage in one line; its parts are shown finer than money is, and add up so."""
    finer = Currency(currency.code, currency.sign, currency.digits + 2)
    parts = rounded_together([part.amount for part in carriage], finer.step)
    said = " + ".join(
        say("{amount} for {what}", amount=finer.show(amount), what=part.label)
        for part, amount in zip(carriage, parts, strict=True)
    )
    return CostLine(
        "materials",
        say("Carriage"),
        say("as offers and receipts say"),
        said,
        to_minor(sum((part.amount for part in carriage), Fraction(0)), currency),
    )


def _percent(share: Fraction) -> str:
    return say("{number}%", number=styled(f"{float(share * 100):.6g}"))


def show_rate(rate: Fraction, currency: Currency) -> str:
    """A price of one, with two more decimals than the currency where it needs them."""
    exact = to_minor(rate, currency)
    if exact == rate:
        return currency.show(exact)
    finer = Currency(currency.code, currency.sign, currency.digits + 2)
    return finer.show(to_minor(rate, finer))


def show_minutes(minutes: Fraction | Decimal) -> str:
    """``52 min`` or ``1 h 8 min``, to the nearest minute; tenths below ten minutes."""
    minutes = Fraction(minutes)
    if minutes < 10:
        tenths = int(minutes * 10 + Fraction(1, 2))
        return styled(f"{tenths // 10}.{tenths % 10} min") if tenths % 10 else f"{tenths // 10} min"
    whole = int(minutes + Fraction(1, 2))
    hours, rest = divmod(whole, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


@dataclass(frozen=True)
class ChannelTerms:
    """How a channel takes its share: fee rate of what the customer pays, fixed fee a sale.

    ``tax`` is the rate included in the price, ``margin`` the wanted share of the price before
    tax, ``point`` the price ending.
    """

    fee_rate: Fraction
    fixed_fee: Fraction
    tax: Fraction
    margin: Fraction
    point: str = "any"


@dataclass(frozen=True)
class Outcome:
    """What a price leaves: amounts in currency, margin and mark-up as shares."""

    price: Decimal
    tax: Decimal
    fees: Decimal
    cost: Decimal
    profit: Decimal
    margin: Fraction
    markup: Fraction | None
    pay_per_hour: Decimal | None

    @property
    def loses(self) -> bool:
        """Whether selling at this price loses money."""
        return self.profit < 0


def price_divisor(terms: ChannelTerms) -> Fraction:
    """Share of the customer's price that is left for cost: (1 − m)/(1 + t) − a."""
    return (1 - terms.margin) / (1 + terms.tax) - terms.fee_rate


def exact_price(cost: Exact, terms: ChannelTerms) -> Fraction:
    """The price that earns the wanted margin exactly: (C + f) / ((1 − m)/(1 + t) − a).

    Raises where fees, tax and margin together leave nothing to pay the cost from.
    """
    divisor = price_divisor(terms)
    if divisor <= 0:
        taken = 1 - divisor
        highest = 1 - terms.fee_rate * (1 + terms.tax)
        mend = (
            say("At these fees the margin must stay below {share}.", share=_percent(highest))
            if highest > 0
            else say("The fees alone take the whole price: lower them.")
        )
        why = say(
            "Fees, tax and margin take {share} of the price, so no price can pay the cost.",
            share=_percent(taken),
        )
        raise DomainError(f"{why} {mend}", "margin")
    return (Fraction(cost) + terms.fixed_fee) / divisor


def suggested_price(cost: Exact, terms: ChannelTerms, currency: Currency) -> Decimal:
    """The exact price, up to the channel's next price point."""
    return up_to_point(exact_price(cost, terms), terms.point, currency)


def margin_at(price: Exact, cost: Exact, terms: ChannelTerms) -> Fraction:
    """Exact margin of a price: what is left after tax, fees and cost, over the price before tax."""
    net = Fraction(price) / (1 + terms.tax)
    left = net - terms.fee_rate * Fraction(price) - terms.fixed_fee - Fraction(cost)
    return left / net


def outcome(price: Decimal, sheet: CostSheet, terms: ChannelTerms, currency: Currency) -> Outcome:
    """What a price leaves after tax, fees and cost, to the minor unit.

    Pay per bench hour is what is left of the price after everything but the maker's own time.
    """
    cost = sheet.total()
    net = to_minor(Fraction(price) / (1 + terms.tax), currency)
    fees = to_minor(Fraction(price) * terms.fee_rate + terms.fixed_fee, currency)
    profit = net - fees - cost
    pay = None
    if sheet.minutes:
        kept = Fraction(profit + sheet.total("labour"))
        pay = to_minor(kept * 60 / sheet.minutes, currency)
    spent = cost + fees
    return Outcome(
        price=price,
        tax=price - net,
        fees=fees,
        cost=cost,
        profit=profit,
        margin=Fraction(profit) / Fraction(net) if net else Fraction(0),
        markup=Fraction(profit) / Fraction(spent) if spent else None,
        pay_per_hour=pay,
    )


def markup_from_margin(margin: Fraction) -> Fraction:
    """Mark-up on cost that gives a margin on price: m / (1 − m)."""
    if margin >= 1:
        raise DomainError(say("A margin must stay below 100%."), "margin")
    return margin / (1 - margin)


def price_at_margin(cost: Exact, margin: Fraction) -> Fraction:
    """cost ÷ (1 − margin), with no fees and no tax."""
    return exact_price(cost, ChannelTerms(Fraction(0), Fraction(0), Fraction(0), margin))


def price_at_markup(cost: Exact, markup: Fraction) -> Fraction:
    """cost × (1 + mark-up)."""
    return Fraction(cost) * (1 + markup)


def break_even(fixed: Exact, contribution: Exact, wanted_profit: Exact = 0) -> int:
    """How many must be sold to pay ``fixed`` costs and leave ``wanted_profit``.

    ``contribution`` is what one sold leaves after its own costs; it must be above zero.
    """
    if contribution <= 0:
        raise DomainError(say("One sold leaves nothing over its own costs: no number breaks even."))
    exact = (Fraction(fixed) + Fraction(wanted_profit)) / Fraction(contribution)
    return -(-exact.numerator // exact.denominator)
