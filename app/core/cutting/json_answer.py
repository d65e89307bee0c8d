"""The answer to a cutting problem as JSON: solved, and written back in the problem's units."""

from __future__ import annotations

import time
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from app.core.cutting.cut_sequence import tidied
from app.core.cutting.effort import Work
from app.core.cutting.json_problem import MOST_VALUE, UNITS, Problem
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.many_sheets.planner import plan_batch
from app.core.cutting.model import NoPlanError, WorkDoneError
from app.core.cutting.one_sheet.filling import fill_sheet
from app.core.cutting.one_sheet.limits import Kind
from app.core.cutting.one_sheet.unlimited import fitting
from app.core.cutting.one_sheet.yields import lying_ways
from app.core.cutting.tree import Layout, Part
from app.core.errors import DomainError
from app.language import say


def answer(problem: Problem) -> dict[str, Any]:
    """Solve a problem; the result is ready to be written as JSON."""
    started = time.perf_counter()
    result = _fill(problem) if problem.goal == "fill" else _cover(problem)
    result["seconds"] = round(time.perf_counter() - started, 3)
    return result


def _unfit(problem: Problem) -> None:
    """A piece that fits on no sheet is an error of the file, not an answer."""
    for index, wanted in enumerate(problem.wanted):
        if not any(
            fitting(*o.sheet.usable, lying_ways(wanted.piece, o.sheet), problem.cutter)
            for o in problem.offers
        ):
            raise DomainError(_fits_nowhere(index, wanted.key))


def _fits_nowhere(index: int, name: str) -> str:
    return say("{place}: “{piece}” fits on no sheet", place=f"pieces[{index}]", piece=name)


def _fill(problem: Problem) -> dict[str, Any]:
    """The most value on one sheet of the first kind; a limit no sheet could reach is none."""
    offer = problem.offers[0]
    sheet = offer.sheet
    width, height = sheet.usable
    for index, wanted in enumerate(problem.wanted):
        if not fitting(width, height, lying_ways(wanted.piece, sheet), problem.cutter):
            raise DomainError(_fits_nowhere(index, wanted.key))
    values = [int(value.scaleb(problem.value_places)) for value in problem.values]
    origin = (sheet.trim_nm, sheet.trim_nm)
    most = [
        min(w.count, width * height // (w.piece.width_nm * w.piece.height_nm) + 1)
        for w in problem.wanted
    ]
    if sum(v * n for v, n in zip(values, most, strict=True)) >= MOST_VALUE:
        raise DomainError(
            say("{place}: the values have too many digits to be added up exactly", place="pieces")
        )
    kinds = [
        Kind(tuple(lying_ways(w.piece, sheet, value)), value, w.count)
        for w, value in zip(problem.wanted, values, strict=True)
    ]
    work = Work.of(problem.effort, len(kinds), seconds=problem.patience)
    found = fill_sheet((width, height), kinds, problem.cutter, origin, work)
    value, bound = found.value, found.bound
    tree = tidied(found.tree, problem.cutter.kerf_nm)
    layout = Layout(sheet.width_nm, sheet.height_nm, sheet.trim_nm, tree)
    return {
        "status": "optimal" if value == bound else "feasible",
        "cut_short": work.cut_short,
        "spend": None,
        "bound": _value(bound, problem.value_places),
        "buy": [],
        "used": [{"sheet": offer.key, "sheets": 1}],
        "value": _value(value, problem.value_places),
        "layouts": [_layout(problem, offer.key, layout, 1)],
    }


def _value(whole: int, places: int) -> int | float:
    value = Fraction(whole, 10**places)
    return value.numerator if value.denominator == 1 else float(value)


def _cover(problem: Problem) -> dict[str, Any]:
    _unfit(problem)
    try:
        plan = plan_batch(
            problem.wanted, problem.offers, problem.cutter, problem.effort,
            seconds=problem.patience,
        )  # fmt: skip
    except WorkDoneError:
        which = "effort" if problem.seconds is None else say("effort or seconds")
        raise DomainError(say("{place}: too little to find any plan", place=which)) from None
    except NoPlanError as error:
        return {"status": "infeasible", "why": error.message}
    return _written(problem, plan)


def _written(problem: Problem, plan: BatchPlan) -> dict[str, Any]:
    used: dict[str, int] = {}
    for use in plan.uses:
        name = use.supply.sheet.name
        used[name] = used.get(name, 0) + use.repeats
    return {
        "status": "optimal" if plan.proved else "feasible",
        "cut_short": plan.cut_short,
        "spend": _money(plan.spend, problem.places),
        "bound": _money(plan.bound, problem.places),
        "buy": [
            {
                "sheet": row.offer.key,
                "sheets": row.sheets,
                "packs": row.packs,
                "cost": _money(row.cost, problem.places),
            }
            for row in plan.bought
        ],
        "used": [{"sheet": key, "sheets": n} for key, n in used.items()],
        "value": None,
        "layouts": [
            _layout(problem, use.supply.sheet.name, use.layout, use.repeats) for use in plan.uses
        ],
    }


def _money(minor: int, places: int) -> str:
    return f"{Decimal(minor).scaleb(-places):.{places}f}"


def _layout(problem: Problem, sheet: str, layout: Layout, repeats: int) -> dict[str, Any]:
    def size(nm: int) -> int | float:
        value = Fraction(nm, UNITS[problem.unit])
        return value.numerator if value.denominator == 1 else float(value)

    def rectangle(part: Part | Any) -> dict[str, Any]:
        return {
            "x": size(part.x_nm),
            "y": size(part.y_nm),
            "width": size(part.width_nm),
            "height": size(part.height_nm),
        }

    def tree(part: Part) -> Mapping[str, Any]:
        node = rectangle(part)
        if part.piece:
            node["piece"] = part.piece.name
        if part.parts:
            node["cut"] = part.cut
            node["parts"] = [tree(inner) for inner in part.parts]
        return node

    return {
        "sheet": sheet,
        "repeats": repeats,
        "cuts": layout.cuts,
        "tree": tree(layout.tree),
        "pieces": [{"name": p.name, **rectangle(p), "turned": p.turned} for p in layout.pieces],
        "offcuts": [
            rectangle(part) for part in layout.offcuts_worth_keeping(problem.smallest_offcut)
        ],
    }
