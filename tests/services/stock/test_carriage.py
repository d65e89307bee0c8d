"""Carriage in the cost of a journal: as the offer says, else as the last receipt of it did."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from sqlalchemy.orm import Session

from app.core.length import METRE
from app.models import Offer
from app.services.designs.journals import estimate
from app.services.designs.price_book import read_prices
from app.services.purchasing import purchases as purchasing
from tests.conftest import DAY
from tests.factories import Bench, offer, supplier


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def received(session: Session, at: Offer, packs: int, carriage: str, days: int = 0) -> None:
    purchase = purchasing.begin_purchase(session, at.supplier)
    line = purchasing.add_line(session, purchase, at.material or at.stock_sheet, packs, DAY)  # type: ignore[arg-type]
    on = DAY + timedelta(days=days)
    purchasing.send_purchase(session, purchase, DAY)
    purchasing.receive_purchase(session, purchase, {line.id: packs}, Decimal(carriage), on)


def test_what_the_offer_says_goes_before_what_was_paid_last(session: Session, bench: Bench) -> None:
    said = offer(session, bench.beads, "6", 60, by=supplier(session, "A"))
    paid = offer(session, bench.beads, "6", 60, by=supplier(session, "B"))
    never = offer(session, bench.beads, "6", 60, by=supplier(session, "C"))
    said.carriage = Decimal("1.20")
    received(session, said, 1, "9.00")
    received(session, paid, 2, "3.00")
    received(session, paid, 4, "6.60", days=1)
    each = [read_prices(session, DAY).carriage(one) for one in (said, paid, never)]
    # 1.20 a pack of 60; 6.60 over 4 packs of 60 the last time; the third is not known.
    assert each == [Fraction(2, 100), Fraction(660, 100 * 240), None]
    said.carriage = Decimal(0)
    assert read_prices(session, DAY).carriage(said) == 0


def test_the_cost_has_a_line_for_carriage_and_adds_up(session: Session, bench: Bench) -> None:
    before = estimate(session, bench.variant, DAY).sheet
    assert not [line for line in before.lines if line.label == "Carriage"]
    for thing in (bench.thread, bench.cord):
        [at] = thing.offers
        at.carriage = Decimal("2.00")
    session.flush()
    worked = estimate(session, bench.variant, DAY)
    [line] = [line for line in worked.sheet.lines if line.label == "Carriage"]
    amounts = worked.build.lengths
    # 2.00 a pack: thread in packs of 50 m, cord of 25 m, before waste.
    least = (
        Decimal(amounts["thread"]) / (50 * METRE) * 2 + Decimal(amounts["cord"]) / (25 * METRE) * 2
    )
    assert line.amount >= round(least, 2) > 0
    assert line.amount <= round(least, 2) + Decimal("0.02")
    assert worked.sheet.total() == sum(x.amount for x in worked.sheet.lines)
    assert worked.sheet.total() == before.total() + line.amount
