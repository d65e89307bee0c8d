"""Double entry against published ledgers; what if; costs spread over months."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from app.core.books import (
    Account,
    AccountKind,
    Balance,
    Entry,
    closing,
    entry,
    income,
    trial_balance,
)
from app.core.errors import DomainError
from app.core.ledger import OpenLot, draw
from app.core.takings import Other, Shown, Sums, per_hour, shown_together, spread, what_if

DAY = date(2026, 3, 31)
D = Decimal


def account(kind: AccountKind, name: str) -> Account:
    return Account(kind, name)


CASH = account(AccountKind.ASSET, "Cash")
EQUIPMENT = account(AccountKind.ASSET, "Equipment")
PAYABLE = account(AccountKind.LIABILITY, "Payable")
NOTE = account(AccountKind.LIABILITY, "Note")
RECEIVABLE = account(AccountKind.ASSET, "Receivable")
CAPITAL = account(AccountKind.EQUITY, "Capital")
DRAWINGS = account(AccountKind.EQUITY, "Drawings")
FEES = account(AccountKind.INCOME, "Fees earned")


def cost(name: str) -> Account:
    return account(AccountKind.EXPENSE, name)


def test_n1_a_month_of_a_small_practice() -> None:
    """Weygandt, Accounting Principles, 12th ed., p. 31, quoted."""
    moves = [
        (CASH, CAPITAL, 11_000), (cost("Rent"), CASH, 800), (EQUIPMENT, PAYABLE, 3_000),
        (CASH, FEES, 1_500), (CASH, NOTE, 700), (RECEIVABLE, FEES, 2_000),
        (cost("Wages"), CASH, 500), (cost("Utilities"), CASH, 300), (cost("Adverts"), CASH, 100),
        (DRAWINGS, CASH, 1_000),
    ]  # fmt: skip
    balances = trial_balance(entry(DAY, "x", a, b, D(n)) for a, b, n in moves)
    by_name = {b.account.name: b.amount for b in balances}
    assert by_name["Cash"] == 10_500
    assert sum(b.debit for b in balances) == sum(b.credit for b in balances) == 18_200
    assert income(balances) == 1_800


def test_n2_closing_a_year() -> None:
    """A worked exercise: income 800, earnings 1,932; 8,096 on either side after closing."""
    earnings = account(AccountKind.EQUITY, "Earnings")
    stand = [
        (CASH, 3_712), (RECEIVABLE, 3_904), (account(AccountKind.ASSET, "Supplies"), 480),
        (PAYABLE, -1_556), (account(AccountKind.LIABILITY, "Unearned"), -160),
        (account(AccountKind.LIABILITY, "Wages owed"), -448),
        (account(AccountKind.EQUITY, "Shares"), -4_000), (earnings, -1_760 + 628),
        (FEES, -4_300), (cost("Wages"), 1_900), (cost("Rent"), 1_344), (cost("Supplies used"), 256),
    ]  # fmt: skip
    opening = Entry(DAY, "as they stand", tuple((a, D(n)) for a, n in stand))
    balances = trial_balance([opening])
    assert income(balances) == 800
    after = trial_balance([opening, closing(balances, DAY, earnings)])
    assert Balance(earnings, D(-1_932)) in after
    assert sum(b.debit for b in after) == sum(b.credit for b in after) == 8_096
    assert income(after) == 0
    assert not [b for b in after if b.account.kind in (AccountKind.INCOME, AccountKind.EXPENSE)]


def test_n3_printing_plus() -> None:
    """OpenStax, Principles of Accounting vol. 1 ch. 5; the trial balance is from memory."""
    rows = [
        (CASH, 24_800), (RECEIVABLE, 1_200), (account(AccountKind.ASSET, "Interest due"), 140),
        (account(AccountKind.ASSET, "Supplies"), 400), (EQUIPMENT, 3_500),
        (account(AccountKind.ASSET, "Depreciation so far"), -75), (PAYABLE, -500),
        (account(AccountKind.LIABILITY, "Salaries owed"), -1_500),
        (account(AccountKind.LIABILITY, "Unearned"), -3_400),
        (account(AccountKind.EQUITY, "Shares"), -20_000),
        (account(AccountKind.EQUITY, "Dividends"), 100),
        (account(AccountKind.INCOME, "Interest"), -140), (account(AccountKind.INCOME, "Services"), -10_100),
        (cost("Supplies"), 100), (cost("Depreciation"), 75), (cost("Salaries"), 5_100),
        (cost("Utilities"), 300),
    ]  # fmt: skip
    balances = trial_balance([Entry(DAY, "adjusted", tuple((a, D(n)) for a, n in rows))])
    assert sum(b.debit for b in balances) == sum(b.credit for b in balances) == 35_715
    assert income(balances) == 4_665
    earnings = account(AccountKind.EQUITY, "Dividends")
    kept = next(
        b for b in trial_balance([Entry(DAY, "x", tuple((b.account, b.amount) for b in balances)),
                                  closing(balances, DAY, earnings)]) if b.account == earnings
    )  # fmt: skip
    assert kept.amount == -4_565


@pytest.mark.parametrize(
    ("valuation", "sold", "left"), [("fifo", 18_920, 8_640), ("average", 19_292, 8_268)]
)
def test_n4_goods_less_stock_is_cost(valuation: str, sold: int, left: int) -> None:
    """Textbook data: 40@124; 50@136, 20@142, 90@144; 60 left."""
    lots = [OpenLot(n, q, D(q * c)) for n, (q, c) in enumerate(((40, 124), (50, 136), (20, 142), (90, 144)))]  # fmt: skip
    gone = sum(row.cost for row in draw(lots, 140, D("0.01"), valuation))
    assert gone == sold
    assert 27_560 - gone == left


def test_an_entry_must_balance() -> None:
    with pytest.raises(DomainError, match="“odd” does not balance"):
        Entry(DAY, "odd", ((CASH, D(2)), (FEES, D(-1))))


def test_accounts_by_kind_then_name() -> None:
    moves = [entry(DAY, "a", cost("B"), CASH, D(3)), entry(DAY, "b", cost("A"), CASH, D(3)),
             entry(DAY, "c", CASH, FEES, D(6)), entry(DAY, "d", RECEIVABLE, FEES, D(1))]  # fmt: skip
    names = [b.account.name for b in trial_balance(moves)]
    assert names == ["Receivable", "Fees earned", "A", "B"]


def test_below_zero_goes_the_other_way() -> None:
    back = entry(DAY, "back", CASH, FEES, D(-5))
    assert back.amounts == ((CASH, D(-5)), (FEES, D(5)))


def sums(pieces: int, **more: object) -> Sums:
    return Sums(pieces, **{k: Fraction(str(v)) for k, v in more.items()})


def test_columns_add_up_as_shown_however_sorted() -> None:
    rows = [sums(1, sales="10", cost="3.3333", work="1.1111", minutes="33.4", fees="0.125") for _ in range(3)]  # fmt: skip
    shown, total = shown_together(rows, D("0.01"))
    assert total.cost == sum(row.cost for row in shown) == D("10.00")
    assert total.fees == D("0.38")
    assert total.minutes == 100
    assert total.profit == sum(row.profit for row in shown) == D("30") - D("0.38") - D("10.00")
    other, again = shown_together([rows[0] + rows[1], rows[2]], D("0.01"))
    assert again == total
    assert other[0].pieces == 2


def test_nothing_sold_is_nothing() -> None:
    shown, total = shown_together([], D("0.01"))
    assert shown == []
    assert (total.sales, total.profit, total.margin) == (0, 0, None)
    assert total.pay_per_hour(D("0.01")) is None
    assert str(total.sales) == "0.00"


def test_pay_and_margin_by_hand() -> None:
    row = Shown(2, D(120), D(20), D(4), D(60), D(30), D(90))
    assert row.profit == 36
    assert row.for_hours == 66
    assert row.margin == Fraction(36, 100)
    assert row.pay_per_hour(D("0.01")) == D("44.00")
    assert per_hour(D(10), D(0), D("0.01")) is None


def test_what_if_by_hand() -> None:
    now = sums(10, sales=400, tax=0, fees=20, cost=200, work=120, minutes=600)
    dearer = what_if(now, Other(price=Fraction(1, 10)))
    assert (dearer.sales, dearer.fees, dearer.cost, dearer.pieces) == (440, 22, 200, 10)
    fewer = what_if(now, Other(price=Fraction(1, 10), number=Fraction(-1, 5)))
    assert (fewer.sales, fewer.cost, fewer.work, fewer.minutes) == (352, 160, 96, 480)
    assert fewer.pieces == 8
    better_paid = what_if(now, Other(pay=D(3)))
    assert (better_paid.work, better_paid.cost, better_paid.sales) == (150, 230, 400)
    taxed = what_if(sums(1, sales=120, tax=20), Other(price=Fraction(1, 2)))
    assert (taxed.sales, taxed.tax) == (180, 30)


def test_spread_over_months_adds_up() -> None:
    amount, step = D("100.00"), D("0.01")
    months = [spread(amount, 12, n, n, step) for n in range(12)]
    assert sum(months) == amount
    assert months[0] == D("8.33")
    assert spread(amount, 12, 0, 5, step) + spread(amount, 12, 6, 40, step) == amount
    assert spread(amount, 12, -5, -1, step) == spread(amount, 12, 12, 20, step) == 0
    assert spread(amount, 1, 0, 0, step) == amount


def test_nothing_sold_is_nothing_of_everything() -> None:
    assert Sums() == Sums(0, *[Fraction(0)] * 6)
    some = Sums(3, *map(Fraction, (60, 5, 4, 30, 20, 90)))
    assert Sums() + some == some
