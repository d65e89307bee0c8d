"""A layout and its cuts: what is counted, what is kept, how cuts are joined. By hand."""

from __future__ import annotations

import pytest

from app.core.cutting.tree import Layout, Part, Placed, is_whole, joined


def piece(x: int, y: int, width: int, height: int) -> Part:
    return Part(x, y, width, height, piece=Placed("a", x, y, width, height, turned=False))


def cut_once(left: Part, right: Part, height: int) -> Part:
    return Part(left.x_nm, left.y_nm, left.width_nm + right.width_nm, height, "down", (left, right))


ONE_CUT = cut_once(piece(0, 0, 30, 60), Part(30, 0, 20, 60), 60)


@pytest.mark.parametrize(("trim", "cuts"), [(0, 1), (5, 5)])
def test_trimmed_edges_are_four_cuts_more(trim: int, cuts: int) -> None:
    assert Layout(50 + 2 * trim, 60 + 2 * trim, trim, ONE_CUT).cuts == cuts


@pytest.mark.parametrize(
    ("least", "kept"),
    [(None, 0), ((20, 60), 1), ((60, 20), 1), ((21, 60), 0), ((20, 61), 0), ((1, 1), 1)],
)
def test_a_rest_is_kept_at_the_very_size_that_is_worth_it(
    least: tuple[int, int] | None, kept: int
) -> None:
    found = Layout(50, 60, 0, ONE_CUT).offcuts_worth_keeping(least)
    assert [(p.width_nm, p.height_nm) for p in found] == [(20, 60)] * kept


def test_cuts_of_one_direction_are_listed_in_one_part() -> None:
    inner = cut_once(piece(30, 0, 10, 60), piece(40, 0, 10, 60), 60)
    found = joined(Part(0, 0, 50, 60, "down", (piece(0, 0, 30, 60), inner)))
    assert [part.x_nm for part in found.parts] == [0, 30, 40]
    assert (found.cut, found.cuts()) == ("down", 2)
    crossed = Part(30, 0, 20, 60, "across", (piece(30, 0, 20, 30), piece(30, 30, 20, 30)))
    whole = Part(0, 0, 50, 60, "down", (piece(0, 0, 30, 60), crossed))
    assert joined(whole) == whole
    assert joined(piece(0, 0, 30, 60)) == piece(0, 0, 30, 60)


@pytest.mark.parametrize(
    ("kerf", "right", "whole"),
    [
        (0, 20, True),
        (0, 19, False),
        (0, 21, False),
        (3, 17, True),
        (3, 18, False),
        (3, 14, True),
        (3, 13, False),
    ],
)
def test_parts_fill_a_sheet_or_do_not(kerf: int, right: int, whole: bool) -> None:
    tree = Part(0, 0, 50, 60, "down", (piece(0, 0, 30, 60), Part(30 + kerf, 0, right, 60)))
    assert is_whole(Layout(50, 60, 0, tree), kerf) is whole


def test_a_strip_thinner_than_the_blade_is_lost_in_the_cut() -> None:
    def tree(width: int) -> Layout:
        return Layout(width, 60, 0, Part(0, 0, width, 60, "down", (piece(0, 0, 30, 60),)))

    assert [is_whole(tree(width), 3) for width in (30, 32, 33, 34)] == [True, True, True, False]
    assert not is_whole(Layout(33, 60, 1, tree(33).tree), 3)
