"""When each phase of the planner acts: at the very share of the work, the very number of states."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from app.core.cutting.many_sheets import phases
from app.core.cutting.many_sheets.phases import MANY_STATES, PHASES


class Recorded:
    """A search that only writes down what it is told to do."""

    def __init__(self, used: float = 0.0, **more: Any) -> None:
        self.did: list[tuple[str, Any]] = []
        self.several = self.buys = True
        self.best: Any = "a plan"
        self.quick: Any = None
        self.blocks: Any = "blocks"
        self.duals: Any = None
        self.pool, self.yields = "pool", {}
        self.exact = SimpleNamespace(states=MANY_STATES)
        self.work = SimpleNamespace(used=lambda: used, most=1_000_000, done=0)
        self.generation = SimpleNamespace(run=self._run, converged=False)
        self.master = SimpleNamespace(short=lambda: 0.0)
        for name, value in more.items():
            setattr(self, name, value)

    def _run(self, pricers: Any, until: float) -> str:
        self.did.append(("run", pricers))
        return "duals"

    def take(self, found: Any, **how: Any) -> None:
        self.did.append(("take", found))

    def choose_apart(self, steps: int) -> Any:
        self.did.append(("choose apart", steps))
        return SimpleNamespace(best=None, impossible=False, proved=False)

    def rounder(self, pricers: Any, *, careful: bool = True) -> tuple[Any, bool]:
        return pricers, careful

    def round(self, rounder: Any, numbers: range, until: float) -> None:
        self.did.append(("round", rounder))

    def choose(self, until: float) -> None:
        self.did.append(("choose", until))


@pytest.mark.parametrize(
    ("used", "best", "buys", "acts"),
    [
        (0.09, "a plan", True, True), (0.1, "a plan", True, False), (0.09, "a plan", False, False),
        (0.9, None, True, True),
    ],
)  # fmt: skip
def test_kinds_are_cut_apart_early_or_where_there_is_no_plan(
    monkeypatch: pytest.MonkeyPatch, used: float, best: Any, buys: bool, acts: bool
) -> None:
    monkeypatch.setattr(phases, "plainly_apart", lambda pool: "plainly")
    search = Recorded(used, best=best, buys=buys)
    phases.kinds_apart(search)  # type: ignore[arg-type]
    assert search.did == (
        [("take", "plainly"), ("choose apart", 100_000), ("take", None)] if acts else []
    )
    alone = Recorded(used, best=None, several=False)
    phases.kinds_apart(alone)  # type: ignore[arg-type]
    assert alone.did[1] == ("choose apart", 1_000_000)


@pytest.mark.parametrize(
    ("states", "coarse"), [(MANY_STATES - 1, False), (MANY_STATES, False), (MANY_STATES + 1, True)]
)
def test_sizes_are_rounded_up_where_there_are_too_many_states(
    monkeypatch: pytest.MonkeyPatch, states: int, coarse: bool
) -> None:
    monkeypatch.setattr(phases, "SheetPricers", lambda pool, points: ("coarse", points))
    search = Recorded(exact=SimpleNamespace(states=states))
    phases.coarse_layouts(search)  # type: ignore[arg-type]
    assert search.did == ([("run", ("coarse", phases.COARSE_POINTS))] if coarse else [])
    # Where the exact search is not too much, it finds the layouts for what rounding leaves too.
    later = Recorded(exact=SimpleNamespace(states=states), quick="quick")
    phases.exact_layouts(later)  # type: ignore[arg-type]
    assert later.quick == ("quick" if coarse else later.exact)
    assert later.did == [("run", later.exact)]


@pytest.mark.parametrize(
    ("used", "blocks", "acts"),
    [(0.69, "blocks", True), (0.7, "blocks", True), (0.71, "blocks", False), (0.2, None, False)],
)
def test_a_better_plan_soon_while_there_is_work(used: float, blocks: Any, acts: bool) -> None:
    search = Recorded(used, blocks=blocks)
    phases.quick_rounding(search)  # type: ignore[arg-type]
    assert search.did == ([("round", ("blocks", False)), ("choose", 0.3)] if acts else [])


def test_rounding_fills_with_what_is_quick_where_there_is_any() -> None:
    search = Recorded(quick="quick")
    phases.residual_rounding(search)  # type: ignore[arg-type]
    assert search.did == [("round", ("quick", True)), ("choose", 0.93)]
    slow = Recorded()
    phases.residual_rounding(slow)  # type: ignore[arg-type]
    assert slow.did == [("round", (slow.exact, True)), ("choose", 0.93)]


def test_every_phase_has_its_name_and_source() -> None:
    assert [phase.name for phase in PHASES] == [
        "block layouts", "kinds apart", "counted layouts", "coarse layouts", "exact layouts",
        "quick rounding", "dual bound", "residual rounding",
    ]  # fmt: skip
    assert all(phase.source for phase in PHASES)
