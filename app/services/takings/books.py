"""The books of a period as double entry: an entry a month for each thing that happened.

What the program knows nothing of, such as money at the bank before, equipment or loans, is not in
them. Each line's months add up to what the year-end sheet says.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app import dates
from app.core.books import Account, AccountKind, Balance, Entry, entry, trial_balance
from app.core.money import currency, rounded_together
from app.language import say, to_say
from app.models import Market, OtherCost, OutletPayment, Payment
from app.services.markets.closing import money_of
from app.services.shop.settings import the_shop
from app.services.takings.account import deposits_kept, took_place
from app.services.takings.costs import ahead_of, costs_paid, falls_on
from app.services.takings.periods import Period
from app.services.takings.sold import paid_at_stalls, postage_paid, taken_by_shops
from app.services.takings.stock_value import Shelf, in_the_making
from app.services.takings.year_end import Flow, YearEnd, flows_of, year_end

ASSET, OWED = AccountKind.ASSET, AccountKind.LIABILITY
INCOME, COST = AccountKind.INCOME, AccountKind.EXPENSE
STOCK, MONEY = Account(ASSET, to_say("Stock")), Account(ASSET, to_say("Money"))
CUSTOMERS = Account(ASSET, to_say("Customers"))
SUPPLIERS = Account(OWED, to_say("Suppliers, as received"))
TAX = Account(OWED, to_say("Tax on sales"))
OPENING = Account(AccountKind.EQUITY, to_say("Brought forward"))
SALES, POST = Account(INCOME, to_say("Sales")), Account(INCOME, to_say("Post paid by customers"))
WORK = Account(INCOME, to_say("Own hours and overhead put into stock"))
MADE = Account(INCOME, to_say("Made without a batch, put into stock"))
KEPT = Account(INCOME, to_say("Deposits kept"))
COST_OF_SALES = Account(COST, to_say("Cost of what was sold"))
FEES = Account(COST, to_say("Fees on sales"))
AHEAD = Account(ASSET, to_say("Paid ahead"))
CASH_OFF = Account(COST, to_say("Cash boxes over or short"))
STALLS = Account(COST, to_say("Stalls and getting there"))
DIFFERENCES = Account(COST, to_say("Stock differences and losses"))


@dataclass(frozen=True)
class Books:
    """The entries of a period in their order, what each account comes to, and the sheet."""

    entries: tuple[Entry, ...]
    balances: tuple[Balance, ...]
    sheet: YearEnd

    @property
    def debits(self) -> Decimal:
        """The sum of all debits; that of all credits is the same."""
        return sum((balance.debit for balance in self.balances), Decimal(0))

    @property
    def credits(self) -> Decimal:
        """The sum of all credits."""
        return sum((balance.credit for balance in self.balances), Decimal(0))


def books(session: Session, period: Period) -> Books:
    """The books of a period."""
    sheet = year_end(session, period)
    first = Entry(
        period.first, say("Stock brought forward"),
        ((STOCK, sheet.stock_opening), (OPENING, -sheet.stock_opening)),
    )  # fmt: skip
    found = [first, *_by_month(session, period, sheet)]
    kept = tuple(e for e in found if any(amount for _, amount in e.amounts))
    return Books(kept, tuple(trial_balance(kept)), sheet)


def months_of(period: Period) -> list[Period]:
    """Each month of a period, no further than it goes."""
    ends = [month - timedelta(days=1) for month in period.months[1:]] + [period.last]
    begins = [period.first, *period.months[1:]]
    return [Period(first, last) for first, last in zip(begins, ends, strict=True)]


def _by_month(session: Session, period: Period, sheet: YearEnd) -> Iterator[Entry]:
    step = currency(the_shop(session).currency).step
    months = months_of(period)
    sales, flows = sheet.by_month.groups, _flows(session, months, sheet, step)
    stalls, payments = paid_at_stalls(session, period), _payments(session, months)
    fixed, cash = _of_markets(session, months)
    kept_by_shops = taken_by_shops(session, period)
    shops = rounded_together([kept_by_shops.get(n, Fraction(0)) for n in range(len(months))], step)
    kept = [deposits_kept(session, month) for month in months]
    post = _postage(session, months, sheet.earned.postage, step)
    costs = costs_paid(session, period)
    for cost in costs:
        text, before = say("{what}, paid before", what=cost.what), ahead_of(cost, period, step)
        yield entry(period.first, text, AHEAD, OPENING, before)
    for n, month in enumerate(months):
        day, said = month.last, dates.month(month.first)
        row = sales[n].shown
        net = row.sales - row.tax
        text = say("Sales, {month}", month=said)
        yield Entry(day, text, ((CUSTOMERS, row.sales), (SALES, -net), (TAX, -row.tax)))
        text = say("Cost of what was sold, {month}", month=said)
        yield entry(day, text, COST_OF_SALES, STOCK, row.cost)
        # What a shop keeps it never pays; other fees are paid.
        text = say("Kept by shops, {month}", month=said)
        yield entry(day, text, FEES, CUSTOMERS, shops[n])
        text = say("Fees on sales, {month}", month=said)
        yield entry(day, text, FEES, MONEY, row.fees - shops[n])
        net, tax = post[n]
        text = say("Post paid by customers, {month}", month=said)
        yield Entry(day, text, ((CUSTOMERS, net + tax), (POST, -net), (TAX, -tax)))
        text = say("Paid at stalls, {month}", month=said)
        yield entry(day, text, MONEY, CUSTOMERS, stalls.get(n, Decimal(0)))
        text = say("Paid for orders and by shops, {month}", month=said)
        yield entry(day, text, MONEY, CUSTOMERS, payments[n])
        text = say("Deposits kept, {month}", month=said)
        yield entry(day, text, CUSTOMERS, KEPT, kept[n])
        text = say("Cash boxes over or short, {month}", month=said)
        yield entry(day, text, CASH_OFF, MONEY, -cash[n])
        text = say("Stalls and getting there, {month}", month=said)
        yield entry(day, text, STALLS, MONEY, fixed[n])
        for flow, (debit, credit, sign) in STOCK_FLOWS.items():
            yield entry(day, f"{say(flow)}, {said}", debit, credit, sign * flows[flow][n])
        yield from _costs_of(month, costs, step)


def _costs_of(month: Period, costs: Sequence[OtherCost], step: Decimal) -> Iterator[Entry]:
    """Costs that belong to no journal: as they are paid, and what of each falls on a month."""
    for cost in costs:
        if month.first <= cost.day <= month.last:
            text = say("{what}, paid", what=cost.what)
            yield entry(cost.day, text, AHEAD, MONEY, cost.amount)
        account = Account(COST, say("Other: {what}", what=say(cost.kind)))
        text = f"{cost.what}, {dates.month(month.first)}"
        yield entry(month.last, text, account, AHEAD, falls_on(cost, month, step))


STOCK_FLOWS: Mapping[Flow, tuple[Account, Account, int]] = {
    Flow.BOUGHT: (STOCK, SUPPLIERS, 1),
    Flow.WRITTEN_IN: (STOCK, OPENING, 1),
    Flow.WORK: (STOCK, WORK, 1),
    Flow.MADE: (STOCK, MADE, 1),
    Flow.COUNTED: (DIFFERENCES, STOCK, -1),
    Flow.LOST: (DIFFERENCES, STOCK, -1),
    Flow.SPOILED: (DIFFERENCES, STOCK, -1),
    Flow.UNDONE: (DIFFERENCES, STOCK, -1),
    Flow.CUT: (DIFFERENCES, STOCK, -1),
}
"""What is debited and credited, and whether the flow is above zero where the stock grows by it."""


def _flows(
    session: Session, months: Sequence[Period], sheet: YearEnd, step: Decimal
) -> dict[Flow, list[Decimal]]:
    """Each line of the year-end sheet by months, adding up to what the sheet says."""
    making = [sheet.opening.by_shelf[Shelf.MAKING]]
    making += [in_the_making(session, month.last) for month in months]
    exact = []
    for n, (month, cost) in enumerate(zip(months, sheet.by_month.exact_costs, strict=True)):
        flows = flows_of(session, month, making[n + 1] - making[n])
        exact.append(flows | {Flow.UNDONE: flows[Flow.SOLD] + cost})
    return {
        flow: rounded_together([month[flow] for month in exact], step, sheet.flows[flow])
        for flow in STOCK_FLOWS
    }


def _payments(session: Session, months: Sequence[Period]) -> list[Decimal]:
    """What was paid for orders and by shops, by months."""
    found = []
    for month in months:
        sums = (
            session.scalar(
                select(func.sum(kind.amount)).where(
                    kind.paid_on >= month.first, kind.paid_on <= month.last
                )
            )
            for kind in (Payment, OutletPayment)
        )
        found.append(sum((one or Decimal(0) for one in sums), Decimal(0)))
    return found


def _of_markets(session: Session, months: Sequence[Period]) -> tuple[list[Decimal], list[Decimal]]:
    """What markets cost, and what their cash boxes were over or short, by months."""
    found = list(
        session.scalars(
            select(Market).where(
                Market.day >= months[0].first, Market.day <= months[-1].last, took_place()
            )
        )
    )
    money = money_of(session, found)

    def by_month(amount: Callable[[Market], Decimal]) -> list[Decimal]:
        return [
            sum((amount(m) for m in found if month.first <= m.day <= month.last), Decimal(0))
            for month in months
        ]

    return by_month(lambda m: m.stall_fee + m.travel), by_month(lambda m: money[m.id].cash_off)


def _postage(
    session: Session, months: Sequence[Period], total: Decimal, step: Decimal
) -> list[tuple[Decimal, Decimal]]:
    """What customers paid for the post by months: before tax, and the tax."""
    exact = [postage_paid(session, month) for month in months]
    net = rounded_together([row[0] for row in exact], step, total)
    tax = rounded_together([row[1] for row in exact], step)
    return list(zip(net, tax, strict=True))


def year_of(day: date, begins: int = 1) -> Period:
    """The twelve months that a day is in, of years that begin in a month."""
    first = date(day.year - (day.month < begins), begins, 1)
    after = date(first.year + 1, begins, 1)
    return Period(first, after - timedelta(days=1))
