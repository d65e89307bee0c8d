"""The schema goes up and down, with data in it, on both engines; movements stay as written."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import Engine, func, inspect, select, text, update
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session, sessionmaker

from app.core.errors import DomainError
from app.core.length import MM
from app.core.states import CostKind, MovementKind, SheetKind
from app.db import Base, Moment, Money, make_engine, session_maker, transaction
from app.models import (
    Batch,
    BatchLine,
    Document,
    Market,
    Material,
    Movement,
    Order,
    Paper,
    Sale,
    Seal,
    Shop,
    StockSheet,
    Variant,
)
from app.schema import migrate, newest_revision, revision_of
from app.services.bench.batches import begin_batch
from app.services.bench.finishing import finish_batch
from app.services.bench.goods import begin_goods, finish_goods
from app.services.designs.pictures import add_picture, pictures_of
from app.services.markets import markets
from app.services.markets.closing import Counted, close_market
from app.services.markets.markets import pack
from app.services.markets.papers import save_label_words
from app.services.orders import deliveries, documents, orders, shelf
from app.services.orders.photos import add_photo, photos_of
from app.services.orders.standing import standings
from app.services.outlets import outlets
from app.services.shop.letterhead import save_letterhead
from app.services.shop.settings import channels, prepare_shop, the_shop
from app.services.stock import ledger as stock
from app.services.stock.materials import save_stock_sheet
from app.services.stock.recipes import Taken, recipe_of, save_recipe
from app.services.takings.costs import save_cost
from app.services.upkeep.checking import check_books
from seed_demo import load_demo
from tests.conftest import DAY, count
from tests.factories import Bench, material, paper, sheet
from tests.postgres import Cluster
from tests.services.markets.test_stall import market_of, sell
from tests.services.orders.test_photos import picture


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def bare(request: pytest.FixtureRequest, tmp_path: Path):
    """An engine on a database with nothing in it."""
    if request.param == "sqlite":
        made = make_engine(f"sqlite:///{tmp_path / 'bare.sqlite3'}")
    else:
        cluster: Cluster = request.getfixturevalue("postgres")
        made = make_engine(cluster.empty())
    yield made
    made.dispose()


def test_up_down_and_up_again(bare: Engine) -> None:
    assert migrate(bare) == (None, newest_revision())
    assert migrate(bare) == (newest_revision(), newest_revision())
    migrate(bare, "base")
    assert set(inspect(bare).get_table_names()) <= {"alembic_version"}
    migrate(bare)
    assert revision_of(bare) == newest_revision()


def test_down_and_up_with_a_whole_shop_in_it(bare: Engine) -> None:
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        load_demo(session, date.today())
        assert count(session, "customer_order") == 30
    migrate(bare, "base")
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        load_demo(session, date.today())
        assert count(session, "movement") > 10


def test_a_step_at_a_time_with_a_whole_shop_in_it(bare: Engine) -> None:
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        load_demo(session, date.today())
    steps = [f"{number:04}" for number in range(1, int(newest_revision()))]
    for revision in reversed(steps):
        migrate(bare, revision)
        assert revision_of(bare) == revision
        assert _orders(bare) == 30
    for revision in [*steps[1:], newest_revision()]:
        migrate(bare, revision)
        assert _orders(bare) == 30
    with transaction(session_maker(bare)) as session:
        [shop] = session.query(Shop).all()
        assert shop.name == "Saltmarsh Bindery"
        assert all(paper.cut_plan is None for paper in session.query(Paper))


def test_the_demo_comes_up_whole_from_every_landed_schema(bare: Engine) -> None:
    """Down to schemas there were and up again, deeper every time: the books agree.

    Each of the last ones, and every fourth of those before: all of them take a minute.
    """
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        load_demo(session, date.today())
    newest = int(newest_revision())
    for number in [n for n in range(newest - 1, 0, -1) if newest - n <= 6 or n % 4 == 1]:
        migrate(bare, f"{number:04}")
        migrate(bare)
        with session_maker(bare)() as session:
            assert check_books(session) == [], f"from {number:04}"
            assert count(session, "customer_order") == 30


def test_what_is_set_aside_goes_down_and_comes_up_again(bare: Engine) -> None:
    """Set aside in part, ready, delivered in part, brought back: nothing is lost or made up."""
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        bench = Bench(session)
        stock.receive(session, bench.variant, 9, Decimal(90), DAY, kind=MovementKind.MADE)
        part, ready, sent = (bench.agreed(quantity=n) for n in (4, 2, 3))
        orders.move_order(session, ready, "ready", DAY, None)
        shelf.set_aside(session, sent, DAY)
        [line] = sent.lines
        deliveries.deliver(session, sent, {line.id: 2}, DAY)
        deliveries.bring_back(session, line, 1, DAY, "torn", sound=True, replaced=False)
        shelf.set_aside(session, part, DAY)
        # 9: 4 set aside in part, 2 ready, 1 delivered for good, 1 set aside, 1 back on the shelf.
        assert stock.on_hand(session, bench.variant) == 1
        assert check_books(session) == []
    migrate(bare, "0022")
    with bare.connect() as connection:
        left = connection.execute(text("SELECT sum(left_quantity) FROM lot WHERE variant_id = 1"))
        assert left.scalar() == 9 - 2 - 1
    migrate(bare)
    with session_maker(bare)() as session:
        assert check_books(session) == []
        assert stock.on_hand(session, session.get_one(Variant, 1)) == 6
        by_number = {o.number: o for o in session.scalars(select(Order))}
        assert [by_number[n].lines[0].quantity for n in (1, 2, 3)] == [4, 2, 2]
        [one] = standings(session, [by_number[2]]).values()
        assert (one.set_aside, one.delivered) == (2, 0)


def _orders(bare: Engine) -> int:
    with bare.connect() as connection:
        return int(connection.execute(text("SELECT count(*) FROM customer_order")).scalar_one())


def test_the_records_and_the_schema_agree(bare: Engine) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.runtime.migration import MigrationContext

    migrate(bare)
    with bare.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": False})
        differences = compare_metadata(context, Base.metadata)
    assert differences == []


def test_a_newer_schema_is_refused_and_left_alone(bare: Engine) -> None:
    migrate(bare)
    with bare.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(DomainError, match="written by a newer one"):
        migrate(bare)
    assert revision_of(bare) == "9999"


@pytest.mark.parametrize("verb", ["UPDATE movement SET quantity = 5", "DELETE FROM movement"])
def test_the_database_refuses_to_alter_a_movement(
    sessions: sessionmaker[Session], verb: str
) -> None:
    with transaction(sessions) as session:
        stock.receive(session, sheet(session, paper(session)), 7, Decimal(3), DAY)
    with pytest.raises(DatabaseError, match="never changed"), transaction(sessions) as session:
        session.execute(text(verb))
    with transaction(sessions) as session:
        [movement] = session.query(Movement).all()
        assert movement.quantity == 7


def test_movements_are_still_kept_after_down_and_up(bare: Engine) -> None:
    migrate(bare)
    migrate(bare, "base")
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        stock.receive(session, sheet(session, paper(session)), 7, Decimal(3), DAY)
    with pytest.raises(DatabaseError), transaction(session_maker(bare)) as session:
        session.execute(text("DELETE FROM movement"))


def test_a_shop_is_prepared_once(session: Session) -> None:
    prepare_shop(session)
    assert count(session, "shop") == 1
    assert count(session, "channel") == 3
    shop = session.get_one(Shop, 1)
    assert sum(shop.week_minutes) == 600


def test_an_exact_column_takes_no_float_and_no_finer_amount() -> None:
    dialect = make_engine("sqlite://").dialect
    assert Money().process_bind_param(Decimal("1.2345"), dialect) == 12345
    assert Money().process_result_value(12345, dialect) == Decimal("1.2345")
    with pytest.raises(TypeError):
        Money().process_bind_param(1.5, dialect)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="more than 4 decimals"):
        Money().process_bind_param(Decimal("0.00001"), dialect)
    with pytest.raises(ValueError, match="time zone"):
        Moment().process_bind_param(__import__("datetime").datetime(2027, 1, 1), dialect)


def test_leather_by_area_goes_up_and_is_not_taken_down(bare: Engine) -> None:
    """Going back is refused while there is a material that no other measure says; else it is whole."""
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        load_demo(session, DAY)
        material(session, "Goatskin", "area", weight_mg=600_000)
    with pytest.raises(DatabaseError):
        migrate(bare, "0019")
    with session_maker(bare)() as session:
        assert (
            session.scalar(text("SELECT measure FROM material WHERE name = 'Goatskin'")) == "area"
        )
        session.execute(text("DELETE FROM material WHERE name = 'Goatskin'"))
        session.commit()
    migrate(bare, "0019")
    with pytest.raises(DatabaseError), bare.begin() as connection:
        connection.execute(text("UPDATE material SET measure = 'area' WHERE id = 1"))
    migrate(bare)
    with session_maker(bare)() as session:
        assert check_books(session) == []


def test_what_is_made_here_goes_down_and_what_was_made_stays(bare: Engine) -> None:
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        flour, paste = material(session, "Flour", "mass"), material(session, "Paste", "mass")
        recipe = save_recipe(session, paste, [Taken(flour, 200)], makes=1000, minutes=Decimal(5))
        stock.receive(session, flour, 400, Decimal(4), DAY)
        batch = begin_goods(session, recipe, 2, DAY)
        finish_goods(session, batch, {}, Decimal(10), DAY)
        was = stock.on_hand(session, paste), stock.holdings(session)
        assert was[0] == 2000
    migrate(bare, "0020")
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        paste = session.scalars(select(Material).where(Material.name == "Paste")).one()
        assert (stock.on_hand(session, paste), stock.holdings(session)) == was
        assert recipe_of(session, paste) is None
        assert session.scalars(select(Batch)).one().goods == []
        assert check_books(session) == []


def test_rolls_and_hides_go_up_with_sheets_and_down_without_rolls(bare: Engine) -> None:
    migrate(bare, "0021")
    with bare.begin() as connection:
        connection.execute(
            text(
                "INSERT INTO paper (name, grammage, caliper_nm, colour, finish, note, retired, "
                "version) VALUES ('Laid', 12000, 140000, '', '', '', false, 1)"
            )
        )
        connection.execute(
            text(
                "INSERT INTO stock_sheet (paper_id, width_nm, height_nm, pattern_up, trim_nm, "
                "retired) VALUES (1, 640000000, 900000000, false, 0, false)"
            )
        )
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        [old] = session.scalars(select(StockSheet))
        assert (old.kind, old.reach_nm) == (SheetKind.SHEET, None)
        roll = {"kind": SheetKind.ROLL, "width_nm": 1400 * MM, "grain": None, "trim_nm": 0}
        made = save_stock_sheet(session, old.paper, None, roll)
        stock.receive(session, made, 1500 * MM, Decimal(27), DAY)
        assert check_books(session) == []
    for wrong in ({"height_nm": 2}, {"kind": SheetKind.HIDE}, {"usable": Decimal(0)}):
        with pytest.raises(DatabaseError), bare.begin() as connection:
            connection.execute(
                update(StockSheet).where(StockSheet.kind == SheetKind.ROLL).values(**wrong)
            )
    # It would be so many sheets a nanometre high: refused, and nothing is lost.
    with pytest.raises(RuntimeError, match="rolls or hides"):
        migrate(bare, "0021")
    assert revision_of(bare) == newest_revision()
    with session_maker(bare)() as session:
        assert check_books(session) == []


def test_what_was_agreed_wholesale_asks_no_more_than_it_did(bare: Engine) -> None:
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        the_shop(session).tax = Decimal("0.2")
        bench = Bench(session)
        retail = bench.agreed(1)
        shops = channels(session)[-1]
        agreed, enquiry = bench.agreed(1, channel=shops), bench.order(1, channel=shops)
        assert {order.total for order in (agreed, enquiry)} == {Decimal(48)}
        numbers = [order.id for order in (retail, agreed, enquiry)]
    migrate(bare, "0024")
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        retail, agreed, enquiry = (session.get_one(Order, number) for number in numbers)
        assert (retail.total, retail.tax_rate, retail.before_tax) == (40, Decimal("0.2"), False)
        assert (agreed.total, agreed.tax_rate, agreed.before_tax) == (40, 0, False)
        assert (enquiry.total, enquiry.before_tax) == (48, True)
        assert check_books(session) == []


def test_an_invoice_is_not_taken_down_and_a_quote_is(bare: Engine) -> None:
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        save_letterhead(session, {"address": "1 Quay", "country": "GB"}, None)
        bench = Bench(session)
        documents.write_quote(session, bench.order(), DAY, DAY)
    migrate(bare, "0025")
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        assert check_books(session) == []
        save_letterhead(session, {"address": "1 Quay", "country": "GB"}, None)
        order = session.scalars(select(Order)).one()
        assert order.customer.country == ""
        orders.agree_order(session, order, DAY)
        documents.write_invoice(session, order, DAY, DAY)
    with pytest.raises(RuntimeError, match="Invoices are on record"):
        migrate(bare, "0025")
    assert revision_of(bare) == newest_revision()
    with session_maker(bare)() as session:
        assert check_books(session) == []
        assert session.scalars(select(Document)).one().number == 1


def test_why_some_were_spoiled_goes_down_and_their_number_stays(bare: Engine) -> None:
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        bench = Bench(session)
        for thing, much in ((bench.sheet, 60), (bench.card_sheet, 20), (bench.thread, 10**12),
                            (bench.cord, 10**12), (bench.beads, 99)):  # fmt: skip
            stock.receive(session, thing, much, Decimal(9), DAY)
        batch = begin_batch(session, {bench.variant: 3}, DAY)
        [line] = batch.lines
        finish_batch(session, batch, {line.id: 2}, Decimal(60), DAY, {line.id: "torn"})
    migrate(bare, "0026")
    migrate(bare)
    with session_maker(bare)() as session:
        [line] = session.scalars(select(BatchLine))
        assert (line.good, line.spoiled, line.why_spoiled, line.left) == (2, 1, "", 0)
        assert check_books(session) == []


def test_which_picture_is_of_which_order_goes_down_and_its_file_stays(
    bare: Engine, tmp_path: Path
) -> None:
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        add_photo(session, tmp_path / "photos", Bench(session).order(), picture(), "strap")
    migrate(bare, "0027")
    migrate(bare)
    with session_maker(bare)() as session:
        assert photos_of(session, session.scalars(select(Order)).one()) == []
        assert check_books(session) == []
    assert len(list((tmp_path / "photos").iterdir())) == 1


def test_pictures_of_journals_go_down_and_their_files_stay(bare: Engine, tmp_path: Path) -> None:
    migrate(bare)
    with transaction(session_maker(bare)) as session:
        prepare_shop(session)
        variant = Bench(session).begin("Dune").current.variants[0]
        add_picture(session, tmp_path / "photos", variant, picture(), "from above")
    migrate(bare, "0037")
    migrate(bare)
    with session_maker(bare)() as session:
        assert pictures_of(session, session.scalars(select(Variant)).all()[-1]) == []
        assert check_books(session) == []
    assert len(list((tmp_path / "photos").iterdir())) == 2


def test_what_was_sealed_is_sealed_alike_by_the_upgrade(bare: Engine) -> None:
    migrate(bare)
    sessions = session_maker(bare)
    with transaction(sessions) as session:
        prepare_shop(session)
        bench = Bench(session)
        save_letterhead(session, {"address": "1 Quay", "country": "GB"}, None)
        order = bench.agreed(quantity=3, who="Ines")
        orders.take_payment(session, order, Decimal("1.50"), DAY, "cash")
        orders.mark_mistaken(session, order.payments[0], DAY)
        documents.write_invoice(session, order, DAY, DAY)
        sealed = {(one.what, one.of_id): one.digest for one in session.scalars(select(Seal))}
    assert len(sealed) == 4
    migrate(bare, "0029")
    migrate(bare)
    with transaction(sessions) as session:
        again = {(one.what, one.of_id): one.digest for one in session.scalars(select(Seal))}
        assert again == sealed
        assert check_books(session) == []
        orders.take_payment(session, session.scalars(select(Order)).one(), Decimal(2), DAY, "cash")
        assert check_books(session) == []


def test_what_was_sold_at_a_market_stays_sold(bare: Engine) -> None:
    migrate(bare)
    sessions = session_maker(bare)
    with transaction(sessions) as session:
        prepare_shop(session)
        bench = Bench(session)
        market = market_of(session, bench)
        sell(session, market, bench.variant, 2)
        close_market(session, market, Counted({bench.variant.id: 2}), DAY)
        assert stock.on_hand(session, bench.variant) == 3
    migrate(bare, "0030")
    migrate(bare)
    with transaction(sessions) as session:
        market = session.scalars(select(Market)).one()
        [line] = market.lines
        assert (market.closed_on, line.home, line.take) == (None, 2, 5)
        assert stock.on_hand(session, line.variant) == 3
        assert check_books(session) == []


def test_what_a_market_will_be_like_goes_and_comes(bare: Engine) -> None:
    """Guesses, labels' words, other costs and shops are forgotten below; what was sold stays."""
    migrate(bare)
    sessions = session_maker(bare)
    with transaction(sessions) as session:
        prepare_shop(session)
        bench = Bench(session)
        market = market_of(session, bench, here=9)
        sell(session, market, bench.variant, 2)
        markets.set_guesses(session, market, {bench.variant.id: markets.Guess(1, 2, 3)})
        market.last_day, market.fee_share = DAY + timedelta(days=1), Decimal("0.1")
        pack(session, market, {bench.variant.id: 3})
        save_label_words(session, {"sheet": "A4, 21 labels", "origin": "Upper Staithe"})
        values = {
            "day": DAY,
            "what": "Rent",
            "kind": CostKind.ROOM,
            "amount": Decimal(9),
            "months": 3,
        }
        save_cost(session, None, values)
        order = bench.agreed(quantity=1)
        shelf.set_aside(session, order, DAY)
        shop = {"name": "Gallery", "channel": market.channel, "commission": Decimal("0.4")}
        outlet = outlets.save_outlet(session, None, shop)
        outlets.send(session, outlet, {bench.variant.id: 2}, DAY)
        sold = outlets.SoldThere(bench.variant.id, 1, Decimal(40))
        outlets.state_sold(session, outlet, [sold], DAY)
        assert stock.on_hand(session, bench.variant) == 4
        assert check_books(session) == []
    migrate(bare, "0031")
    migrate(bare)
    with transaction(sessions) as session:
        market = session.scalars(select(Market)).one()
        assert (market.guesses, market.last_day, market.fee_share) == ([], None, 0)
        assert (market.home_share, market.lines[0].packed) == (Decimal("0.2"), 0)
        # What was at the shop and not sold is on the shelf again.
        assert stock.on_hand(session, market.lines[0].variant) == 5
        assert session.scalar(select(func.count(Sale.id))) == 1
        assert [b for b in check_books(session) if "of its own" not in b] == []


def test_what_is_set_aside_knows_its_batch(bare: Engine) -> None:
    """Lots set aside before that was written down learn it from the lot they came out of."""
    migrate(bare)
    sessions = session_maker(bare)
    with transaction(sessions) as session:
        prepare_shop(session)
        bench = Bench(session)
        for thing, much in ((bench.sheet, 200), (bench.card_sheet, 60), (bench.thread, 10**12),
                            (bench.cord, 10**12), (bench.beads, 900)):  # fmt: skip
            stock.receive(session, thing, much, Decimal(1), DAY)
        batch = begin_batch(session, {bench.variant: 2}, DAY)
        finish_batch(session, batch, {}, Decimal(60), DAY)
        order = bench.agreed(quantity=1)
        shelf.set_aside(session, order, DAY)
        own, number = shelf.lots_aside(session, order)[0].id, batch.id
    migrate(bare, "0033")
    with bare.connect() as connection:
        assert connection.scalar(text(f"SELECT batch_id FROM lot WHERE id = {own}")) is None  # noqa: S608
    migrate(bare)
    with bare.connect() as connection:
        assert connection.scalar(text(f"SELECT batch_id FROM lot WHERE id = {own}")) == number  # noqa: S608
