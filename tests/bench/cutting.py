"""The cutting planner beside its rivals, on seeded batches and on the published instances.

Run by ``python -m tests.bench cutting``; ``--effort`` is the planner's for one batch.
"""

from __future__ import annotations

import csv
import json
import random
import statistics
import sys
import time
from collections import defaultdict
from fractions import Fraction
from pathlib import Path

from app.core.cutting.effort import STEPS_A_SECOND, Effort
from app.core.cutting.json_answer import answer
from app.core.cutting.json_problem import read_problem
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.many_sheets.planner import plan_batch
from app.core.cutting.model import Break, SheetOffer, Wanted
from app.core.length import MM
from app.core.paper import Piece, Sheet
from app.units import parse_length
from tests.bench import rivals

INSTANCES = Path(__file__).parent / "instances"
SIZES = ((640, 900), (560, 760), (420, 594), (700, 1000), (500, 700), (450, 640), (760, 1120))
Batch = tuple[list[Wanted], list[SheetOffer]]


def seeded_batch(seed: int, kinds: int, sheets: int, *, grain: bool) -> Batch:
    """A batch such as a bindery might have: pieces of 70 to 380 mm, 5 to 300 of each."""
    chance = random.Random(f"{seed}/{kinds}/{sheets}/{grain}")
    offers = []
    for index, (width, height) in enumerate(chance.sample(SIZES, sheets)):
        side = chance.choice(["width", "height"]) if grain else None
        price = int(width * height / 5000 * chance.uniform(0.85, 1.15)) + 20
        sheet = Sheet(f"s{index}", width * MM, height * MM, side)
        offers.append(SheetOffer(f"s{index}", sheet, 1, (Break(1, price),), value=Fraction(price)))
    wanted = []
    for index in range(kinds):
        width, height = chance.randint(70, 380) * MM, chance.randint(70, 380) * MM
        piece = Piece(f"p{index}", width, height, 1, "height" if grain else None)
        wanted.append(Wanted(piece.name, piece, chance.randint(5, 300)))
    return wanted, offers


def batches(effort: Effort, seeds: int) -> None:
    """Money against each rival, gap to the bound and time, in the median over seeded batches."""
    sys.stdout.write(
        f"\n{'kinds':>5}{'batches':>9}{'gap %':>8}{'worst':>8}"
        f"{'grid %':>9}{'shelf %':>9}{'packer %':>10}{'seconds':>9}\n"
    )
    for kinds in (5, 10, 20, 40):
        figures: dict[str, list[float]] = defaultdict(list)
        for seed in range(seeds):
            for sheets in (1, 3, 5):
                for grain in (False, True):
                    batch = seeded_batch(seed, kinds, sheets, grain=grain)
                    _measure(batch, effort, figures)
        gap, taken = figures["gap"], figures["seconds"]
        saved = [statistics.median(figures[name]) * 100 for name in ("grid", "shelf", "packer")]
        sys.stdout.write(
            f"{kinds:>5}{len(gap):>9}{statistics.median(gap) * 100:>8.2f}{max(gap) * 100:>8.2f}"
            f"{saved[0]:>9.1f}{saved[1]:>9.1f}{saved[2]:>10.1f}{statistics.median(taken):>9.2f}\n"
        )


def timed(batch: Batch, effort: Effort | int) -> tuple[BatchPlan, float]:
    """A plan, and the seconds it took."""
    start = time.perf_counter()
    plan = plan_batch(*batch, effort=effort)
    return plan, time.perf_counter() - start


def _measure(batch: Batch, effort: Effort, figures: dict[str, list[float]]) -> None:
    grid = rivals.each_on_a_grid(*batch)
    if grid is None:
        return
    plan, taken = timed(batch, effort)
    figures["gap"].append(plan.spend / max(plan.bound, 1) - 1)
    figures["seconds"].append(taken)
    figures["grid"].append(1 - plan.spend / grid)
    for name, rival in (("shelf", rivals.shelves), ("packer", rivals.packer)):
        cost = rival(*batch)
        if cost is not None:
            figures[name].append(1 - plan.spend / cost)


