"""Random orders, batches, deliveries, returns and cancellations, on both engines.

After every step a plain account kept beside says the same: nothing left that was not there, what is
set aside is put back or delivered once, and what came in at a cost went out at it or is here.
"""

from __future__ import annotations

import os
from decimal import Decimal

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import func, select
from sqlalchemy.orm import Session, sessionmaker

from app.core.errors import DomainError
from app.core.length import METRE
from app.core.states import ORDER_STATES
from app.models import Batch, Lot, Movement, Order, OrderLine
from app.services.bench.batches import begin_batch, cancel_batch
from app.services.bench.finishing import Came, finish_batch, finish_part
from app.services.orders import deliveries, orders, shelf
from app.services.orders.standing import standings
from app.services.shop.settings import change_settings, the_shop
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench

EXAMPLES = 1000 if os.environ.get("HYPOTHESIS_PROFILE") == "long" else 5
few = st.integers(1, 4)
which = st.integers(0, 30)


class OrderHistories(RuleBasedStateMachine):
    """What is on the shelf, set aside and with customers, against three plain numbers."""

    sessions: sessionmaker[Session]

    @initialize(average=st.booleans())
    def open(self, average: bool) -> None:
        self.session = self.sessions()
        self.transaction = self.session.begin()
        self.bench = Bench(self.session)
        if average:
            shop = the_shop(self.session)
            chosen = {"currency": shop.currency, "valuation": "average"}
            change_settings(self.session, chosen, None)
        for item, much in (
            (self.bench.sheet, 200), (self.bench.card_sheet, 60), (self.bench.thread, 90 * METRE),
            (self.bench.cord, 200 * METRE), (self.bench.beads, 900),
        ):  # fmt: skip
            stock.receive(self.session, item, much, Decimal(100), DAY)
        self.shelf = self.gone = 0

    def teardown(self) -> None:
        if hasattr(self, "session"):
            self.session.rollback()
            self.session.close()

    def _one(self, kind: type, at: int):  # type: ignore[no-untyped-def]
        rows = self.session.scalars(select(kind).order_by(kind.id)).all()  # type: ignore[attr-defined]
        return rows[at % len(rows)] if rows else None

    def _standing(self, order: Order) -> tuple[int, int]:
        known = standings(self.session, [order]).values()
        return sum(o.set_aside for o in known), sum(o.delivered for o in known)

    def _try(self, order: Order, do) -> None:  # type: ignore[no-untyped-def]
        """Do something to an order, undone where it is refused; count what moved."""
        aside, out = self._standing(order)
        here = stock.on_hand(self.session, self.bench.variant)
        try:
            with self.session.begin_nested():
                do()
        except DomainError:
            self.session.refresh(order)
            assert self._standing(order) == (aside, out)
            assert stock.on_hand(self.session, self.bench.variant) == here
            return
        now_aside, now_out = self._standing(order)
        self.shelf -= (now_aside - aside) + (now_out - out)
        self.gone += now_out - out

    @rule(quantity=few, days=st.integers(1, 40))
    def agree(self, quantity: int, days: int) -> None:
        self.bench.agreed(quantity=quantity, days=days)

    @rule(number=few, cost=st.integers(0, 9999))
    def book_in(self, number: int, cost: int) -> None:
        cents = Decimal(cost).scaleb(-2)
        stock.receive(self.session, self.bench.variant, number, cents, DAY, kind="made")
        self.shelf += number

    @rule(at=which)
    def set_aside(self, at: int) -> None:
        if (order := self._one(Order, at)) and order.state in ("accepted", "in progress"):
            self._try(order, lambda: shelf.set_aside(self.session, order, DAY))

    @rule(at=which, state=st.sampled_from([*ORDER_STATES]))
    def move(self, at: int, state: str) -> None:
        if order := self._one(Order, at):
            self._try(order, lambda: orders.move_order(self.session, order, state, DAY, None))

    @rule(at=which, number=few)
    def deliver(self, at: int, number: int) -> None:
        if order := self._one(Order, at):
            wanted = {order.lines[0].id: number}
            self._try(order, lambda: deliveries.deliver(self.session, order, wanted, DAY))

    @rule(at=which)
    def take_back(self, at: int) -> None:
        order = self._one(Order, at)
        if order and (known := deliveries.deliveries(self.session, order)):
            last = known[-1].delivery
            self._try(order, lambda: deliveries.take_back_delivery(self.session, order, last))

    @rule(at=which, number=few, sound=st.booleans(), replaced=st.booleans())
    def bring_back(self, at: int, number: int, sound: bool, replaced: bool) -> None:
        if line := self._one(OrderLine, at):
            before = self._standing(line.order)[1]
            self._try(
                line.order,
                lambda: deliveries.bring_back(
                    self.session, line, number, DAY, "why", sound=sound, replaced=replaced
                ),
            )
            if self._standing(line.order)[1] < before and not sound:
                self.shelf -= number

    @rule(at=which)
    def close(self, at: int) -> None:
        if order := self._one(Order, at):
            self._try(order, lambda: deliveries.close_short(self.session, order, DAY))

    @rule(at=which, number=few)
    def begin(self, at: int, number: int) -> None:
        line = self._one(OrderLine, at)
        try:
            with self.session.begin_nested():
                begin_batch(
                    self.session, {self.bench.variant: number}, DAY, {line: 2} if line else None
                )
        except DomainError:
            return

    @rule(at=which, lost=st.integers(0, 2), minutes=st.integers(0, 400))
    def finish(self, at: int, lost: int, minutes: int) -> None:
        batch = self._one(Batch, at)
        if batch is None or batch.state != "in progress":
            return
        before = sum(self._standing(order)[0] for order in self.session.scalars(select(Order)))
        good = {line.id: max(line.left - lost, 0) for line in batch.lines}
        finish_batch(self.session, batch, good, Decimal(minutes), DAY)
        aside = sum(self._standing(order)[0] for order in self.session.scalars(select(Order)))
        self.shelf += sum(good.values()) - (aside - before)

    @rule(at=which, good=st.integers(0, 2), lost=st.integers(0, 1), minutes=st.integers(0, 99))
    def finish_some(self, at: int, good: int, lost: int, minutes: int) -> None:
        batch = self._one(Batch, at)
        if batch is None:
            return
        before = sum(self._standing(order)[0] for order in self.session.scalars(select(Order)))
        came = {batch.lines[0].id: Came(good, lost, "torn")}
        try:
            with self.session.begin_nested():
                finish_part(self.session, batch, came, Decimal(minutes), DAY)
        except DomainError:
            self.session.refresh(batch)
            return
        aside = sum(self._standing(order)[0] for order in self.session.scalars(select(Order)))
        self.shelf += good - (aside - before)

    @rule(at=which)
    def cancel(self, at: int) -> None:
        if (batch := self._one(Batch, at)) and batch.state == "in progress":
            try:
                with self.session.begin_nested():
                    cancel_batch(self.session, batch)
            except DomainError:
                # Offcuts kept of it were used in another batch since.
                self.session.refresh(batch)

    @invariant()
    def the_account_agrees(self) -> None:
        if not hasattr(self, "bench"):
            return
        assert stock.on_hand(self.session, self.bench.variant) == self.shelf >= 0
        every = self.session.scalars(select(Order)).all()
        assert sum(self._standing(order)[1] for order in every) == self.gone
        # What is here cost what came in less what went out, over all lots of the journal.
        moved, left = self.session.execute(
            select(func.sum(Movement.cost), func.count()).join(Movement.lot).where(
                Lot.variant_id == self.bench.variant.id
            )
        ).one()  # fmt: skip
        here = self.session.scalar(
            select(func.sum(Lot.left_cost)).where(Lot.variant_id == self.bench.variant.id)
        )
        assert (moved or 0) == (here or 0) if left else True
        assert check_books(self.session) == []


def test_order_histories(sessions: sessionmaker[Session]) -> None:
    class Here(OrderHistories):
        pass

    Here.sessions = sessions
    run_state_machine_as_test(
        Here, settings=settings(max_examples=EXAMPLES, stateful_step_count=25, deadline=None)
    )
