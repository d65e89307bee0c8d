"""Random years of stalls, orders, shops, batches, counts and mistakes, on both engines.

However the sales are sorted they come to the same, and the year-end sheet of any part of the year
ties out to the movements.
"""

from __future__ import annotations

import os
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

from hypothesis import Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import func, select
from sqlalchemy.orm import Session, sessionmaker

from app.core.errors import DomainError
from app.core.length import METRE
from app.core.states import CostKind, MovementKind, PaidHow
from app.models import Market, Movement, Order, OrderLine, Statement
from app.services.bench.batches import begin_batch
from app.services.bench.finishing import finish_batch
from app.services.markets import closing, markets, stall
from app.services.orders import deliveries
from app.services.outlets import outlets
from app.services.shop.settings import change_settings, channels, the_shop
from app.services.stock import ledger as stock
from app.services.takings.account import takings
from app.services.takings.books import books
from app.services.takings.costs import save_cost
from app.services.takings.periods import Period, begin_of
from app.services.takings.sold import WAYS
from app.services.takings.stock_value import Shelf, lying, stock_value
from app.services.takings.year_end import sheet_lines
from app.services.upkeep.checking import check_books
from tests.factories import Bench

EXAMPLES = 1000 if os.environ.get("HYPOTHESIS_PROFILE") == "long" else 8
FIRST = date(2026, 1, 1)
days = st.integers(0, 364)
few = st.integers(1, 4)
which = st.integers(0, 30)
STEP = Decimal("0.01")


