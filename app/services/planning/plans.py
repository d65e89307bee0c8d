"""Answers to papers' questions: kept under the digest of the question, worked out where none is.

List, study, batch, draft and export ask here, so the same question has the same answer wherever
it is asked. A session that may write works nothing out (:func:`forbid_planning`): what it misses
is worked out before, with no transaction open, and kept.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Text, cast, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.core.cutting.effort import Progress
from app.core.cutting.model import NoPlanError, WorkDoneError
from app.core.errors import DomainError
from app.core.planning.kept_answer import answer_data, answer_from
from app.core.planning.paper_answer import PaperAnswer, answer_paper
from app.core.planning.paper_problem import PaperProblem
from app.models import KeptPlan

MOST_KEPT = 2_000
"""The latest so many; older ones are worked out again if they are ever asked."""
SOLVED, FORBIDDEN = "plans worked out", "plans are not worked out here"


class PlanMissingError(Exception):
    """A plan is needed where none may be worked out; it has to be worked out before."""

    def __init__(self, problem: PaperProblem) -> None:
        super().__init__("a plan has to be worked out first")
        self.problem = problem


def forbid_planning(session: Session) -> None:
    """Let a session only read answers."""
    session.info[FORBIDDEN] = True


def answer_of(session: Session, problem: PaperProblem) -> PaperAnswer:
    """The answer to a question: kept, or worked out now. Raises NoPlanError where there is none.

    What is kept and cannot be read is as if it were not there.
    """
    solved: dict[str, Any] = session.info.setdefault(SOLVED, {})
    data = solved.get(problem.digest)
    if data is None:
        data = kept_answers(session, [problem]).get(problem.digest)
    if data is None:
        if session.info.get(FORBIDDEN):
            raise PlanMissingError(problem)
        data = solved[problem.digest] = solve(problem)
    return read_answer(problem, data)


def solve(problem: PaperProblem, progress: Progress | None = None) -> dict[str, Any]:
    """The answer to a question as data; that there is no plan is an answer too."""
    try:
        answer = answer_paper(problem, progress)
    except WorkDoneError as error:
        # There may be a plan all the same, and a stop may be why none was found: not for good.
        return {"refused": error.message, "cut_short": True}
    except DomainError as error:
        # That there is no plan, or that what is asked cannot be searched: told at its paper.
        return {"refused": error.message}
    return answer_data(answer)


def read_answer(problem: PaperProblem, data: Mapping[str, Any]) -> PaperAnswer:
    """An answer out of its data. Raises NoPlanError where that is the answer."""
    if "refused" in data:
        raise NoPlanError(data["refused"])
    return answer_from(problem, data)


def kept_answers(session: Session, problems: Sequence[PaperProblem]) -> dict[str, dict[str, Any]]:
    """What is kept for some questions, by their digests; without what cannot be read."""
    by_digest = {problem.digest: problem for problem in problems}
    # As text: one damaged answer must not keep the others from being read.
    query = select(KeptPlan.digest, cast(KeptPlan.answer, Text).label("text")).where(
        KeptPlan.digest.in_(by_digest)
    )
    found = {}
    for digest, text in session.execute(query):
        try:
            data = json.loads(text)
            read_answer(by_digest[digest], data)
        except NoPlanError:
            pass
        except (AttributeError, IndexError, KeyError, TypeError, ValueError):
            continue
        found[digest] = data
    return found


def keep_answers(session: Session, answers: Mapping[str, Mapping[str, Any]]) -> None:
    """Keep answers for good, but those that somebody cut short.

    Where there is one already, it could not be read or is the same: it is written over.
    """
    for digest, answer in answers.items():
        if answer.get("cut_short"):
            continue
        try:
            with session.begin_nested():
                session.execute(insert(KeptPlan).values(digest=digest, answer=answer))
        except IntegrityError:
            session.execute(update(KeptPlan).where(KeptPlan.digest == digest).values(answer=answer))
    last = session.scalar(select(func.max(KeptPlan.id))) or 0
    session.execute(delete(KeptPlan).where(KeptPlan.id <= last - MOST_KEPT))
