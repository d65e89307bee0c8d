"""What went wrong with things made here once: prices of nothing, packs, dates, locks, and checks."""

from __future__ import annotations

import threading
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from sqlalchemy import Engine, text
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE, MM
from app.db import make_engine, session_maker, transaction
from app.models import Batch, GoodsLine, Material, Recipe, StockSheet
from app.schema import migrate
from app.services.bench import batches, goods
from app.services.bench.batches import begun_on
from app.services.designs.price_book import read_prices
from app.services.planning.projected_stock import timeline
from app.services.planning.requirements import needs
from app.services.purchasing.buy_list import buy_list
from app.services.purchasing.reordering import _listed
from app.services.shop.settings import StaleError, prepare_shop
from app.services.stock import ledger as stock
from app.services.stock.materials import save_material
from app.services.stock.recipes import Taken, remove_recipe, save_recipe
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench, material, offer, paper, sheet
from tests.postgres import Cluster


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def not_sold(item: StockSheet | Material) -> None:
    for one in item.offers:
        one.supplier.retired = True


def covered_with(session: Session, bench: Bench, **recipe: object) -> tuple[StockSheet, Recipe]:
    """The journal's cover is of a paper made here, a card cut smaller."""
    made = paper(session, "Made", caliper_nm=300_000)
    size = sheet(session, made, 500, 700)
    part = Taken(bench.card, 1, 480 * MM, 680 * MM, None)
    kept = save_recipe(session, size, [part], **({"makes": 1} | recipe))  # type: ignore[arg-type]
    next(c for c in bench.variant.choices if c.role == "cover").paper = made
    session.flush()
    return size, kept


def test_one_of_what_is_made_by_the_thousand_is_not_free(session: Session, bench: Bench) -> None:
    save_recipe(session, bench.beads, [Taken(bench.cord, 10 * MM)], makes=1)
    price = read_prices(session, DAY).own[stock.item_key(bench.beads)].breaks[0].pack_price
    # A centimetre of cord at 6 for 25 m, and its waste.
    exact = Fraction(6, 25 * METRE) * 10 * MM * (1 + Fraction(bench.cord.waste))
    assert abs(Fraction(price) - exact) < Fraction(1, 10**8)
    assert price > 0


