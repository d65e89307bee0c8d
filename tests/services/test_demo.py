"""The demo holds what a newcomer is to find in it."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.structures import structures
from app.models import Material, Movement, Order
from app.services.bench import batches
from app.services.designs import journals
from app.services.markets.markets import markets
from app.services.orders import orders
from app.services.orders.search import open_orders
from app.services.outlets import outlets
from app.services.purchasing import reordering
from app.services.stock import materials
from app.services.today import the_day
from app.services.upkeep import checking
from seed_demo import load_demo
from tests.conftest import DAY, count
from tests.factories import Bench
from tests.services.markets.test_stall import market_of, sell


def test_what_is_in_it(demo_session: Session) -> None:
    papers = materials.papers(demo_session)
    assert len(papers) == 6
    assert sum(len(paper.sheets) for paper in papers) == 9
    assert len(materials.suppliers(demo_session)) == 3
    found = journals.journals(demo_session)
    sizes = {
        (j.current.dimensions["leaf_height"], j.current.dimensions["leaf_width"]) for j in found
    }
    assert (len(found), len(sizes)) == (6, 4)
    assert count(demo_session, "customer_order") == 30
    assert [m.closed_on is not None for m in markets(demo_session)] == [True, True, False, False]


def test_its_orders_run_over_a_year_and_some_are_due_next_week(demo_session: Session) -> None:
    today = date.today()
    logged = demo_session.scalars(select(Order.logged_on)).all()
    assert (max(logged) - min(logged)).days > 330
    due = [o.wanted_by for o in open_orders(demo_session)]
    assert any(today <= day <= today + timedelta(days=7) for day in due)


@pytest.mark.parametrize("key", [key for key in structures() if key != "parts_list"])
def test_every_structure_can_be_priced_from_its_shelves(demo_session: Session, key: str) -> None:
    sort = structures()[key]
    fitting = {"boards": "Grey board 2 mm", "leaves": "Cartridge, ivory 150"}
    papers = {paper.name: paper for paper in materials.papers(demo_session)}
    goods = materials.materials(demo_session)
    choices = {
        role.key: papers[fitting.get(role.key, "Peat-fibre card 270")]
        if role.measure == "sheet"
        else next(thing for thing in goods if thing.measure == role.measure
                  and (role.measure != "mass" or "paste" in thing.name))
        for role in sort.roles
    }  # fmt: skip
    draft = journals.Draft(structure=key, dimensions=sort.defaults(), choices=choices, prices={})
    made = journals.begin_journal(demo_session, "Trial", draft, "Plain")
    found = journals.estimate(demo_session, made.current.variants[0], date.today())
    assert found.whole, found.missing
    assert found.sheet.total() > 0


def test_half_a_year_at_the_bench_tells_what_to_order_again(demo_session: Session) -> None:
    today = date.today()
    past = batches.batches(demo_session)
    assert len(past) == 5
    assert {batch.state for batch in past} == {"made"}
    found, unknown = reordering.reorder_proposals(demo_session, today)
    names = {p.item.name for p in found if isinstance(p.item, Material)}
    assert names == {
        "Linen thread 18/3, flax", "Waxed cotton cord 2 mm", "Sea-glass beads 8 mm",
        "Ash-wood beads 10 mm",
    }  # fmt: skip
    assert all(p.uses >= 3 and p.use.total > 0 and p.level > 0 for p in found)
    assert unknown
    assert all(movement.at.date() <= today for movement in demo_session.scalars(select(Movement)))
    assert checking.check_books(demo_session) == []


def test_loading_it_twice_changes_nothing(demo_session: Session) -> None:
    before = count(demo_session, "movement")
    load_demo(demo_session, date.today())
    assert count(demo_session, "movement") == before
    assert count(demo_session, "journal") == 6


def test_one_journal_loses_money_and_one_is_five_millimetres_too_big(demo_session: Session) -> None:
    from app.core.length import MM
    from app.services.designs.yield_stairs import yield_stairs

    losing, near = [], []
    for variant in journals.sellable(demo_session):
        worked = journals.estimate(demo_session, variant, date.today())
        assert worked.whole
        if any(p.at_asked and p.at_asked.loses for p in worked.prices):
            losing.append(variant.design.journal.name)
        for row in yield_stairs(worked, variant.design.dimensions):
            if row.role.role.key == "leaves" and row.saving and row.saving.less_nm == 5 * MM:
                near.append(variant.design.journal.name)
    assert losing == ["Samphire pocket book"]
    assert near == ["Curlew daybook"]


def test_the_last_thirty_days_hold_stalls_and_shops(session: Session) -> None:
    bench = Bench(session)
    market = market_of(session, bench, here=4)
    sell(session, market, bench.variant, 2)
    values = {"name": "Gallery", "channel": market.channel, "commission": Decimal("0.4")}
    outlet = outlets.save_outlet(session, None, values)
    outlets.settle(session, outlet, Decimal(21), DAY, "cash")
    order = bench.agreed(quantity=1)
    orders.take_payment(session, order, Decimal(9), DAY, "cash")
    assert the_day(session, DAY).paid_lately == 80 + 21 + 9
    assert the_day(session, DAY + timedelta(days=31)).paid_lately == 0
