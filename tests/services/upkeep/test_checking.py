"""``tallyfold check`` finds what is off, each kind of fault by its name."""

from __future__ import annotations

from copy import deepcopy
from decimal import Decimal

import pytest
from sqlalchemy import text
from sqlalchemy.orm import Session

from app.core.length import METRE
from app.services.bench.batches import begin_batch
from app.services.purchasing import purchases as purchasing
from app.services.purchasing.buy_list import buy_list, keep_cut_plans
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def test_a_sound_shop_and_the_demo_agree(demo_session: Session) -> None:
    assert check_books(demo_session) == []


@pytest.mark.parametrize("valuation", ["fifo", "average"])
def test_a_busy_shop_agrees(session: Session, bench: Bench, valuation: str) -> None:
    the_shop(session).valuation = valuation
    bench.agreed(quantity=40)
    for purchase in purchasing.draft_buy_list(session, buy_list(session, DAY)):
        purchasing.send_purchase(session, purchase, DAY)
        packs = {line.id: line.packs for line in purchase.lines}
        purchasing.receive_purchase(session, purchase, packs, Decimal("1.01"), DAY)
    stock.receive(session, bench.sheet, 7, Decimal("9.99"), DAY)
    for _ in range(3):
        stock.take(session, bench.sheet, 5, "issued")
    stock.count(session, bench.sheet, 3, DAY, "spoiled")
    stock.count(session, bench.sheet, 0, DAY, "used at the bench")
    assert check_books(session) == []


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ("INSERT INTO movement (lot_id, kind, quantity, cost, at, note) "
         "VALUES (1, 'issued', -900, 0, '2027-01-01', '')", "less than nothing"),
        ("UPDATE lot SET cost = cost + 1", "came in 1 times"),
        ("UPDATE purchase SET state = 'received'", "not what came"),
        ("UPDATE purchase SET number = 9 WHERE id = (SELECT MIN(id) FROM purchase)", "purchase numbers do not run"),
        ("UPDATE lot SET offcut_width_nm = 99000000000, offcut_height_nm = 1", "larger than its sheet"),
    ],
)  # fmt: skip
def test_each_fault_is_named(session: Session, bench: Bench, wrong: str, words: str) -> None:
    stock.receive(session, bench.sheet, 5, Decimal("5.00"), DAY)
    bench.agreed(quantity=40)
    for purchase in purchasing.draft_buy_list(session, buy_list(session, DAY))[:1]:
        purchasing.send_purchase(session, purchase, DAY)
    assert check_books(session) == []
    if "movement" in wrong and session.get_bind().dialect.name == "sqlite":
        wrong = wrong.replace("'2027-01-01'", "'2027-01-01 00:00:00+00:00'")
    session.execute(text(wrong))
    session.expire_all()
    found = check_books(session)
    assert any(words in line for line in found), found


def test_a_plan_that_does_not_add_up_is_named(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.sheet, 30, Decimal("24.00"), DAY)
    stock.receive(session, bench.card_sheet, 10, Decimal("12.00"), DAY)
    for thing, much in ((bench.thread, 50 * METRE), (bench.cord, 50 * METRE), (bench.beads, 120)):
        stock.receive(session, thing, much, Decimal(5), DAY)
    bench.agreed(quantity=40)
    keep_cut_plans(session, buy_list(session, DAY))
    batch = begin_batch(session, {bench.variant: 6}, DAY)
    session.flush()
    session.expire_all()
    assert check_books(session) == []
    plan = deepcopy(batch.cut_plan)
    assert plan is not None
    plan[str(bench.paper.id)]["layouts"][0]["repeats"] += 1
    batch.cut_plan = plan
    bought = deepcopy(bench.paper.cut_plan)
    assert bought is not None
    bought["layouts"][0]["tree"]["parts"][0]["at"][2] -= 1
    bench.paper.cut_plan = bought
    session.flush()
    found = check_books(session)
    assert any("sheets of a paper" in line for line in found), found
    assert any("do not add up" in line for line in found), found


def test_what_is_said_to_be_left_is_added_up_again(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.sheet, 7, Decimal("3.50"), DAY)
    stock.take(session, bench.sheet, 2, "issued")
    assert check_books(session) == []
    session.execute(text("UPDATE lot SET left_quantity = 6 WHERE left_quantity = 5"))
    assert [said for said in check_books(session) if "are said to be left" in said]