def in_a_hurry(effort: Effort, seeds: int) -> None:
    """How near the bound a plan is that has to be there at once, beside the plain sketch.

    Gaps are to the bound proved with ``effort``; *level* is the planner given the sketch's time
    as steps.
    """
    sys.stdout.write(
        f"\n{'kinds':>5}{'batches':>9}{'steps':>9}{'gap %':>8}{'took s':>8}"
        f"{'sketch s':>10}{'gap %':>8}{'level %':>9}\n"
    )
    for kinds, steps in ((5, 50_000), (10, 100_000), (20, 400_000), (40, 1_000_000)):
        figures: dict[str, list[float]] = defaultdict(list)
        for seed in range(seeds):
            for sheets in (1, 3, 5):
                for grain in (False, True):
                    batch = seeded_batch(seed, kinds, sheets, grain=grain)
                    start = time.perf_counter()
                    cost = rivals.sketch(*batch)
                    taken = time.perf_counter() - start
                    if cost is None:
                        continue
                    bound = plan_batch(*batch, effort=effort).bound
                    quick, took = timed(batch, steps)
                    figures["gap"].append(quick.spend / bound - 1)
                    figures["took"].append(took)
                    figures["sketch s"].append(taken)
                    figures["sketch"].append(cost / bound - 1)
                    level = plan_batch(*batch, effort=round(taken * STEPS_A_SECOND))
                    figures["level"].append(level.spend / bound - 1)
        mid = {name: statistics.median(values) for name, values in figures.items()}
        sys.stdout.write(
            f"{kinds:>5}{len(figures['gap']):>9}{steps:>9}{mid['gap'] * 100:>8.2f}"
            f"{mid['took']:>8.3f}{mid['sketch s']:>10.2f}{mid['sketch'] * 100:>8.2f}"
            f"{mid['level'] * 100:>9.2f}\n"
        )


CLASSES = (
    (10, 10), (30, 10), (40, 35), (100, 35), (100, 100), (300, 100), (100, 1), (100, 2), (100, 3),
    (100, 4),
)  # fmt: skip
"""Side of the sheet, and longest side of a piece or (one to four) the shape most pieces have."""
SHAPES = {
    1: ((67, 1), (100, 50)), 2: ((1, 67), (50, 100)), 3: ((50, 50), (100, 100)), 4: ((1, 1), (50, 50)),
}  # fmt: skip


def one_of_each(number: int, pieces: int, *, turn: bool) -> Batch:
    """Single pieces after the classes of Berkey and Wang, J. Oper. Res. Soc. 38 (1987), and of
    Martello and Vigo, Manage. Sci. 44 (1998); the numbers are our own chance's."""
    chance = random.Random(f"{number}/{pieces}")
    side, kind = CLASSES[number - 1]
    sizes: dict[tuple[int, int], int] = defaultdict(int)
    for _ in range(pieces):
        low, high = (1, 1), (kind, kind)
        if number > 6:
            others = [shape for shape in SHAPES if shape != kind]
            low, high = SHAPES[kind if chance.random() < 0.7 else chance.choice(others)]
        sizes[chance.randint(low[0], high[0]), chance.randint(low[1], high[1])] += 1
    wanted = [
        Wanted(f"p{i}", Piece(f"p{i}", w * MM, h * MM, may_turn=turn), n)
        for i, ((w, h), n) in enumerate(sizes.items())
    ]
    sheet = Sheet("s", side * MM, side * MM)
    return wanted, [SheetOffer("s", sheet, 1, (Break(1, 1),), value=Fraction(1))]


def singles(effort: Effort) -> None:
    """Single pieces on large and small sheets: how many plans are proved, or one sheet over."""
    sys.stdout.write(f"\n{'pieces':>6}{'batches':>9}{'proved':>8}{'one over':>10}{'more':>6}\n")
    for pieces in (20, 40, 60, 100):
        over = []
        for number in range(1, len(CLASSES) + 1):
            for turn in (False, True):
                plan = plan_batch(*one_of_each(number, pieces, turn=turn), effort=effort)
                over.append(plan.spend - plan.bound)
        more = sum(o > 1 for o in over)
        sys.stdout.write(
            f"{pieces:>6}{len(over):>9}{over.count(0):>8}{over.count(1):>10}{more:>6}\n"
        )


def instances(effort: Effort) -> None:
    """How many of the published values are met in each family, and the time they took."""
    with (INSTANCES / "published.csv").open(encoding="ascii") as stream:
        published = {row["file"]: float(row["published"]) for row in csv.DictReader(stream)}
    families: dict[str, list[tuple[bool, bool, float]]] = defaultdict(list)
    for name, best in published.items():
        data = json.loads((INSTANCES / name).read_text(encoding="ascii")) | {
            "effort": effort,
            "seconds": None,
        }
        start = time.perf_counter()
        found = answer(read_problem(json.dumps(data), parse_length))
        taken = time.perf_counter() - start
        reached = float(found["value"] if data["goal"] == "fill" else found["spend"]) == best
        families[name.split("-")[0].rstrip("0123456789")].append(
            (reached, found["status"] == "optimal", taken)
        )
    sys.stdout.write(f"\n{'family':<10}{'files':>7}{'met':>6}{'proved':>8}{'worst s':>9}\n")
    for family, rows in families.items():
        met, proved = sum(r[0] for r in rows), sum(r[1] for r in rows)
        worst = max(r[2] for r in rows)
        sys.stdout.write(f"{family:<10}{len(rows):>7}{met:>6}{proved:>8}{worst:>9.2f}\n")
