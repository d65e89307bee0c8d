"""The batch planner and the limited search: published optima, brute force, a stranger's checker.

Instances lie in tests/bench/instances with the value each is known to have. gcut: Beasley, J. Oper.
Res. Soc. 36 (1985) 297-306, OR-Library; optima as tabulated by Cintra et al., EJOR 191 (2008) 61-85.
limited: Christofides and Whitlock (1977), Wang (1983), Oliveira and Ferreira (1990), Fayard et al.
(1998), Hifi, Cung, Hifi and Le Cun (2000); optima as tabulated in Becker's doctoral thesis (2021),
those of A4, A5, CHL1, CHL1s, CHL2, CHL6, CHL7, CU1, CW3, Hchl, STS4, STS4s and okp from memory of
the tables (every one is proved by the search as well). cover: Berkey and Wang (1987),
Martello and Vigo (1998), Macedo et al. (2010); sheets proved optimal in the same thesis. What takes
longer is run by tests/bench.
"""

from __future__ import annotations

import csv
import json
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.effort import Effort, Work
from app.core.cutting.json_answer import answer
from app.core.cutting.json_problem import read_problem
from app.core.cutting.many_sheets.planner import plan_batch
from app.core.cutting.model import Break, NoPlanError, SheetOffer, Wanted
from app.core.cutting.one_sheet.blocks import Blocks
from app.core.cutting.one_sheet.charges import Charging
from app.core.cutting.one_sheet.limited import LimitedSearch, best_limited
from app.core.cutting.one_sheet.limits import Kind
from app.core.cutting.one_sheet.pricing import Pricer
from app.core.cutting.one_sheet.rounded import most_by_rounding
from app.core.cutting.one_sheet.unlimited import Lying, best_layout
from app.core.cutting.one_sheet.yields import yield_of
from app.core.cutting.tree import Layout
from app.core.errors import DomainError
from app.core.length import MM
from app.core.paper import Piece, Sheet
from app.units import parse_length
from tests.core.brute_force import check_layout
from tests.core.checker import check_answer

INSTANCES = Path(__file__).parents[2] / "bench" / "instances"
with (INSTANCES / "published.csv").open(encoding="ascii") as stream:
    PUBLISHED = {row["file"]: int(row["published"]) for row in csv.DictReader(stream)}
QUICK_COVERS = [
    name for name in PUBLISHED if name.startswith(("cover-A", "cover-cl_01", "cover-cl_09"))
]  # fmt: skip


def solved(name: str, **changes: Any) -> dict[str, Any]:
    data = json.loads((INSTANCES / name).read_text(encoding="ascii")) | changes
    found = answer(read_problem(json.dumps(data), parse_length))
    check_answer(data, found)
    return found


SLOW = tuple(f"limited-{name}.json" for name in (
    "Hchl4s", "Hchl7s", "Hchl8s", "okp1", "okp2", "okp3", "okp4",
))  # fmt: skip
ONE_SHEET = [
    name for name in PUBLISHED if name.startswith(("gcut", "limited")) and name not in SLOW
]  # fmt: skip


@pytest.mark.parametrize("name", ONE_SHEET)
def test_published_values_of_one_sheet(name: str) -> None:
    found = solved(name)
    assert (found["value"], found["status"]) == (PUBLISHED[name], "optimal")


@pytest.mark.parametrize("name", QUICK_COVERS)
def test_published_numbers_of_sheets(name: str) -> None:
    found = solved(name)
    assert float(found["spend"]) == PUBLISHED[name]
    assert float(found["bound"]) >= PUBLISHED[name] - 1


