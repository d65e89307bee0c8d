"""The harder bars of the cutting planner, each printed as a line; run by ``python -m tests.bench bars``.

Money is compared, then the worth of stock used up; answers are compared to the last byte.
"""

from __future__ import annotations

import csv
import hashlib
import json
import os
import statistics
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from app.core.cutting.effort import Effort
from app.core.cutting.json_answer import answer
from app.core.cutting.json_problem import read_problem
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.many_sheets.planner import plan_apart, plan_batch
from app.core.cutting.many_sheets.warm_start import KnownLayout, as_data
from app.core.paper import Sheet
from app.units import parse_length
from tests.bench import rivals
from tests.bench.cutting import INSTANCES, seeded_batch, timed

LOOPS, PROCESSES = 4, 20
STOCK = 100_000


def said(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def fingerprint() -> str:
    """Twelve answers to the last byte, times left out."""
    found = hashlib.sha256()
    for kinds, effort in ((3, Effort.LIVE), (5, Effort.LIVE), (10, Effort.LIVE), (20, Effort.LIVE)):
        for seed in range(3):
            plan = plan_batch(*seeded_batch(seed, kinds, 3, grain=bool(seed % 2)), effort=effort)
            layouts = as_data([KnownLayout(use.layout, use.repeats) for use in plan.uses])
            bought = [(buy.offer.key, buy.packs, buy.cost) for buy in plan.bought]
            found.update(json.dumps([layouts, bought, plan.bound, plan.steps]).encode())
    return found.hexdigest()


@contextmanager
def busy(loops: int) -> Iterator[None]:
    """So many processes that do nothing but take the cores."""
    running = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(loops)]
    try:
        yield
    finally:
        for process in running:
            process.kill()
            process.wait()


