"""Charges on limited kinds: step by step against the subgradient rule written down anew."""

from __future__ import annotations

from itertools import islice
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.one_sheet import charges as module
from app.core.cutting.one_sheet.charges import MOST_SCALED, Charging
from app.core.cutting.one_sheet.limits import Kind, Start, counts_of, within
from app.core.cutting.one_sheet.unlimited import Lying

Rows = list[tuple[int, int, int, int]]


def kinds_of(rows: Rows) -> list[Kind]:
    """Kinds given as width, height, value and how many there are."""
    return [Kind((Lying(f"{i}", w, h, v),), v, n) for i, (w, h, v, n) in enumerate(rows)]


class Told:
    """A pricer that writes down the worths it is asked for."""

    def __init__(self, pricer: Any) -> None:
        self.pricer, self.asked = pricer, []  # type: ignore[var-annotated]

    def best(self, worth: list[int], origin: tuple[int, int]) -> Any:
        self.asked.append(list(worth))
        return self.pricer.best(worth, origin)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.pricer, name)


def by_the_rule(charging: Charging, kinds: list[Kind], cutter: Cutter) -> tuple[Any, ...]:
    """Held, Wolfe and Crowder, Math. Programming 6, 1974: a step along what is beyond the limits,
    as long as the gap asks; halved when three in a row brought nothing, ended at a twentieth.

    Their lambda begins at 1 here; a kind below its limit is given nothing back that it was not
    charged. Returns the worths asked for, the least bound, the charges that gave it, the layouts.
    """
    limits = [kind.count for kind in kinds]
    charged, step, in_vain, most = [0] * len(kinds), 1.0, 0, 0
    asked: list[list[int]] = []
    starts: list[Start] = []
    least, best = None, list(charged)
    for _ in range(40):
        asked.append(
            [max(k.value * charging.scale - c, 0) for k, c in zip(kinds, charged, strict=True)]
        )
        found = charging.pricer.best(asked[-1], (0, 0))
        if not found:
            break
        if charging.counting is not None:
            worth = [max(k.value - c / charging.scale, 0.0)
                     for k, c in zip(kinds, charged, strict=True)]  # fmt: skip
            tree = charging.counting.attempt(np.array(worth), np.array(limits), 0, (0, 0))
            starts.append(within(tree, kinds, charging.names, cutter))
        starts.append(within(found[0].tree, kinds, charging.names, cutter))
        most = max(most, *(start.value for start in starts))
        total = found[0].value + sum(c * n for c, n in zip(charged, limits, strict=True))
        in_vain += 1
        if least is None or total < least:
            least, best, in_vain = total, list(charged), 0
        elif in_vain in range(3, 99, 3):
            step /= 2
        cut = counts_of(found[0].tree, charging.names, len(kinds)).tolist()
        over = [
            0 if n < limit and c == 0 else n - limit
            for n, limit, c in zip(cut, limits, charged, strict=True)
        ]
        if step < 0.05 or not any(over):
            break
        gap = max(least - most * charging.scale, int(least / 1000))
        length = step * gap / sum(o * o for o in over)
        charged = [
            int(min(max(c + length * o, 0), k.value * charging.scale))
            for c, o, k in zip(charged, over, kinds, strict=True)
        ]
    return asked, least, best, starts


def check_by_the_rule(size: tuple[int, int], rows: Rows, cutter: Cutter) -> Charging:
    kinds = kinds_of(rows)
    charging = Charging(size, kinds, cutter, (0, 0), None)
    asked, least, best, starts = by_the_rule(charging, kinds, cutter)
    told = Told(charging.pricer)
    charging.pricer = told  # type: ignore[assignment]
    found = list(islice(charging.layouts(), len(starts) + 1))
    assert found[: len(starts)] == starts
    if charging.counting is not None:
        # From then on at the best charges, sent astray by the numbers from one on.
        worth = np.array([k.value for k in kinds]) - np.array(best) / charging.scale
        limits = np.array([k.count for k in kinds])
        tree = charging.counting.attempt(np.maximum(worth, 0), limits, 1, (0, 0))
        assert found[-1] == within(tree, kinds, charging.names, cutter)
    assert told.asked == asked
    assert (charging.least, list(charging.charges.each)) == (least, best)
    assert charging.charges.whole == sum(c * k.count for c, k in zip(best, kinds, strict=True))
    return charging


def test_one_kind_is_charged_until_it_is_worth_as_much_as_the_other() -> None:
    # Four of 10 are 40; two, and two of 9, are 38. A step of (40 - 38) / 4 × 2 is 1, and at 9 and 9
    # nothing is better than 36, with 2 × 1 paid back 38.
    charging = check_by_the_rule((10, 10), [(5, 5, 10, 2), (5, 5, 9, 4)], KNIFE)
    assert charging.charges.each == (1_000, 0)
    assert (charging.charges.whole, charging.charges.scale, charging.bound) == (2_000, 1_000, 38)


def test_a_kind_that_is_charged_its_whole_worth_ends_it() -> None:
    # Four of 10 are 40, two 20: the charge is (40 - 20) / 4 × 2 = 10, and nothing is worth anything.
    charging = check_by_the_rule((10, 10), [(5, 5, 10, 2)], KNIFE)
    assert charging.bound == 40


@settings(max_examples=40)
@given(
    st.integers(30, 90), st.integers(30, 90), st.integers(0, 2), st.booleans(),
    st.lists(
        st.tuples(st.integers(7, 40), st.integers(7, 40), st.integers(1, 90), st.integers(1, 3)),
        min_size=2, max_size=5,
    ),
)  # fmt: skip
def test_charges_follow_the_rule(
    width: int, height: int, kerf: int, short: bool, rows: Rows
) -> None:
    check_by_the_rule((width, height), rows, Cutter(kerf, max(width, height) if short else None))


@pytest.mark.parametrize(
    ("value", "count", "scale"),
    [(MOST_SCALED // 2 - 1, 2, 1_000), (MOST_SCALED // 2, 2, 1), (1, 1, 1_000)],
)
def test_charges_are_finer_where_there_is_room(value: int, count: int, scale: int) -> None:
    charging = Charging((10, 10), kinds_of([(5, 5, value, count)]), KNIFE, (0, 0), None)
    assert charging.scale == scale


def test_no_bound_where_sizes_were_rounded() -> None:
    # Elevens and thirteens in 100 by 100 with three places a side are planned larger than they are.
    kinds = kinds_of([(11, 13, 7, 2), (13, 11, 6, 9)])
    for points, bounded in ((None, True), (3, False)):
        charging = Charging((100, 100), kinds, KNIFE, (0, 0), points)
        list(islice(charging.layouts(), 3))
        assert charging.least is not None
        assert (charging.bound is not None) is bounded


def test_layouts_end_only_where_counting_cannot_serve() -> None:
    kinds = kinds_of([(5, 5, 10, 2), (5, 4, 9, 4)])
    free = Charging((10, 10), kinds, KNIFE, (0, 0), None)
    assert len(list(islice(free.layouts(), 200))) == 200
    turns = Charging((10, 10), kinds, Cutter(stages=2), (0, 0), None)
    assert len(list(islice(turns.layouts(), 200))) <= module.STEPS
