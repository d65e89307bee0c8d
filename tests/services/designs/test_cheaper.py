"""This journal, but cheaper: every change worked out anew, and nothing that does not save."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import MM
from app.core.structures import structure
from app.services.designs.cheaper import MOST, Cheaper, cheaper
from app.services.designs.estimating import Estimate
from app.services.designs.journals import Draft, draft_of, estimate
from app.services.designs.price_book import read_prices
from app.services.stock.materials import papers
from tests.conftest import DAY
from tests.factories import Bench, offer, paper, sheet


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def found(session: Session, draft: Draft) -> tuple[Estimate, dict[str, Cheaper]]:
    now, ways = cheaper(read_prices(session, DAY), papers(session), draft)
    return now, {way.says: way for way in ways}


def test_every_change_saves_what_a_design_with_it_costs_less(
    session: Session, bench: Bench
) -> None:
    now, ways = found(session, draft_of(bench.variant))
    for says, key, value in (
        ("Signatures: 2 instead of 3", "signatures", 2),
        ("Folios in each: 3 instead of 4", "folios", 3),
        ("Beads on each end: 2 instead of 3", "beads_each_end", 2),
    ):
        way = ways[says]
        other = bench.begin(says, **{key: value}).current.variants[0]
        then = estimate(session, other, DAY)
        assert way.saves == now.sheet.total() - then.sheet.total() > 0
        assert way.estimate.sheet.total() == then.sheet.total()
        assert way.pages == then.build.pages - now.build.pages
        assert way.minutes == then.sheet.minutes - now.sheet.minutes
        assert way.tried == f"{key}~{value}"
    # Two leaves of two pages for each of four folios; one folio of each of three signatures.
    assert ways["Signatures: 2 instead of 3"].pages == -16
    assert ways["Folios in each: 3 instead of 4"].pages == -12


def test_the_most_saved_first_and_of_as_much_the_fewest_pages(
    session: Session, bench: Bench
) -> None:
    _, ways = cheaper(read_prices(session, DAY), papers(session), draft_of(bench.variant))
    assert [w.saves for w in ways] == sorted((w.saves for w in ways), reverse=True)
    assert 3 < len(ways) <= MOST
    for one, next_ in pairwise(ways):
        assert one.saves > next_.saves or one.pages >= next_.pages


def test_a_larger_batch_shares_its_setting_up(session: Session, bench: Bench) -> None:
    now, ways = found(session, draft_of(bench.variant))
    for times in (2, 4):
        batch = now.batch * times
        way = ways[f"Made together: {batch} instead of {now.batch}"]
        assert (
            way.saves
            == now.sheet.total() - estimate(session, bench.variant, DAY, batch=batch).sheet.total()
        )
        assert way.tried == f"batch~{batch}"
        assert way.pages == 0
        # What is set up for once is shared by more.
        assert way.minutes == now.setting_up * (Fraction(1, batch) - Fraction(1, now.batch))


def test_a_leaf_of_which_a_sheet_gives_more(session: Session, bench: Bench) -> None:
    now, ways = found(session, draft_of(bench.variant))
    sizes = [way for says, way in ways.items() if says.startswith("Leaf ")]
    assert sizes
    for way in sizes:
        key, _, at = way.tried.partition("~")
        assert int(at) < int(now.structure.complete(draft_of(bench.variant).dimensions)[key])
        assert way.pages == 0


def test_another_paper_about_as_thick(session: Session, bench: Bench) -> None:
    before, _ = found(session, draft_of(bench.variant))
    thick = bench.paper.caliper_nm
    assert thick is not None
    offers = {}
    for name, share in (("Thin", "0.49"), ("Light", "0.5"), ("Stout", "1.5"), ("Board", "1.51")):
        offers[name] = paper(session, name, caliper_nm=int(thick * Fraction(share)))
        offer(session, sheet(session, offers[name]), "0.10", 1)
    now, ways = found(session, draft_of(bench.variant))
    assert now.sheet.total() == before.sheet.total()
    leaves = {says for says in ways if says.startswith("Paper of the leaves: ")}
    of = bench.paper.name
    assert {f"Paper of the leaves: {n} instead of {of}" for n in ("Light", "Stout")} <= leaves
    assert not any("Thin" in says or "Board" in says for says in leaves)
    way = ways[f"Paper of the leaves: Light instead of {of}"]
    assert way.tried == f"role_leaves~{offers['Light'].id}"
    choices = bench.draft().choices | {"leaves": offers["Light"]}
    assert way.estimate.choices == choices
    # A paper nobody offers leaves the cost unknown.
    paper(session, "Gift", caliper_nm=thick)
    _, again = found(session, draft_of(bench.variant))
    assert not any("Gift" in says for says in again)


def test_what_a_change_brings_with_it_is_said(session: Session, bench: Bench) -> None:
    thick = bench.paper.caliper_nm
    assert thick is not None
    stout = paper(session, "Stout", caliper_nm=thick * 3 // 2)
    offer(session, sheet(session, stout), "0.10", 1)
    bench.variant.design.dimensions = dict(bench.variant.design.dimensions) | {"folios": 7}
    now, ways = found(session, draft_of(bench.variant))
    way = ways[f"Paper of the leaves: Stout instead of {bench.paper.name}"]
    known = {text for text, _ in now.advice}
    assert way.warns
    assert not known & set(way.warns)
    assert set(way.warns) | known >= {text for text, _ in way.estimate.advice}


def test_nothing_is_taken_from_nothing_and_of_many_a_tenth(session: Session, bench: Bench) -> None:
    draft = draft_of(bench.variant)
    _, ways = found(session, Draft(
        draft.structure, draft.dimensions | {"signatures": 1, "folios": 1, "beads_each_end": 0},
        draft.choices, draft.prices,
    ))  # fmt: skip
    assert not any(
        says.startswith(("Signatures:", "Folios in each:", "Beads on each end:")) for says in ways
    )
    for leaves, fewer in ((24, 23), (25, 23), (40, 36)):
        dims = structure("side_sewn").defaults() | {"leaves": leaves}
        choices = {"leaves": bench.paper, "cover": bench.card, "thread": bench.thread}
        _, side = found(session, Draft("side_sewn", dims, choices, {}))
        assert f"How many leaves: {fewer} instead of {leaves}" in side


def test_what_would_not_work_is_not_proposed(session: Session, bench: Bench) -> None:
    draft = draft_of(bench.variant)
    # With fewer rows the spine that was typed still does; without a signature there is nothing.
    _, ways = found(session, draft)
    assert all(way.saves > 0 and way.estimate.whole for way in ways.values())
    assert not any(grave for way in ways.values() for _, grave in way.estimate.advice)


def test_a_design_that_cannot_be_worked_out_says_why(session: Session, bench: Bench) -> None:
    draft = draft_of(bench.variant)
    with pytest.raises(DomainError, match="hardly any cover"):
        found(session, Draft(draft.structure, draft.dimensions | {"square": -80 * MM},
                             draft.choices, {1: Decimal(30)}))  # fmt: skip
