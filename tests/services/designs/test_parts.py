"""Parts of a journal followed through: cost, weight, needs, batches, the next design. By hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE
from app.core.structures.parts import PartPer
from app.models import Variant
from app.services.bench import batches
from app.services.bench.batch_supply import ShortError
from app.services.designs import journals
from app.services.designs.take_off import PartUse
from app.services.planning.requirements import batch_needs, needs
from app.services.purchasing.buy_list import buy_list
from app.services.stock import ledger as stock
from app.services.stock.materials import put_away
from app.services.upkeep.checking import check_books
from app.units import DM2
from tests.conftest import DAY, memory_shop
from tests.factories import Bench, material, offer


class Parts:
    """A journal of three signatures with a label, ribbon in every signature, and a glue brush."""

    def __init__(self, session: Session) -> None:
        self.bench = Bench(session)
        self.label = material(session, "Printed label", "count", weight_mg=400)
        self.ribbon = material(session, "Ribbon", waste=Decimal("0.1"), weight_mg=2_000)
        self.brush = material(session, "Glue brush", "count", weight_mg=90_000)
        offer(session, self.label, "5", 100)
        offer(session, self.ribbon, "8", 20 * METRE)
        offer(session, self.brush, "3", 1)
        self.uses = (
            PartUse("Label inside", self.label, 1, PartPer.JOURNAL, Decimal(2)),
            PartUse("Ribbon", self.ribbon, METRE // 5, PartPer.SIGNATURE, Decimal("0.5")),
            PartUse("Brush", self.brush, 1, PartPer.BATCH, Decimal(6)),
        )
        draft = replace(self.bench.draft(), parts=self.uses, batch_size=10)
        self.plain = self.bench.variant
        self.variant = journals.begin_journal(session, "With parts", draft).current.variants[0]


@pytest.fixture
def parts(session: Session) -> Parts:
    return Parts(session)


def test_cost_and_minutes_of_one(session: Session, parts: Parts) -> None:
    plain = journals.estimate(session, parts.plain, DAY, 10)
    found = journals.estimate(session, parts.variant, DAY, 10)
    assert found.missing == plain.missing == ()
    more = {(x.label, x.amount) for x in found.sheet.lines if x.group == "materials"}
    more -= {(x.label, x.amount) for x in plain.sheet.lines if x.group == "materials"}
    # A label at 0.05; 3 × 0.2 m and a tenth more at 0.40 a metre; a brush at 3.00 for ten.
    assert more == {
        ("Label inside, Printed label", Decimal("0.05")), ("Ribbon, Ribbon", Decimal("0.26")),
        ("Brush, Glue brush", Decimal("0.30")),
    }  # fmt: skip
    # 2 and 3 × 0.5 minutes each, 6 for the batch; the shop's allowance comes on top.
    own = Fraction(2) + Fraction(3, 2) + Fraction(6, 10)
    assert found.sheet.minutes - plain.sheet.minutes == own * (1 + found.allowance)
    assert found.minutes_for(10) - plain.minutes_for(10) == own * 10 * (1 + found.allowance)
    # A label of 0.4 g and 0.6 m of ribbon at 2 g a metre; the brush stays at the bench.
    assert found.weight_mg - plain.weight_mg == 400 + 1_200
    assert [str(step.text) for step in found.steps("mm")[-4:-1]] == [
        "Label inside: 1 of Printed label.",
        "Ribbon: {amount} of Ribbon for each of the 3 signatures.",
        "Brush, once for all that are made together: 1 of Glue brush.",
    ]  # fmt: skip


def amounts(found: object) -> dict[str, int]:
    total: dict[str, int] = {}
    for demand in found.material_demands:  # type: ignore[attr-defined]
        total[demand.thing] = total.get(demand.thing, 0) + demand.quantity
    return total


@pytest.mark.parametrize(("orders", "brushes"), [([4], 1), ([4, 6], 1), ([4, 6, 1], 2), ([25], 3)])
def test_what_is_needed_by_when(
    session: Session, parts: Parts, orders: list[int], brushes: int
) -> None:
    for n, quantity in enumerate(orders):
        parts.bench.agreed(quantity, 30 + n, who=f"Who {n}", variant=parts.variant)
    found = needs(session, DAY)
    total = amounts(found)
    assert total[stock.item_key(parts.label)] == sum(orders)
    assert total[stock.item_key(parts.ribbon)] == sum(orders) * 3 * METRE * 11 // 50
    assert total[stock.item_key(parts.brush)] == brushes
    asked = [d for d in found.material_demands if d.thing == stock.item_key(parts.brush)]
    assert asked[0].by < asked[-1].by or len(asked) == 1
    lines = {line.item.name: line for line in buy_list(session, DAY).materials}
    assert lines["Glue brush"].packs == brushes
    assert lines["Printed label"].packs == 1


def test_a_batch_takes_its_parts_and_what_is_used_once(session: Session, parts: Parts) -> None:
    bench = parts.bench
    stock.receive(session, bench.sheet, 60, Decimal(48), DAY)
    stock.receive(session, bench.card_sheet, 20, Decimal(24), DAY)
    for goods in (bench.thread, bench.cord):
        stock.receive(session, goods, 90 * METRE, Decimal(9), DAY)
    stock.receive(session, bench.beads, 200, Decimal(20), DAY)
    stock.receive(session, parts.label, 30, Decimal("1.50"), DAY)
    stock.receive(session, parts.ribbon, 40 * METRE, Decimal(16), DAY)
    with pytest.raises(ShortError) as caught:
        batches.begin_batch(session, {parts.variant: 24}, DAY)
    assert [(s.item.name, s.short) for s in caught.value.shorts] == [("Glue brush", 1)]  # type: ignore[union-attr]
    stock.receive(session, parts.brush, 2, Decimal(6), DAY)
    batch = batches.begin_batch(session, {parts.variant: 24}, DAY)
    taken = {
        stock.item_key(stock.thing_of(m.lot)): (-m.quantity, -m.cost)
        for m in batches.movements_of(session, batch)
    }
    # However many are made at once, they take one brush.
    assert taken[stock.item_key(parts.brush)] == (1, Decimal(3))
    assert taken[stock.item_key(parts.label)] == (24, Decimal("1.2"))
    assert taken[stock.item_key(parts.ribbon)][0] == 24 * 3 * METRE * 11 // 50
    assert check_books(session) == []


def test_parts_belong_to_the_design(session: Session, parts: Parts) -> None:
    variant, draft = parts.variant, journals.draft_of(parts.variant)
    assert draft.parts == parts.uses
    second = journals.add_variant(session, variant.design, "Second", variant)
    assert journals.parts_of(second) == parts.uses
    # Saved again as it is, nothing changes; changed before anything was promised, in its place.
    assert journals.keep_design(session, variant, draft, None) is variant
    fewer = replace(draft, parts=draft.parts[:1])
    assert journals.keep_design(session, variant, fewer, None) is variant
    assert journals.parts_of(variant) == parts.uses[:1]
    assert journals.parts_of(second) == parts.uses
    # Once it was promised, other parts are another design, and the old one keeps its own.
    parts.bench.agreed(1, variant=variant)
    kept = journals.keep_design(session, variant, replace(draft, parts=parts.uses[::-1]), None)
    assert kept is not variant
    assert journals.parts_of(variant) == parts.uses[:1]
    assert journals.parts_of(kept) == parts.uses[::-1]
    other = next(v for v in kept.design.variants if v is not kept)
    assert journals.parts_of(other) == parts.uses


def test_a_part_for_each_signature_needs_signatures(session: Session, parts: Parts) -> None:
    draft = parts.bench.draft()
    loop = replace(
        draft, structure="parts_list", choices={}, parts=parts.uses,
        dimensions={"height": 0, "width": 0, "thickness": 0, "steps": 1},
    )  # fmt: skip
    with pytest.raises(DomainError, match="no signatures") as caught:
        journals.begin_journal(session, "Pen loop", loop)
    assert caught.value.field == "parts-1-per"
    session.rollback()
    once = replace(loop, parts=())
    variant = journals.begin_journal(session, "Pen loop", once).current.variants[0]
    with pytest.raises(DomainError, match="no signatures"):
        journals.keep_design(session, variant, loop, None)


def test_a_part_without_an_offer_is_left_out_and_said(session: Session, parts: Parts) -> None:
    horn = material(session, "Horn ring", "count")
    draft = journals.draft_of(parts.variant)
    ring = PartUse("Ring", horn, 2, PartPer.JOURNAL, Decimal(0))
    variant = journals.begin_journal(
        session, "With a ring", replace(draft, parts=(ring,))
    ).current.variants[0]
    found = journals.estimate(session, variant, DAY)
    assert found.missing == ("Horn ring: nobody offers it yet, so it costs nothing here.",)
    put_away(horn)
    assert journals.parts_of(variant) == (ring,)


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.lists(st.integers(1, 30), min_size=1, max_size=4), st.integers(1, 12),
    st.sampled_from(list(PartPer)), st.integers(1, 9),
)  # fmt: skip
def test_needs_batch_and_cost_agree(
    empty_template: Path, orders: list[int], batch: int, per: PartPer, amount: int
) -> None:
    """What is needed for so many is what a batch of so many takes, and what one costs, times many."""
    with memory_shop(empty_template) as session:
        bench = Bench(session)
        ring = material(session, "Ring", "count")
        offer(session, ring, "1", 1)
        use = PartUse("Ring", ring, amount, per, Decimal(1))
        draft = replace(bench.draft(), parts=(use,), batch_size=batch)
        variant: Variant = journals.begin_journal(session, "R", draft).current.variants[0]
        for n, quantity in enumerate(orders):
            bench.agreed(quantity, 20 + n, who=f"W{n}", variant=variant)
        total, made = amounts(needs(session, DAY))[stock.item_key(ring)], sum(orders)
        if per is PartPer.BATCH:
            assert total == -(-made // batch) * amount
        else:
            signatures = 3 if per is PartPer.SIGNATURE else 1
            assert total == made * signatures * amount
        at_once = amounts(batch_needs(session, DAY, {variant: batch}))[stock.item_key(ring)]
        found = journals.estimate(session, variant, DAY)
        [goods] = [g for g in found.materials() if g.material is ring]
        assert at_once == goods.amount * (1 if goods.once else batch)


def test_a_part_by_area_is_costed_weighed_and_bought(session: Session, parts: Parts) -> None:
    """A leather label of 6 dm² from a skin of 65 dm² for 39.00, of which 70% is of use."""
    skin = material(session, "Goatskin", "area", waste=Decimal("0.4286"), weight_mg=700_000)
    offer(session, skin, "39", 65 * DM2, lead=2)
    use = PartUse("Spine leather", skin, 6 * DM2, PartPer.JOURNAL, Decimal(4))
    draft = replace(parts.bench.draft(), parts=(use,), batch_size=10)
    variant = journals.begin_journal(session, "In leather", draft).current.variants[0]
    plain = journals.estimate(session, parts.plain, DAY, 10)
    found = journals.estimate(session, variant, DAY, 10)
    [line] = [x for x in found.sheet.lines if "Goatskin" in x.label]
    # 6 × 1.4286 dm² at 0.60 each.
    assert (line.label, line.amount) == ("Spine leather, Goatskin", Decimal("5.14"))
    # 0.06 m² of 700 g; what is lost in use is not in the journal.
    assert found.weight_mg - plain.weight_mg == 42_000
    assert found.steps("mm")[-2].say(str) == "Spine leather: 6 dm² of Goatskin."
    parts.bench.agreed(20, variant=variant)
    [need] = [d for d in needs(session, DAY).material_demands if d.thing == stock.item_key(skin)]
    assert need.quantity == 20 * 6 * DM2 * 14286 // 10000
    lines = {line.item.name: line for line in buy_list(session, DAY).materials}
    # 171.432 dm²: three skins.
    assert lines["Goatskin"].packs == 3
