"""Speed and memory, measured side by side and printed.

    python -m tests.bench            pages, designs and the cutting planner
    python -m tests.bench pages      pages and designs alone
    python -m tests.bench bars       the planner's harder bars, a line each
    python -m tests.bench faults     nothing lost, nobody let in (--kills 200)
    python -m tests.bench years      the shop after ten years (--share 0.1 for a tenth of it)
    python -m tests.bench jobs       what a maker's six jobs take in fields, presses and seconds
    python -m tests.bench tables     5,000 rows taken in, and workbooks made to harm
    python -m tests.bench phases     what each phase of the planner wins (--seeds 200)
    python -m tests.bench cutting    the planner alone (--effort thorough --seeds 3)

Nothing here passes or fails. Run it on an idle machine and compare with the last figures.
"""

from __future__ import annotations

import argparse
import itertools
import os
import platform
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from fractions import Fraction
from pathlib import Path

from flask import Flask

from app.config import settings_for
from app.core.cutting.effort import Effort
from app.core.cutting.one_sheet.yields import yield_of
from app.core.length import INCH
from app.core.paper import Piece, Sheet
from app.core.structures import structure_for
from app.core.structures.folio_kinds import key_of, role_of
from app.db import make_engine, session_maker, transaction
from app.models.designs import Variant
from app.schema import migrate
from app.services.designs import journals
from app.services.designs.yield_stairs import yield_stairs
from app.services.shop.settings import prepare_shop
from seed_demo import load_demo
from tests.door import open_app
from tests.web.visitor import Visitor


def milliseconds(do: Callable[[], object], times: int = 15) -> tuple[float, float]:
    """Median and worst of several runs."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        do()
        taken.append((time.perf_counter() - start) * 1000)
    return statistics.median(taken), max(taken)


def row(name: str, figures: tuple[float, float]) -> None:
    sys.stdout.write(f"{name:<58}{figures[0]:>9.1f}{figures[1]:>9.1f}\n")


def yields() -> None:
    """Published single-piece cases, the small ones and the largest."""
    for sheet, piece in (("22x30", "12x8"), ("22x28", "2.5x3.5"), ("133x95", "6.5x4.5")):
        (width, height), (a, b) = (
            [int(Fraction(side) * INCH) for side in size.split("x")] for size in (sheet, piece)
        )
        parent, wanted = Sheet(sheet, width, height), Piece("p", a, b)
        row(
            f"best straight cuts, {piece} from {sheet} in",
            milliseconds(lambda p=parent, w=wanted: yield_of(w, p)),  # type: ignore[misc]
        )


def shop(folder: Path) -> None:
    """The demo: loading it, working a design out, and every page of it."""
    settings = settings_for(folder)
    engine = make_engine(settings.database_url)

    def load() -> None:
        migrate(engine)
        with transaction(session_maker(engine)) as session:
            prepare_shop(session)
            load_demo(session, date.today())

    row("demo from nothing: schema and data", milliseconds(load, 1))
    with transaction(session_maker(engine)) as session:
        for variant in journals.sellable(session):
            dims = variant.design.dimensions

            def work(v: Variant = variant, d: dict[str, int] = dims) -> None:
                yield_stairs(journals.estimate(session, v, date.today()), d)

            row(f"design worked out with its stairs: {variant.full_name}", milliseconds(work))
    app = open_app(settings)
    client = app.test_client()
    for path in ("/", "/orders", "/journals", "/journals/1", "/stockroom", "/buying", "/markets/1"):
        row(f"page {path}", milliseconds(lambda p=path: client.get(p)))  # type: ignore[misc]
    many_kinds(app)


def many_kinds(app: Flask) -> None:
    """The design page worked out anew while it is typed in, eight kinds of folio in a signature."""
    visitor = Visitor(app)
    page = visitor.get("/journals/1/variants/1")
    typed = dict(page.form("leaf_height").values)
    made = structure_for("wrap_cover", {key_of(kind, "count"): 1 for kind in range(2, 9)})
    for kind in range(2, 9):
        for d in made.dimensions:
            if d.key.startswith(key_of(kind, "")):
                typed[d.key] = str(d.default)
        typed[f"role_{role_of(kind)}"] = str(1 + kind % 4)
    heights = itertools.count(150)

    def work() -> None:
        # Another height each time, so that nothing is known from before.
        values = typed | {"leaf_height": f"{next(heights)} mm"}
        answer = visitor.client.post("/journals/worked-out?structure=wrap_cover", data=values)
        assert answer.status_code == 200
        assert answer.json["html"], answer.json["errors"]

    row("design page worked out, eight kinds of folio", milliseconds(work))


def main() -> None:
    ask = argparse.ArgumentParser(prog="python -m tests.bench")
    ask.add_argument(
        "what",
        nargs="?",
        choices=["pages", "cutting", "phases", "years", "bars", "tables", "faults", "jobs"],
    )
    ask.add_argument("--effort", type=Effort, default=Effort.NORMAL, choices=list(Effort))
    ask.add_argument("--seeds", type=int, default=2)
    ask.add_argument("--share", type=float, default=1.0)
    ask.add_argument("--kills", type=int, default=200)
    asked = ask.parse_args()
    sys.stdout.write(
        f"{platform.platform()}, Python {platform.python_version()}, {os.cpu_count()} cores\n"
    )
    if asked.what == "years":
        from tests.bench import ten_years

        ten_years.years(asked.share)
        return
    if asked.what == "faults":
        from tests.bench import faults

        faults.all_of_it(asked.kills)
        return
    if asked.what == "jobs":
        from tests.bench import jobs

        jobs.jobs()
        return
    if asked.what == "tables":
        from tests.bench import tables

        tables.imports()
        tables.bombs()
        return
    if asked.what == "bars":
        from tests.bench import harder

        harder.bars()
        return
    if asked.what == "phases":
        from tests.bench import phases

        phases.table(asked.seeds, asked.effort)
        return
    if asked.what != "cutting":
        sys.stdout.write(f"{'':<58}{'median':>9}{'worst':>9}  ms\n")
        yields()
        with tempfile.TemporaryDirectory() as folder:
            shop(Path(folder))
    if asked.what != "pages":
        # Its rivals bring large libraries, which would slow the pages' first answers down.
        from tests.bench import cutting

        cutting.instances(asked.effort)
        cutting.singles(asked.effort)
        cutting.batches(asked.effort, asked.seeds)
        cutting.in_a_hurry(asked.effort, asked.seeds)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(f"most memory used: {peak:.0f} MB\n")


main()
