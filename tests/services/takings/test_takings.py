"""The takings of small shops, by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import CostKind, MovementKind, PaidHow
from app.models import OtherCost
from app.services.bench.batches import begin_batch
from app.services.bench.finishing import finish_batch
from app.services.markets import closing, stall
from app.services.orders import deliveries
from app.services.shop.settings import StaleError, channels, the_shop
from app.services.stock import ledger as stock
from app.services.takings import costs
from app.services.takings.account import account, best_month, slow_stock, takings
from app.services.takings.books import books, months_of, year_of
from app.services.takings.periods import Period, usual_period
from app.services.takings.sold import rows_of
from app.services.takings.stock_value import Shelf, stock_value
from app.services.takings.tables import table_of
from app.services.takings.year_end import Flow, year_end
from tests.conftest import DAY
from tests.factories import Bench
from tests.services.markets.test_stall import market_of, sell

D = Decimal
STEP = D("0.01")
MARCH = Period(DAY, DAY + timedelta(days=30))


@pytest.fixture
def bench(session: Session) -> Bench:
    shop = the_shop(session)
    shop.tax, shop.pay_per_hour, shop.overhead_a_year = D(0), D(15), D(0)
    return Bench(session)


def made(session: Session, bench: Bench, number: int, minutes: int) -> None:
    """So many out of a batch that took so long, at about nothing but that work."""
    for thing, much in ((bench.sheet, 200), (bench.card_sheet, 60), (bench.thread, 10**12),
                        (bench.cord, 10**12), (bench.beads, 900)):  # fmt: skip
        stock.receive(session, thing, much, D("0.01"), DAY)
    finish_batch(session, begin_batch(session, {bench.variant: number}, DAY), {}, D(minutes), DAY)


def test_a_stall_by_hand(session: Session, bench: Bench) -> None:
    """Four made in 240 minutes at 15 an hour; three sold at 40, a fee of 2%: 117.60 over four."""
    made(session, bench, 4, 240)
    market = market_of(session, bench, take=4, here=0)
    market.channel.fee_rate, market.channel.fixed_fee = D("0.02"), D(0)
    sell(session, market, bench.variant, 2)
    sell(session, market, bench.variant, 1, PaidHow.CARD)
    found = takings(session, MARCH, "journal")
    [group] = found.groups
    assert group.name == "Plain journal, Plain, design 1"
    row = group.shown
    assert (row.pieces, row.sales, row.tax, row.fees) == (3, 120, 0, D("2.40"))
    assert (row.work, row.minutes) == (45, 180)
    assert row.cost == row.work
    assert row.profit == D("72.60")
    assert group.pay_per_hour(STEP) == D("39.20")
    assert [g.name for g in takings(session, MARCH, "market").groups] == ["Quay fair, 1 Mar 2027"]
    assert [g.name for g in takings(session, MARCH, "channel").groups] == [market.channel.name]
    assert [g.name for g in takings(session, MARCH, "customer").groups] == ["At stalls and shops"]
    closing.close_market(
        session, market, closing.Counted({bench.variant.id: 1}, stall_minutes=D(120)), DAY
    )
    earned = account(session, MARCH, found.total)
    # 72.60 and 45 of work, less 25 for the stall and 5 for the way: 87.60 over five hours.
    assert (earned.stalls, earned.left, earned.minutes) == (30, D("87.60"), 300)
    assert earned.pay_per_hour(STEP) == D("17.52")


def test_what_the_market_says_is_what_the_takings_say(session: Session, bench: Bench) -> None:
    the_shop(session).tax = D("0.2")
    market = market_of(session, bench)
    market.fee_share = D("0.1")
    sell(session, market, bench.variant, 2)
    sell(session, market, bench.variant, 1)
    earned = closing.earned(session, market)
    [group] = takings(session, MARCH, "market").groups
    assert (group.shown.sales, group.shown.tax) == (earned.taken, earned.tax)
    assert group.shown.fees == earned.fees + earned.share


def test_an_order_delivered_and_brought_back(session: Session, bench: Bench) -> None:
    the_shop(session).tax = D("0.25")
    bench.channel.fee_rate, bench.channel.fixed_fee = D("0.02"), D("0.30")
    stock.receive(session, bench.variant, 4, D(36), DAY)
    order = bench.agreed(quantity=4, price=D(50), who="Ines", postage=D("5.00"))
    [line] = order.lines
    deliveries.deliver(session, order, {line.id: 3}, DAY)
    found = takings(session, MARCH, "customer")
    [group] = found.groups
    # 150 with 30 of tax in it; 2% and three quarters of the fixed fee, which is the order's.
    row = group.shown
    assert (group.name, row.sales, row.tax, row.cost) == ("Ines", 150, 30, 27)
    assert row.fees == D("3.23")
    assert account(session, MARCH, found.total).postage == 4
    later = DAY + timedelta(days=40)
    deliveries.bring_back(session, line, 1, later, "torn", sound=True, replaced=False)
    assert takings(session, MARCH, "customer").total.shown == row
    [back] = takings(session, Period(later, later), "customer").groups
    assert (back.shown.pieces, back.shown.sales, back.shown.cost) == (-1, -50, -9)
    rows, number = rows_of(session, Period(DAY, later), "customer", order.customer_id, 0, 10)
    assert number == 2
    assert [(r.pieces, r.paid) for r in rows] == [(-1, -50), (3, 150)]
    assert rows_of(session, Period(DAY, later), "customer", order.customer_id, 1, 1)[0] == rows[1:]


def test_tax_on_top_is_in_what_was_paid(session: Session, bench: Bench) -> None:
    the_shop(session).tax = D("0.19")
    stock.receive(session, bench.variant, 2, D(18), DAY)

    wholesale = next(c for c in channels(session) if c.wholesale)
    order = bench.agreed(quantity=2, price=D(20), channel=wholesale)
    deliveries.deliver(session, order, {order.lines[0].id: 2}, DAY)
    row = takings(session, MARCH, "channel").total.shown
    assert (row.sales, row.tax) == (D("47.60"), D("7.60"))
    [sold], _ = rows_of(session, MARCH, None, 0, 0, 5)
    assert sold.paid == D("47.60")


def test_months_are_in_their_order_and_the_best_is_named(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    sell(session, market, bench.variant, 2)
    spring = Period(date(2027, 1, 15), date(2027, 4, 3))
    found = takings(session, spring, "month")
    assert [g.name for g in found.groups] == ["January 2027", "February 2027", "March 2027", "April 2027"]  # fmt: skip
    assert [g.shown.pieces for g in found.groups] == [0, 0, 2, 0]
    best = best_month(found)
    assert best is not None
    assert best.name == "March 2027"
    empty = takings(session, Period(date(2026, 1, 1), date(2026, 2, 3)), "month")
    assert best_month(empty) is None
    assert [(p.first, p.last) for p in months_of(spring)] == [
        (date(2027, 1, 15), date(2027, 1, 31)), (date(2027, 2, 1), date(2027, 2, 28)),
        (date(2027, 3, 1), date(2027, 3, 31)), (date(2027, 4, 1), date(2027, 4, 3)),
    ]  # fmt: skip


def test_days_that_cannot_be(session: Session) -> None:
    with pytest.raises(DomainError, match="before the first"):
        Period(DAY, DAY - timedelta(days=1))
    with pytest.raises(DomainError, match="15 years"):
        Period(date(2000, 1, 1), DAY)
    assert usual_period(date(2027, 3, 14)) == Period(date(2026, 4, 1), date(2027, 3, 14))
    assert year_of(date(2027, 3, 14)) == Period(date(2027, 1, 1), date(2027, 12, 31))
    assert year_of(date(2027, 3, 14), 4) == Period(date(2026, 4, 1), date(2027, 3, 31))


def cost(session: Session, **more: object) -> OtherCost:
    row = {"day": DAY, "what": "Insurance", "kind": CostKind.INSURANCE, "amount": D(100),
           "months": 12, "note": ""}  # fmt: skip
    return costs.save_cost(session, None, row | more)


def test_costs_fall_on_their_months(session: Session, bench: Bench) -> None:
    insurance = cost(session)
    cost(session, what="Awl", kind=CostKind.TOOLS, amount=D(12), months=1)
    assert sum(a for _, a in costs.costs_in(session, MARCH)) == D("20.33")
    year = Period(date(2027, 1, 1), date(2027, 12, 31))
    next_year = Period(date(2028, 1, 1), date(2028, 12, 31))
    assert costs.by_kind(costs.costs_in(session, year)) == {
        CostKind.INSURANCE: D("83.33"), CostKind.TOOLS: 12,
    }  # fmt: skip
    assert costs.by_kind(costs.costs_in(session, next_year)) == {CostKind.INSURANCE: D("16.67")}
    costs.strike(session, insurance)
    assert sum(a for _, a in costs.costs_in(session, year)) == 12
    costs.strike(session, insurance, out=False)
    assert sum(a for _, a in costs.costs_in(session, year)) == D("95.33")
    assert [c.what for c in costs.other_costs(session)] == ["Awl", "Insurance"]


@pytest.mark.parametrize(("field", "value"), [("amount", D(0)), ("months", 0), ("months", 121)])
def test_costs_that_cannot_be(session: Session, field: str, value: object) -> None:
    with pytest.raises(DomainError) as caught:
        cost(session, **{field: value})
    assert caught.value.field == field


def test_a_stale_cost_is_told_so(session: Session) -> None:
    found = cost(session)
    opened = found.version
    row = {"day": DAY, "what": "Rent", "kind": CostKind.ROOM, "amount": D(1), "months": 1}
    costs.save_cost(session, found, row, opened)
    with pytest.raises(StaleError):
        costs.save_cost(session, found, row, opened)


def test_the_year_end_sheet_by_hand(session: Session, bench: Bench) -> None:
    """Bought for 100 in February, 30 of it in a batch in March that has not come out; five at 9
    written in, two of them sold, one lost at a count."""
    march = Period(DAY, DAY + timedelta(days=30))
    stock.receive(session, bench.beads, 900, D(100), DAY - timedelta(days=20))
    stock.receive(session, bench.beads, 90, D(10), DAY)
    stock.receive(session, bench.variant, 5, D(45), DAY, kind=MovementKind.OPENING)
    market = market_of(session, bench, take=3, here=0)
    sell(session, market, bench.variant, 2)
    stock.count(session, bench.variant, 2, DAY, "miscounted before")
    sheet = year_end(session, march)
    assert (sheet.stock_opening, sheet.stock_closing) == (100, 128)
    assert {flow: amount for flow, amount in sheet.flows.items() if amount} == {
        Flow.BOUGHT: 10, Flow.WRITTEN_IN: 45, Flow.SOLD: -18, Flow.COUNTED: -9,
    }  # fmt: skip
    assert sheet.ties_out
    assert sheet.gross == 80 - 18
    assert sheet.differences == 9
    # 62 left after cost, less 9 lost, 1.40 of fees and 30 for the day.
    assert sheet.result == 62 - 9 - sheet.earned.total.fees - 30


def test_what_lies_in_a_batch_is_stock(session: Session, bench: Bench) -> None:
    for thing, much in ((bench.sheet, 200), (bench.card_sheet, 60), (bench.thread, 10**12),
                        (bench.cord, 10**12), (bench.beads, 900)):  # fmt: skip
        stock.receive(session, thing, much, D("77.77"), DAY)
    before = stock_value(session, DAY)
    batch = begin_batch(session, {bench.variant: 4}, DAY + timedelta(days=2))
    begun = stock_value(session, DAY + timedelta(days=3))
    assert begun.total == before.total
    assert begun.by_shelf[Shelf.MAKING] > 0
    finish_batch(session, batch, {}, D(60), DAY + timedelta(days=5))
    done = stock_value(session, DAY + timedelta(days=6))
    assert done.by_shelf[Shelf.MAKING] == 0
    assert done.total == before.total + 15
    assert done.own_work == pytest.approx(15, abs=D("0.001"))
    again = stock_value(session, DAY + timedelta(days=3))
    assert again.by_shelf == begun.by_shelf
    sheet = year_end(session, MARCH)
    assert sheet.flows[Flow.WORK] == 15


def test_a_sale_undone_in_another_year_is_said(session: Session, bench: Bench) -> None:
    """The takings of March forget it, the stock of March does not: the line between says so."""

    market = market_of(session, bench)
    sell(session, market, bench.variant, 2)
    stall.undo_last(session, market, "1", datetime.now(UTC))
    sheet = year_end(session, MARCH)
    assert sheet.earned.total.cost == 0
    # The clock of the test is before March 2027, so the undoing is before it too.
    assert sheet.flows[Flow.UNDONE] == -18
    assert sheet.ties_out


def test_the_books_by_hand(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    sell(session, market, bench.variant, 2)
    cost(session, what="Rent", kind=CostKind.ROOM, amount=D(20), months=1)
    found = books(session, MARCH)
    by_name = {b.account.name: b.amount for b in found.balances}
    assert by_name["Sales"] == -80
    assert by_name["Other: room and power"] == 20
    assert by_name["Stalls and getting there"] == 30
    assert "Customers" not in by_name
    assert by_name["Money"] == 80 - 20 - 30 - by_name.get("Fees on sales", 0)
    assert found.debits == found.credits
    assert all(sum(a for _, a in e.amounts) == 0 for e in found.entries)


def test_what_lies_is_named(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 2, D(18), DAY)
    other = bench.begin("Other").current.variants[0]
    stock.receive(session, other, 3, D(60), DAY)
    market = market_of(session, bench, here=1)
    sell(session, market, bench.variant, 1)
    found = slow_stock(session, DAY + timedelta(days=30), 60)
    assert [(row.variant, row.pieces, row.last) for row in found] == [(other, 3, None)]
    later = slow_stock(session, DAY + timedelta(days=70), 60)
    assert [row.variant for row in later] == [other, bench.variant]
    assert later[1].last == DAY


@pytest.mark.parametrize(
    "name", ["by-journal", "by-month", "by-customer", "sales", "other-costs", "year-end",
             "journal-entries", "trial-balance"],
)  # fmt: skip
def test_tables_add_up(session: Session, bench: Bench, name: str) -> None:
    market = market_of(session, bench)
    sell(session, market, bench.variant, 2)
    cost(session)
    table = table_of(session, name, MARCH)
    assert table is not None
    assert all(len(row) == len(table.heads) for row in table.rows)
    if name.startswith("by-"):
        *rows, total = table.rows
        assert sum(row[2] for row in rows) == total[2] == 80  # type: ignore[misc]
    if name in ("journal-entries", "trial-balance"):
        debit, credit = (sum(row[n] or 0 for row in table.rows) for n in (-2, -1))  # type: ignore[misc]
        assert debit == credit


def test_there_is_no_other_table(session: Session) -> None:
    assert table_of(session, "by-weather", MARCH) is None
    assert table_of(session, "nothing", MARCH) is None
