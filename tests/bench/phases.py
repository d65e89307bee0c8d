"""What each phase of the planner wins: left out in turn, over seeded batches and the instances.

Run by ``python -m tests.bench phases``; plans are functions of their question, so the table is the
same on every machine. A phase that wins nothing anywhere has no place in the table of phases.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from math import ceil

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.effort import Effort
from app.core.cutting.json_problem import read_problem
from app.core.cutting.many_sheets import planner
from app.core.cutting.many_sheets.phases import PHASES, Phase
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.model import NoPlanError, SheetOffer, Wanted
from app.core.length import MM
from app.units import parse_length
from tests.bench.cutting import INSTANCES, seeded_batch

KINDS, SHEETS = (3, 5, 8, 12, 20), (1, 3, 5)


@dataclass
class Tally:
    """How the planner fares without a phase, beside all of them."""

    dearer: int = 0
    cheaper: int = 0
    no_plan: int = 0
    weaker_bound: int = 0
    spend: int = 0
    steps: int = 0


@contextmanager
def without(phase: Phase | None) -> Iterator[None]:
    """The planner with one phase less."""
    whole = planner.PHASES
    planner.PHASES = tuple(p for p in whole if p is not phase)
    try:
        yield
    finally:
        planner.PHASES = whole


Question = tuple[list[Wanted], list[SheetOffer], Cutter]
CUTTERS = {7: Cutter(2 * MM, 700 * MM), 8: Cutter(stages=2)}
"""Of every ten batches one for a short blade that takes something away, one for few turns."""
SCARCE, ROOM = 9, 1.15
"""And one whose sheets are hardly enough: so much of the area that is wanted."""


def scarce(wanted: list[Wanted], offers: list[SheetOffer]) -> list[SheetOffer]:
    """The same sheets, no more of them than a good plan may need."""
    area = sum(w.count * w.piece.width_nm * w.piece.height_nm for w in wanted) * ROOM
    whole = sum(o.sheet.width_nm * o.sheet.height_nm for o in offers)
    return [replace(o, limit=ceil(area / whole)) for o in offers]


def questions(seeds: int) -> Iterator[Question]:
    """Seeded batches, some with a poor cutter or few sheets, and the published lists."""
    for seed in range(seeds):
        kinds, sheets = KINDS[seed % len(KINDS)], SHEETS[seed // 5 % len(SHEETS)]
        wanted, offers = seeded_batch(seed, kinds, sheets, grain=bool(seed % 2))
        if seed % 10 == SCARCE:
            offers = scarce(wanted, offers)
        yield wanted, offers, CUTTERS.get(seed % 10, KNIFE)
    for path in sorted(INSTANCES.glob("cover-*.json")):
        problem = read_problem(json.dumps(json.loads(path.read_text("ascii"))), parse_length)
        yield list(problem.wanted), list(problem.offers), problem.cutter


def answers(seeds: int, effort: Effort, phase: Phase | None) -> list[BatchPlan | None]:
    """Every question's plan without a phase; None where none was found."""
    found: list[BatchPlan | None] = []
    with without(phase):
        for batch in questions(seeds):
            try:
                found.append(planner.plan_batch(*batch, effort=effort))
            except NoPlanError:
                found.append(None)
    return found


def compared(whole: Sequence[BatchPlan | None], less: Sequence[BatchPlan | None]) -> Tally:
    """What a phase wins."""
    tally = Tally()
    for one, other in zip(whole, less, strict=True):
        if one is None or other is None:
            tally.no_plan += one is not None
            continue
        tally.dearer += other.spend > one.spend
        tally.cheaper += other.spend < one.spend
        tally.weaker_bound += other.bound < one.bound
        tally.spend += other.spend - one.spend
        tally.steps += other.steps - one.steps
    return tally


def table(seeds: int, effort: Effort) -> None:
    """A line a phase: questions that are dearer, cheaper, unanswered or less sure without it."""
    whole = answers(seeds, effort, None)
    money = sum(plan.spend for plan in whole if plan)
    steps = sum(plan.steps for plan in whole if plan)
    sys.stdout.write(
        f"\n{len(whole)} questions, {effort.value} effort; without a phase\n"
        f"{'phase':<20}{'dearer':>8}{'cheaper':>9}{'no plan':>9}{'less sure':>11}"
        f"{'money %':>9}{'work %':>8}  source\n"
    )
    for phase in PHASES:
        tally = compared(whole, answers(seeds, effort, phase))
        sys.stdout.write(
            f"{phase.name:<20}{tally.dearer:>8}{tally.cheaper:>9}{tally.no_plan:>9}"
            f"{tally.weaker_bound:>11}{tally.spend / money * 100:>9.3f}"
            f"{tally.steps / steps * 100:>8.1f}  {phase.source}\n"
        )
        sys.stdout.flush()
