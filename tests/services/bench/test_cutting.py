"""Planning the cutting: journals that share sheets, what to suppose, and what else fits."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.cutting.effort import Effort
from app.core.errors import DomainError
from app.core.length import MM
from app.services.bench import cut_study as cutting
from app.services.bench.cut_study import CutAnswer, WhatIf
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from tests.conftest import DAY
from tests.factories import Bench, offer, sheet

NOTHING = WhatIf()


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def asked(session: Session, suppose: WhatIf = NOTHING, effort: Effort = Effort.NORMAL) -> CutAnswer:
    return cutting.plan_cuts(cutting.ask_for_list(session, DAY, effort, suppose))


def test_nothing_wanted_cuts_nothing(session: Session, bench: Bench) -> None:
    assert asked(session).papers == ()


def test_two_journals_share_sheets_and_spend_no_more_than_grids(
    session: Session, bench: Bench
) -> None:
    other = bench.begin("Wide journal", leaf_width=95 * MM, leaf_height=200 * MM).current
    bench.agreed(quantity=30)
    bench.agreed(quantity=17, variant=other.variants[0])
    found = asked(session)
    assert {p.question.name for p in found.papers} == {bench.paper.name, bench.card.name}
    for paper in found.papers:
        assert paper.plan is not None
        assert paper.sums is not None
        assert paper.grid is not None
        assert paper.sums.spend <= paper.grid.spend
        assert paper.bound <= paper.sums.spend
        cut: dict[str, int] = {}
        for one in paper.sheets:
            for key, n in one.use.counts.items():
                cut[key] = cut.get(key, 0) + n * one.use.repeats
            assert one.area.pieces + one.area.offcuts + one.area.waste == one.area.whole
            assert [step.number for step in one.steps] == list(range(1, len(one.steps) + 1))
        assert all(cut[w.key] >= w.count for w in paper.question.problem.wanted)
    assert found.spend == sum(p.sums.spend for p in found.papers if p.sums)


def test_a_batch_is_cut_whatever_is_on_the_shelf(session: Session, bench: Bench) -> None:
    question = cutting.ask_for_batch(session, DAY, Effort.NORMAL, NOTHING, {bench.variant: 12})
    by_paper = {p.name: [w.count for w in p.problem.wanted] for p in question.papers}
    # 12 journals: 144 folios and 12 covers, 3 in a hundred on top, each rounded up once.
    assert by_paper == {bench.paper.name: [149], bench.card.name: [13]}
    assert (
        question.key
        == cutting.ask_for_batch(session, DAY, Effort.NORMAL, NOTHING, {bench.variant: 12}).key
    )
    assert (
        question.key
        != cutting.ask_for_batch(session, DAY, Effort.NORMAL, NOTHING, {bench.variant: 13}).key
    )


def test_what_if_changes_only_what_is_supposed(session: Session, bench: Bench) -> None:
    small = sheet(session, bench.paper, 420, 594)
    offer(session, small, "9", 25)
    bench.agreed(quantity=30)
    assert asked(session).spend > 0
    alone = asked(session, WhatIf(without_sheets=frozenset({small.id})))
    assert {cut.name for p in alone.papers for cut in p.sheets} == {"640 × 900 mm", "500 × 700 mm"}
    trimmed = asked(session, WhatIf(trim_nm=10 * MM))
    assert all(cut.use.layout.trim_nm == 10 * MM for p in trimmed.papers for cut in p.sheets)
    free = cutting.ask_for_list(session, DAY, Effort.LIVE, WhatIf(grain_free=True))
    assert {w.piece.grain for p in free.papers for w in p.problem.wanted} == {None}
    with pytest.raises(DomainError, match="leaves nothing"):
        asked(session, WhatIf(trim_nm=400 * MM))


def test_only_what_is_here_may_be_too_little(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=30)
    found = cutting.ask_for_list(session, DAY, Effort.LIVE, WhatIf(only_here=True))
    assert found.papers == ()
    assert "there is no sheet to cut" in found.problems[0]


def test_the_planner_can_be_stopped(session: Session, bench: Bench) -> None:
    bench.begin("Wide journal", leaf_width=95 * MM, leaf_height=200 * MM)
    bench.agreed(quantity=30)
    said: list[tuple[str, float]] = []

    def told(doing: str, share: float) -> bool:
        said.append((doing, share))
        return True

    question = cutting.ask_for_list(session, DAY, Effort.THOROUGH, NOTHING)
    found = cutting.plan_cuts(question, told)
    assert all(p.plan is not None for p in found.papers)
    assert all(0 <= share <= 1 for _, share in said)


def test_the_cutter_of_the_shop_is_kept_to(session: Session, bench: Bench) -> None:
    shop = the_shop(session)
    shop.longest_cut_nm, shop.sheets_a_stroke = 660 * MM, 20
    bench.agreed(quantity=30)
    for paper in asked(session).papers:
        for cut in paper.sheets:
            assert all(step.length_nm <= 660 * MM for step in cut.steps)
            assert all(
                step.strokes <= step.cuts * step.parts * cut.use.repeats for step in cut.steps
            )


def test_what_else_fits_on_an_offcut(session: Session, bench: Bench) -> None:
    shop = the_shop(session)
    rest = cutting.offcut_sheet(250 * MM, 330 * MM, "height", shop)
    found = cutting.fill_offcut(session, DAY, bench.paper, rest, only_wanted=False)
    assert found is not None
    assert sum(found.counts.values()) == 2
    assert found.used > 0.9
    assert cutting.fill_offcut(session, DAY, bench.paper, rest, only_wanted=True) is None
    bench.agreed(quantity=1)
    wanted = cutting.fill_offcut(session, DAY, bench.paper, rest, only_wanted=True)
    assert wanted is not None
    assert sum(wanted.counts.values()) == 2
    tiny = cutting.offcut_sheet(50 * MM, 50 * MM, "height", shop)
    assert cutting.fill_offcut(session, DAY, bench.paper, tiny, only_wanted=False) is None


def test_this_plan_is_never_worse_than_the_row_it_is_compared_with(
    session: Session, bench: Bench
) -> None:
    """Money first, then what is used up; both from the same supply, sheets in stock among it."""
    stock.receive(session, bench.sheet, 7, Decimal(5), DAY, kind="opening")
    other = bench.begin("Wide journal", leaf_width=95 * MM, leaf_height=200 * MM).current
    bench.agreed(quantity=11)
    bench.agreed(quantity=5, variant=other.variants[0])
    for paper in asked(session).papers:
        assert paper.sums is not None
        assert paper.grid is not None
        assert (paper.sums.spend, paper.sums.worth) <= (paper.grid.spend, paper.grid.worth)
        assert paper.saved == paper.grid.spend - paper.sums.spend >= 0