@pytest.mark.parametrize(
    ("quantity", "makes", "loss", "sheets", "times"),
    [
        # Of a sheet of 500 by 700 one cover of 311 by 170 wide way: four. Cut sheets, not packs.
        (4, 100, "0.1", 1, 1), (16, 10, "0.2", 4, 1), (44, 10, "0.5", 11, 3), (4, 1, "0", 1, 1),
    ],
)  # fmt: skip
def test_sheets_are_made_for_what_is_cut_and_losses_counted_once(
    session: Session, bench: Bench, quantity: int, makes: int, loss: str, sheets: int, times: int
) -> None:
    size, _ = covered_with(session, bench, makes=makes, loss=Decimal(loss), days=1)
    read_prices(session, DAY).shop.spoilage = Decimal(0)
    bench.agreed(quantity=quantity, days=60)
    found = buy_list(session, DAY)
    [line] = found.makings
    cut = sum(c.sheets for plan in found.papers for c in plan.cuts
              if plan.items[c.source] == stock.item_key(size))  # fmt: skip
    assert line.wanted == cut
    assert line.times == -(-cut // (makes * (1 - Fraction(loss))))
    if cut == sheets:
        assert line.times == times


def test_a_measure_stays_while_a_recipe_uses_it(session: Session, bench: Bench) -> None:
    ink = material(session, "Ink", "volume")
    gum = material(session, "Gum", "mass")
    save_recipe(session, ink, [Taken(gum, 1000)], makes=1_000_000)
    for thing, measure in ((ink, "count"), (gum, "length")):
        values = {"name": thing.name, "measure": measure, "waste": Decimal(0), "weight_mg": 0,
                  "note": ""}  # fmt: skip
        with pytest.raises(DomainError, match="recipes of this material are by") as caught:
            save_material(session, thing, values)
        assert caught.value.field == "measure"


def test_a_batch_taken_up_again_is_by_the_recipe_as_it_is_and_due_anew(
    session: Session, bench: Bench
) -> None:
    recipe = save_recipe(session, bench.beads, [Taken(bench.cord, MM)], makes=10, days=5)
    stock.receive(session, bench.cord, 100 * METRE, Decimal(20), DAY)
    batch = goods.begin_goods(session, recipe, 2, DAY)
    batches.cancel_batch(session, batch)
    save_recipe(session, bench.beads, [Taken(bench.cord, 10 * MM)], makes=100,
                minutes=Decimal(30), days=9)  # fmt: skip
    later = DAY + timedelta(days=40)
    goods.resume_goods(session, batch, later)
    [line] = batch.goods
    assert (line.begun, line.expected, line.days) == (200, 200, 9)
    assert line.minutes > 0
    [coming] = needs(session, later).coming[stock.item_key(bench.beads)]
    assert (coming.quantity, coming.expected_on) == (200, later + timedelta(days=9))
    assert begun_on(session, [batch]) == {batch.id: later}
    assert check_books(session) == []


def test_what_cannot_be_made_in_time_is_bought_in_time(session: Session, bench: Bench) -> None:
    flour = material(session, "Flour", "mass")
    offer(session, flour, "1", 1_000_000, lead=90)
    save_recipe(session, bench.beads, [Taken(flour, 1000)], makes=10, days=1)
    bench.agreed(quantity=4, days=30)
    found = buy_list(session, DAY)
    assert not found.makings
    assert bench.beads in {line.item for line in found.lines}
    # With the flour here it can be, and costs less.
    stock.receive(session, flour, 1_000_000, Decimal(1), DAY)
    assert [line.item for line in buy_list(session, DAY).makings] == [bench.beads]


def test_a_sheet_that_cannot_be_made_in_time_is_bought_in_time(
    session: Session, bench: Bench
) -> None:
    size, _ = covered_with(session, bench, days=1)
    offer(session, size, "50", 1, lead=2)
    for one in bench.card_sheet.offers:
        one.lead_days = 90
    bench.agreed(quantity=4, days=30)
    assert not buy_list(session, DAY).makings
    stock.receive(session, bench.card_sheet, 20, Decimal(1), DAY)
    assert [line.item for line in buy_list(session, DAY).makings] == [size]


def test_what_is_to_be_made_is_not_reordered_as_well(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=40, days=60)
    save_recipe(session, bench.beads, [Taken(bench.cord, MM)], makes=10)
    [line] = buy_list(session, DAY).makings
    listed, _ = _listed(session, DAY)
    assert listed[stock.item_key(bench.beads)] == line.wanted == 240


def test_a_part_that_nobody_offers_is_said_to_be_the_reason(session: Session, bench: Bench) -> None:
    husk = material(session, "Walnut husks", "mass")
    save_recipe(session, bench.beads, [Taken(husk, 1000)], makes=10)
    not_sold(bench.beads)
    bench.agreed(quantity=4, days=30)
    [problem] = buy_list(session, DAY).problems
    assert problem == (
        "Beads: more is needed than there is. It is made here, but something it takes is offered by "
        "nobody: add an offer for each part."
    )


def test_work_that_should_have_begun_is_not_wanted_in_the_past(
    session: Session, bench: Bench
) -> None:
    save_recipe(session, bench.beads, [Taken(bench.cord, MM)], makes=10, days=365,
                minutes=Decimal(5))  # fmt: skip
    not_sold(bench.beads)
    bench.agreed(quantity=4, days=10)
    found = buy_list(session, DAY)
    [line] = found.makings
    assert line.late
    assert line.begin_by < DAY
    assert line.bench_day == DAY
    assert line.job.last_bench_day == DAY
    assert found.overfull is None


def test_minutes_of_goods_in_the_making_count(session: Session, bench: Bench) -> None:
    recipe = save_recipe(session, bench.beads, [Taken(bench.cord, MM)], makes=1,
                         minutes=Decimal(600))  # fmt: skip
    not_sold(bench.beads)
    stock.receive(session, bench.cord, 100 * METRE, Decimal(20), DAY)
    bench.agreed(quantity=40, days=5)
    before = buy_list(session, DAY).overfull
    assert before is not None
    goods.begin_goods(session, recipe, 240, DAY)
    after = buy_list(session, DAY).overfull
    assert after is not None
    hours = [int(said.split("wanted for ")[1].split(" h")[0]) for said in (before, after)]
    assert min(hours) > 2000


def test_what_makings_take_is_seen_coming_and_going(session: Session, bench: Bench) -> None:
    flour = material(session, "Flour", "mass")
    offer(session, flour, "1", 1_000_000)
    save_recipe(session, bench.beads, [Taken(flour, 1000)], makes=10)
    not_sold(bench.beads)
    bench.agreed(quantity=4, days=60)
    wanted = buy_list(session, DAY).needs
    [row] = timeline(session, flour, DAY, 0, wanted)
    assert row["quantity"] < 0
    assert row["what"] == "Beads, made here"
    assert row["ref"] == stock.item_key(bench.beads)


def test_no_more_comes_out_than_was_begun(session: Session, bench: Bench) -> None:
    recipe = save_recipe(session, bench.beads, [Taken(bench.cord, MM)], makes=10,
                         loss=Decimal("0.2"))  # fmt: skip
    stock.receive(session, bench.cord, METRE, Decimal(1), DAY)
    batch = goods.begin_goods(session, recipe, 2, DAY)
    [line] = batch.goods
    assert (line.begun, line.expected) == (20, 16)
    with pytest.raises(DomainError, match="No more can come out") as caught:
        goods.finish_goods(session, batch, {line.id: 21}, Decimal(1), DAY)
    assert caught.value.field == f"good_{line.id}"
    goods.finish_goods(session, batch, {line.id: 20}, Decimal(1), DAY)
    assert stock.on_hand(session, bench.beads) == 20


def test_windows_left_open_are_told(session: Session, bench: Bench) -> None:
    parts = [Taken(bench.cord, MM)]
    first = save_recipe(session, bench.beads, parts, makes=10, version=0)
    with pytest.raises(StaleError):
        save_recipe(session, bench.beads, parts, makes=99, version=0)
    version = first.version
    save_recipe(session, bench.beads, parts, makes=11, version=version)
    with pytest.raises(StaleError):
        remove_recipe(session, first, version)
    remove_recipe(session, first, first.version)
    with pytest.raises(StaleError):
        save_recipe(session, bench.beads, parts, makes=12, version=version)


def test_the_check_of_the_books_sees_goods_and_circles(session: Session, bench: Bench) -> None:
    recipe = save_recipe(session, bench.beads, [Taken(bench.cord, MM)], makes=10)
    stock.receive(session, bench.cord, METRE, Decimal(1), DAY)
    batch = goods.begin_goods(session, recipe, 2, DAY)
    goods.finish_goods(session, batch, {}, Decimal(1), DAY)
    assert check_books(session) == []
    batch.goods[0].good = 3
    session.flush()
    assert f"batch {batch.number} gave 3, and 20 of it came into the stock" in check_books(session)
    batch.goods[0].good = 20
    batch.goods.append(GoodsLine(
        material=bench.cord, name="Cord", times=1, begun=1, expected=1, good=0, days=0,
        minutes=Decimal(0),
    ))  # fmt: skip
    session.flush()
    assert any("of goods and of something else" in said for said in check_books(session))
    batch.goods.pop()
    session.flush()
    # A circle that another program wrote: no price, no plan, no crash, and it is named.
    save_recipe(session, bench.cord, [Taken(bench.thread, MM)], makes=METRE)
    session.execute(
        text("UPDATE recipe_part SET material_id = :beads WHERE recipe_id <> :own"),
        {"beads": bench.beads.id, "own": recipe.id},
    )
    session.expire_all()
    assert any("recipes lie in a circle" in said for said in check_books(session))
    assert read_prices(session, DAY).own == {}
    bench.agreed(quantity=4, days=60)
    assert buy_list(session, DAY).makings == ()


@pytest.fixture
def cluster_engine(postgres: Cluster) -> Engine:
    engine = make_engine(postgres.empty())
    migrate(engine)
    return engine


@pytest.mark.postgresql
@pytest.mark.parametrize("second", ["finish", "cancel"])
def test_one_batch_is_finished_once_however_many_press(cluster_engine: Engine, second: str) -> None:
    maker = session_maker(cluster_engine)
    with transaction(maker) as session:
        prepare_shop(session)
        bench = Bench(session)
        recipe = save_recipe(session, bench.beads, [Taken(bench.cord, MM)], makes=10)
        stock.receive(session, bench.cord, METRE, Decimal(1), DAY)
        number = goods.begin_goods(session, recipe, 2, DAY).id
    refused: list[str] = []

    def press(other: Session) -> None:
        batch = other.get(Batch, number)
        assert batch is not None
        try:
            if second == "finish":
                goods.finish_goods(other, batch, {}, Decimal(1), DAY)
            else:
                batches.cancel_batch(other, batch)
            other.commit()
        except DomainError as error:
            other.rollback()
            refused.append(error.message)

    with maker() as one, maker() as two:
        # Both have the batch before either is done with it.
        batch = one.get(Batch, number)
        assert batch is not None
        assert two.get(Batch, number) is not None
        goods.finish_goods(one, batch, {}, Decimal(1), DAY)
        waiting = threading.Thread(target=press, args=(two,))
        waiting.start()
        waiting.join(0.5)
        assert waiting.is_alive()
        one.commit()
        waiting.join(30)
    assert len(refused) == 1
    with maker() as session:
        assert check_books(session) == []
        assert stock.on_hand(session, session.get(Material, 3)) == 20  # type: ignore[arg-type]
    cluster_engine.dispose()


def test_sheets_wanted_much_later_are_made_later(session: Session, bench: Bench) -> None:
    size, _ = covered_with(session, bench, days=1)
    read_prices(session, DAY).shop.spoilage = Decimal(0)
    bench.agreed(quantity=4, days=20)
    bench.market(take=40, days=400)
    found = buy_list(session, DAY)
    lines = [line for line in found.makings if line.item is size]
    assert len(lines) == 2
    first, later = lines
    assert later.begin_by - first.begin_by > timedelta(days=300)
    cut = sum(c.sheets for plan in found.papers for c in plan.cuts
              if plan.items[c.source] == stock.item_key(size))  # fmt: skip
    assert first.wanted + later.wanted == cut
    assert {peg.demand.link.split("-")[0] for peg in later.pegs} == {"market"}
    # Its card is wanted then as well, and not before.
    days = {d.by for need in found.needs.pieces if need.paper is bench.card for d in need.demands}
    assert days == {first.begin_by, later.begin_by}


def test_nothing_at_all_comes_out_only_where_that_is_meant(session: Session, bench: Bench) -> None:
    recipe = save_recipe(session, bench.beads, [Taken(bench.cord, MM)], makes=10)
    stock.receive(session, bench.cord, METRE, Decimal(1), DAY)
    batch = goods.begin_goods(session, recipe, 2, DAY)
    none = {batch.goods[0].id: 0}
    with pytest.raises(DomainError, match="Tick that all of it was lost") as caught:
        goods.finish_goods(session, batch, none, Decimal(1), DAY)
    assert caught.value.field == f"good_{batch.goods[0].id}"
    assert batch.state == "in progress"
    cost = goods.finish_goods(session, batch, none, Decimal(1), DAY, all_lost=True)
    assert (cost.made, cost.spoiled) == (0, cost.materials + cost.work)
    assert check_books(session) == []
