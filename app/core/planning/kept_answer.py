"""An answer as plain data, to be kept under its question's digest, and read back exactly."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.core.cutting.many_sheets.plan import BatchPlan, LayoutUse
from app.core.cutting.many_sheets.warm_start import KnownLayout, as_data, from_data
from app.core.cutting.model import Buy, supplies
from app.core.planning.paper_answer import PaperAnswer, Rival
from app.core.planning.paper_problem import PaperProblem
from app.core.planning.roll_lengths import at_lengths


def answer_data(answer: PaperAnswer) -> dict[str, Any]:
    """An answer as lists and numbers; sheets by their place in the question."""
    plan, sizes = answer.plan, [s.sheet for s in supplies(answer.problem.offers)]
    return {
        "layouts": as_data([KnownLayout(use.layout, use.repeats) for use in plan.uses]),
        "cut": [[sizes.index(use.supply.sheet), use.counts] for use in plan.uses],
        "bought": [[buy.offer.key, buy.packs, buy.cost] for buy in plan.bought],
        "bound": plan.bound,
        "steps": plan.steps,
        "rounds": plan.rounds,
        "cut_short": plan.cut_short,
        "left_out": sorted(answer.left_out),
        "otherwise": _rival_data(answer.otherwise) if answer.otherwise else None,
        "rivals": [_rival_data(rival) for rival in answer.rivals],
        **(
            {"lengths": {key: list(each) for key, each in answer.lengths.items()}}
            if answer.lengths
            else {}
        ),
    }


def _rival_data(rival: Rival) -> list[Any]:
    return [rival.name, rival.spend, rival.late]


def answer_from(problem: PaperProblem, data: Mapping[str, Any]) -> PaperAnswer:
    """The answer that was kept for a question."""
    lengths = {key: (high, packs) for key, (high, packs) in data.get("lengths", {}).items()}
    problem = at_lengths(problem, lengths)
    left_out = frozenset(data["left_out"])
    by_size = {s.sheet: s for s in supplies(PaperAnswer(problem, NOTHING, left_out).offers)}
    sizes = [s.sheet for s in supplies(problem.offers)]
    uses = tuple(
        LayoutUse(known.layout, by_size[sizes[at]], dict(counts), known.repeats)
        for known, (at, counts) in zip(from_data(data["layouts"]), data["cut"], strict=True)
    )
    bought = tuple(
        Buy(problem.by_key[key].offer, packs, cost) for key, packs, cost in data["bought"]
    )
    plan = BatchPlan(uses, bought, data["bound"], data["steps"], data["rounds"], data["cut_short"])
    rivals = tuple(Rival(*row) for row in data["rivals"])
    otherwise = Rival(*data["otherwise"]) if data["otherwise"] else None
    return PaperAnswer(problem, plan, left_out, otherwise, rivals, lengths)


NOTHING = BatchPlan((), (), 0)
