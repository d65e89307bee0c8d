"""Rows across a roll for few pieces: no shorter ones exist, against every choice tried."""

from __future__ import annotations

import itertools
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.model import Wanted
from app.core.cutting.tree import Layout, is_whole
from app.core.length import MM
from app.core.paper import Piece, Sheet
from app.core.planning import rows
from app.core.planning.rows import filled_rows

Sizes = list[tuple[int, int, int]]


def cut(
    sizes: Sizes, wide: int, kerf: int = 0, trim: int = 0, most: int | None = None,
    grain: str | None = None,
) -> list[Layout]:  # fmt: skip
    wanted = [
        Wanted(f"p{n}", Piece(f"p{n}", w * MM, h * MM, grain=grain), count)
        for n, (w, h, count) in enumerate(sizes)
    ]
    sheet = Sheet("roll", (wide + 2 * trim) * MM, 1, grain, trim_nm=trim * MM)
    found = filled_rows(wanted, sheet, kerf * MM, most if most is None else most * MM)
    assert all(each.repeats == 1 for each in found)
    return [each.layout for each in found]


def heights(layouts: list[Layout]) -> list[int]:
    return [layout.height_nm // MM for layout in layouts]


def least(sizes: Sizes, wide: int, kerf: int, most: int | None = None) -> int | None:
    """The least length by whole rows, each piece either way; none where some piece fits no way."""
    lying = [(w, h) for w, h, count in sizes for _ in range(count)]
    best = None
    for turns in itertools.product((False, True), repeat=len(lying)):
        sized = [(h, w) if turn else (w, h) for (w, h), turn in zip(lying, turns, strict=True)]
        if any(w > wide or (most is not None and h > most) for w, h in sized):
            continue
        for parts in partitions(list(range(len(sized)))):
            if all(sum(sized[i][0] + kerf for i in row) <= wide + kerf for row in parts):
                high = sum(max(sized[i][1] for i in row) + kerf for row in parts) - kerf
                best = high if best is None else min(best, high)
    return best


def partitions(things: list[int]):  # type: ignore[no-untyped-def]
    if not things:
        yield []
        return
    first, *rest = things
    for found in partitions(rest):
        yield [[first], *found]
        for n in range(len(found)):
            yield [*found[:n], [first, *found[n]], *found[n + 1 :]]


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(20, 90), st.integers(20, 90), st.integers(1, 3)),
        min_size=1, max_size=2,
    ),
    st.integers(60, 200), st.sampled_from([0, 3]), st.sampled_from([0, 7]),
    st.sampled_from([None, 45, 70]),
)  # fmt: skip
def test_no_rows_are_shorter(
    sizes: Sizes, wide: int, kerf: int, trim: int, most: int | None
) -> None:
    layouts = cut(sizes, wide, kerf, trim, most)
    shortest = least(sizes, wide, kerf, most)
    if shortest is None:
        assert layouts == []
        return
    assert sum(high + kerf for high in heights(layouts)) - kerf == shortest
    pieces = Counter(piece.name for layout in layouts for piece in layout.pieces)
    assert pieces == {f"p{n}": count for n, (_, _, count) in enumerate(sizes)}
    for layout in layouts:
        assert layout.width_nm == wide * MM
        assert layout.trim_nm == 0
        assert is_whole(layout, kerf * MM)


def test_the_pieces_of_a_row_lie_side_by_side_and_what_is_over_them_is_cut_off() -> None:
    """Worked by hand: 60 × 40 and 30 × 20 in a row of 100 with a blade of 2."""
    [layout] = cut([(60, 40, 1), (30, 20, 1)], 100, kerf=2, grain="width")
    at = {
        p.name: tuple(nm / MM for nm in (p.x_nm, p.y_nm, p.width_nm, p.height_nm))
        for p in layout.pieces
    }
    assert at == {"p0": (0, 0, 60, 40), "p1": (62, 0, 30, 20)}
    wide, low, rest = layout.tree.parts
    assert (wide.piece is not None, wide.x_nm) == (True, 0)
    assert (low.cut, [part.y_nm // MM for part in low.parts]) == ("across", [0, 22])
    assert [part.height_nm // MM for part in low.parts] == [20, 18]
    assert (rest.x_nm // MM, rest.width_nm // MM, rest.height_nm // MM) == (94, 6, 40)
    assert (layout.tree.width_nm, layout.tree.height_nm) == (100 * MM, 40 * MM)


def test_a_piece_as_wide_as_the_roll_is_a_row_without_a_cut() -> None:
    [layout] = cut([(100, 30, 1)], 100, grain="width")
    assert layout.tree.piece is not None
    assert layout.tree.parts == ()
    [nearly] = cut([(99, 30, 1)], 100, kerf=2, grain="width")
    assert (nearly.tree.width_nm, nearly.tree.cut, len(nearly.tree.parts)) == (100 * MM, "down", 1)


def test_over_a_piece_a_blade_s_width_lower_than_its_row_nothing_is_left() -> None:
    for high, strips in ((38, 1), (37, 2)):
        [layout] = cut([(60, 40, 1), (30, high, 1)], 92, kerf=2, grain="width")
        low = layout.tree.parts[1]
        assert (low.height_nm // MM, len(low.parts)) == (40, strips)
        assert len(layout.tree.parts) == 2  # and beside them nothing either


def test_lower_rows_are_asked_for_where_lengths_are_short() -> None:
    assert heights(cut([(60, 40, 2)], 100)) == [60]
    assert heights(cut([(60, 40, 2)], 100, most=60)) == [60]
    assert heights(cut([(60, 40, 2)], 100, most=59)) == [40, 40]
    assert cut([(60, 40, 2)], 100, most=39) == []


def test_pieces_too_wide_or_too_many_are_left_to_the_planner(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert heights(cut([(100, 30, 1)], 100, grain="width")) == [30]
    assert cut([(100, 30, 1)], 99, grain="width") == []
    assert cut([(100, 30, 1), (10, 10, 1)], 99, grain="width") == []
    sizes = [(20, 10, 5), (20, 15, 4)]
    for states, pieces, planned in ((30, 9, True), (29, 9, False), (30, 8, False)):
        monkeypatch.setattr(rows, "MOST_STATES", states)
        monkeypatch.setattr(rows, "MOST_PIECES", pieces)
        assert bool(cut(sizes, 100)) is planned


def test_what_is_planned_at_most() -> None:
    """As the two sizes of an order of twenty-odd of each, and as 150 of one."""
    assert (rows.MOST_STATES, rows.MOST_PIECES) == (600, 150)
    assert len(cut([(20, 10, 150)], 100, grain="width")) == 30
    assert cut([(20, 10, 151)], 100, grain="width") == []
