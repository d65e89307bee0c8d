"""The buy list: what is short, in whole packs, in time, and for what."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.length import METRE, MM
from app.services.designs import journals
from app.services.designs.journals import estimate, take_off_of
from app.services.designs.price_book import read_prices
from app.services.orders import orders
from app.services.planning.requirements import needs, take_rows
from app.services.purchasing import purchases as purchasing
from app.services.purchasing.buy_list import BuyList, buy_list, demands_of
from app.services.stock import ledger as stock
from app.services.today import the_day
from tests.conftest import DAY
from tests.factories import Bench, material, offer, sheet, supplier


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def lines(found: BuyList) -> dict[str, tuple[int, Decimal]]:
    return {line.name: (line.packs, line.cost) for line in found.lines}


def test_nothing_wanted_buys_nothing(session: Session, bench: Bench) -> None:
    bench.order()
    found = buy_list(session, DAY)
    assert found.lines == []
    assert found.needs.to_make == {}


def test_sheets_and_packs_for_an_order(session: Session, bench: Bench) -> None:
    order = bench.agreed(quantity=40)
    found = buy_list(session, DAY)
    # 40 journals: 480 folios and 3% spoilage, 495 at 10 a sheet, 50 sheets, 2 packs of 25; covers
    # 42 at 6 from 500 × 700 (300 × 170 … grain along the height), 240 beads in 4 packs of 60.
    assert lines(found)["Laid 120, 640 × 900 mm"] == (2, Decimal("40.00"))
    assert lines(found)["Beads"] == (4, Decimal("24.00"))
    [folios] = [need for need in found.needs.pieces if need.piece.name == "folio"]
    assert folios.count == 495
    for line in found.lines:
        [(demand, _)] = demands_of(line.pegs)
        assert (demand.link, demand.by) == (f"order-{order.id}", order.wanted_by)
    assert found.spend == sum(line.cost for line in found.lines)


def test_order_by_leaves_bench_and_lead_time(session: Session, bench: Bench) -> None:
    order = bench.agreed(quantity=3, days=30)
    line = next(row for row in buy_list(session, DAY).lines if row.name == "Beads")
    # Wanted by Wednesday 31 March: 171 minutes for three, two hours on Tuesday and on Monday the
    # 29th; three days' lead before that.
    minutes = 3 * estimate(session, bench.variant, DAY, 3).sheet.minutes
    assert 120 < minutes <= 240
    assert line.order_by == date(2027, 3, 26)
    assert not line.late
    assert line.needed == order.wanted_by


def test_more_work_never_makes_an_order_later(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=6, days=20)
    before = {row.name: row.order_by for row in buy_list(session, DAY).lines}
    bench.agreed(quantity=40, days=24)
    for row in buy_list(session, DAY).lines:
        assert row.order_by <= before.get(row.name, row.order_by)


def test_a_bench_with_too_few_hours_is_said(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=2, days=30)
    assert buy_list(session, DAY).overfull is None
    bench.agreed(quantity=60, days=20)
    said = buy_list(session, DAY).overfull
    assert said is not None
    # Two hours on each of the weekdays from Monday 1 to Saturday 20 March are 30.
    assert said.startswith("By Sun 21 March the bench is wanted for")
    assert "has 30 h" in said


def test_spoilage_is_rounded_once_for_all(session: Session, bench: Bench) -> None:
    for days in (20, 30, 40):
        bench.agreed(quantity=9, days=days)
    [cover] = [need for need in needs(session, DAY).pieces if need.piece.name == "cover"]
    # 27 covers and 3% are 27.81.
    assert cover.count == 28


def test_today_and_the_market_page_agree(demo_session: Session) -> None:
    today = date.today()
    day = the_day(demo_session, today)
    assert day.next_market is not None
    rows = take_rows(demo_session, day.next_market.market, today)
    assert sum(row.to_make for row in rows.values()) == day.next_market.take - day.next_market.ready
    assert all(row.promised <= row.here for row in rows.values())


def test_the_shelf_serves_the_earliest(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 5, Decimal(100), DAY, kind="made")
    bench.agreed(quantity=4, days=10)
    bench.agreed(quantity=4, days=20)
    [short] = needs(session, DAY).to_make.values()
    assert short.short == 3
    [peg] = short.pegs
    assert peg.demand.by == DAY + timedelta(days=20)


def test_markets_can_be_left_out(session: Session, bench: Bench) -> None:
    market = bench.market(take=6)
    assert buy_list(session, DAY, {market.id}).lines
    assert buy_list(session, DAY, set()).lines == []
    assert buy_list(session, DAY).lines
    assert buy_list(session, market.day + timedelta(days=1)).lines == []


def test_shelf_levels_are_made_up(session: Session, bench: Bench) -> None:
    bench.variant.shelf_level = 2
    session.flush()
    [short] = needs(session, DAY).to_make.values()
    assert short.short == 2


def receive_all(session: Session, found: BuyList) -> None:
    for line in found.lines:
        stock.receive(session, line.item, line.quantity, line.cost, DAY)


def test_doing_what_it_says_leaves_nothing_to_buy(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=17)
    bench.market(take=23)
    receive_all(session, buy_list(session, DAY))
    again = buy_list(session, DAY)
    assert again.lines == []
    assert again.problems == ()
    assert {row.material.name for row in again.enough} == {"Thread", "Cord", "Beads"}


def test_a_cancelled_order_takes_its_part_with_it(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=40)
    before = lines(buy_list(session, DAY))
    more = bench.agreed(quantity=40, who="Ben")
    assert lines(buy_list(session, DAY)) != before
    orders.move_order(session, more, "cancelled", DAY, None)
    assert lines(buy_list(session, DAY)) == before


def test_the_cheaper_sheet_is_bought_and_the_other_way_priced(
    session: Session, bench: Bench
) -> None:
    small = sheet(session, bench.paper, 420, 594)
    offer(session, small, "9", 50)
    session.expire_all()
    bench.agreed(quantity=40)
    found = buy_list(session, DAY)
    [plan] = [p for p in found.papers if p.paper is bench.paper]
    ways = {way.name: way.spend for way in plan.others}
    assert set(ways) == {"420 × 594 mm", "640 × 900 mm"}
    assert plan.spend <= min(spend for spend in ways.values() if spend is not None)


def test_a_supplier_in_time_comes_before_a_cheaper_one(session: Session, bench: Bench) -> None:
    slow = supplier(session, "Slow and cheap")
    offer(session, bench.beads, "1", 60, by=slow, lead=90)
    session.expire_all()
    bench.agreed(quantity=4, days=30)
    line = next(row for row in buy_list(session, DAY).lines if row.name == "Beads")
    assert line.offer.supplier.name != "Slow and cheap"


def test_paper_comes_from_whoever_is_in_time_for_what_is_bought(
    session: Session, bench: Bench
) -> None:
    offer(session, bench.sheet, "5", 25, by=supplier(session, "Slow and cheap"), lead=20)
    stock.receive(session, bench.sheet, 3, Decimal(3), DAY)
    stock.receive(session, bench.card_sheet, 9, Decimal(9), DAY)
    session.expire_all()
    # Two soon, served by the sheets that are here; eight much later: the slow one will do.
    bench.agreed(quantity=2, days=10)
    bench.agreed(quantity=8, days=120)
    line = next(row for row in buy_list(session, DAY).lines if row.item is bench.sheet)
    assert line.offer.supplier.name == "Slow and cheap"
    assert line.needed == DAY + timedelta(days=120)
    # With the eight wanted soon as well it will not.
    bench.agreed(quantity=8, days=14)
    line = next(row for row in buy_list(session, DAY).lines if row.item is bench.sheet)
    assert line.offer.supplier.name != "Slow and cheap"


def test_a_piece_from_two_offers_hangs_each_demand_on_one(session: Session, bench: Bench) -> None:
    small = sheet(session, bench.paper, 420, 594)
    offer(session, small, "4", 10)
    session.expire_all()
    bench.agreed(quantity=27)
    plan = next(p for p in buy_list(session, DAY).papers if p.paper is bench.paper)
    [need] = plan.needs
    assert sum(peg.quantity for line in plan.lines for peg in line.pegs) == need.count
    for line in plan.lines:
        given = sum(cut.sheets * cut.use.counts[need.key] for cut in line.cuts)
        assert sum(peg.quantity for peg in line.pegs) <= given


def test_late_is_said_where_nobody_is_in_time(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=4, days=2)
    assert all(line.late for line in buy_list(session, DAY).lines)


def test_what_nobody_offers_is_said(session: Session, bench: Bench) -> None:
    pearls = material(session, "Pearls", "count")
    draft = bench.draft()
    choices = dict(draft.choices) | {"beads": pearls}
    made = journals.begin_journal(
        session, "With pearls",
        journals.Draft(draft.structure, draft.dimensions, choices, draft.prices),
    )  # fmt: skip
    bench.agreed(variant=made.current.variants[0])
    found = buy_list(session, DAY)
    assert any("Pearls" in trouble and "Add an offer" in trouble for trouble in found.problems)


def test_a_design_that_fits_nowhere_is_said(session: Session, bench: Bench) -> None:
    made = bench.begin("Broadside", leaf_height=440 * MM, leaf_width=320 * MM)
    bench.agreed(variant=made.current.variants[0])
    found = buy_list(session, DAY)
    assert any("211 mm too much in width" in trouble for trouble in found.problems)
    assert "Laid 120, 640 × 900 mm" in lines(found)


def test_like_pieces_of_two_journals_are_one_kind(session: Session, bench: Bench) -> None:
    other = bench.begin("Twin").current.variants[0]
    bench.agreed(quantity=1)
    bench.agreed(quantity=1, variant=other)
    folios = [need for need in needs(session, DAY).pieces if need.piece.name == "folio"]
    assert [need.count for need in folios] == [26]
    assert len(folios[0].designs) == 2


def test_thread_is_bought_with_its_waste(session: Session, bench: Bench) -> None:
    bench.thread.waste = Decimal("0.10")
    stock.receive(session, bench.thread, METRE, Decimal("0.10"), DAY)
    bench.agreed(quantity=1)
    line = next(row for row in buy_list(session, DAY).lines if row.name == "Thread")
    [peg] = line.pegs
    [variant] = needs(session, DAY).variants.values()
    build = take_off_of(read_prices(session, DAY), variant).build
    assert peg.quantity == -(-build.lengths["thread"] * 11 // 10) - METRE


def test_the_demo_has_a_buy_list_that_can_be_done(demo_session: Session) -> None:
    today = date.today()
    found = buy_list(demo_session, today)
    assert found.problems == ()
    assert len(found.papers) == 4
    assert found.lines
    # Bought as a maker buys it, so that the next list begins from the plan behind the purchases:
    # found anew in a third of a second beside busy neighbours it might take other sheets.
    for purchase in purchasing.draft_buy_list(demo_session, found):
        purchasing.send_purchase(demo_session, purchase, today)
        packs = {line.id: line.packs for line in purchase.lines}
        purchasing.receive_purchase(demo_session, purchase, packs, Decimal(0), today)
    assert buy_list(demo_session, today).lines == []


def test_the_day_gathers_what_wants_doing(demo_session: Session) -> None:
    day = the_day(demo_session, date.today())
    assert [o.wanted_by for o in day.orders] == sorted(o.wanted_by for o in day.orders)
    assert len(day.orders) == 6
    assert day.next_market is not None
    assert 0 <= day.next_market.ready <= day.next_market.take
    assert day.paid_lately == Decimal("114.00")