class Year(RuleBasedStateMachine):
    """A year in which anything may happen on any day."""

    sessions: sessionmaker[Session]

    @initialize(average=st.booleans(), tax=st.sampled_from(["0", "0.19", "0.2"]))
    def open(self, average: bool, tax: str) -> None:
        self.session = self.sessions()
        self.transaction = self.session.begin()
        self.bench = Bench(self.session)
        shop = the_shop(self.session)
        shop.tax, shop.pay_per_hour = Decimal(tax), Decimal(17)
        if average:
            change_settings(self.session, {"currency": shop.currency, "valuation": "average"}, None)
        self.other = self.bench.begin("Other journal").current.variants[0]
        self.variants = [self.bench.variant, self.other]
        for item, much in (
            (self.bench.sheet, 200), (self.bench.card_sheet, 60), (self.bench.thread, 90 * METRE),
            (self.bench.cord, 200 * METRE), (self.bench.beads, 900),
        ):  # fmt: skip
            stock.receive(self.session, item, much, Decimal("99.97"), FIRST - timedelta(days=40))
        [direct, at_stall, *_] = channels(self.session)
        direct.fee_rate, direct.fixed_fee = Decimal("0.029"), Decimal("0.30")
        at_stall.fee_rate = Decimal("0.0175")
        self.wholesale = next(c for c in channels(self.session) if c.wholesale)
        values = {"name": "Corner gallery", "channel": direct, "commission": Decimal("0.35"),
                  "contact": "", "note": ""}  # fmt: skip
        self.outlet = outlets.save_outlet(self.session, None, values)

    def teardown(self) -> None:
        if hasattr(self, "session"):
            self.session.rollback()
            self.session.close()

    def _day(self, at: int) -> date:
        return FIRST + timedelta(days=at)

    def _one(self, kind: type, at: int):  # type: ignore[no-untyped-def]
        rows = self.session.scalars(select(kind).order_by(kind.id)).all()  # type: ignore[attr-defined]
        return rows[at % len(rows)] if rows else None

    def _try(self, do) -> None:  # type: ignore[no-untyped-def]
        try:
            with self.session.begin_nested():
                do()
        except DomainError:
            self.session.expire_all()

    @rule(at=days, number=few, cost=st.integers(1, 9999), one=st.booleans())
    def book_in(self, at: int, number: int, cost: int, one: bool) -> None:
        cents = Decimal(cost).scaleb(-2)
        variant = self.variants[one]
        stock.receive(self.session, variant, number, cents, self._day(at), kind=MovementKind.MADE)

    @rule(
        at=days, number=few, minutes=st.integers(0, 400), lost=st.integers(0, 1), done=st.booleans()
    )
    def make(self, at: int, number: int, minutes: int, lost: int, done: bool) -> None:
        def do() -> None:
            batch = begin_batch(self.session, {self.bench.variant: number}, self._day(at))
            if done:
                good = {line.id: max(line.left - lost, 0) for line in batch.lines}
                finish_batch(
                    self.session, batch, good, Decimal(minutes), self._day(min(at + 9, 364))
                )

        self._try(do)

    @rule(
        at=days,
        number=few,
        price=st.integers(0, 6000),
        one=st.booleans(),
        how=st.sampled_from(PaidHow),
    )
    def sell(self, at: int, number: int, price: int, one: bool, how: PaidHow) -> None:
        variant = self.variants[one]
        if stock.on_hand(self.session, variant) < number:
            return
        day = self._day(at)
        market = self.session.scalar(select(Market).where(Market.day == day))
        if market is None:
            values = {"name": f"Fair {at}", "place": "", "day": day, "note": "",
                      "channel": channels(self.session)[0], "stall_fee": Decimal(30),
                      "travel": Decimal("4.50"), "fee_share": Decimal("0.1")}  # fmt: skip
            market = markets.save_market(self.session, None, values)
        if market.closed_on is not None:
            return

        def do() -> None:
            for _ in range(number):
                sale = stall.make_stroke(self.session, market, variant, "1")
            prices = {line.id: Decimal(price).scaleb(-2) for line in sale.lines}
            stall.ask_other_prices(self.session, market, "1", prices)
            moment = datetime.combine(day, time(11), UTC)
            stall.take_money(self.session, market, "1", how, moment)

        self._try(do)

    @rule(at=which)
    def undo(self, at: int) -> None:
        if market := self._one(Market, at):
            self._try(lambda: stall.undo_last(self.session, market, "1", datetime.now(UTC)))

    @rule(at=which, billed=st.booleans())
    def close(self, at: int, billed: bool) -> None:
        if market := self._one(Market, at):
            fees = Decimal("3.33") if billed else None
            counted = closing.Counted({}, card_fees=fees)
            self._try(lambda: closing.close_market(self.session, market, counted, market.day))

    @rule(at=days, number=few, price=st.integers(0, 6000), before_tax=st.booleans())
    def order_and_deliver(self, at: int, number: int, price: int, before_tax: bool) -> None:
        channel = self.wholesale if before_tax else self.bench.channel
        order = self.bench.agreed(
            quantity=number, days=400, price=Decimal(price).scaleb(-2), logged_on=self._day(at),
            channel=channel, postage=Decimal("3.95"),
        )  # fmt: skip
        here = stock.on_hand(self.session, self.bench.variant)
        some = {order.lines[0].id: min(number, here)}
        self._try(
            lambda: deliveries.deliver(self.session, order, some, self._day(min(at + 5, 364)))
        )

    @rule(at=which, back=days, number=few, sound=st.booleans(), replaced=st.booleans())
    def bring_back(self, at: int, back: int, number: int, sound: bool, replaced: bool) -> None:
        if line := self._one(OrderLine, at):
            self._try(
                lambda: deliveries.bring_back(
                    self.session, line, number, self._day(back), "why", sound=sound,
                    replaced=replaced,
                )
            )  # fmt: skip

    @rule(at=which)
    def take_back(self, at: int) -> None:
        order = self._one(Order, at)
        if order and (known := deliveries.deliveries(self.session, order)):
            last = known[-1].delivery
            self._try(lambda: deliveries.take_back_delivery(self.session, order, last))

    @rule(at=days, number=few)
    def send(self, at: int, number: int) -> None:
        wanted = {self.bench.variant.id: number}
        self._try(lambda: outlets.send(self.session, self.outlet, wanted, self._day(at)))

    @rule(at=days, number=few)
    def come_home(self, at: int, number: int) -> None:
        wanted = {self.bench.variant.id: number}
        self._try(lambda: outlets.bring_home(self.session, self.outlet, wanted, self._day(at)))

    @rule(at=days, number=few, price=st.integers(1000, 6000))
    def state(self, at: int, number: int, price: int) -> None:
        line = outlets.SoldThere(self.bench.variant.id, number, Decimal(price).scaleb(-2))
        self._try(
            lambda: outlets.state_sold(
                self.session, self.outlet, [line], self._day(at), Decimal("0.55")
            )
        )

    @rule(at=which)
    def unstate(self, at: int) -> None:
        if statement := self._one(Statement, at):
            self._try(lambda: outlets.take_back(self.session, statement))

    @rule(at=days, number=st.integers(0, 6))
    def count(self, at: int, number: int) -> None:
        self._try(
            lambda: stock.count(
                self.session, self.other, number, self._day(at), "miscounted before"
            )
        )

    @rule(at=days, amount=st.integers(1, 99999), months=st.integers(1, 14))
    def cost(self, at: int, amount: int, months: int) -> None:
        save_cost(
            self.session, None,
            {"day": self._day(at), "what": "Rent", "kind": CostKind.ROOM, "months": months,
             "amount": Decimal(amount).scaleb(-2), "note": ""},
        )  # fmt: skip

    @precondition(lambda self: hasattr(self, "bench"))
    @rule(first=days, length=st.integers(0, 200), on=days)
    def all_agrees(self, first: int, length: int, on: int) -> None:
        period = Period(self._day(first), self._day(min(first + length, 364)))
        found = {by: takings(self.session, period, by) for by in WAYS}
        total = found["journal"].total.shown
        for by, one in found.items():
            assert one.total.shown == total, by
            for name in ("sales", "tax", "fees", "cost", "work", "minutes"):
                assert sum(getattr(g.shown, name) for g in one.groups) == getattr(total, name)
        kept = books(self.session, period)
        sheet = kept.sheet
        assert sheet.ties_out
        assert sheet.stock_opening + sum(sheet.flows.values()) == sheet.stock_closing
        assert kept.debits == kept.credits
        by_name = {b.account.name: b.amount for b in kept.balances}
        assert by_name.get("Stock", 0) == sheet.stock_closing
        assert by_name.get("Cost of what was sold", 0) == total.cost
        assert by_name.get("Fees on sales", 0) == total.fees
        assert -by_name.get("Sales", 0) == total.sales - total.tax
        for _, lines in sheet_lines(sheet):
            so_far = Decimal(0)
            for line in lines:
                if line.is_sum:
                    assert so_far == line.amount, line
                else:
                    so_far += line.amount
        self._stock_on(self._day(on))
        assert check_books(self.session) == []

    def _stock_on(self, day: date) -> None:
        """What the stock was worth, against the plain sum of all movements until then."""
        value = stock_value(self.session, day)
        after = begin_of(day + timedelta(days=1))
        plain = self.session.scalar(select(func.sum(Movement.cost)).where(Movement.at < after))
        assert value.total - value.by_shelf[Shelf.MAKING] == (plain or 0)
        for shelf in Shelf:
            rows = lying(self.session, day, shelf)
            assert sum((row.cost for row in rows), Decimal(0)) == value.by_shelf[shelf]


def test_takings_histories(sessions: sessionmaker[Session]) -> None:
    class Here(Year):
        pass

    Here.sessions = sessions
    run_state_machine_as_test(
        Here,
        settings=settings(
            max_examples=EXAMPLES, stateful_step_count=30, deadline=None, phases=[Phase.generate]
        ),
    )
