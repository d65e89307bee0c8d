"""What a sheet can be worth once a rectangle stands in its corner: never less than there is."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet import promises as module
from app.core.cutting.one_sheet.charges import Charges
from app.core.cutting.one_sheet.limited import best_limited
from app.core.cutting.one_sheet.limits import Kind
from app.core.cutting.one_sheet.promises import MOST_AREA, Promises
from app.core.cutting.one_sheet.unlimited import Lying

Rows = list[tuple[int, int, int, int]]


def promises_for(
    width: int, height: int, rows: Rows, kerf: int = 0, charges: Charges | None = None
) -> Promises:
    """For pieces of width, height, worth and limit that may not turn."""
    lying = [Lying(f"{i}", w, h, v) for i, (w, h, v, _) in enumerate(rows)]
    return Promises(
        (width + kerf, height + kerf), kerf, lying, [(w + kerf, h + kerf) for w, h, *_ in rows],
        list(range(len(rows))), [v for *_, v, _ in rows], [n for *_, n in rows], charges,
    )  # fmt: skip


def of(promises: Promises, width: int, height: int, value: int, charged: int = 0) -> int:
    one = np.array([1], dtype=np.int64)
    return int(promises.of(one * width, one * height, one * value, one * charged)[0])


ROWS = st.lists(
    st.tuples(st.integers(4, 15), st.integers(4, 15), st.integers(1, 60), st.integers(1, 4)),
    min_size=1, max_size=3,
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.integers(10, 30), st.integers(10, 30), st.integers(0, 2), ROWS, st.booleans())
def test_no_layout_with_a_piece_in_the_corner_is_worth_more(
    width: int, height: int, kerf: int, rows: Rows, charged: bool
) -> None:
    rows = [row for row in rows if row[0] <= width and row[1] <= height]
    if not rows:
        return
    each = tuple(v // 2 * 10 for *_, v, _ in rows)
    whole = sum(c * n for c, (*_, n) in zip(each, rows, strict=True))
    charges = Charges(each, 10, whole) if charged else None
    promises = promises_for(width, height, rows, kerf, charges)
    kinds = [Kind((Lying(f"{i}", w, h, v),), v, n) for i, (w, h, v, n) in enumerate(rows)]
    best = best_limited(width, height, kinds, Cutter(kerf), steps=200_000)
    found = [
        of(promises, w + kerf, h + kerf, v, each[at] if charged else 0)
        for at, (w, h, v, _) in enumerate(rows)
    ]
    # Some piece lies in the corner of the best one, and no promise falls below it.
    assert max(found) >= best.value
    assert all(promise >= v for promise, (*_, v, _) in zip(found, rows, strict=True))
    assert promises.by_area[-1] >= best.value


def test_promises_by_hand() -> None:
    # A sheet of 12 by 10; a piece of 6 by 10 for 5, of 6 by 5 for 3.
    many = promises_for(12, 10, [(6, 10, 5, 9), (6, 5, 3, 9)])
    # Beside the large one there is room for two small ones; beside and above a small one for three.
    assert (of(many, 6, 10, 5), of(many, 6, 5, 3)) == (11, 12)
    # By area alone: at the most two small ones and a large one, where there are no more.
    few = promises_for(12, 10, [(6, 10, 5, 1), (6, 5, 3, 2)])
    assert few.by_area[-1] == 11
    assert (of(few, 6, 10, 5), of(few, 6, 5, 3)) == (11, 11)
    # Nothing is left around what fills the sheet.
    assert of(many, 12, 10, 12) == 12


def test_what_is_charged_for_a_limit_is_paid_back() -> None:
    # Four places and two of the only piece: by area alone two more would do, charged there is one.
    rows = [(6, 5, 3, 2)]
    plain = of(promises_for(12, 10, rows), 6, 5, 3)
    charges = Charges((3000,), 1000, 6000)
    assert (plain, of(promises_for(12, 10, rows, charges=charges), 6, 5, 3, 3000)) == (9, 6)


@pytest.mark.parametrize("side", [1_000_000_000, 2_000_000_000, 1 << 30, 1 << 31])
def test_areas_are_kept_within_64_bits(side: int) -> None:
    promises = promises_for(side, side, [(side // 2, side // 2, 7, 9)])
    assert (promises.unit > 1) == (side * side >= MOST_AREA)
    assert promises.unit <= 10
    assert promises.by_area[-1] >= 4 * 7
    # Half of each side: three more of them lie around the first.
    assert of(promises, side // 2, side // 2, 7) >= 4 * 7
    assert of(promises, side, side, 28) >= 28


def test_areas_are_rounded_so_that_no_piece_is_lost() -> None:
    """However coarse the steps of the knapsack, four quarters of a sheet are counted."""
    for size, kerf in product((1_000, 1_001, 1_003, 99_999), (0, 1, 3)):
        side = (size + kerf) // 2 - kerf
        promises = promises_for(size, size, [(side, side, 5, 4)], kerf)
        assert promises.by_area[-1] == 20
        assert of(promises, side + kerf, side + kerf, 5) == 20


def test_where_there_are_too_many_places_area_must_do(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [(6, 5, 3, 9), (5, 4, 2, 9)]
    near = promises_for(12, 10, rows)
    monkeypatch.setattr(module, "MOST_AROUND", 1)
    far = promises_for(12, 10, rows)
    assert (near.around is None, far.around is None) == (False, True)
    assert of(far, 6, 5, 3) >= of(near, 6, 5, 3)
    assert far.steps < near.steps


def test_area_alone_by_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_AROUND", 1)
    # Thirteen by eleven corners, 25 of them used: 119 are under four times the 30 of a piece.
    promises = promises_for(12, 10, [(6, 5, 3, 9)])
    assert promises.around is None
    assert of(promises, 5, 5, 2) == 2 + 3 * 3
    assert of(promises, 4, 6, 2) == 2 + 4 * 3
    # In units of ten, half of each side used and three quarters left.
    far = promises_for(2_000_000_000, 2_000_000_000, [(1_000_000_000, 1_000_000_000, 7, 9)])
    assert (far.unit, far.around) == (10, None)
    assert of(far, 1_000_000_000, 1_000_000_000, 7) == 28
    assert of(far, 2_000_000_000, 1_000_000_000, 14) == 28
    assert of(far, 2_000_000_000, 2_000_000_000, 28) == 28
