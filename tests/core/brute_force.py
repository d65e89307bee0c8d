"""Slow and plain answers to compare with: every straight cut tried, and an independent checker."""

from __future__ import annotations

from functools import cache

from app.core.cutting.tree import Layout, Part


def most_by_trying(
    width: int, height: int, sizes: frozenset[tuple[int, int]], kerf: int = 0
) -> int:
    """The most pieces of the given sizes by every whole-number straight cut there is."""

    @cache
    def most(w: int, h: int) -> int:
        found = int(any(a <= w and b <= h for a, b in sizes))
        for x in range(1, w - kerf):
            found = max(found, most(x, h) + most(w - x - kerf, h))
        for y in range(1, h - kerf):
            found = max(found, most(w, y) + most(w, h - y - kerf))
        return found

    return most(width, height)


def check_layout(layout: Layout, sizes: set[tuple[int, int]], kerf: int = 0) -> None:
    """Say what is wrong with a layout: outside, overlapping, not cuttable, or not whole."""
    tree = layout.tree
    inside = layout.trim_nm
    assert (tree.x_nm, tree.y_nm) == (inside, inside)
    assert tree.width_nm == layout.width_nm - 2 * inside
    assert tree.height_nm == layout.height_nm - 2 * inside
    _check_part(tree, kerf)
    for piece in layout.pieces:
        assert (piece.width_nm, piece.height_nm) in sizes
    pieces = list(layout.pieces)
    for index, a in enumerate(pieces):
        for b in pieces[index + 1 :]:
            apart_x = a.x_nm + a.width_nm + kerf <= b.x_nm or b.x_nm + b.width_nm + kerf <= a.x_nm
            apart_y = a.y_nm + a.height_nm + kerf <= b.y_nm or b.y_nm + b.height_nm + kerf <= a.y_nm
            assert apart_x or apart_y


def _check_part(part: Part, kerf: int) -> None:
    """Parts of a cut lie beside one another, a kerf apart, and fill what is cut."""
    assert part.width_nm > 0
    assert part.height_nm > 0
    if part.piece:
        assert not part.parts
        assert (part.piece.x_nm, part.piece.y_nm) == (part.x_nm, part.y_nm)
        assert (part.piece.width_nm, part.piece.height_nm) == (part.width_nm, part.height_nm)
    at = part.x_nm if part.cut == "down" else part.y_nm
    for inner in part.parts:
        if part.cut == "down":
            assert (inner.x_nm, inner.y_nm, inner.height_nm) == (at, part.y_nm, part.height_nm)
            at += inner.width_nm + kerf
        else:
            assert part.cut == "across"
            assert (inner.x_nm, inner.y_nm, inner.width_nm) == (part.x_nm, at, part.width_nm)
            at += inner.height_nm + kerf
        _check_part(inner, kerf)
    if part.parts:
        end = part.x_nm + part.width_nm if part.cut == "down" else part.y_nm + part.height_nm
        # A last strip thinner than the blade is lost in the cut.
        assert end - kerf <= at - kerf <= end
