"""The maker's calendar: what is due, what to begin by when, the markets."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy.orm import Session

from app.services.bench.board import the_bench
from app.services.exchange.calendar import events
from app.services.orders import orders
from tests.conftest import DAY
from tests.factories import Bench


def test_orders_work_and_markets_stand_in_it(session: Session) -> None:
    bench = Bench(session)
    assert events(session, DAY) == []
    enquiry, agreed, gone = bench.order(1, 9), bench.agreed(4, 20), bench.agreed(1, 8)
    agreed.lines[0].asked_for = "initials"
    orders.cancel_order(session, gone, DAY, None)
    bench.market(6, 40)
    bench.market(1, -3, name="Last week's fair")
    found = {event.key: event for event in events(session, DAY)}
    due = found[f"order-{agreed.id}-due"]
    assert (due.day, due.title) == (DAY + timedelta(days=20), "Order 2 due: Ada")
    assert due.says == "4 × Plain journal, Plain, initials"
    # What is only asked about is promised to nobody.
    assert f"order-{enquiry.id}-due" not in found
    assert f"order-{gone.id}-due" not in found
    [market] = [event for event in found.values() if event.key.startswith("market")]
    assert (market.day, market.title) == (DAY + timedelta(days=40), "Spring fair")
    begins = [event for event in found.values() if event.key.startswith("begin")]
    assert [(b.day, b.title) for b in begins] == [
        (one.start_by, f"Begin at the latest: {one.parts[0].quantity} Plain journal, Plain")
        for one in the_bench(session, DAY).proposals
    ]
    assert begins[0].day < due.day
    assert "Order 2, Ada" in begins[0].says
    days = [event.day for event in events(session, DAY)]
    assert days == sorted(days)
