"""Things the shop makes for itself: their price, what is made first for an order, and a batch."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE, MM
from app.core.money import half_up
from app.models import Material, Paper, Recipe, StockSheet
from app.services.bench import batches, goods
from app.services.bench.batch_supply import ShortError
from app.services.bench.materials import materials_cost
from app.services.designs.journals import estimate
from app.services.designs.made_here import FINEST, MADE_HERE, is_own
from app.services.designs.price_book import read_prices
from app.services.exchange.exporting import list_of
from app.services.planning.requirements import needs
from app.services.purchasing.buy_list import buy_list
from app.services.shop.settings import StaleError, the_shop
from app.services.stock import ledger as stock
from app.services.stock.recipes import Taken, recipe_of, remove_recipe, save_recipe
from app.services.upkeep.checking import check_books as problems
from tests.conftest import DAY
from tests.factories import Bench, material, offer, paper, sheet


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


class Cloth:
    """A cover paper that the shop makes: cloth backed with paper, and paste of its own as well."""

    def __init__(self, session: Session, bench: Bench) -> None:
        self.cloth = paper(session, "Cotton", grammage=Decimal(150), caliper_nm=200_000)
        self.cloth_sheet = sheet(session, self.cloth, 1400, 1000)
        offer(session, self.cloth_sheet, "9", 1, lead=5)
        self.flour = material(session, "Flour", "mass")
        offer(session, self.flour, "2", 1_000_000, lead=2)
        self.paste = material(session, "Wheat paste", "mass")
        self.backed = paper(session, "Backed cotton", grammage=Decimal(280), caliper_nm=350_000)
        self.backed_sheet = sheet(session, self.backed, 500, 700)
        # A kilogram of paste takes 200 g of flour; a tenth is thrown away.
        self.paste_recipe = save_recipe(
            session, self.paste, [Taken(self.flour, 200_000)], makes=1_000_000,
            setup_minutes=Decimal(10), days=1, loss=Decimal("0.1"),
        )  # fmt: skip
        # A sheet takes a piece of cloth and one of paper, 50 g of paste, twelve minutes, two days.
        self.recipe = save_recipe(
            session, self.backed_sheet,
            [Taken(self.cloth, 1, 500 * MM, 700 * MM, "height"),
             Taken(bench.paper, 1, 500 * MM, 700 * MM, "height"), Taken(self.paste, 50_000)],
            makes=1, minutes=Decimal(12), days=2, loss=Decimal("0.2"),
        )  # fmt: skip


@pytest.fixture
def made(session: Session, bench: Bench) -> Cloth:
    return Cloth(session, bench)


def _waste(thing: Material) -> Fraction:
    return 1 + Fraction(thing.waste)


def test_what_one_costs_is_its_parts_its_minutes_and_what_is_lost(
    session: Session, bench: Bench, made: Cloth
) -> None:
    shop = the_shop(session)
    shop.spoilage = Decimal(0)
    shop.allowance = Decimal(0)
    book = read_prices(session, DAY)
    hour = book.rates.pay_per_hour + book.rates.overhead_per_hour
    flour = Fraction(2, 1_000_000) * 200_000 * _waste(made.flour)
    # Ten minutes to set up are shared over as many as are made together.
    paste = (flour + Fraction(10, shop.batch_size) / 60 * hour) / Fraction(9, 10)
    own = book.own["material-" + str(made.paste.id)]
    assert own.breaks[0].pack_price == half_up(paste, FINEST)
    assert (own.pack_quantity, own.lead_days, own.supplier.name) == (1_000_000, 1, MADE_HERE)
    per_mg = Fraction(own.breaks[0].pack_price) / 1_000_000
    # Two pieces of 500 by 700 from a cloth of 1400 by 1000, one from a sheet of paper.
    key = stock.item_key(made.backed_sheet)
    cost = book.made_costs[key]
    assert cost.parts[2] == per_mg * 50_000 * _waste(made.paste)
    assert cost.work == Fraction(12, 60) * hour
    assert cost.parts[0] == Fraction(9, 2)
    assert cost.parts[1] == Fraction(20, 25)
    total = sum(cost.parts) + cost.work
    assert book.own[key].breaks[0].pack_price == half_up(total / Fraction(4, 5), FINEST)


def test_a_journal_covered_with_it_costs_what_it_costs(
    session: Session, bench: Bench, made: Cloth
) -> None:
    choice = next(c for c in bench.variant.choices if c.role == "cover")
    choice.paper = made.backed
    session.flush()
    worked = estimate(session, bench.variant, DAY)
    assert worked.whole
    cover = next(p for p in worked.papers if p.role.key == "cover")
    assert cover.chosen is not None
    assert cover.chosen.price is not None
    assert is_own(cover.chosen.price.offer)
    own = read_prices(session, DAY).own[stock.item_key(made.backed_sheet)]
    assert cover.chosen.price.each == Fraction(own.breaks[0].pack_price)
    # Without an offer for the flour nothing made of it has a price.
    for one in made.flour.offers:
        one.supplier.retired = True
    session.flush()
    assert not estimate(session, bench.variant, DAY).whole
    assert read_prices(session, DAY).own == {}


def test_the_price_is_kept_in_no_table(session: Session, bench: Bench, made: Cloth) -> None:
    from app.models import Offer, Supplier

    before = session.query(Offer).count(), session.query(Supplier).count()
    read_prices(session, DAY)
    buy_list(session, DAY)
    session.flush()
    assert (session.query(Offer).count(), session.query(Supplier).count()) == before


def test_an_order_is_exploded_through_every_level(
    session: Session, bench: Bench, made: Cloth
) -> None:
    choice = next(c for c in bench.variant.choices if c.role == "cover")
    choice.paper = made.backed
    the_shop(session).spoilage = Decimal(0)
    session.flush()
    order = bench.agreed(quantity=10, days=60)
    found = buy_list(session, DAY)
    assert found.problems == ()
    [backed] = [line for line in found.makings if line.item is made.backed_sheet]
    [paste] = [line for line in found.makings if line.item is made.paste]
    # Two covers of 311 by 170 from 500 by 700, and more; a fifth of what is begun is lost.
    per_sheet = next(
        p.chosen.cut.best for p in estimate(session, bench.variant, DAY).papers
        if p.role.key == "cover" and p.chosen
    )  # fmt: skip
    sheets = -(-10 // per_sheet)
    assert backed.wanted == sheets
    assert backed.times == -(-sheets * 5 // 4)
    # Begun two days before the bench begins with the order.
    start = found.needs.times.start(found.needs.to_make[stock.item_key(bench.variant)].demands[0])
    assert backed.begin_by == start - timedelta(days=2)
    assert [peg.demand.link for peg in backed.pegs] == [f"order-{order.id}"] * len(backed.pegs)
    # Fifty grams of paste a sheet begun, a day before that; a kilogram at a time.
    milligrams = backed.times * 50_000 * _waste(made.paste)
    assert paste.wanted == -(-milligrams // 1)
    assert paste.times == 1
    assert paste.begin_by == backed.begin_by - timedelta(days=1)
    assert [peg.demand.link for peg in paste.pegs] == [stock.item_key(made.backed_sheet)]
    # What is bought: cloth, paper for the backing beside that of the leaves, flour; no paste.
    bought = {stock.item_key(line.item): line for line in found.lines}
    assert stock.item_key(made.backed_sheet) not in bought
    assert stock.item_key(made.paste) not in bought
    cloth = bought[stock.item_key(made.cloth_sheet)]
    assert cloth.packs == -(-backed.times // 2)
    assert cloth.order_by == backed.begin_by - timedelta(days=5)
    assert bought[stock.item_key(made.flour)].packs == 1
    pieces = {need.key: need.count for need in found.needs.pieces}
    assert pieces[f"paper-{bench.paper.id}/{500 * MM}x{700 * MM}/height"] == backed.times
    assert found.spend == sum(line.cost for line in found.lines)
    assert backed.minutes == found.makings[1].minutes or backed.minutes > 0


def test_what_is_here_or_in_the_making_is_not_made_again(
    session: Session, bench: Bench, made: Cloth
) -> None:
    choice = next(c for c in bench.variant.choices if c.role == "cover")
    choice.paper = made.backed
    session.flush()
    bench.agreed(quantity=10, days=60)
    [before] = [m for m in buy_list(session, DAY).makings if m.item is made.backed_sheet]
    for thing, amount in ((made.cloth_sheet, 20), (bench.sheet, 40), (made.paste, 5_000_000)):
        stock.receive(session, thing, amount, Decimal(30), DAY)
    batch = goods.begin_goods(session, made.recipe, before.times, DAY)
    after = buy_list(session, DAY)
    assert not after.makings
    coming = needs(session, DAY).coming[stock.item_key(made.backed_sheet)]
    assert [(c.quantity, c.said, c.link) for c in coming] == [
        (batch.goods[0].expected, f"batch {batch.number}", f"batch-{batch.id}")
    ]
    assert coming[0].expected_on == DAY + timedelta(days=2)
    assert not coming[0].drafted
    # Cancelled, it is to be made again.
    batches.cancel_batch(session, batch)
    assert [m.times for m in buy_list(session, DAY).makings if m.item is made.backed_sheet] == [
        before.times
    ]
    goods.resume_goods(session, batch, DAY)
    assert not buy_list(session, DAY).makings


def test_a_batch_of_it_takes_its_parts_and_gives_it_at_what_it_cost(
    session: Session, bench: Bench, made: Cloth
) -> None:
    with pytest.raises(ShortError) as short:
        goods.begin_goods(session, made.recipe, 5, DAY)
    assert {stock.item_key(s.item) for s in short.value.shorts} == {
        stock.item_key(made.cloth_sheet), stock.item_key(bench.sheet), stock.item_key(made.paste),
    }  # fmt: skip
    stock.receive(session, made.cloth_sheet, 3, Decimal(27), DAY)
    stock.receive(session, bench.sheet, 5, Decimal(4), DAY)
    stock.receive(session, made.paste, 1_000_000, Decimal("0.80"), DAY)
    batch = goods.begin_goods(session, made.recipe, 5, DAY)
    [line] = batch.goods
    assert (line.times, line.expected, line.days, line.name) == (5, 4, 2, "Backed cotton")
    # Sixty minutes, and the allowance of the shop's times.
    assert line.minutes == 60 * (1 + Decimal(the_shop(session).allowance))
    assert stock.on_hand(session, made.paste) == 1_000_000 - int(250_000 * _waste(made.paste))
    materials = materials_cost(session, batch)
    cost = goods.finish_goods(session, batch, {line.id: 4}, Decimal(60), DAY)
    hour = read_prices(session, DAY).rates
    work = (hour.pay_per_hour + hour.overhead_per_hour) * 60 / 60
    assert cost.materials == materials
    assert cost.work == Decimal(work.numerator) / Decimal(work.denominator)
    # A fifth is lost as a rule: all of the cost lies on the four good ones.
    assert (cost.spoiled, cost.made) == (0, cost.materials + cost.work)
    assert stock.on_hand(session, made.backed_sheet) == 4
    assert stock.holdings(session)[stock.item_key(made.backed_sheet)].cost == cost.made
    assert line.good == 4
    assert problems(session) == []


@pytest.mark.parametrize(("came", "share"), [(5, "1"), (3, "0.75"), (1, "0.25"), (0, "0")])
def test_what_is_lost_beyond_the_rule_stands_apart(
    session: Session, bench: Bench, made: Cloth, came: int, share: str
) -> None:
    stock.receive(session, made.cloth_sheet, 3, Decimal(27), DAY)
    stock.receive(session, bench.sheet, 5, Decimal(4), DAY)
    stock.receive(session, made.paste, 1_000_000, Decimal("0.80"), DAY)
    batch = goods.begin_goods(session, made.recipe, 5, DAY)
    cost = goods.finish_goods(
        session, batch, {batch.goods[0].id: came}, Decimal(40), DAY, all_lost=came == 0
    )
    assert cost.made + cost.spoiled == cost.materials + cost.work
    assert abs(cost.made - (cost.materials + cost.work) * Decimal(share)) < Decimal("0.0001")
    assert stock.on_hand(session, made.backed_sheet) == came
    assert problems(session) == []
    with pytest.raises(DomainError):
        goods.finish_goods(session, batch, {}, Decimal(1), DAY)


def test_what_makes_no_sense_is_refused_at_its_field(
    session: Session, bench: Bench, made: Cloth
) -> None:
    def refused(item: StockSheet | Material, parts: list[Taken], **more: object) -> str | None:
        with pytest.raises(DomainError) as caught:
            save_recipe(session, item, parts, **({"makes": 1} | more))  # type: ignore[arg-type]
        return caught.value.field

    flour = Taken(made.flour, 1)
    assert refused(bench.thread, [], makes=METRE) == "parts-0-thing"
    assert refused(bench.thread, [flour], makes=0) == "makes"
    assert refused(bench.thread, [flour], loss=Decimal("0.91")) == "loss"
    assert refused(bench.thread, [flour], loss=Decimal("-0.01")) == "loss"
    # Itself, and what is made of it: paste of backed cloth, whose cloth takes paste.
    assert refused(made.paste, [flour, Taken(made.paste, 1)]) == "parts-1-thing"
    piece = Taken(made.backed, 1, 10 * MM, 10 * MM)
    assert refused(made.paste, [flour, flour, piece]) == "parts-2-thing"
    with pytest.raises(DomainError, match="Wheat paste is made of Backed cotton is made of Wheat"):
        save_recipe(session, made.paste, [piece], makes=1)
    assert recipe_of(session, made.paste) is made.paste_recipe
    with pytest.raises(DomainError, match="Between 1 and 100000 times") as caught:
        goods.begin_goods(session, made.recipe, 0, DAY)
    assert caught.value.field == "times"
    made.recipe.loss = Decimal("0.9")
    with pytest.raises(DomainError, match="not one whole one"):
        goods.begin_goods(session, made.recipe, 1, DAY)


def test_a_recipe_is_changed_and_given_up(session: Session, bench: Bench, made: Cloth) -> None:
    version = made.paste_recipe.version
    changed = save_recipe(session, made.paste, [Taken(made.flour, 250_000)], makes=1_000_000,
                          version=version)  # fmt: skip
    assert changed is made.paste_recipe
    assert [part.quantity for part in changed.parts] == [250_000]
    with pytest.raises(StaleError):
        save_recipe(session, made.paste, [Taken(made.flour, 1)], makes=1, version=version)
    remove_recipe(session, changed)
    assert recipe_of(session, made.paste) is None
    assert stock.item_key(made.paste) not in read_prices(session, DAY).own


def test_where_it_is_bought_for_less_it_is_bought(
    session: Session, bench: Bench, made: Cloth
) -> None:
    choice = next(c for c in bench.variant.choices if c.role == "cover")
    choice.paper = made.backed
    session.flush()
    bench.agreed(quantity=10, days=60)
    offer(session, made.backed_sheet, "0.50", 1)
    found = buy_list(session, DAY)
    assert not found.makings
    assert made.backed_sheet in {line.item for line in found.lines}


def test_several_sheets_of_one_paper_and_deep_chains_end(session: Session, bench: Bench) -> None:
    before: Paper = bench.card
    recipes: list[Recipe] = []
    for depth in range(6):
        layer = paper(session, f"Layer {depth}")
        size = sheet(session, layer, 500, 700)
        recipes.append(save_recipe(
            session, size, [Taken(before, 2, 240 * MM, 340 * MM, None)], makes=1, days=1,
        ))  # fmt: skip
        before = layer
    choice = next(c for c in bench.variant.choices if c.role == "cover")
    choice.paper = before
    session.flush()
    bench.agreed(quantity=2, days=90)
    found = buy_list(session, DAY)
    assert found.problems == ()
    by_name = {line.name.split(",")[0]: line for line in found.makings}
    assert len(by_name) == 6
    days = [by_name[f"Layer {depth}"].begin_by for depth in range(6)]
    assert days == sorted(days)
    assert all(b - a == timedelta(days=1) for a, b in pairwise(days))


def test_sheets_that_are_made_are_not_said_to_be_bought(
    session: Session, bench: Bench, made: Cloth
) -> None:
    choice = next(c for c in bench.variant.choices if c.role == "cover")
    choice.paper = made.backed
    session.flush()
    bench.agreed(quantity=10, days=60)
    plan = next(p for p in buy_list(session, DAY).papers if p.paper is made.backed)
    [line] = plan.made
    sheets = sum(cut.sheets for cut in line.cuts)
    assert plan.supply_said == f"Of {sheets} sheets cut {sheets} are to be made here first."
    assert plan.lines == ()
    stock.receive(session, made.backed_sheet, 1, Decimal(9), DAY)
    plan = next(p for p in buy_list(session, DAY).papers if p.paper is made.backed)
    assert plan.supply_said == (
        f"Of {sheets} sheets cut 1 is in stock and {sheets - 1} are to be made here first."
    )


def test_what_is_made_and_how_can_be_taken_away(
    session: Session, bench: Bench, made: Cloth
) -> None:
    choice = next(c for c in bench.variant.choices if c.role == "cover")
    choice.paper = made.backed
    session.flush()
    bench.agreed(quantity=10, days=60)
    lines = buy_list(session, DAY).makings
    table = list_of(session, "to-make", DAY)
    assert table is not None
    assert [row[:3] for row in table.rows] == [(m.begin_by, m.name, m.times) for m in lines]
    assert table.rows[-1][-1] == "Order 1, Ada"
    table = list_of(session, "recipes", DAY)
    assert table is not None
    assert sorted((row[0], row[2], row[3], row[4]) for row in table.rows) == [
        ("Backed cotton, 500 × 700 mm", "Cotton", "1", "500 × 700 mm"),
        ("Backed cotton, 500 × 700 mm", "Laid 120", "1", "500 × 700 mm"),
        ("Backed cotton, 500 × 700 mm", "Wheat paste", "50 g", ""),
        ("Wheat paste", "Flour", "200 g", ""),
    ]
