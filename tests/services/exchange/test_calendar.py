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
    begins = {e.key: e for e in found.values() if e.key.startswith("begin")}
    proposals = the_bench(session, DAY).proposals
    assert {(e.key, e.day) for e in begins.values()} == {
        (f"begin-{peg.demand.link}-{peg.demand.thing}", one.start_by)
        for one in proposals for peg in one.pegs
    }  # fmt: skip
    mine = begins[f"begin-order-{agreed.id}-variant-{bench.variant.id}"]
    assert (mine.title, mine.says) == (
        "Begin at the latest: 4 Plain journal, Plain", "For Order 2, Ada",
    )  # fmt: skip
    assert mine.day < due.day
    days = [event.day for event in events(session, DAY)]
    assert days == sorted(days)


def test_what_should_have_begun_stands_on_today(session: Session) -> None:
    bench = Bench(session)
    bench.agreed(90, 2)
    [late] = [e for e in events(session, DAY) if e.key.startswith("begin")]
    [one] = the_bench(session, DAY).proposals
    assert one.start_by < DAY == late.day
    assert late.title == f"Late, it was to begin {one.start_by:%-d %B}: 90 Plain journal, Plain"
