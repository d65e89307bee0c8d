"""Batches: what went in leads to what came out, at its actual cost, and back."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE, MM
from app.core.money import half_up
from app.core.structures import structures
from app.models import Batch, Lot, Movement
from app.services.bench import batches, finishing
from app.services.bench.batch_supply import ShortError, enough_for
from app.services.bench.cut_papers import cut_papers
from app.services.bench.materials import materials_cost
from app.services.designs.journals import Draft, begin_journal, estimate
from app.services.designs.price_book import read_prices
from app.services.planning.capacity import in_progress
from app.services.planning.requirements import batch_needs, pieces_wanted
from app.services.purchasing.buy_list import buy_list
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.stock import offcuts
from app.services.upkeep.checking import check_books
from tests.conftest import DAY, examples, memory_shop
from tests.factories import Bench, material, offer


@pytest.fixture
def bench(session: Session) -> Bench:
    made = Bench(session)
    stock.receive(session, made.sheet, 30, Decimal("24.00"), DAY)
    stock.receive(session, made.card_sheet, 10, Decimal("12.00"), DAY)
    stock.receive(session, made.thread, 50 * METRE, Decimal("5.00"), DAY)
    stock.receive(session, made.cord, 50 * METRE, Decimal("12.00"), DAY)
    stock.receive(session, made.beads, 120, Decimal("12.00"), DAY)
    return made


def test_materials_leave_and_journals_come_at_actual_cost(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 12}, DAY)
    # 12 journals: 149 folios at 10 a sheet are 15 sheets at 0.80; 13 covers at 4 are 4 at 1.20;
    # 72 beads at 0.10.
    cost = {
        stock.item_key(stock.thing_of(m.lot)): -m.cost
        for m in batches.movements_of(session, batch)
        if m.kind == "issued"
    }
    assert cost[stock.item_key(bench.sheet)] == Decimal("12.0000")
    assert cost[stock.item_key(bench.card_sheet)] == Decimal("4.8000")
    assert cost[stock.item_key(bench.beads)] == Decimal("7.2000")
    being_made = in_progress(session, read_prices(session, DAY))[stock.item_key(bench.variant)]
    assert being_made.quantity == 12
    assert being_made.minutes_each == estimate(session, bench.variant, DAY, 12).sheet.minutes
    minutes = finishing.standard_minutes(session, batch, DAY)
    found = finishing.finish_batch(session, batch, {}, minutes, DAY)
    assert found.made == found.total == found.materials + found.work
    [lot] = session.scalars(select(Lot).where(Lot.variant_id == bench.variant.id))
    assert (lot.cost, lot.batch_id) == (found.total, batch.id)
    assert stock.on_hand(session, bench.variant) == 12
    standard = estimate(session, bench.variant, DAY, 12).sheet.total()
    assert abs(found.total / 12 - standard) < standard / 2
    assert check_books(session) == []


def test_a_lot_leads_to_its_journals(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 6}, DAY)
    finishing.finish_batch(session, batch, {}, Decimal(100), DAY)
    [row] = batches.where_used(session, bench.sheet)
    assert (row.batch, row.quantity) == (batch, 8)
    assert [line.variant for line in row.batch.lines] == [bench.variant]
    lots = {m.lot_id for m in batches.movements_of(session, batch) if m.kind == "issued"}
    assert len(lots) == 5


def test_spoiled_ones_are_no_cost_of_the_good(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 10}, DAY)
    [line] = batch.lines
    found = finishing.finish_batch(session, batch, {line.id: 8}, Decimal(300), DAY)
    assert (line.good, line.spoiled) == (8, 2)
    assert found.made + found.spoiled == found.total
    assert abs(found.spoiled * 4 - found.made) < Decimal("0.001")
    assert check_books(session) == []


def test_what_is_short_is_said_and_nothing_leaves(session: Session, bench: Bench) -> None:
    with pytest.raises(ShortError) as caught:
        batches.begin_batch(session, {bench.variant: 200}, DAY)
    short = {stock.item_key(s.item): s.short for s in caught.value.shorts}
    # 200 journals: 2,472 folios at 10 a sheet are 248 sheets, 30 are here; 206 covers at 4 a sheet
    # are 52, 10 are here; 1,200 beads, 120 are here.
    assert short[stock.item_key(bench.sheet)] == 218
    assert short[stock.item_key(bench.card_sheet)] == 42
    assert short[stock.item_key(bench.beads)] == 1080
    assert [s.supply.in_stock for s in caught.value.shorts if s.item is bench.beads] == [120]
    assert stock.on_hand(session, bench.sheet) == 30
    with pytest.raises(DomainError, match="how many of which"):
        batches.begin_batch(session, {bench.variant: 0}, DAY)


def test_a_batch_not_made_after_all_gives_everything_back(session: Session, bench: Bench) -> None:
    before = stock.holdings(session)
    batch = batches.begin_batch(session, {bench.variant: 12}, DAY)
    batches.cancel_batch(session, batch)
    assert stock.holdings(session) == before
    assert in_progress(session, read_prices(session, DAY)) == {}
    with pytest.raises(DomainError):
        finishing.finish_batch(session, batch, {}, Decimal(1), DAY)
    assert batches.where_used(session, bench.sheet) == []
    assert check_books(session) == []


def test_work_in_progress_is_not_bought_for_twice(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=12)
    assert buy_list(session, DAY).needs.to_make[stock.item_key(bench.variant)].short == 12
    batch = batches.begin_batch(session, {bench.variant: 12}, DAY)
    found = buy_list(session, DAY)
    assert found.lines == []
    assert found.needs.to_make[stock.item_key(bench.variant)].short == 0
    finishing.finish_batch(session, batch, {}, Decimal(60), DAY)
    assert buy_list(session, DAY).lines == []


def test_nothing_of_a_batch_is_undone_by_itself(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 3}, DAY)
    for movement in batches.movements_of(session, batch):
        with pytest.raises(DomainError, match="belongs to a batch"):
            stock.reverse(session, movement, "a slip")
    finishing.finish_batch(session, batch, {}, Decimal(60), DAY)
    for movement in batches.movements_of(session, batch):
        with pytest.raises(DomainError, match="belongs to a batch"):
            stock.reverse(session, movement, "a slip")
    assert (batch.minutes, batch.spoiled_cost) == (60, 0)
    assert check_books(session) == []


def test_more_than_were_begun_cannot_come_out(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 3}, DAY)
    [line] = batch.lines
    with pytest.raises(DomainError, match="Between 0 and 3"):
        finishing.finish_batch(session, batch, {line.id: 4}, Decimal(1), DAY)
    with pytest.raises(DomainError, match="below zero"):
        finishing.finish_batch(session, batch, {}, Decimal(-1), DAY)


def test_as_many_as_there_is_material_for(session: Session, bench: Bench) -> None:
    other = bench.begin("Other journal").current.variants[0]
    found = enough_for(session, {bench.variant: 12, other: 200}, DAY)
    # 120 beads are enough for 20 journals of six.
    assert found == {bench.variant: 12, other: 8}
    batches.begin_batch(session, found, DAY)
    assert enough_for(session, {bench.variant: 5}, DAY) == {}


def test_a_cancelled_batch_can_be_resumed(session: Session, bench: Bench) -> None:
    batch = batches.begin_batch(session, {bench.variant: 12}, DAY)
    begun = stock.holdings(session)
    batches.cancel_batch(session, batch)
    batches.resume_batch(session, batch, DAY)
    assert batch.state == "in progress"
    assert stock.holdings(session) == begun
    assert check_books(session) == []
    finishing.finish_batch(session, batch, {}, Decimal(60), DAY)
    assert check_books(session) == []


def test_offcuts_of_a_batch_are_booked_once_and_the_batch_pays_the_rest(
    session: Session, bench: Bench
) -> None:
    shop = the_shop(session)
    shop.spoilage = Decimal(0)
    # Three covers of a sheet that holds four: a part of the sheet is left in one piece.
    before = stock.holdings(session)
    batch = batches.begin_batch(session, {bench.variant: 3}, DAY)
    [cover_cut] = [c for c in cut_papers(session, batch) if c.paper is bench.card]
    assert [len(row.layout.pieces) * row.repeats for row in cover_cut.layouts] == [3]
    kept = offcuts.offcuts(session, bench.card_sheet)
    sizes = [(o.lot.offcut_width_nm or 0, o.lot.offcut_height_nm or 0) for o in kept]
    assert sizes[0][0] * sizes[0][1] > 500 * 700 * MM**2 // 3
    # One sheet at 1.20 left, once; the offcut took half of its share of the area.
    key = stock.item_key(bench.card_sheet)
    after = stock.holdings(session)[key]
    assert (before[key].quantity - after.quantity, before[key].cost - after.cost) == (
        1, Decimal("1.2000"),
    )  # fmt: skip
    for (width, height), offcut in zip(sizes, kept, strict=True):
        share = Fraction(width * height, 500 * 700 * MM**2)
        assert offcut.cost == half_up(Fraction(6, 5) * share / 2, stock.STEP)
    paid = -sum(
        m.cost for m in batches.movements_of(session, batch)
        if stock.thing_of(m.lot) is bench.card_sheet
    )  # fmt: skip
    assert paid + sum(offcut.cost for offcut in kept) == Decimal("1.2")
    assert check_books(session) == []
    batches.cancel_batch(session, batch)
    assert offcuts.offcuts(session, bench.card_sheet) == []
    assert stock.holdings(session) == before


def test_a_batch_whose_offcut_was_used_since_is_not_cancelled(
    session: Session, bench: Bench
) -> None:
    the_shop(session).spoilage = Decimal(0)
    batch = batches.begin_batch(session, {bench.variant: 3}, DAY)
    kept = offcuts.offcuts(session, bench.card_sheet)[0]
    offcuts.use_offcut(session, kept.lot, 1, "used at the bench")
    with pytest.raises(DomainError, match="were used since"), session.begin_nested():
        batches.cancel_batch(session, batch)
    assert check_books(session) == []


@settings(max_examples=examples(12), suppress_health_check=list(HealthCheck))
@given(
    st.integers(1, 14), st.integers(0, 9), st.integers(30, 70), st.integers(0, 3),
    st.sampled_from(["0", "0.5", "1"]),
)  # fmt: skip
def test_the_account_of_a_batch_ties_out(
    empty_template: Path, first: int, second: int, leaf: int, spoiled: int, worth: str
) -> None:
    """Sheets = pieces + offcuts + waste in area, and cost in = cost out, to the last unit."""
    with memory_shop(empty_template) as session:
        bench = Bench(session)
        the_shop(session).offcut_worth = Decimal(worth)
        other = bench.begin("Other", leaf_width=leaf * MM, leaf_height=(leaf + 40) * MM)
        stock.receive(session, bench.sheet, 40, Decimal("31.37"), DAY)
        stock.receive(session, bench.card_sheet, 20, Decimal("23.11"), DAY)
        for thing in (bench.thread, bench.cord):
            stock.receive(session, thing, 900 * METRE, Decimal("7.77"), DAY)
        stock.receive(session, bench.beads, 900, Decimal("11.11"), DAY)
        wanted = {bench.variant: first, other.current.variants[0]: second}
        for round_of in range(2):
            held = _in_all(session)
            batch = batches.begin_batch(session, wanted, DAY)
            _areas_tie_out(session, batch)
            left = _in_all(session)
            issued = materials_cost(session, batch)
            assert held - left == issued
            if round_of:
                batches.cancel_batch(session, batch)
                assert _in_all(session) == held
                continue
            good = {line.id: max(line.quantity - spoiled, 0) for line in batch.lines}
            cost = finishing.finish_batch(session, batch, good, Decimal("61.5"), DAY)
            assert cost.made + cost.spoiled == issued + cost.work
            assert _in_all(session) == left + cost.made
        assert check_books(session) == []


def _in_all(session: Session) -> Decimal:
    """The cost of everything on the shelves, offcuts too."""
    return session.scalar(select(func.sum(Movement.cost))) or Decimal(0)


def _areas_tie_out(session: Session, batch: Batch) -> None:
    wanted: dict[str, int] = {}
    cut: dict[str, int] = {}
    kept: dict[tuple[int, int], int] = {}
    for paper in cut_papers(session, batch):
        for row in paper.layouts:
            sheet = row.layout.width_nm * row.layout.height_nm
            leaves = [leaf.width_nm * leaf.height_nm for leaf in row.layout.tree.leaves()]
            assert sum(leaves) == sheet
            for piece in row.layout.pieces:
                cut[piece.name] = cut.get(piece.name, 0) + row.repeats
            for part in row.layout.offcuts_worth_keeping(the_shop(session).smallest_offcut):
                size = (part.width_nm, part.height_nm)
                kept[size] = kept.get(size, 0) + row.repeats
    made = {line.variant: line.quantity for line in batch.lines}
    for _, rows in pieces_wanted(batch_needs(session, DAY, made)):
        wanted |= {row.key: row.count for row in rows}
    assert cut == wanted
    booked: dict[tuple[int, int], int] = {}
    for movement in batches.movements_of(session, batch):
        if movement.kind == "cut":
            size = (movement.lot.offcut_width_nm or 0, movement.lot.offcut_height_nm or 0)
            booked[size] = booked.get(size, 0) + movement.quantity
    assert booked == kept


def test_the_scarcest_of_several_limits_as_in_a_published_line_of_stations(
    session: Session, bench: Bench
) -> None:
    """Textbook data of a bakery's line: what the slowest of four in a row lets through limits all.

    Three mixers of 60 lb an hour, six proofers of 25, four ovens of 40, three packers of 75, for
    ten hours: 1500 a day, by the proofers; with one more of those the ovens limit, to 1600. Here
    each station's pounds a day are what is in stock of a part that one thing takes one of.
    """
    stations = {"mix": 3 * 60, "proof": 6 * 25, "bake": 4 * 40, "pack": 3 * 75}
    goods = {name: material(session, name, "count") for name in stations}
    for name, an_hour in stations.items():
        offer(session, goods[name], "1", 100)
        stock.receive(session, goods[name], an_hour * 10, Decimal(10), DAY)
    keys = [f"part_{n}" for n in range(1, 5)]
    loaf = Draft(
        "parts_list", structures()["parts_list"].defaults(),
        dict(zip(keys, goods.values(), strict=True)), {}, quantities=dict.fromkeys(keys, 1),
    )  # fmt: skip
    variant = begin_journal(session, "Loaf", loaf).current.variants[0]
    assert enough_for(session, {variant: 5000}, DAY) == {variant: 1500}
    stock.receive(session, goods["proof"], 25 * 10, Decimal(10), DAY)
    assert enough_for(session, {variant: 5000}, DAY) == {variant: 1600}
