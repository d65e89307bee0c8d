"""A journal of several kinds of folio followed through: cost, weight, needs, the next design."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import MM
from app.core.structures import structure_for
from app.core.structures.folio_kinds import kind_dimensions, without_kind
from app.models import Material, Paper, Variant
from app.services.designs import journals
from app.services.designs.comparing import compare
from app.services.designs.take_off import Choices
from app.services.designs.yield_stairs import yield_map, yield_stairs
from app.services.planning.requirements import batch_needs
from tests.conftest import DAY
from tests.factories import Bench, offer, paper, sheet


def more(kind: int, **chosen: int | str) -> dict[str, int | str]:
    first = {d.key: d.default for d in kind_dimensions(kind, several=True)}
    return first | {f"folio{kind}_{what}": value for what, value in chosen.items()}


class Mixed:
    """Three signatures of three plain folios, and a low one of heavy paper in the outer two."""

    def __init__(self, session: Session) -> None:
        self.bench = Bench(session)
        self.heavy = paper(session, "Rough 300", grammage=Decimal(300), caliper_nm=400_000)
        self.heavy_sheet = sheet(session, self.heavy, 500, 700)
        offer(session, self.heavy_sheet, "30", 10)
        plain = self.bench.draft(folios=3)
        dims = dict(plain.dimensions) | more(2, height=130 * MM, where="outer")
        self.plain = journals.begin_journal(session, "Plain three", plain).current.variants[0]
        self.draft = replace(
            plain, dimensions=dims, choices=dict(plain.choices) | {"folio2": self.heavy}
        )
        made = journals.begin_journal(session, "Mixed", self.draft)
        self.variant: Variant = made.current.variants[0]


@pytest.fixture
def mixed(session: Session) -> Mixed:
    return Mixed(session)


def test_cost_weight_and_minutes_of_one(session: Session, mixed: Mixed) -> None:
    plain = journals.estimate(session, mixed.plain, DAY, 10)
    found = journals.estimate(session, mixed.variant, DAY, 10)
    assert found.missing == ()
    assert (found.build.leaves, found.build.made_of) == (22, "3 signatures, 11 folios in all")
    rough = [p for p in found.papers if p.role.key == "folio2"]
    # A folio of 240 by 130, grain along the 130, on 500 by 700 with the grain along the 700: two
    # beside each other, five above: ten. Two go into one journal, and 20 and 3 % spoilage into
    # ten: three sheets, of a pack of ten at 30.
    [folio] = rough
    assert folio.chosen is not None
    assert (folio.chosen.cut.best, folio.piece.count) == (10, 2)
    [line] = [x for x in found.sheet.lines if "Rough 300" in x.label]
    assert (line.label, line.amount) == ("Kind 2 folios, Rough 300", Decimal("0.60"))
    # 2 × 0.24 × 0.13 m² of 300 g; the rest follows: thread goes through 0.4 mm more.
    thread = sum(p.length_nm for p in found.build.thread) - sum(
        p.length_nm for p in plain.build.thread
    )
    # Head and tail lie within the low folio, from 15 to 145: four passes in each of two.
    assert thread == 2 * 4 * 400_000
    paper_weight = found.weight_mg - plain.weight_mg
    assert abs(paper_weight - 2 * Fraction(24, 100) * Fraction(13, 100) * 300_000) < 2_000
    # Two folios more to cut and to fold, and a second score of the flap round a thicker block.
    each = {work.label: work.minutes_each for work in found.work}
    more_minutes = 2 * (each["Cut pieces"] + each["Fold folios"]) + each["Score the cover"]
    assert found.sheet.minutes - plain.sheet.minutes == more_minutes * (1 + found.allowance)


def test_needs_are_of_each_paper(session: Session, mixed: Mixed) -> None:
    found = batch_needs(session, DAY, {mixed.variant: 10})
    wanted = {need.paper.name: sum(d.quantity for d in need.demands) for need in found.pieces}
    spoilt = 1 + Fraction(found.shop.spoilage)
    assert wanted["Laid 120"] == -(-(90 * spoilt).numerator // (90 * spoilt).denominator)
    assert wanted["Rough 300"] == -(-(20 * spoilt).numerator // (20 * spoilt).denominator)
    assert found.problems == ()
    mixed.draft = replace(mixed.draft, choices={**mixed.draft.choices, "folio2": None})
    kept = journals.keep_design(session, mixed.variant, mixed.draft, None)
    again = batch_needs(session, DAY, {kept: 10})
    assert again.problems == ("Mixed, Plain, design 1: no paper of folios, kind 2 is chosen.",)


def test_a_kind_of_folio_belongs_to_the_design(session: Session, mixed: Mixed) -> None:
    variant, draft = mixed.variant, journals.draft_of(mixed.variant)
    assert draft.dimensions["folio2_where"] == "outer"
    assert draft.choices["folio2"] is mixed.heavy
    second = journals.add_variant(session, variant.design, "Second", variant)
    assert journals.choices_of(second)["folio2"] is mixed.heavy
    assert journals.keep_design(session, variant, draft, None) is variant
    # Once it was promised, one kind less is another design; the old one stays as it was.
    mixed.bench.agreed(1, variant=variant)
    fewer = replace(
        draft,
        dimensions=without_kind(draft.dimensions, 2),
        choices={role: thing for role, thing in draft.choices.items() if role != "folio2"},
    )
    kept = journals.keep_design(session, variant, fewer, None)
    assert kept is not variant
    assert "folio2" not in journals.choices_of(kept)
    assert "folio2_count" not in kept.design.dimensions
    assert journals.choices_of(variant)["folio2"] is mixed.heavy
    assert journals.estimate(session, variant, DAY).build.leaves == 22
    assert journals.estimate(session, kept, DAY).build.leaves == 18
    # Other variants came along with the papers of the kind that is left out: these go as well.
    other = next(v for v in kept.design.variants if v is not kept)
    assert journals.estimate(session, other, DAY).missing == ()
    assert journals.estimate(session, other, DAY).build.leaves == 18


def test_left_out_of_a_design_nobody_was_promised_it_leaves_no_paper(
    session: Session, mixed: Mixed
) -> None:
    draft = journals.draft_of(mixed.variant)
    choices: Choices = {role: x for role, x in draft.choices.items() if role != "folio2"}
    fewer = replace(draft, dimensions=without_kind(draft.dimensions, 2), choices=choices)
    assert journals.keep_design(session, mixed.variant, fewer, None) is mixed.variant
    session.expire_all()
    assert "folio2" not in journals.choices_of(mixed.variant)


@pytest.mark.parametrize(
    ("dims", "field"),
    [({"folio2_height": 161 * MM}, "folio2_height"), ({"folio2_inside": 9}, "folio2_inside"),
     ({"folio2_count": 41}, "folio2_count"), ({"folio2_at": "nowhere"}, "folio2_at")],
)  # fmt: skip
def test_what_cannot_be_gathered_is_not_kept(
    session: Session, mixed: Mixed, dims: dict[str, Any], field: str
) -> None:
    wrong = replace(mixed.draft, dimensions=dict(mixed.draft.dimensions) | dims)
    with pytest.raises(DomainError) as caught:
        journals.keep_design(session, mixed.variant, wrong, None)
    assert caught.value.field == field
    with pytest.raises(DomainError):
        journals.begin_journal(session, "Wrong", wrong)


def test_the_stairs_and_the_map_speak_of_every_paper(session: Session, mixed: Mixed) -> None:
    found = journals.estimate(session, mixed.variant, DAY)
    dims = mixed.variant.design.dimensions
    roles = {(row.dimension, row.role.role.key) for row in yield_stairs(found, dims)}
    assert roles >= {("leaf_width", "folio2"), ("leaf_height", "leaves")}
    # Its height is its own: the map goes on where the leaf is lower than it.
    assert {m.role.role.key for m in yield_map(found, dims)} == {"leaves", "folio2", "cover"}


def test_compared_they_say_what_each_has(session: Session, mixed: Mixed) -> None:
    _, rows = compare(session, [mixed.plain, mixed.variant], DAY)
    said = {row.label: row.said for row in rows}
    assert said["Folios, kind 2: how many"] == ("–", "1")
    assert said["Folios, kind 2: height"] == ("–", "130 mm")
    assert said["Paper of folios, kind 2"] == ("–", "Rough 300, 10 from 500 × 700 mm")
    assert said["Made of"] == ("3 signatures of 3 folios", "3 signatures, 11 folios in all")


def test_everything_of_a_kind_is_a_choice(mixed: Mixed) -> None:
    assert all(isinstance(x, Paper | Material) for x in mixed.draft.choices.values())


def test_a_price_of_another_variant_keeps_a_promised_design(session: Session, mixed: Mixed) -> None:
    """Only one variant was dressed anew for a kind or a closing: the others have no row for it."""
    other = journals.add_variant(session, mixed.variant.design, "Other", mixed.variant)
    draft = journals.draft_of(mixed.variant)
    dims = dict(draft.dimensions) | {"closing": "magnet", "magnet_pairs": 1,
                                     "magnet_across": 10 * MM}  # fmt: skip
    choices = dict(draft.choices) | {"magnets": None}
    for role in ("cord", "beads"):
        del choices[role]
    magnets = replace(draft, dimensions=dims, choices=choices)
    assert journals.keep_design(session, mixed.variant, magnets, None) is mixed.variant
    mixed.bench.agreed(1, variant=other)
    asked = journals.draft_of(other)
    made = structure_for("wrap_cover", asked.dimensions)
    as_typed = {role.key: asked.choices.get(role.key) for role in made.roles}
    [channel] = asked.prices
    dearer = replace(
        asked, dimensions=made.complete(asked.dimensions), choices=as_typed,
        prices={channel: Decimal(55)},
    )  # fmt: skip
    assert journals.keep_design(session, other, dearer, None) is other
    assert other.prices[0].amount == 55
