"""Designs are numbered, frozen once promised, and worked out at the day's prices."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import MM
from app.core.money import half_up
from app.services.designs import journals
from app.services.designs.estimating import Estimate, RolePaper, work_out
from app.services.designs.price_book import read_prices
from app.services.designs.yield_stairs import yield_stairs
from app.services.shop import settings as shop
from app.services.shop.settings import StaleError
from tests.conftest import DAY
from tests.factories import Bench, material, offer, paper, sheet


def paper_in(worked: Estimate, role: str) -> RolePaper:
    """The one kind of piece of a role."""
    [found] = [paper for paper in worked.papers if paper.role.key == role]
    return found


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def test_a_name_is_given_once(bench: Bench) -> None:
    with pytest.raises(DomainError, match="already") as caught:
        bench.begin("Plain journal")
    assert caught.value.field == "name"


def test_a_design_nobody_was_promised_changes_in_place(session: Session, bench: Bench) -> None:
    kept = journals.keep_design(session, bench.variant, bench.draft(folios=5), None)
    assert kept is bench.variant
    assert (kept.design.number, kept.design.dimensions["folios"]) == (1, 5)


def test_a_promised_design_makes_the_next_number(session: Session, bench: Bench) -> None:
    more = journals.add_variant(session, bench.variant.design, "Green", bench.variant)
    journals.freeze(session, bench.variant.design)
    kept = journals.keep_design(session, bench.variant, bench.draft(folios=5), None)
    assert kept.design.number == 2
    assert [v.name for v in kept.design.variants] == ["Plain", more.name]
    assert bench.variant.design.dimensions["folios"] == 4
    assert bench.journal.current is kept.design


def test_prices_of_a_promised_design_may_change(session: Session, bench: Bench) -> None:
    journals.freeze(session, bench.variant.design)
    draft = bench.draft()
    [channel] = draft.prices
    changed = journals.Draft(
        draft.structure, draft.dimensions, draft.choices, {channel: Decimal("44.00")}, 3
    )
    kept = journals.keep_design(session, bench.variant, changed, None)
    assert kept is bench.variant
    assert (kept.prices[0].amount, kept.shelf_level) == (Decimal("44.00"), 3)


def test_a_stale_design_is_told_so(session: Session, bench: Bench) -> None:
    with pytest.raises(StaleError):
        journals.keep_design(session, bench.variant, bench.draft(folios=5), 99)


def test_nonsense_is_refused_by_its_dimension(session: Session, bench: Bench) -> None:
    with pytest.raises(DomainError) as caught:
        bench.begin("Too many", signatures=99)
    assert caught.value.field == "signatures"


def test_a_one_off_leaves_the_journal_as_it_is(session: Session, bench: Bench) -> None:
    made = journals.one_off(session, bench.variant, bench.draft(leaf_height=180 * MM), "for Ada")
    assert made.design.one_off
    assert bench.journal.current is bench.variant.design
    assert made not in journals.sellable(session)


def test_every_line_of_a_cost_is_there(session: Session, bench: Bench) -> None:
    found = journals.estimate(session, bench.variant, DAY)
    assert [line.label for line in found.sheet.lines] == [
        "Folios, Laid 120", "Cover, Card 250", "Thread", "Cord", "Beads", "Spoilage",
        "Bench time", "Overhead",
    ]  # fmt: skip
    assert found.whole
    folios = found.sheet.lines[0]
    # 12 folios at 10 from a 640 × 900 sheet of 0.80 (25 for 20.00).
    assert (folios.basis, folios.amount) == ("12 at 10 a sheet", Decimal("0.96"))


def test_the_cheapest_of_several_sheets_is_costed(session: Session, bench: Bench) -> None:
    small = sheet(session, bench.paper, 420, 594)
    session.expire_all()
    before = paper_in(journals.estimate(session, bench.variant, DAY), "leaves")
    assert before is not None
    assert before.chosen is not None
    assert before.chosen.stock_sheet.id == bench.sheet.id
    offer(session, small, "1.00", 100)
    session.expire_all()
    after = paper_in(journals.estimate(session, bench.variant, DAY), "leaves")
    assert after is not None
    assert after.chosen is not None
    assert after.chosen.stock_sheet.id == small.id
    assert [o.stock_sheet.id for o in after.options] == [small.id, bench.sheet.id]


def test_what_a_batch_would_buy_is_what_it_is_costed_at(session: Session, bench: Bench) -> None:
    # A thousand small sheets are cheap each, but nobody buys them for a dozen journals.
    small = sheet(session, bench.paper, 420, 594)
    offer(session, small, "100", 1000)
    session.expire_all()
    leaves = paper_in(journals.estimate(session, bench.variant, DAY), "leaves")
    assert leaves is not None
    assert leaves.chosen is not None
    assert leaves.chosen.stock_sheet.id == bench.sheet.id


def test_a_break_is_reached_with_the_spoilage(session: Session, bench: Bench) -> None:
    by = bench.sheet.offers[0].supplier
    offer(session, bench.sheet, "20", 25, by=by, since=DAY, breaks={3: "14"})
    session.expire_all()
    # 41 × 12 folios and 3% are 507, 51 sheets at 10, three packs; without spoilage two would do.
    line = journals.estimate(session, bench.variant, DAY, 41).sheet.lines[0]
    assert line.amount == Decimal("0.67")


def test_the_pay_of_an_hour_and_the_mark_up(session: Session, bench: Bench) -> None:
    found = journals.estimate(session, bench.variant, DAY)
    at = found.prices[0].at_asked
    assert at is not None
    materials, overhead = found.sheet.total("materials"), found.sheet.total("overhead")
    kept = at.price - at.fees - materials - overhead
    assert at.pay_per_hour == half_up(Fraction(kept) * 60 / found.sheet.minutes, Decimal("0.01"))
    assert at.markup == Fraction(at.profit) / Fraction(at.cost + at.fees)


def test_prices_are_those_of_the_day(session: Session, bench: Bench) -> None:
    by = bench.sheet.offers[0].supplier
    offer(session, bench.sheet, "40", 25, by=by, since=DAY + timedelta(days=10))
    session.expire_all()
    now = journals.estimate(session, bench.variant, DAY).sheet.lines[0].amount
    then = journals.estimate(session, bench.variant, DAY + timedelta(days=10)).sheet.lines[0].amount
    assert then == 2 * now


def test_an_estimate_says_what_it_leaves_out(session: Session, bench: Bench) -> None:
    draft = bench.draft()
    choices = dict(draft.choices) | {"thread": None, "beads": material(session, "Pearls", "count")}
    found = work_out(read_prices(session, DAY), draft.structure, draft.dimensions, choices)
    assert found.missing == (
        "Thread: none chosen yet.",
        "Pearls: nobody offers it yet, so it costs nothing here.",
    )


def test_a_piece_larger_than_every_sheet_is_explained(session: Session, bench: Bench) -> None:
    draft = bench.draft(leaf_height=440 * MM, leaf_width=320 * MM)
    found = work_out(read_prices(session, DAY), draft.structure, draft.dimensions, draft.choices)
    cover = paper_in(found, "cover")
    assert cover is not None
    assert cover.trouble is not None
    assert "711 × 450 mm" in cover.trouble
    assert "211 mm too much in width" in cover.trouble
    assert "Make it 211 mm narrower, or add" in cover.trouble
    assert "larger sheet" in cover.trouble
    assert not found.whole


def test_a_grain_that_cannot_be_kept_is_explained(session: Session, bench: Bench) -> None:
    across = paper(session, "Across")
    sheet(session, across, 300, 200, "width")
    draft = bench.draft()
    found = work_out(
        read_prices(session, DAY),
        draft.structure,
        draft.dimensions,
        dict(draft.choices) | {"leaves": across},
    )
    leaves = paper_in(found, "leaves")
    assert leaves is not None
    assert leaves.trouble is not None
    assert "only with its fold across the grain" in leaves.trouble
    assert "grain along its height" in leaves.trouble


def test_a_pattern_that_bars_turning_is_explained(session: Session, bench: Bench) -> None:
    printed = paper(session, "Printed")
    sheet(session, printed, 200, 400, None, pattern_up=True)
    draft = bench.draft()
    found = work_out(
        read_prices(session, DAY),
        draft.structure,
        draft.dimensions,
        dict(draft.choices) | {"cover": printed},
    )
    cover = paper_in(found, "cover")
    assert cover is not None
    assert cover.trouble is not None
    assert "pattern would lie wrong" in cover.trouble


def test_fees_that_leave_no_price_are_explained(session: Session, bench: Bench) -> None:
    channel = shop.channels(session)[0]
    channel.fee_rate, channel.margin = Decimal("0.5"), Decimal("0.6")
    first = journals.estimate(session, bench.variant, DAY).prices[0]
    assert first.suggested is None
    assert first.trouble is not None
    assert "must stay below 50%" in first.trouble
    assert first.at_asked is not None


def test_the_nearest_saving_is_found_and_priced(session: Session, bench: Bench) -> None:
    draft = bench.draft(leaf_height=185 * MM)
    found = work_out(read_prices(session, DAY), draft.structure, draft.dimensions, draft.choices)
    by_height = next(
        s for s in yield_stairs(found, draft.dimensions)
        if s.dimension == "leaf_height" and s.role.role.key == "leaves"
    )  # fmt: skip
    assert by_height.saving is not None
    # Five rows of 180 fill 900: 10 instead of 8 from a sheet of 0.80, twelve folios a journal.
    assert by_height.saving.less_nm == 5 * MM
    assert by_height.saving.count == 10
    assert by_height.saving.money == Decimal("0.24")
    smaller = bench.draft(leaf_height=180 * MM)
    again = work_out(
        read_prices(session, DAY), smaller.structure, smaller.dimensions, smaller.choices
    )
    leaves = paper_in(again, "leaves")
    assert leaves is not None
    assert leaves.chosen is not None
    assert leaves.chosen.cut.best == 10


def test_a_batch_shares_the_setting_up(session: Session, bench: Bench) -> None:
    one = journals.estimate(session, bench.variant, DAY, 1)
    many = journals.estimate(session, bench.variant, DAY, 50)
    assert one.sheet.minutes > many.sheet.minutes
    with pytest.raises(DomainError) as caught:
        journals.estimate(session, bench.variant, DAY, 0)
    assert caught.value.field == "batch"


def test_variants_have_names_of_their_own(session: Session, bench: Bench) -> None:
    with pytest.raises(DomainError, match="already"):
        journals.add_variant(session, bench.variant.design, "Plain", bench.variant)


def test_a_journal_put_away_is_off_the_list(session: Session, bench: Bench) -> None:
    journals.put_away(session, bench.journal)
    assert journals.sellable(session) == []


def test_what_is_kept_on_the_shelf_is_of_the_newest_designs_in_use(
    session: Session, bench: Bench
) -> None:
    bench.variant.shelf_level = 3
    away = bench.begin("Another journal")
    away.current.variants[0].shelf_level = 2
    first = bench.begin("A journal")
    first.current.variants[0].shelf_level = 1
    quiet = journals.add_variant(session, bench.variant.design, "Green", bench.variant)
    quiet.retired = True
    none = journals.add_variant(session, bench.variant.design, "Red", bench.variant)
    none.shelf_level = 0
    journals.one_off(session, bench.variant, bench.draft(folios=6), "For Ada").shelf_level = 1
    journals.freeze(session, bench.variant.design)
    newer = journals.keep_design(session, bench.variant, bench.draft(folios=5), None)
    newer.shelf_level = 3
    journals.put_away(session, away)
    found = journals.kept_on_the_shelf(session)
    assert found == [first.current.variants[0], newer]
    assert found == [v for v in journals.sellable(session) if v.shelf_level]


def test_a_design_kept_before_a_finish_was_asked_for_stays_the_same(
    session: Session, bench: Bench
) -> None:
    design = bench.variant.design
    journals.freeze(session, design)
    old = {k: v for k, v in design.dimensions.items() if k not in ("corners", "corner_size")}
    design.dimensions = old
    session.flush()
    draft = journals.draft_of(bench.variant)
    assert "corners" not in draft.dimensions
    whole = replace(draft, dimensions=bench.draft().dimensions, shelf_level=4)
    assert journals.keep_design(session, bench.variant, whole, None) is bench.variant
    assert design.dimensions == old
    rounded = replace(whole, dimensions=dict(whole.dimensions) | {"corners": "rounded"})
    assert journals.keep_design(session, bench.variant, rounded, None) is not bench.variant
