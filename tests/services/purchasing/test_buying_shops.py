"""Random shops: what the list says is bought and received, and then nothing is short."""

from __future__ import annotations

import os
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session, sessionmaker

from app.core.length import MM
from app.services.bench import batches
from app.services.purchasing import purchases as purchasing
from app.services.purchasing.buy_list import BuyList, buy_list
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench, offer, sheet, supplier

EXAMPLES = 150 if os.environ.get("HYPOTHESIS_PROFILE") == "long" else 5
journals = st.lists(
    st.tuples(st.integers(70, 150), st.integers(100, 220), st.integers(1, 25), st.integers(5, 60)),
    min_size=1, max_size=4,
)  # fmt: skip
sizes = st.lists(
    st.tuples(
        st.sampled_from([(450, 640), (420, 594), (500, 700), (700, 1000)]),
        st.integers(20, 300), st.sampled_from([1, 1, 5, 10, 25]), st.integers(1, 30),
        st.integers(0, 12),
    ),
    max_size=3, unique_by=lambda row: row[0],
)  # fmt: skip


def opened(session: Session, raw: list[tuple[int, int, int, int]], extra: list) -> Bench:  # type: ignore[type-arg]
    """A shop with these journals ordered, and paper of these sizes on offer and here."""
    bench = Bench(session)
    single = supplier(session, "By the sheet")
    for (width, height), price, pack, lead, here in extra:
        size = sheet(session, bench.paper, width, height)
        each = f"{Decimal(price * pack).scaleb(-2)}"
        offer(session, size, each, pack, by=single, lead=lead)
        if here:
            stock.receive(session, size, here, Decimal(here * price).scaleb(-2), DAY)
    session.expire_all()
    for number, (width, height, quantity, days) in enumerate(raw):
        made = bench.begin(f"Journal {number}", leaf_width=width * MM, leaf_height=height * MM)
        bench.agreed(quantity=quantity, days=days, variant=made.current.variants[0])
    return bench


def check_list(found: BuyList) -> None:
    """Every demand hangs on sheets that are there or bought, and money adds up."""
    for plan in found.papers:
        pegs = [peg for cut in plan.cuts for peg in cut.pegs]
        for need in plan.needs:
            assert sum(p.quantity for p in pegs if p.demand.thing == need.key) == need.count
        for cut in plan.cuts:
            room = sum(cut.use.counts.values()) * cut.sheets
            assert sum(peg.quantity for peg in cut.pegs) <= room
        for line in plan.lines:
            assert sum(cut.sheets for cut in line.cuts) <= line.quantity
            assert line.late == (line.order_by < DAY)
    assert found.spend == sum(line.cost for line in found.lines)


@pytest.mark.parametrize("apart", [False, True])
@settings(max_examples=EXAMPLES, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=journals, extra=sizes)
def test_buy_receive_plan_again_nothing_to_buy(
    sessions: sessionmaker[Session],
    apart: bool,
    raw: list[tuple[int, int, int, int]],
    extra: list,  # type: ignore[type-arg]
) -> None:
    with sessions() as session:
        opened(session, raw, extra)
        found = buy_list(session, DAY, apart=apart)
        check_list(found)
        if found.problems:
            return
        made = purchasing.draft_buy_list(session, found)
        assert sum(x.packs * x.pack_price for p in made for x in p.lines) == found.spend
        assert buy_list(session, DAY).lines == []
        for purchase in made:
            purchasing.send_purchase(session, purchase, DAY)
            packs = {line.id: line.packs for line in purchase.lines}
            purchasing.receive_purchase(session, purchase, packs, Decimal(2), DAY)
        again = buy_list(session, DAY)
        check_list(again)
        assert again.lines == []
        assert again.problems == ()
        wanted = {again.needs.variants[k]: s.short for k, s in again.needs.to_make.items()}
        batches.begin_batch(session, {v: n for v, n in wanted.items() if n}, DAY)
        assert buy_list(session, DAY).lines == []
        assert check_books(session) == []
        session.rollback()
