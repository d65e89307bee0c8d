"""From the buy list to lots on the shelf: nothing short, nothing twice, every cost landed."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE
from app.models import Purchase, PurchaseLine
from app.services.planning.projected_stock import timeline
from app.services.planning.supply import came, on_the_way, purchases
from app.services.purchasing import purchases as purchasing
from app.services.purchasing.buy_list import buy_list
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench, offer, supplier


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def sent(session: Session, days: int = 0) -> list[Purchase]:
    made = purchasing.draft_buy_list(session, buy_list(session, DAY))
    for purchase in made:
        purchasing.send_purchase(session, purchase, DAY + timedelta(days=days))
    return made


def receive_all(session: Session, made: list[Purchase], carriage: str = "3.10") -> None:
    for purchase in made:
        packs = {line.id: line.packs for line in purchase.lines}
        purchasing.receive_purchase(session, purchase, packs, Decimal(carriage), DAY)


def test_doing_what_the_list_says_leaves_nothing_short(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=40)
    bench.market(take=25)
    first = buy_list(session, DAY)
    assert first.lines
    made = sent(session)
    assert sum(x.packs * x.pack_price for p in made for x in p.lines) == first.spend
    # On its way it is bought already; received it is here.
    assert buy_list(session, DAY).lines == []
    receive_all(session, made)
    again = buy_list(session, DAY)
    assert again.lines == []
    assert again.problems == ()
    assert {p.state for p in purchases(session)} == {"received"}
    assert check_books(session) == []


def test_asking_for_drafts_twice_orders_nothing_twice(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=40)
    lines = buy_list(session, DAY).lines
    first = purchasing.draft_purchases(session, lines)
    packs = {line.id: line.packs for p in first for line in p.lines}
    # What is drafted counts as coming, also where a cheaper offer turns up since.
    offer(session, bench.sheet, "1", 25, by=supplier(session, "Cheap"))
    assert buy_list(session, DAY).lines == []
    bench.agreed(quantity=200, who="Bert")
    more = purchasing.draft_buy_list(session, buy_list(session, DAY))
    assert any(p in first for p in more)
    assert sum(x.packs for p in purchases(session) for x in p.lines) > sum(packs.values())


def test_more_packs_earn_their_price_and_an_agreed_one_stays(
    session: Session, bench: Bench
) -> None:
    seller = supplier(session, "Seller")
    offer(session, bench.thread, "5", 50 * METRE, by=seller, breaks={10: "3"})
    purchase = purchasing.begin_purchase(session, seller)
    line = purchasing.add_line(session, purchase, bench.thread, 6, DAY)
    assert line.pack_price == 5
    purchasing.add_line(session, purchase, bench.thread, 6, DAY)
    assert (line.packs, line.pack_price) == (12, 3)
    purchasing.change_draft(session, purchase, {}, {line.id: Decimal("2.50")}, "", purchase.version)
    purchasing.add_line(session, purchase, bench.thread, 1, DAY)
    assert line.pack_price == Decimal("2.50")
    with pytest.raises(DomainError, match="over 100000 packs"):
        purchasing.add_line(session, purchase, bench.thread, 100_000, DAY)
    with pytest.raises(DomainError, match="more money"):
        purchasing.change_draft(
            session, purchase, {}, {line.id: Decimal(999_999_999)}, "", purchase.version
        )


def test_the_lead_time_is_that_of_the_offer_in_force(session: Session, bench: Bench) -> None:
    seller = supplier(session, "Seller")
    offer(session, bench.thread, "5", 50 * METRE, by=seller, lead=2)
    offer(
        session, bench.thread, "4", 50 * METRE, by=seller, lead=99, since=DAY + timedelta(days=50)
    )
    purchase = purchasing.begin_purchase(session, seller)
    line = purchasing.add_line(session, purchase, bench.thread, 1, DAY)
    purchasing.send_purchase(session, purchase, DAY)
    assert purchase.expected_on == DAY + timedelta(days=2)
    with pytest.raises(DomainError, match="before it was ordered"):
        purchasing.receive_purchase(
            session, purchase, {line.id: 1}, Decimal(0), DAY - timedelta(days=1)
        )


def test_changing_one_order_changes_only_what_hangs_on_it(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=9, days=30)
    other = bench.begin("Wide journal").current.variants[0]
    late = bench.agreed(quantity=12, days=60, variant=other, who="Bert")
    before = {line.name: (line.packs, line.order_by) for line in buy_list(session, DAY).lines}
    late.wanted_by += timedelta(days=1)
    session.flush()
    after = {line.name: (line.packs, line.order_by) for line in buy_list(session, DAY).lines}
    assert before == after
    late.lines[0].quantity = 300
    session.flush()
    found = buy_list(session, DAY)
    for line in found.lines:
        first = min(line.pegs, key=lambda peg: peg.demand.by)
        if line.packs != before[line.name][0]:
            assert any(peg.demand.reason.endswith("Bert") for peg in line.pegs)
        assert first.demand.by <= late.wanted_by


def test_carriage_is_shared_by_value_and_adds_up(session: Session, bench: Bench) -> None:
    both = supplier(session, "Both")
    offer(session, bench.sheet, "20", 25, by=both)
    offer(session, bench.beads, "6", 60, by=both)
    purchase = purchasing.begin_purchase(session, both)
    purchasing.add_line(session, purchase, bench.sheet, 2, DAY)
    purchasing.add_line(session, purchase, bench.beads, 1, DAY)
    purchasing.send_purchase(session, purchase, DAY)
    receipt = purchasing.receive_purchase(
        session, purchase, {line.id: line.packs for line in purchase.lines}, Decimal("7.77"), DAY
    )
    costs = [line.lot.cost for line in receipt.lines]
    # 40 and 6: of 7.77 carriage 6.7565… and 1.0135…, to the ten-thousandth, adding up.
    assert costs == [Decimal("46.7565"), Decimal("7.0135")]
    assert sum(costs) == Decimal("53.77")


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.integers(1, 50), st.integers(0, 90_000)), min_size=1, max_size=6),
    st.integers(0, 100_000),
)
def test_landed_costs_always_add_up(rows: list[tuple[int, int]], carriage: int) -> None:
    lines = [
        PurchaseLine(id=n, packs=packs, pack_quantity=1, pack_price=Decimal(price).scaleb(-2))
        for n, (packs, price) in enumerate(rows)
    ]
    packs = {line.id: line.packs for line in lines}
    paid = Decimal(carriage).scaleb(-2)
    costs = purchasing.landed(lines, packs, paid)
    assert sum(costs) == paid + sum(line.packs * line.pack_price for line in lines)
    assert all(c >= line.packs * line.pack_price for c, line in zip(costs, lines, strict=True))


def test_a_part_comes_then_the_rest(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=80)
    made = next(p for p in sent(session) if any(x.stock_sheet is bench.sheet for x in p.lines))
    [line] = made.lines
    assert line.packs > 1
    purchasing.receive_purchase(session, made, {line.id: 1}, Decimal(0), DAY)
    assert made.state == "part received"
    coming = on_the_way(session, DAY)[stock.item_key(bench.sheet)]
    assert sum(c.quantity for c in coming) == (line.packs - 1) * 25
    with pytest.raises(DomainError, match="still to come") as caught:
        purchasing.receive_purchase(session, made, {line.id: line.packs}, Decimal(0), DAY)
    assert caught.value.field == f"came_{line.id}"
    purchasing.receive_purchase(session, made, {line.id: line.packs - 1}, Decimal(0), DAY)
    assert made.state == "received"
    with pytest.raises(DomainError, match="nothing of it is on its way"):
        purchasing.receive_purchase(session, made, {line.id: 1}, Decimal(0), DAY)


def test_a_receipt_is_taken_back_while_nothing_of_it_was_used(
    session: Session, bench: Bench
) -> None:
    bench.agreed(quantity=40)
    made = sent(session)[0]
    line = made.lines[0]
    packs = {x.id: x.packs for x in made.lines}
    receipt = purchasing.receive_purchase(session, made, packs, Decimal(2), DAY)
    purchasing.undo_receipt(session, receipt, "wrong box")
    assert made.state == "sent"
    assert came(session, made.lines)[line.id] == 0
    assert check_books(session) == []
    receipt = purchasing.receive_purchase(session, made, packs, Decimal(2), DAY)
    item = line.stock_sheet or line.material
    assert item is not None
    stock.take(session, item, 1, "issued")
    with pytest.raises(DomainError, match="taken since"):
        purchasing.undo_receipt(session, receipt, "too late")


def test_what_comes_too_late_is_said_with_its_days(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=40, days=20)
    made = sent(session)
    for purchase in made:
        purchasing.expect_on(session, purchase, DAY + timedelta(days=40))
    found = buy_list(session, DAY)
    assert found.lines == []
    assert any("is expected on" in word and "Ask the supplier" in word for word in found.late)
    assert any(bench.paper.name in word for word in found.late)
    assert any(bench.thread.name in word for word in found.late)


def test_other_suppliers_stand_beside_the_one_chosen(session: Session, bench: Bench) -> None:
    dear = supplier(session, "Dear and slow")
    offer(session, bench.thread, "9", 50 * METRE, lead=300, by=dear)
    bench.agreed(quantity=40)
    line = next(x for x in buy_list(session, DAY).lines if x.name == bench.thread.name)
    [other] = line.others
    assert other.name == "1 from Dear and slow"
    assert (other.spend, other.why_not) == (Decimal("9.0000"), "comes too late")


def test_a_draft_changed_in_two_tabs_is_told(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=40)
    made = purchasing.draft_buy_list(session, buy_list(session, DAY))[0]
    line = made.lines[0]
    version = made.version
    purchasing.change_draft(session, made, {line.id: 7}, {}, "by Friday", version)
    assert (line.packs, made.note) == (7, "by Friday")
    with pytest.raises(DomainError):
        purchasing.change_draft(session, made, {line.id: 9}, {}, "", version)
    purchasing.change_draft(session, made, {line.id: 0}, {}, "", made.version)
    assert line not in made.lines


def test_states_follow_one_another(session: Session, bench: Bench) -> None:
    purchase = purchasing.begin_purchase(session, supplier(session, "Somebody"))
    with pytest.raises(DomainError, match="nothing on it yet"):
        purchasing.send_purchase(session, purchase, DAY)
    with pytest.raises(DomainError, match="no offer of it"):
        purchasing.add_line(session, purchase, bench.sheet, 1, DAY)
    with pytest.raises(DomainError, match="not on its way"):
        purchasing.expect_on(session, purchase, DAY)
    purchasing.cancel_purchase(session, purchase)
    with pytest.raises(DomainError):
        purchasing.send_purchase(session, purchase, DAY)
    assert [p.number for p in purchases(session)] == [1]


def test_prices_over_time(session: Session, bench: Bench) -> None:
    seller = supplier(session, "Seller")
    offer(session, bench.thread, "5", 50 * METRE, by=seller, since=DAY - timedelta(days=300))
    offer(session, bench.thread, "6", 50 * METRE, by=seller, since=DAY - timedelta(days=30))
    purchase = purchasing.begin_purchase(session, seller)
    purchasing.add_line(session, purchase, bench.thread, 2, DAY)
    purchasing.send_purchase(session, purchase, DAY)
    rows = purchasing.price_history(session, bench.thread)
    assert [row.bought for row in rows][-1]
    assert [round(row.each * METRE, 3) for row in rows if row.supplier == "Seller"] == [
        Decimal("0.1"), Decimal("0.12"), Decimal("0.12"),
    ]  # fmt: skip


def test_coming_and_going_of_a_material(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=40)
    rows = timeline(session, bench.thread, DAY, 0)
    assert [row["left"] < 0 for row in rows] == [True]
    sent(session)
    rows = timeline(session, bench.thread, DAY, 0)
    assert {row["ref"].split("-")[0] for row in rows} == {"order", "purchase"}
    assert rows[-1]["left"] >= 0
