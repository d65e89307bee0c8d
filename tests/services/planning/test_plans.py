"""One question, one answer: the list, the study and the batch read the same kept plan."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.cutting.effort import Effort
from app.core.cutting.model import NoPlanError, WorkDoneError
from app.core.length import MM
from app.core.planning.kept_answer import answer_data, answer_from
from app.core.planning.paper_answer import answer_paper
from app.core.planning.paper_problem import PaperProblem
from app.models import KeptPlan
from app.services.bench import cut_study
from app.services.planning import plans
from app.services.planning.paper_problems import AS_IT_IS, WhatIf, paper_question
from app.services.planning.plans import (
    PlanMissingError,
    answer_of,
    forbid_planning,
    keep_answers,
    kept_answers,
)
from app.services.planning.requirements import needs, pieces_wanted
from app.services.purchasing.buy_list import buy_list
from app.services.stock import ledger as stock
from tests.conftest import DAY
from tests.factories import Bench
from tests.services.purchasing.test_buying_together import bench, four_journals

__all__ = ["bench"]


def problems(session: Session, effort: Effort = Effort.LIVE) -> list[PaperProblem]:
    found = needs(session, DAY)
    return [paper_question(found, rows, DAY, effort).problem for _, rows in pieces_wanted(found)]


def test_list_and_study_give_one_plan(session: Session, bench: Bench) -> None:
    four_journals(bench)
    stock.receive(session, bench.sheet, 9, Decimal(9), DAY)
    session.flush()
    listed = {plan.paper.name: plan.plan for plan in buy_list(session, DAY).papers}
    question = cut_study.ask_for_list(session, DAY, Effort.LIVE, AS_IT_IS)
    studied = {p.question.name: p.plan for p in cut_study.plan_cuts(question).papers}
    assert listed == studied
    assert len(listed) > 1


def test_no_way_shown_beside_a_plan_costs_less(demo_session: Session) -> None:
    papers = buy_list(demo_session, date.today()).papers
    assert any(plan.others for plan in papers)
    for plan in papers:
        assert (
            plan.otherwise is None or plan.otherwise.why_not or plan.spend <= plan.otherwise.spend
        )
        for way in plan.others:
            assert way.spend is None or way.why_not or plan.spend <= way.spend


def test_an_answer_read_back_is_the_answer(session: Session, bench: Bench) -> None:
    four_journals(bench)
    stock.receive(session, bench.sheet, 9, Decimal(9), DAY)
    for problem in problems(session):
        answer = answer_paper(problem)
        written = json.loads(json.dumps(answer_data(answer)))
        assert answer_from(problem, written) == answer


def test_a_kept_plan_is_read_and_not_worked_out_again(
    session: Session, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    four_journals(bench)
    first = buy_list(session, DAY)
    keep_answers(session, session.info[plans.SOLVED])
    session.info.clear()
    monkeypatch.setattr(plans, "answer_paper", lambda *_: pytest.fail("worked out again"))
    again = buy_list(session, DAY)
    assert [plan.answer for plan in again.papers] == [plan.answer for plan in first.papers]
    assert (again.spend, again.lines) == (first.spend, first.lines)


def test_a_session_that_writes_plans_nothing(session: Session, bench: Bench) -> None:
    four_journals(bench)
    forbid_planning(session)
    with pytest.raises(PlanMissingError) as missing:
        buy_list(session, DAY)
    digest = missing.value.problem.digest
    keep_answers(session, {digest: plans.solve(missing.value.problem)})
    with pytest.raises(PlanMissingError) as another:
        buy_list(session, DAY)
    assert another.value.problem.digest != digest


def test_that_there_is_no_plan_is_kept_too(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=5)
    [problem, *_] = problems(session)
    nothing = PaperProblem(problem.wanted, (), problem.demands, problem.cutter, problem.effort)
    with pytest.raises(NoPlanError):
        answer_of(session, nothing)
    keep_answers(session, session.info[plans.SOLVED])
    session.info.clear()
    forbid_planning(session)
    with pytest.raises(NoPlanError):
        answer_of(session, nothing)


def test_a_plan_cut_short_is_not_kept(session: Session, bench: Bench) -> None:
    four_journals(bench)
    several = [p for p in problems(session, Effort.THOROUGH) if len(p.wanted) > 1]
    data = plans.solve(several[0], lambda doing, share: True)
    assert data["cut_short"]
    keep_answers(session, {several[0].digest: data})
    assert kept_answers(session, several) == {}


def test_that_the_work_was_too_little_is_not_kept(
    session: Session, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.agreed(quantity=5)
    [problem, *_] = problems(session)

    def in_vain(*_: object) -> None:
        raise WorkDoneError("No plan was found with this effort; there may be one.")

    with monkeypatch.context() as patched:
        patched.setattr(plans, "answer_paper", in_vain)
        with pytest.raises(NoPlanError, match="there may be one"):
            answer_of(session, problem)
    keep_answers(session, session.info[plans.SOLVED])
    session.info.clear()
    assert answer_of(session, problem).plan.sheets


def test_only_the_latest_plans_are_kept(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plans, "MOST_KEPT", 3)
    for number in range(5):
        keep_answers(session, {f"{number}": {"refused": "no"}})
    assert list(session.scalars(select(KeptPlan.digest).order_by(KeptPlan.id))) == ["2", "3", "4"]


def test_an_answer_is_written_over_not_doubled(session: Session) -> None:
    keep_answers(session, {"a": {"refused": "damaged"}})
    keep_answers(session, {"a": {"refused": "first"}, "b": {"refused": "third"}})
    rows = session.execute(select(KeptPlan.digest, KeptPlan.answer).order_by(KeptPlan.id))
    assert [(row.digest, row.answer["refused"]) for row in rows] == [("a", "first"), ("b", "third")]


def test_the_digest_is_of_all_that_decides_the_plan(session: Session, bench: Bench) -> None:
    four_journals(bench)

    def digests() -> list[str]:
        session.flush()
        session.expire_all()
        return [p.digest for p in problems(session)]

    before = digests()
    assert digests() == before
    assert [p.digest for p in problems(session, Effort.NORMAL)] != before
    stock.receive(session, bench.sheet, 1, Decimal(1), DAY)
    after = digests()
    assert after != before
    bench.sheet.offers[0].lead_days += 1
    assert digests() != after
    found = needs(session, DAY)
    rows = next(rows for paper, rows in pieces_wanted(found) if paper.id == bench.paper.id)
    as_it_is = paper_question(found, rows, DAY, Effort.LIVE).problem
    for suppose in (
        WhatIf(grain_free=True), WhatIf(trim_nm=5 * MM), WhatIf(only_here=True),
        WhatIf(without_sheets=frozenset([bench.sheet.id])),
    ):  # fmt: skip
        other = paper_question(found, rows, DAY, Effort.LIVE, suppose=suppose).problem
        assert other.digest != as_it_is.digest
    apart = paper_question(found, rows, DAY, Effort.LIVE, apart=True).problem
    assert apart.digest != as_it_is.digest
    # How many sheets a stroke takes decides the minutes, not the plan.
    found.shop.sheets_a_stroke = 7
    assert paper_question(found, rows, DAY, Effort.LIVE).problem.digest == as_it_is.digest


@settings(max_examples=8)
@given(st.integers(1, 30), st.integers(0, 40), st.integers(1, 60))
def test_the_same_shop_anew_has_the_same_plan(
    empty_template: object, quantity: int, here: int, days: int
) -> None:
    from pathlib import Path

    from tests.conftest import memory_shop

    seen = []
    for _ in range(2):
        with memory_shop(Path(str(empty_template))) as session:
            made = Bench(session)
            made.agreed(quantity=quantity, days=days)
            if here:
                stock.receive(session, made.sheet, here, Decimal(here), DAY)
            session.flush()
            found = buy_list(session, DAY)
            seen.append([answer_data(plan.answer) for plan in found.papers])
    assert seen[0] == seen[1]
