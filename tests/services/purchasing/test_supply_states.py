"""In stock, on its way, drafted: said apart, and a draft is to send until it is sent."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.cutting.effort import Effort
from app.core.length import METRE
from app.services.bench import cut_study as cutting
from app.services.bench.cut_study import WhatIf
from app.services.designs.journals import take_off_of
from app.services.designs.price_book import read_prices
from app.services.planning.sheet_sources import sheets_said
from app.services.planning.supply import on_the_way, supply_of
from app.services.purchasing import purchases as purchasing
from app.services.purchasing.buy_list import buy_list
from app.services.purchasing.reordering import reorder_proposals
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.stock.ledger import item_key
from app.services.today import the_day
from tests.conftest import DAY
from tests.factories import Bench, offer, supplier


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def test_each_state_is_said_apart() -> None:
    assert sheets_said({"in stock": 46}) == "All 46 sheets cut are in stock."
    assert sheets_said({"in stock": 46, "drafted": 53}) == (
        "Of 99 sheets cut 46 are in stock and 53 are drafted and not sent yet."
    )
    assert sheets_said({"in stock": 1, "on its way": 2, "drafted": 3, "to buy": 4}) == (
        "Of 10 sheets cut 1 is in stock, 2 are on the way, 3 are drafted and not sent yet and "
        "4 are still to buy."
    )
    assert "enough" not in sheets_said({"in stock": 46, "drafted": 53})


def test_a_draft_stays_on_today_and_in_the_list_until_it_is_sent(
    session: Session, bench: Bench
) -> None:
    bench.agreed(quantity=40)
    made = purchasing.draft_buy_list(session, buy_list(session, DAY))
    packs = sum(line.packs for purchase in made for line in purchase.lines)
    bought = buy_list(session, DAY)
    assert bought.lines == []
    assert sum(draft.packs for draft in bought.drafts) == packs
    assert bought.drafted == sum(x.packs * x.pack_price for p in made for x in p.lines)
    assert all(d.send_by and d.sums for d in bought.drafts)
    assert the_day(session, DAY).buying.drafts == bought.drafts
    for purchase in made:
        purchasing.send_purchase(session, purchase, DAY)
        left = buy_list(session, DAY).drafts
        assert purchase not in [draft.purchase for draft in left]
    assert the_day(session, DAY).buying.drafts == ()


def test_the_cutting_plan_counts_what_is_here_as_here(session: Session, bench: Bench) -> None:
    """46 of 99 sheets here and the rest drafted: not "the sheets that are here are enough"."""
    stock.receive(session, bench.sheet, 5, Decimal(4), DAY, kind="opening")
    bench.agreed(quantity=40)
    made = purchasing.draft_buy_list(session, buy_list(session, DAY))
    answer = cutting.plan_cuts(cutting.ask_for_list(session, DAY, Effort.NORMAL, WhatIf()))
    said = {p.question.name: p.supply_said for p in answer.papers}[bench.paper.name]
    assert " 5 are in stock and " in said
    assert said.endswith("drafted and not sent yet.")
    bought = next(p for p in buy_list(session, DAY).papers if p.paper is bench.paper)
    assert " 5 are in stock and " in bought.supply_said
    for purchase in made:
        purchasing.send_purchase(session, purchase, DAY)
    bought = next(p for p in buy_list(session, DAY).papers if p.paper is bench.paper)
    assert bought.supply_said.endswith("are on the way.")


def test_the_three_states_add_up(session: Session, bench: Bench) -> None:
    seller = supplier(session, "Seller")
    offer(session, bench.thread, "5", 50 * METRE, by=seller)
    for packs, send in ((2, True), (3, False)):
        purchase = purchasing.begin_purchase(session, seller)
        purchasing.add_line(session, purchase, bench.thread, packs, DAY)
        if send:
            purchasing.send_purchase(session, purchase, DAY)
    stock.receive(session, bench.thread, 7 * METRE, Decimal(1), DAY, kind="opening")
    supply = supply_of(7 * METRE, on_the_way(session, DAY)[item_key(bench.thread)])
    assert (supply.in_stock, supply.on_its_way, supply.drafted) == (
        7 * METRE, 100 * METRE, 150 * METRE,
    )  # fmt: skip
    assert supply.in_all == supply.sure + supply.drafted == 257 * METRE


def test_a_draft_follows_its_packs_to_another_price(session: Session, bench: Bench) -> None:
    """54 packs at the break of 50 changed to 60, then down to 2, which pay the first price."""
    seller = supplier(session, "Seller")
    offer(session, bench.thread, "5", 50 * METRE, by=seller, breaks={50: "4", 60: "3.50"})
    purchase = purchasing.begin_purchase(session, seller)
    line = purchasing.add_line(session, purchase, bench.thread, 54, DAY)
    assert line.pack_price == 4
    for packs, price in ((60, "3.50"), (2, "5"), (54, "4")):
        shown = {line.id: line.pack_price}
        purchasing.change_draft(session, purchase, {line.id: packs}, shown, "", purchase.version)
        assert (line.packs, line.pack_price) == (packs, Decimal(price))
    typed = {line.id: Decimal("4.44")}
    purchasing.change_draft(session, purchase, {line.id: 60}, typed, "", purchase.version)
    purchasing.change_draft(session, purchase, {line.id: 2}, typed, "", purchase.version)
    assert (line.packs, line.pack_price) == (2, Decimal("4.44"))


def test_a_market_day_is_no_bench_day(session: Session, bench: Bench) -> None:
    """The Sunday of a market does not count as time at the bench for what is due after it."""
    shop = the_shop(session)
    for day in ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"):
        setattr(shop, day, 60)
    order = bench.agreed(quantity=1, days=20)
    key = f"{order.wanted_by.isoformat()} order-{order.id}"
    before = buy_list(session, DAY).needs.times.starts[key]
    bench.market(take=0, days=(before.end - DAY).days, name="On that day")
    after = buy_list(session, DAY).needs.times
    assert after.minutes_on(before.end) == 0
    assert after.minutes_on(before.end - timedelta(days=1)) == 60
    assert after.starts[key].end == before.end - timedelta(days=1)
    assert after.starts[key].start < before.start


def test_setting_up_is_worked_again_for_every_day_something_is_wanted(
    session: Session, bench: Bench
) -> None:
    """Four wanted now and a hundred in spring do not share one setting-up."""
    bench.agreed(quantity=4, days=10)
    alone = buy_list(session, DAY).needs.times.jobs[0].minutes
    bench.agreed(quantity=100, days=90, who="Bert")
    found = buy_list(session, DAY).needs
    first = min(found.times.jobs, key=lambda job: job.due)
    [variant] = found.variants.values()
    worked = take_off_of(read_prices(session, DAY), variant)
    assert first.minutes == alone == worked.minutes_for(4)
    assert worked.minutes_for(4) - worked.minutes_for(3) == (
        worked.minutes_for(100) - worked.minutes_for(99)
    )
    assert worked.minutes_for(0) == 0 < worked.setting_up < worked.minutes_for(1)


def test_what_is_promised_does_not_count_as_enough(demo_session: Session) -> None:
    """The buy list covers what is wanted; a level is kept by what is left over after that."""
    today = date.today()
    wanted = buy_list(demo_session, today).wanted
    found, _ = reorder_proposals(demo_session, today)
    promised = [p for p in found if p.wanted]
    assert promised
    for proposal in found:
        assert proposal.wanted == wanted.get(item_key(proposal.item), 0)
        left = proposal.supply.in_all + proposal.listed - proposal.wanted
        # A level is shown rounded to a whole unit.
        if proposal.packs:
            assert left < proposal.level + 1
            assert left + proposal.packs * proposal.lot.offer.quantity >= proposal.level - 1
        else:
            assert left >= proposal.level - 1