@cache
def most_limited(
    w: int, h: int, kinds: tuple[tuple[int, int, int], ...], left: tuple[int, ...]
) -> int:
    """The most value by trying every straight cut and every way to share what is left."""
    best = max(
        (v for (a, b, v), n in zip(kinds, left, strict=True) if n and a <= w and b <= h), default=0
    )
    for first in shares(left):
        second = tuple(n - k for n, k in zip(left, first, strict=True))
        for x in range(1, w // 2 + 1):
            best = max(
                best, most_limited(x, h, kinds, first) + most_limited(w - x, h, kinds, second)
            )
        for y in range(1, h // 2 + 1):
            best = max(
                best, most_limited(w, y, kinds, first) + most_limited(w, h - y, kinds, second)
            )
    return best


def shares(left: tuple[int, ...]) -> list[tuple[int, ...]]:
    found: list[tuple[int, ...]] = [()]
    for n in left:
        found = [(*share, k) for share in found for k in range(n + 1)]
    return found


small = st.integers(2, 7)
few_kinds = st.lists(
    st.tuples(st.integers(1, 4), st.integers(1, 4), st.integers(1, 9), st.integers(1, 2)),
    min_size=1, max_size=2,
)  # fmt: skip


@settings(max_examples=25)
@given(small, small, few_kinds)
def test_limited_equals_brute_force(
    width: int, height: int, rows: list[tuple[int, int, int, int]]
) -> None:
    kinds = [Kind((Lying(f"{i}", a, b, v),), v, n) for i, (a, b, v, n) in enumerate(rows)]
    found = best_limited(width, height, kinds)
    sizes = tuple((a, b, v) for a, b, v, _ in rows)
    assert found.value == most_limited(width, height, sizes, tuple(n for *_, n in rows))
    assert found.proved
    check_layout(Layout(width, height, 0, found.tree), {(a, b) for a, b, *_ in rows})


@settings(max_examples=25)
@given(small, small, few_kinds)
def test_charges_bound_what_is_within_limits(
    width: int, height: int, rows: list[tuple[int, int, int, int]]
) -> None:
    kinds = [Kind((Lying(f"{i}", a, b, v),), v, n) for i, (a, b, v, n) in enumerate(rows)]
    best = most_limited(
        width, height, tuple((a, b, v) for a, b, v, _ in rows), tuple(n for *_, n in rows)
    )
    charging = Charging((width, height), kinds, KNIFE, (0, 0), None)
    for start in islice(charging.layouts(), 12):
        check_layout(Layout(width, height, 0, start.tree), {(a, b) for a, b, *_ in rows})
        assert all(n <= kind.count for n, kind in zip(start.counts, kinds, strict=True))
        assert start.value <= best
        assert charging.bound is None or charging.bound >= best
    search = LimitedSearch(width, height, kinds, charges=charging.charges)
    search.run(Work(10**9), 10**9)
    assert (search.best_value, search.bound) == (best, best)


@settings(max_examples=20)
@given(
    st.integers(60, 160), st.integers(60, 160), st.integers(0, 3), st.booleans(),
    st.lists(
        st.tuples(st.integers(12, 60), st.integers(12, 60), st.integers(1, 999), st.integers(1, 3)),
        min_size=2, max_size=5,
    ),
)  # fmt: skip
def test_a_search_goes_on_where_it_was_halted(
    width: int, height: int, kerf: int, short: bool, rows: list[tuple[int, int, int, int]]
) -> None:
    kinds = [Kind((Lying(f"{i}", a, b, v),), v, n) for i, (a, b, v, n) in enumerate(rows)]
    cutter = Cutter(kerf, max(width, height) if short else None)
    at_once = best_limited(width, height, kinds, cutter, steps=500_000)
    # What is too much work to be proved at once says nothing of the other, and takes minutes.
    assume(at_once.proved)
    charging = Charging((width, height), kinds, cutter, (0, 0), 20)
    search = LimitedSearch(width, height, kinds, cutter, charges=charging.charges)
    bounds = [search.bound]
    for start in islice(charging.layouts(), 6):
        assert start.value <= at_once.value
        check_layout(Layout(width, height, 0, start.tree), {(a, b) for a, b, *_ in rows}, kerf)
        search.better(start)
        search.run(Work(10**9), 0)
        bounds.append(search.bound)
    search.run(Work(10**9), 10**9)
    assert bounds == sorted(bounds, reverse=True)
    assert (search.best_value, search.proved) == (at_once.value, True)
    found = search.result((0, 0))
    check_layout(Layout(width, height, 0, found.tree), {(a, b) for a, b, *_ in rows}, kerf)
    assert sum(n * k.value for n, k in zip(found.counts, kinds, strict=True)) == found.value


@settings(max_examples=40)
@given(
    st.integers(40, 110), st.integers(40, 110), st.integers(0, 3),
    st.lists(st.tuples(st.integers(12, 60), st.integers(12, 60), st.integers(1, 10**6)),
             min_size=1, max_size=4),
)  # fmt: skip
def test_quick_layouts_lie_below_the_best_and_bounds_above(
    width: int, height: int, kerf: int, rows: list[tuple[int, int, int]]
) -> None:
    lying = [Lying(f"{i}", a, b, v) for i, (a, b, v) in enumerate(rows)]
    best = best_layout(width, height, lying, Cutter(kerf)).value
    sizes = {(p.width_nm, p.height_nm) for p in lying}
    for points in (12, 1000, None):
        pricer = Pricer(width, height, lying, Cutter(kerf), points)
        for found in pricer.best([p.value for p in lying], most=4):
            assert found.value <= best
            check_layout(Layout(width, height, 0, found.tree), sizes, kerf)
            cut = sum(
                lying[int(leaf.piece.name)].value for leaf in found.tree.leaves() if leaf.piece
            )
            assert found.value <= cut <= best
    assert most_by_rounding(width, height, lying, Cutter(kerf)) >= best


@settings(max_examples=60)
@given(
    st.integers(40, 110), st.integers(40, 110), st.integers(0, 3),
    st.lists(st.tuples(st.integers(8, 60), st.integers(8, 60), st.integers(1, 10**6)),
             min_size=1, max_size=4),
    st.one_of(st.none(), st.integers(0, 6)),
)  # fmt: skip
def test_blocks_hold_what_they_say_and_no_more_than_the_best(
    width: int, height: int, kerf: int, rows: list[tuple[int, int, int]], left: int | None
) -> None:
    lying = [Lying(f"{i}", a, b, v) for i, (a, b, v) in enumerate(rows)]
    cutter, values = Cutter(kerf), [v for *_, v in rows]
    most = best_layout(width, height, lying, cutter).value
    blocks = Blocks((width, height), lying, range(len(rows)), len(rows), cutter)
    limit = None if left is None else np.full(len(rows), left)
    found = blocks.best(values, 4, limit)
    for layout in found:
        tree = blocks.tree(layout, (5, 5))
        check_layout(Layout(width + 10, height + 10, 5, tree), {(a, b) for a, b, _ in rows}, kerf)
        names = [int(leaf.piece.name) for leaf in tree.leaves() if leaf.piece]
        assert [names.count(i) for i in range(len(rows))] == layout.counts.tolist()
        assert tree.cuts() == blocks.cuts(layout)
        assert layout.counts @ np.array(values) <= most
    if left is None:
        grids = [
            (width + kerf) // (a + kerf) * ((height + kerf) // (b + kerf)) * v for a, b, v in rows
        ]
        assert max((int(f.counts @ np.array(values)) for f in found), default=0) >= max(grids)


@pytest.mark.parametrize(("side", "longest", "sheets"), [(30, 10, 2), (100, 35, 2)])
def test_one_of_each_kind_takes_no_more_sheets_than_its_area(
    side: int, longest: int, sheets: int
) -> None:
    """Classes II and IV of Berkey and Wang, J. Oper. Res. Soc. 38 (1987); numbers of our own."""
    chance = np.random.default_rng(7)
    wanted = [
        Wanted(f"p{i}", Piece(f"p{i}", int(w) * MM, int(h) * MM, may_turn=False), 1)
        for i, (w, h) in enumerate(chance.integers(1, longest + 1, (40, 2)))
    ]
    whole = sum(w.piece.width_nm * w.piece.height_nm for w in wanted)
    assert -(-whole // (side * MM) ** 2) == sheets
    offer = SheetOffer("s", Sheet("s", side * MM, side * MM), 1, (Break(1, 1),))
    plan = plan_batch(wanted, [offer], effort=30_000_000)
    assert (plan.spend, plan.proved) == (sheets, True)


names = st.sampled_from(["width", "height", None])
sheet_rows = st.lists(
    st.fixed_dictionaries(
        {"width": st.integers(60, 400), "height": st.integers(60, 400), "grain": names,
         "pack": st.integers(1, 8), "on_hand": st.integers(0, 5), "trim": st.integers(0, 5),
         "limit": st.sampled_from([None, None, None, 0, 40]),
         "price": st.integers(10, 900).map(lambda n: f"{n / 100:.2f}")}
    ), min_size=1, max_size=3,
)  # fmt: skip
piece_rows = st.lists(
    st.fixed_dictionaries(
        {"width": st.integers(20, 200), "height": st.integers(20, 200), "grain": names,
         "count": st.integers(0, 40), "turn": st.booleans()}
    ), min_size=1, max_size=5,
)  # fmt: skip


@settings(max_examples=30)
@given(
    sheet_rows, piece_rows, st.sampled_from([0, 0, 1.5, 3]),
    st.sampled_from([None, None, 250, 120]), st.sampled_from([None, None, 0, 1, 2]),
    st.sampled_from(["live", "live", "normal"]),
)  # fmt: skip
def test_a_stranger_finds_nothing_wrong(
    sheets: list[dict[str, Any]], pieces: list[dict[str, Any]], kerf: float,
    longest: int | None, stages: int | None, effort: str,
) -> None:  # fmt: skip
    data = {
        "unit": "mm", "goal": "cover", "kerf": kerf, "effort": effort, "smallest_offcut": [30, 30],
        "longest_cut": longest, "stages": stages,
        "sheets": [{"name": f"s{i}", **row} for i, row in enumerate(sheets)],
        "pieces": [{"name": f"p{i}", **row} for i, row in enumerate(pieces)],
    }  # fmt: skip
    reader = read_problem(json.dumps(data), parse_length)
    fits = [
        any(yield_of(w.piece, o.sheet, reader.cutter).best for o in reader.offers)
        for w in reader.wanted
    ]
    if not all(fits):
        with pytest.raises(DomainError, match="fits on no sheet"):
            answer(reader)
        return
    try:
        found = answer(reader)
    except DomainError as error:
        # So little work may be too little where only so many sheets can be had.
        scarce = any(row["limit"] is not None for row in sheets)
        if scarce and effort == "live" and "too little to find any plan" in error.message:
            return
        raise
    if found["status"] == "infeasible":
        assert found["why"]
        return
    check_answer(data, found)


def batch(progress: Any = None) -> Any:
    pieces = [("a", 240, 160, 96), ("b", 314, 170, 40), ("c", 105, 148, 130)]
    wanted = [Wanted(n, Piece(n, w, h, 1), k) for n, w, h, k in pieces]
    offers = [
        SheetOffer("big", Sheet("big", 640, 900), 10, (Break(1, 1900), Break(3, 1700))),
        SheetOffer("small", Sheet("small", 420, 594), 25, (Break(1, 2100),)),
    ]
    return plan_batch(wanted, offers, KNIFE, Effort.NORMAL, progress)


def test_mixing_kinds_saves_and_repeats_itself() -> None:
    first, second = batch(), batch()
    assert first.spend == second.spend
    assert [(u.counts, u.repeats) for u in first.uses] == [
        (u.counts, u.repeats) for u in second.uses
    ]
    assert any(len(use.counts) > 1 for use in first.uses)
    assert first.bound <= first.spend


def test_a_plan_is_there_whenever_one_stops() -> None:
    said: list[str] = []

    def stop_soon(doing: str, share: float) -> bool:
        assert 0 <= share <= 1
        said.append(doing)
        return len(said) > 2

    plan = batch(progress=stop_soon)
    assert plan.spend > 0
    assert said[0] == "looking for layouts"


def test_limits_that_cannot_be_kept_are_said() -> None:
    offers = [SheetOffer("s", Sheet("s", 100, 100), 1, (Break(1, 5),), limit=1)]
    wanted = [Wanted("a", Piece("a", 60, 60), 2), Wanted("b", Piece("b", 10, 10), 1)]
    with pytest.raises(NoPlanError):
        plan_batch(wanted, offers)


@cache
def ways_to_cut(w: int, h: int, sizes: tuple[tuple[int, int], ...]) -> frozenset[tuple[int, ...]]:
    """Every set of pieces that straight cuts can free from a rectangle, none left out."""
    found = {(0,) * len(sizes)}
    for i, (a, b) in enumerate(sizes):
        if a <= w and b <= h:
            found.add(tuple(int(i == j) for j in range(len(sizes))))
    splits = [((x, h), (w - x, h)) for x in range(1, w // 2 + 1)]
    splits += [((w, y), (w, h - y)) for y in range(1, h // 2 + 1)]
    for one, other in splits:
        found |= {
            tuple(p + q for p, q in zip(first, second, strict=True))
            for first in ways_to_cut(*one, sizes)
            for second in ways_to_cut(*other, sizes)
        }
    return frozenset(found)


def least_by_integer_model(wanted: list[Wanted], offers: list[SheetOffer]) -> int | None:
    """The least money over every layout there is, solved whole by SciPy (its MILP)."""
    sizes = tuple((w.piece.width_nm, w.piece.height_nm) for w in wanted)
    cuts = [
        (index, way)
        for index, offer in enumerate(offers)
        for way in ways_to_cut(*offer.sheet.usable, sizes)
        if any(way)
    ]
    columns = len(cuts) + len(offers)
    pieces = np.zeros((len(wanted), columns))
    sheets = np.zeros((len(offers), columns))
    for at, (index, way) in enumerate(cuts):
        pieces[:, at] = way
        sheets[index, at] = 1
    for index, offer in enumerate(offers):
        sheets[index, len(cuts) + index] = -offer.pack
    cost = np.zeros(columns)
    cost[len(cuts) :] = [offer.breaks[0].price for offer in offers]
    most = np.full(columns, np.inf)
    for index, offer in enumerate(offers):
        if offer.limit is not None:
            most[len(cuts) + index] = offer.limit // offer.pack
    found = milp(
        cost,
        constraints=[
            LinearConstraint(pieces, lb=[w.count for w in wanted]),
            LinearConstraint(sheets, ub=[offer.on_hand for offer in offers]),
        ],
        integrality=np.ones(columns),
        bounds=Bounds(0, most),
    )
    return round(found.fun) if found.success else None


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.integers(3, 8), st.integers(3, 8), st.integers(1, 30), st.integers(1, 6),
                       st.integers(0, 2), st.sampled_from([None, None, 6])),
             min_size=1, max_size=3),
    st.lists(st.tuples(st.integers(1, 5), st.integers(1, 5), st.integers(1, 15)),
             min_size=1, max_size=3),
)  # fmt: skip
def test_small_batches_equal_an_integer_model_solved_whole(
    sheets: list[tuple[int, int, int, int, int, int | None]], pieces: list[tuple[int, int, int]]
) -> None:
    offers = [
        SheetOffer(f"s{i}", Sheet(f"s{i}", w, h), pack, (Break(1, price * pack),), here, limit)
        for i, (w, h, price, pack, here, limit) in enumerate(sheets)
    ]
    wanted = [
        Wanted(f"p{i}", Piece(f"p{i}", w, h, may_turn=False), n)
        for i, (w, h, n) in enumerate(pieces)
    ]
    best = least_by_integer_model(wanted, offers)
    if best is None:
        with pytest.raises(NoPlanError):
            plan_batch(wanted, offers, effort=2_000_000)
        return
    plan = plan_batch(wanted, offers, effort=2_000_000)
    assert plan.bound <= best <= plan.spend
    assert not plan.proved or plan.spend == best
