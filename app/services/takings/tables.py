"""The takings as tables to take away, for whoever keeps the books."""

from __future__ import annotations

from decimal import Decimal

from sqlalchemy.orm import Session

from app.core.books import Account
from app.core.money import currency, to_minor
from app.documents.tables import Cell, Table
from app.language import say, to_say
from app.services.shop.settings import the_shop
from app.services.takings.account import Group, takings
from app.services.takings.books import Books, books
from app.services.takings.costs import other_costs
from app.services.takings.periods import Period
from app.services.takings.rows import behind, rows_of
from app.services.takings.sold import WAYS
from app.services.takings.year_end import sheet_lines, year_end

MOST_ROWS = 50_000
BY = {
    "journal": to_say("Journal"), "channel": to_say("Channel"), "market": to_say("Market"),
    "customer": to_say("Customer"), "month": to_say("Month"),
}  # fmt: skip
Row = tuple[Cell, ...]


def takings_table(session: Session, period: Period, by: str) -> Table:
    """The takings sorted in one way, with their total."""
    found = takings(session, period, by)
    step = currency(the_shop(session).currency).step

    def row(group: Group) -> Row:
        one = group.shown
        return (
            group.name, int(one.pieces), one.sales, one.tax, one.fees, one.cost, one.work,
            one.profit, group.timed.minutes, group.pay_per_hour(step),
        )  # fmt: skip

    heads = (
        say(BY[by]), say("Sold"), say("Sales"), say("Tax in them"), say("Fees"), say("Cost"),
        say("Work in it"), say("Profit"), say("Bench minutes"), say("Pay an hour"),
    )  # fmt: skip
    rows = [row(group) for group in (*found.groups, found.total)]
    return Table(f"takings-by-{by}", heads, tuple(rows))


def sales_table(session: Session, period: Period) -> Table:
    """Every sale of a period, the newest first."""
    found, _ = rows_of(session, period, None, 0, 0, MOST_ROWS)
    money = currency(the_shop(session).currency)
    rows: list[Row] = [
        (one.row.at.astimezone().date(), one.variant.full_name, one.where, one.row.pieces,
         to_minor(one.row.paid, money),
         Decimal(one.row.cost.numerator) / Decimal(one.row.cost.denominator))
        for one in behind(session, found)
    ]  # fmt: skip
    return Table(
        "sales",
        (say("Day"), say("Journal"), say("Where"), say("How many"), say("Paid"), say("Cost")),
        tuple(rows),
    )


def costs_table(session: Session, period: Period) -> Table:
    """Costs that belong to no journal, all of them."""
    rows: list[Row] = [
        (cost.day, cost.what, say(cost.kind), cost.amount, cost.months, cost.note,
         say("struck out") if cost.struck_at else "")
        for cost in other_costs(session)
    ]  # fmt: skip
    heads = (
        say("Day"), say("What"), say("For"), say("Amount"), say("Over months"), say("Note"),
        say("State"),
    )  # fmt: skip
    return Table("other-costs", heads, tuple(rows))


def year_end_table(session: Session, period: Period) -> Table:
    """The year-end sheet, line by line."""
    step = currency(the_shop(session).currency).step
    rows: list[Row] = [
        (say(part), line.says, _money(line.amount, step))
        for part, lines in sheet_lines(year_end(session, period))
        for line in lines
    ]
    return Table("year-end", (say("Part"), say("What"), say("Amount")), tuple(rows))


def entries_table(session: Session, period: Period) -> Table:
    """The journal: a row for every amount of every entry, debits beside credits."""
    step = currency(the_shop(session).currency).step
    rows: list[Row] = []
    for number, one in enumerate(books(session, period).entries, start=1):
        for account, amount in one.amounts:
            if amount:
                amount = _money(amount, step)
                debit, credit = (amount, None) if amount > 0 else (None, -amount)
                rows.append((number, one.day, one.text, *_said(account), debit, credit))
    heads = (
        say("Entry"), say("Day"), say("Text"), say("Kind"), say("Account"), say("Debit"),
        say("Credit"),
    )  # fmt: skip
    return Table("journal-entries", heads, tuple(rows))


def balances_table(session: Session, period: Period) -> Table:
    """The trial balance: what each account comes to, and both sums."""
    found: Books = books(session, period)
    step = currency(the_shop(session).currency).step
    rows: list[Row] = [
        (*_said(b.account), _money(b.debit, step) if b.debit else None,
         _money(b.credit, step) if b.credit else None)
        for b in found.balances
    ]  # fmt: skip
    rows.append(("", say("Together"), _money(found.debits, step), _money(found.credits, step)))
    return Table(
        "trial-balance", (say("Kind"), say("Account"), say("Debit"), say("Credit")), tuple(rows)
    )


def _said(account: Account) -> tuple[str, str]:
    return say(account.kind), say(account.name)


def _money(amount: Decimal, step: Decimal) -> Decimal:
    """An amount with the decimals of its currency."""
    return amount.quantize(step)


def table_of(session: Session, name: str, period: Period) -> Table | None:
    """One table of a period; None where there is none of that name."""
    if name.startswith("by-") and name[3:] in WAYS:
        return takings_table(session, period, name[3:])
    make = {
        "sales": sales_table, "other-costs": costs_table, "year-end": year_end_table,
        "journal-entries": entries_table, "trial-balance": balances_table,
    }.get(name)  # fmt: skip
    return make(session, period) if make else None
