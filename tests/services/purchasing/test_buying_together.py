"""Sheets bought for everything together: less money, and enough for the bench afterwards."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.cutting.effort import Effort
from app.core.length import MM
from app.core.planning.paper_answer import _Answering
from app.models import Paper, Purchase, PurchaseLine
from app.services.bench import batches
from app.services.bench import cut_study as cutting
from app.services.orders.orders import move_order
from app.services.orders.search import open_orders
from app.services.planning.cut_plans import known_layouts
from app.services.planning.requirements import needs
from app.services.purchasing import purchases as purchasing
from app.services.purchasing.buy_list import BuyList, buy_list
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench, offer, sheet, supplier

SIZES = ((95, 200), (120, 150), (88, 125), (105, 140))


@pytest.fixture
def bench(session: Session) -> Bench:
    """A bench whose paper is sold by the sheet in two sizes, so that every sheet counts."""
    made = Bench(session)
    single = supplier(session, "By the sheet")
    offer(session, made.sheet, "0.90", 1, by=single)
    offer(session, sheet(session, made.paper, 450, 640), "0.44", 1, by=single)
    offer(session, made.card_sheet, "1.30", 1, by=single)
    session.expire_all()
    return made


def four_journals(bench: Bench) -> None:
    for number, (width, height) in enumerate(SIZES):
        made = bench.begin(f"Journal {number}", leaf_width=width * MM, leaf_height=height * MM)
        bench.agreed(quantity=5 + 3 * number, days=25 + number, variant=made.current.variants[0])


def of_paper(found: BuyList, paper: Paper) -> Decimal:
    return next(plan.spend for plan in found.papers if plan.paper is paper)


def bought(session: Session) -> list[Purchase]:
    made = purchasing.draft_buy_list(session, buy_list(session, DAY))
    for purchase in made:
        purchasing.send_purchase(session, purchase, DAY)
        packs = {line.id: line.packs for line in purchase.lines}
        purchasing.receive_purchase(session, purchase, packs, Decimal(0), DAY)
    return made


def test_kinds_share_sheets_and_that_costs_less(session: Session, bench: Bench) -> None:
    four_journals(bench)
    together = buy_list(session, DAY)
    apart = buy_list(session, DAY, apart=True)
    assert together.spend < apart.spend
    mixed = [cut for plan in together.papers for cut in plan.cuts if len(cut.use.counts) > 1]
    assert mixed
    for plan in apart.papers:
        assert all(len(cut.use.counts) == 1 for cut in plan.cuts)
        # Each says what the other way would take.
        other = of_paper(together, plan.paper)
        assert plan.otherwise is not None
        assert plan.otherwise.spend is not None
        assert plan.otherwise.spend <= other
    for plan in together.papers:
        assert plan.otherwise is not None
        assert plan.otherwise.spend == of_paper(apart, plan.paper)


def test_every_demand_hangs_on_sheets_and_every_sheet_is_there(
    session: Session, bench: Bench
) -> None:
    four_journals(bench)
    for plan in buy_list(session, DAY).papers:
        pegs = [peg for cut in plan.cuts for peg in cut.pegs]
        for need in plan.needs:
            mine = [p.quantity for p in pegs if p.demand.thing == need.key]
            assert sum(mine) == need.count
        for line in plan.lines:
            assert sum(cut.sheets for cut in line.cuts) <= line.quantity
            assert {cut.source for cut in line.cuts} == {
                f"sheet-{line.item.id}/offer-{line.offer.id}"
            }
        assert sum(cut.sheets for cut in plan.cuts) == plan.plan.sheets


def test_what_was_bought_together_is_enough_and_is_cut_together(
    session: Session, bench: Bench
) -> None:
    four_journals(bench)
    assert bought(session)
    # Also by a program that was started anew.
    session.info.clear()
    again = buy_list(session, DAY)
    assert again.lines == []
    assert again.problems == ()
    wanted = {again.needs.variants[key]: short.short for key, short in again.needs.to_make.items()}
    batch = batches.begin_batch(session, wanted, DAY)
    assert buy_list(session, DAY).lines == []
    assert batch.cut_plan is not None
    assert set(batch.cut_plan) == {str(bench.paper.id), str(bench.card.id)}
    assert check_books(session) == []


def test_drafts_count_as_there_and_a_cancelled_order_frees_its_part(
    session: Session, bench: Bench
) -> None:
    four_journals(bench)
    last = bench.agreed(quantity=9, days=40)
    purchasing.draft_buy_list(session, buy_list(session, DAY))
    assert buy_list(session, DAY).lines == []
    move_order(session, last, "cancelled", DAY, None)
    assert buy_list(session, DAY).lines == []


def test_a_list_for_less_leaves_the_kept_plan(session: Session, bench: Bench) -> None:
    four_journals(bench)
    fair = bench.market(take=9, days=50)
    purchasing.draft_buy_list(session, buy_list(session, DAY))
    kept = bench.paper.cut_plan
    purchasing.draft_buy_list(session, buy_list(session, DAY, {fair.id}))
    assert bench.paper.cut_plan == kept
    purchasing.draft_buy_list(session, buy_list(session, DAY, set()))
    assert bench.paper.cut_plan == kept
    assert buy_list(session, DAY).lines == []


def test_a_kept_plan_is_for_the_cutter_it_was_made_for(session: Session, bench: Bench) -> None:
    four_journals(bench)
    bought(session)
    shop = the_shop(session)
    assert known_layouts(bench.paper.cut_plan, shop.cutter)
    shop.kerf_nm = 1 * MM
    assert known_layouts(bench.paper.cut_plan, shop.cutter) == ()
    # Every cut takes a millimetre now: whatever the list says, it is a sound plan.
    for plan in buy_list(session, DAY).papers:
        assert sum(p.quantity for c in plan.cuts for p in c.pegs) == sum(
            n.count for n in plan.needs
        )


def test_a_plan_looked_at_for_longer_is_bought_by(session: Session, bench: Bench) -> None:
    four_journals(bench)
    answer = cutting.plan_cuts(cutting.ask_for_list(session, DAY, Effort.NORMAL, cutting.WhatIf()))
    before = buy_list(session, DAY)
    cutting.buy_by(session, answer)
    after = buy_list(session, DAY)
    assert after.spend <= before.spend
    for paper in answer.papers:
        assert paper.sums is not None
        plan = next(p for p in after.papers if p.paper.id == paper.question.paper_id)
        assert plan.spend <= paper.sums.spend


def test_a_part_of_the_list_takes_no_more_sheets_for_a_kept_plan(
    session: Session, bench: Bench
) -> None:
    four_journals(bench)
    bought(session)
    found = needs(session, DAY)
    variants = [found.variants[key] for key in found.to_make]
    for variant in variants[1:3]:
        taken = []
        for kept in (bench.paper.cut_plan, None):
            with session.begin_nested() as step:
                bench.paper.cut_plan = kept
                session.flush()
                batch = batches.begin_batch(session, {variant: 6}, DAY)
                assert batch.cut_plan is not None
                plan = batch.cut_plan[str(bench.paper.id)]
                taken.append(sum(row["repeats"] for row in plan["layouts"]))
                step.rollback()
            session.expire_all()
        assert taken[0] <= taken[1]


def test_a_shrunk_list_is_cut_from_fewer_sheets(session: Session, bench: Bench) -> None:
    four_journals(bench)
    bought(session)
    for order in open_orders(session)[1:]:
        move_order(session, order, "cancelled", DAY, None)
    [plan] = [p for p in buy_list(session, DAY).papers if p.paper is bench.paper]
    [need] = plan.needs
    best = max(cut.use.counts[need.key] for cut in plan.cuts)
    assert plan.plan.sheets <= -(-need.count // best) + 1


def test_drafting_makes_nothing_late(demo_session: Session) -> None:
    today = date.today()
    before = buy_list(demo_session, today)
    purchasing.draft_buy_list(demo_session, before)
    after = buy_list(demo_session, today)
    sheets = {plan.paper.name for plan in before.papers if not any(x.late for x in plan.lines)}
    assert sheets
    for plan in after.papers:
        assert not plan.late or plan.paper.name not in sheets


def test_the_late_purchase_is_called_by_its_own_number(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=20, days=3)
    slow, other = supplier(session, "Slow"), supplier(session, "Slower")
    numbers = {}
    for by, thing in ((slow, bench.sheet), (other, bench.card_sheet)):
        made = purchasing.begin_purchase(session, by)
        made.lines.append(
            PurchaseLine(stock_sheet=thing, packs=2, pack_quantity=25, pack_price=Decimal(9))
        )
        session.flush()
        purchasing.send_purchase(session, made, DAY)
        purchasing.expect_on(session, made, DAY + timedelta(days=9))
        numbers[thing.paper.name] = made.number
    said = buy_list(session, DAY).late
    for name, number in numbers.items():
        assert any(word.startswith(f"{name}: purchase {number} ") for word in said), said
        assert not any(
            word.startswith(f"{name}: purchase {wrong} ")
            for word in said for wrong in numbers.values() if wrong != number
        )  # fmt: skip


def test_what_nobody_can_deliver_in_time_is_cut_from_what_is_here(
    session: Session, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    wide = bench.begin("Wide", leaf_width=120 * MM, leaf_height=200 * MM).current.variants[0]
    for stock_sheet in (*bench.paper.sheets, *bench.card.sheets):
        for row in stock_sheet.offers:
            row.lead_days = 9
    stock.receive(session, bench.sheet, 20, Decimal(20), DAY)
    stock.receive(session, bench.card_sheet, 20, Decimal(20), DAY)
    session.flush()
    # The wide one is wanted first, and can wait for a delivery; the other one cannot.
    bench.agreed(quantity=1, days=12, variant=wide)
    bench.agreed(quantity=14, days=13)
    bench.agreed(quantity=40, days=90, variant=wide)
    plans = buy_list(session, DAY).papers
    assert [line for plan in plans for line in plan.lines]
    assert not any(line.late for plan in plans for line in plan.lines)
    monkeypatch.setattr(_Answering, "_here_first", lambda _: ())
    session.info.clear()
    assert any(line.late for plan in buy_list(session, DAY).papers for line in plan.lines)