def alike() -> None:
    """(a) The same answer in fresh processes, alone and beside busy ones."""
    code = "from tests.bench.harder import fingerprint; print(fingerprint())"
    seen: dict[str, int] = {}
    for loops in (0, LOOPS):
        with busy(loops):
            for seed in range(PROCESSES // 2):
                env = {**os.environ, "PYTHONHASHSEED": str(seed)}
                done = subprocess.run(
                    [sys.executable, "-c", code], env=env, capture_output=True, text=True,
                    check=True, cwd=Path(__file__).parents[2],
                )  # fmt: skip
                seen[done.stdout] = seen.get(done.stdout, 0) + 1
    said(
        f"(a) {PROCESSES} processes, half of them beside {LOOPS} busy loops: "
        f"{len(seen)} different answer{'' if len(seen) == 1 else 's'} to 12 questions"
    )


def covers() -> None:
    """(b) The published number of sheets, at the default effort."""
    with (INSTANCES / "published.csv").open(encoding="ascii") as stream:
        published = {row["file"]: float(row["published"]) for row in csv.DictReader(stream)}
    met = over = more = 0
    for name, best in published.items():
        if not name.startswith("cover-"):
            continue
        text = (INSTANCES / name).read_text(encoding="ascii")
        data = json.loads(text) | {"effort": "normal", "seconds": None}
        spend = float(answer(read_problem(json.dumps(data), parse_length))["spend"])
        met, over, more = (
            met + (spend == best),
            over + (spend == best + 1),
            more + (spend > best + 1),
        )
    said(f"(b) covers: {met} met, {over} one over, {more} more")


def stock() -> None:
    """(c) Nothing to buy: the worth of sheets used beside each rival, and beside its bound."""
    worse = {"grid": 0, "shelves": 0, "packer": 0}
    gaps, compared = [], 0
    for seed in range(200):
        kinds, sheets = (3, 5, 8, 12)[seed % 4], (1, 2, 3)[seed % 3]
        wanted, offers = seeded_batch(seed, kinds, sheets, grain=bool(seed % 2))
        here = [replace(o, breaks=(), on_hand=STOCK, limit=0) for o in offers]
        plan = plan_batch(wanted, here, effort=Effort.LIVE)
        worth = plan.worth_cut(here)
        compared += 1
        ways = {
            "grid": plan_apart(wanted, here, grids=True).worth_cut(here),
            "shelves": rivals.shelves(wanted, offers), "packer": rivals.packer(wanted, offers),
        }  # fmt: skip
        for name, other in ways.items():
            worse[name] += other is not None and worth > other
        bound = plan_batch(wanted, offers, effort=Effort.LIVE).bound
        gaps.append(float(worth) / bound - 1)
    said(
        f"(c) {compared} batches from stock: more worth than grid {worse['grid']}, shelves "
        f"{worse['shelves']}, packer {worse['packer']}; over the bound "
        f"{statistics.median(gaps) * 100:.2f}% in the median, {max(gaps) * 100:.2f}% at worst"
    )


def largest_rest(plan: BatchPlan, beside: BatchPlan) -> int:
    """The area of the largest piece left over, in square millimetres.

    A sheet that only the plan ``beside`` it cuts is left whole by this one.
    """
    parts = [p for use in plan.uses for p in use.layout.offcuts_worth_keeping((1, 1))]
    own, others = sheets_cut(plan), sheets_cut(beside)
    whole = [sheet for sheet, count in others.items() if count > own[sheet]]
    sizes = [(p.width_nm, p.height_nm) for p in parts] + [(s.width_nm, s.height_nm) for s in whole]
    return max((width * height // 10**12 for width, height in sizes), default=0)


def sheets_cut(plan: BatchPlan) -> Counter[Sheet]:
    """How many sheets of each size."""
    found: Counter[Sheet] = Counter()
    for use in plan.uses:
        found[use.supply.sheet] += use.repeats
    return found


def wanted_only() -> None:
    """(d) Pieces cut are pieces wanted; the largest rest beside that of plain grids."""
    too_many = smaller = as_dear = batches = 0
    for seed in range(60):
        wanted, offers = seeded_batch(seed, (3, 5, 8)[seed % 3], 3, grain=bool(seed % 2))
        plan, grid = (
            plan_batch(wanted, offers, effort=Effort.LIVE),
            plan_apart(wanted, offers, grids=True),
        )
        cut = {w.key: sum(u.counts.get(w.key, 0) * u.repeats for u in plan.uses) for w in wanted}
        too_many += any(cut[w.key] != w.count for w in wanted)
        smaller += largest_rest(plan, grid) < largest_rest(grid, plan)
        as_dear += plan.spend >= grid.spend
        batches += 1
    said(
        f"(d) {batches} batches: other pieces than wanted in {too_many}, the largest rest, sheets "
        f"left whole among them, smaller than by grids in {smaller}; no less "
        f"money than by grids in {as_dear}"
    )


def quick() -> None:
    """(e) How near the bound a plan is that has to be there at once, and what it took."""
    for kinds, steps in ((5, 40_000), (40, 800_000)):
        gaps, took = [], []
        for seed in range(6):
            batch = seeded_batch(seed, kinds, 3, grain=bool(seed % 2))
            bound = plan_batch(*batch, effort=Effort.NORMAL).bound
            plan, seconds = timed(batch, steps)
            gaps.append(plan.spend / bound - 1)
            took.append(seconds)
        said(
            f"(e) {kinds} kinds in {steps} steps: {statistics.median(took):.3f} s, "
            f"{statistics.median(gaps) * 100:.2f}% over the bound in the median, "
            f"{max(gaps) * 100:.2f}% at worst"
        )


def whole_list() -> None:
    """(f) Ten papers of ten kinds each, as a buy list plans them."""
    batches = [seeded_batch(seed, 10, 3, grain=bool(seed % 2)) for seed in range(10)]
    start = time.perf_counter()
    plans = [plan_batch(*batch, effort=100_000) for batch in batches]
    taken = time.perf_counter() - start
    start = time.perf_counter()
    better = [plan_batch(*batch, effort=Effort.LIVE) for batch in batches]
    said(
        f"(f) 10 papers of 10 kinds: {taken:.2f} s at 100,000 steps, "
        f"{time.perf_counter() - start:.2f} s at live effort for "
        f"{(1 - sum(p.spend for p in better) / sum(p.spend for p in plans)) * 100:.2f}% less money"
    )


def bars() -> None:
    """All of them."""
    for bar in (alike, covers, stock, wanted_only, quick, whole_list):
        bar()
