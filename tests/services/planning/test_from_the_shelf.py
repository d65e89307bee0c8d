"""What can be made from what lies here: by hand, and that so many sheets do for so many."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from app.core.length import MM
from app.services.designs import journals
from app.services.designs.price_book import read_prices
from app.services.planning.from_the_shelf import Makeable, makeable, pile_of
from app.services.stock import ledger as stock
from app.services.stock.offcuts import keep_offcuts, offcuts
from tests.conftest import DAY, memory_shop
from tests.factories import Bench, offer, paper, sheet


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def made(session: Session, item: object, lot: int | None = None) -> list[Makeable]:
    return makeable(session, read_prices(session, DAY), pile_of(session, item, lot))  # type: ignore[arg-type]


def test_from_the_sheets_of_the_leaves(session: Session, bench: Bench) -> None:
    # A folio of 240 by 160, grain along the 160, on 640 by 900 with the grain along the 900: two
    # beside each other, five above: ten, and twelve folios go into one journal.
    stock.receive(session, bench.sheet, 7, Decimal(5), DAY)
    [row] = made(session, bench.sheet)
    assert (row.variant, row.instead_of, row.roles) == (bench.variant, "", ("Paper of the leaves",))
    assert row.from_sheet == Fraction(10, 12)
    # Seventy folios: five journals, and ten left.
    assert row.number == 5
    priced = journals.estimate(session, bench.variant, DAY).prices[0].at_asked
    assert priced is not None
    assert row.profit == priced.profit
    assert row.pay_per_hour == priced.pay_per_hour
    assert row.profit_per_sheet == Fraction(priced.profit) * 10 / 12


def test_offcuts_count_and_may_be_looked_at_alone(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.sheet, 8, Decimal(5), DAY)
    keep_offcuts(
        session, bench.sheet, sheets_cut=1, width_nm=500 * MM, height_nm=330 * MM, quantity=1,
        on=DAY + timedelta(days=1),
    )  # fmt: skip
    [offcut] = offcuts(session, bench.sheet)
    # Two by two in the offcut: 74 folios are six journals.
    [row] = made(session, bench.sheet)
    assert row.number == 6
    [alone] = made(session, bench.sheet, offcut.lot.id)
    assert alone.number == 0
    assert alone.from_sheet == Fraction(10, 12)
    assert made(session, bench.sheet, 9999)[0].number == 0


def test_a_paper_instead_of_another(session: Session, bench: Bench) -> None:
    wash = paper(session, "Wash 200", grammage=Decimal(200), caliper_nm=250_000)
    wash_sheet = sheet(session, wash, 500, 700)
    offer(session, wash_sheet, "30", 10)
    stock.receive(session, wash_sheet, 10, Decimal(30), DAY)
    found = made(session, wash_sheet)
    assert {row.instead_of for row in found} == {"Laid 120", "Card 250"}
    [leaves] = [row for row in found if row.instead_of == "Laid 120"]
    # Two by four of 240 by 160 on 500 by 700: 80 folios, six journals.
    assert (leaves.from_sheet, leaves.number) == (Fraction(8, 12), 6)
    # The earnings are those with the other paper.
    with_it = replace(
        journals.draft_of(bench.variant), choices={**bench.draft().choices, "leaves": wash}
    )
    other = journals.begin_journal(session, "With wash", with_it).current.variants[0]
    at = journals.estimate(session, other, DAY).prices[0].at_asked
    assert at is not None
    assert leaves.profit == at.profit
    # What has it already comes first.
    rows = made(session, wash_sheet)
    assert rows[0].variant is other
    assert [bool(row.instead_of) for row in rows] == sorted(bool(r.instead_of) for r in rows)


def test_what_does_not_fit_or_was_put_away_is_not_named(session: Session, bench: Bench) -> None:
    small = sheet(session, bench.paper, 100, 100)
    assert made(session, small) == []
    stock.receive(session, bench.sheet, 8, Decimal(5), DAY)
    journals.put_away(session, bench.journal)
    assert made(session, bench.sheet) == []


def test_several_kinds_of_piece_share_the_sheets(session: Session, bench: Bench) -> None:
    """Leaves and cover of one paper, each on sheets of its own."""
    both = replace(bench.draft(), choices={**bench.draft().choices, "cover": bench.paper})
    variant = journals.begin_journal(session, "All of one", both).current.variants[0]
    stock.receive(session, bench.sheet, 9, Decimal(5), DAY)
    [row] = [r for r in made(session, bench.sheet) if r.variant is variant]
    cover = row.estimate.build.pieces["cover"][0]
    best = next(o.cut.best for p in row.estimate.papers if p.role.key == "cover" for o in p.options)
    assert cover.count == 1
    assert row.from_sheet == 1 / (Fraction(12, 10) + Fraction(1, best))
    # Six journals: 72 folios are eight sheets, six covers two and more than nine in all; five: 60
    # folios are six, five covers two (or one): eight at the most.
    sheets = [-(-k * 12 // 10) + -(-k // best) for k in range(9)]
    assert row.number == max(k for k in range(9) if sheets[k] <= 9)
    assert row.roles == ("Paper of the leaves", "Paper of the cover")


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 40), st.integers(1, 9), st.integers(1, 4))
def test_so_many_sheets_do_for_so_many_and_not_for_one_more(
    empty_template: Path, sheets: int, folios: int, signatures: int
) -> None:
    with memory_shop(empty_template) as session:
        bench = Bench(session)
        draft = bench.draft(folios=folios, signatures=signatures)
        variant = journals.begin_journal(session, "Drawn", draft).current.variants[0]
        if sheets:
            stock.receive(session, bench.sheet, sheets, Decimal(sheets), DAY)
        [row] = [r for r in made(session, bench.sheet) if r.variant is variant]
        # Ten folios from a sheet.
        assert row.number * folios * signatures <= 10 * sheets
        assert (row.number + 1) * folios * signatures > 10 * sheets
