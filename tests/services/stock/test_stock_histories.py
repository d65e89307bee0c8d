"""Random histories of the stock, on both engines: after every step the books agree."""

from __future__ import annotations

import os
from decimal import Decimal
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from sqlalchemy.orm import Session, sessionmaker

from app.core.errors import DomainError
from app.core.length import MM
from app.models import Movement
from app.services.planning.supply import came, on_the_way
from app.services.purchasing import purchases as purchasing
from app.services.shop.settings import change_settings, the_shop
from app.services.stock import ledger as stock
from app.services.stock import offcuts
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench

EXAMPLES = 2000 if os.environ.get("HYPOTHESIS_PROFILE") == "long" else 8
quantities = st.integers(1, 60)
money = st.integers(0, 500_000).map(lambda n: Decimal(n).scaleb(-4))


class Histories(RuleBasedStateMachine):
    """Purchases, receipts, issues, counts, offcuts and reversals, against plain sums kept aside."""

    sessions: sessionmaker[Session]

    @initialize()
    def open(self) -> None:
        self.session = self.sessions()
        self.transaction = self.session.begin()
        self.bench = Bench(self.session)
        self.expected: dict[str, int] = {}
        self.things: list[Any] = [self.bench.sheet, self.bench.beads]

    def teardown(self) -> None:
        if hasattr(self, "session"):
            self.session.rollback()
            self.session.close()

    def _add(self, item: Any, quantity: int) -> None:
        key = stock.item_key(item)
        self.expected[key] = self.expected.get(key, 0) + quantity

    @rule(at=st.integers(0, 1), quantity=quantities, cost=money)
    def receive(self, at: int, quantity: int, cost: Decimal) -> None:
        stock.receive(self.session, self.things[at], quantity, cost, DAY)
        self._add(self.things[at], quantity)

    @rule(at=st.integers(0, 1), quantity=quantities)
    def issue(self, at: int, quantity: int) -> None:
        item = self.things[at]
        here = stock.on_hand(self.session, item)
        try:
            stock.take(self.session, item, quantity, "issued")
        except DomainError:
            assert quantity > here
        else:
            self._add(item, -quantity)

    @rule(at=st.integers(0, 1), counted=st.integers(0, 80))
    def count(self, at: int, counted: int) -> None:
        item = self.things[at]
        stock.count(self.session, item, counted, DAY, "miscounted before")
        self.expected[stock.item_key(item)] = counted

    @rule(which=st.integers(0, 40))
    def reverse(self, which: int) -> None:
        movements = self.session.query(Movement).order_by(Movement.id).all()
        if not movements:
            return
        movement = movements[which % len(movements)]
        item = movement.lot.stock_sheet or movement.lot.material
        offcut = movement.lot.offcut_width_nm is not None
        try:
            stock.reverse(self.session, movement, "a slip")
        except DomainError:
            return
        if not offcut:
            self._add(item, -movement.quantity)

    @rule(cut=st.integers(1, 5), kept=st.integers(1, 6))
    def keep_offcuts(self, cut: int, kept: int) -> None:
        try:
            offcuts.keep_offcuts(
                self.session, self.bench.sheet, sheets_cut=cut, width_nm=200 * MM,
                height_nm=300 * MM, quantity=kept, on=DAY,
            )  # fmt: skip
        except DomainError:
            return
        self._add(self.bench.sheet, -cut)

    @rule(packs=st.integers(1, 4), carriage=money)
    def purchase(self, packs: int, carriage: Decimal) -> None:
        seller = self.bench.sheet.offers[0].supplier
        made = purchasing.draft_for(self.session, seller)
        line = purchasing.add_line(self.session, made, self.bench.sheet, packs, DAY)
        purchasing.send_purchase(self.session, made, DAY)
        if packs > 1:
            purchasing.receive_purchase(self.session, made, {line.id: packs - 1}, carriage, DAY)
            self._add(self.bench.sheet, (packs - 1) * line.pack_quantity)
        assert came(self.session, made.lines)[line.id] == packs - 1

    @rule()
    def the_rest_comes(self) -> None:
        for coming in on_the_way(self.session, DAY).get(stock.item_key(self.bench.sheet), []):
            [line] = coming.purchase.lines
            left = line.packs - came(self.session, [line])[line.id]
            purchasing.receive_purchase(
                self.session, coming.purchase, {line.id: left}, Decimal(0), DAY
            )
            self._add(self.bench.sheet, left * line.pack_quantity)

    @precondition(lambda self: hasattr(self, "session"))
    @rule(valuation=st.sampled_from(["fifo", "average"]))
    def change_valuation(self, valuation: str) -> None:
        settings = {"currency": the_shop(self.session).currency, "valuation": valuation}
        change_settings(self.session, settings, None)

    @invariant()
    def the_books_agree(self) -> None:
        if not hasattr(self, "session"):
            return
        assert check_books(self.session) == []
        for item in self.things:
            key = stock.item_key(item)
            assert stock.on_hand(self.session, item) == self.expected.get(key, 0)


def test_random_histories_keep_the_books(sessions: sessionmaker[Session]) -> None:
    """Runs on SQLite and on PostgreSQL; ``HYPOTHESIS_PROFILE=long`` runs thousands."""
    from hypothesis.stateful import run_state_machine_as_test

    class OnThisEngine(Histories):
        pass

    OnThisEngine.sessions = sessions
    run_state_machine_as_test(
        OnThisEngine,
        settings=settings(max_examples=EXAMPLES, stateful_step_count=20, deadline=None),
    )
