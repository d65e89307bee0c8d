"""The takings of small shops, by hand."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.books import income
from app.core.errors import DomainError
from app.core.states import CostKind, MovementKind, PaidHow
from app.models import OtherCost
from app.services.bench.batches import begin_batch
from app.services.bench.finishing import Came, finish_batch, finish_part
from app.services.markets import closing, stall
from app.services.orders import deliveries, orders
from app.services.shop.settings import StaleError, channels, the_shop
from app.services.stock import ledger as stock
from app.services.takings import costs
from app.services.takings.account import OTHERS, account, best_month, slow_stock, takings
from app.services.takings.books import books, months_of, year_of
from app.services.takings.periods import Period, usual_period
from app.services.takings.rows import rows_of
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


def test_all_beyond_the_first_few_are_one_line_that_adds_up(session: Session, bench: Bench) -> None:
    made(session, bench, 6, 240)
    market = market_of(session, bench, take=6, here=0)
    sell(session, market, bench.variant, 3)
    for who, number in (("Ada", 1), ("Bo", 2)):
        order = bench.agreed(number, who=who)
        [line] = order.lines
        deliveries.deliver(session, order, {line.id: number}, DAY)
    whole = takings(session, MARCH, "customer")
    assert [group.name for group in whole.groups] == ["At stalls", "Bo", "Ada"]
    few = takings(session, MARCH, "customer", most=1)
    assert [(g.key, g.name) for g in few.groups][1:] == [(OTHERS, "2 others")]
    assert few.total == whole.total
    assert few.groups[1].shown.pieces == 3
    assert sum(g.shown.cost for g in few.groups) == whole.total.shown.cost
    # One more than there is room for is no others: it is shown itself.
    assert takings(session, MARCH, "customer", most=2).groups == whole.groups
    assert len(takings(session, MARCH, "month", most=1).groups) == len(MARCH.months)


def test_a_stall_by_hand(session: Session, bench: Bench) -> None:
    """Four made in 240 minutes at 15 an hour; three sold at 40, a fee of 2% on the one by card."""
    made(session, bench, 4, 240)
    market = market_of(session, bench, take=4, here=0)
    market.channel.fee_rate, market.channel.fixed_fee = D("0.02"), D(0)
    sell(session, market, bench.variant, 2)
    sell(session, market, bench.variant, 1, PaidHow.CARD)
    found = takings(session, MARCH, "journal")
    [group] = found.groups
    assert group.name == "Plain journal, Plain, design 1"
    row = group.shown
    assert (row.pieces, row.sales, row.tax, row.fees) == (3, 120, 0, D("0.80"))
    assert (row.work, row.minutes) == (45, 180)
    assert row.cost == row.work
    assert row.profit == D("74.20")
    assert group.pay_per_hour(STEP) == D("39.73")
    assert [g.name for g in takings(session, MARCH, "market").groups] == ["Quay fair, 1 Mar 2027"]
    assert [g.name for g in takings(session, MARCH, "channel").groups] == [market.channel.name]
    assert [g.name for g in takings(session, MARCH, "customer").groups] == ["At stalls"]
    closing.close_market(
        session, market, closing.Counted({bench.variant.id: 1}, stall_minutes=D(120)), DAY
    )
    earned = account(session, MARCH, found.total)
    # 74.20 and 45 of work, less 25 for the stall and 5 for the way: 89.20 over five hours.
    assert (earned.stalls, earned.left, earned.minutes) == (30, D("89.20"), 300)
    assert earned.pay_between(STEP) == (D("17.84"), D("17.84"))


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


def test_part_of_a_batch_leaves_the_rest_of_its_materials_in_stock(
    session: Session, bench: Bench
) -> None:
    for thing, much in ((bench.sheet, 200), (bench.card_sheet, 60), (bench.thread, 10**12),
                        (bench.cord, 10**12), (bench.beads, 900)):  # fmt: skip
        stock.receive(session, thing, much, D("77.77"), DAY)
    before = stock_value(session, DAY).total
    batch = begin_batch(session, {bench.variant: 4}, DAY + timedelta(days=1))
    later = DAY + timedelta(days=3)
    finish_part(session, batch, {batch.lines[0].id: Came(1, 0, "")}, D(60), later)
    value = stock_value(session, later)
    assert value.total == pytest.approx(before + 15, abs=D("0.0001"))
    assert value.by_shelf[Shelf.MAKING] > 0
    assert year_end(session, Period(DAY, later)).flows[Flow.WORK] == 15
    # Finished long after, the past stays as it was.
    done = DAY + timedelta(days=60)
    finish_batch(session, batch, {batch.lines[0].id: 3}, D(180), done)
    assert stock_value(session, later).total == pytest.approx(before + 15, abs=D("0.01"))
    assert stock_value(session, done).by_shelf[Shelf.MAKING] == 0


def test_the_books_of_a_year_hold_what_was_undone_after_it(session: Session, bench: Bench) -> None:
    """The trial balance has the closing stock and the result of the sheet, month by month."""
    market = market_of(session, bench)
    sell(session, market, bench.variant, 3)
    stall.undo_last(session, market, "1", datetime.now(UTC))
    year = Period(date(2027, 1, 1), date(2027, 12, 31))
    found = books(session, year)
    by_name = {b.account.name: b.amount for b in found.balances}
    assert by_name.get("Stock", 0) == found.sheet.stock_closing
    assert income(found.balances) == found.sheet.result
    assert found.sheet.flows[Flow.UNDONE] == -27


def test_a_deposit_kept_is_earned_when_the_order_is_cancelled(
    session: Session, bench: Bench
) -> None:
    order = bench.agreed(quantity=2)
    orders.take_payment(session, order, D(30), DAY, "card")
    april = DAY + timedelta(days=40)
    orders.cancel_order(session, order, april, None, deposit="kept")
    assert books(session, MARCH).sheet.earned.kept == 0
    found = books(session, Period(april, april))
    assert found.sheet.earned.kept == 30
    assert income(found.balances) == found.sheet.result == 30


def test_settings_change_no_past(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 4, D(36), DAY)
    order = bench.agreed(quantity=1)
    deliveries.deliver(session, order, {order.lines[0].id: 1}, DAY)
    market = market_of(session, bench)
    sell(session, market, bench.variant, 2, PaidHow.CARD)
    closing.close_market(session, market, closing.Counted({}), DAY)
    before = takings(session, MARCH, "channel").total
    the_shop(session).tax = D("0.25")
    bench.channel.fee_rate, bench.channel.fixed_fee = D("0.5"), D(3)
    session.flush()
    assert takings(session, MARCH, "channel").total == before


def test_a_fixed_fee_is_charged_once_an_order(session: Session, bench: Bench) -> None:
    """Delivered in parts, closed short, brought back: it stays what was charged."""
    bench.channel.fee_rate, bench.channel.fixed_fee = D(0), D("3.00")
    stock.receive(session, bench.variant, 3, D(27), DAY)
    order = bench.agreed(quantity=3)
    [line] = order.lines
    deliveries.deliver(session, order, {line.id: 1}, DAY)
    assert takings(session, MARCH, "month").total.shown.fees == 1
    deliveries.deliver(session, order, {line.id: 1}, DAY)
    deliveries.close_short(session, order, DAY)
    assert takings(session, MARCH, "month").total.shown.fees == 3
    deliveries.bring_back(session, line, 1, DAY, "torn", sound=True, replaced=False)
    assert takings(session, MARCH, "month").total.shown.fees == 3


def test_parts_of_a_month_share_its_costs(session: Session, bench: Bench) -> None:
    cost(session, day=date(2027, 3, 10))
    cost(session, day=date(2027, 3, 30), months=1, amount=D(7))
    parts = [(1, 9), (10, 10), (11, 29), (30, 31)]
    found = [
        sum(
            (a for _, a in costs.costs_in(session, Period(date(2027, 3, a), date(2027, 3, b)))),
            D(0),
        )
        for a, b in parts
    ]
    assert found == [0, D("8.33"), 0, 7]
    april = Period(date(2027, 4, 2), date(2027, 5, 1))
    assert sum(a for _, a in costs.costs_in(session, april)) == D("8.33")
    year = Period(date(2027, 1, 1), date(2027, 12, 31))
    by_name = {b.account.name: b.amount for b in books(session, year).balances}
    assert by_name["Money"] == -107
    assert by_name["Paid ahead"] == D("16.67")
    after = Period(date(2028, 1, 1), date(2028, 3, 31))
    by_name = {b.account.name: b.amount for b in books(session, after).balances}
    assert by_name["Brought forward"] == D("-16.67")
    assert "Paid ahead" not in by_name


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "America/Los_Angeles", "UTC"])
def test_a_day_is_that_day_wherever_the_maker_sits(
    session: Session, bench: Bench, zone: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        last = date(2027, 3, 31)
        stock.receive(session, bench.variant, 2, D(18), last)
        order = bench.agreed(quantity=1)
        deliveries.deliver(session, order, {order.lines[0].id: 1}, last)
        found = takings(session, Period(date(2027, 3, 1), date(2027, 4, 30)), "month")
        assert [group.shown.pieces for group in found.groups] == [1, 0]
        [row], _ = rows_of(session, MARCH, None, 0, 0, 9)
        assert row.at.astimezone().date() == last
    finally:
        monkeypatch.delenv("TZ")
        time.tzset()


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
