"""No piece more than is wanted: what a plan cuts too many of is left uncut, in one large rest.

Layouts repeat, so the last sheets of a plan give more than is wanted. The sheet on which most of
the surplus lies is cut anew for just the pieces that are still wanted of it, close together along
one edge, so that the rest stays in one piece as large as can be.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import numpy.typing as npt

from app.core.cutting.cut_sequence import tidied, used
from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.limits import Kind, filled_up, without_surplus
from app.core.cutting.tree import Part, joined

Counts = npt.NDArray[np.int64]
MOST_PIECES, TRIES = 400, 10
"""Sheets with more pieces are not cut anew: only their surplus is left in."""


@dataclass(frozen=True)
class Sheets:
    """So many sheets of the ``sheet``-th size cut alike: what each gives, and its cuts."""

    sheet: int
    counts: tuple[int, ...]
    tree: Part
    repeats: int


def without_too_many(
    cut: Sequence[Sheets], wanted: Counts, areas: Sequence[float], kinds: Sequence[Sequence[Kind]],
    names: Mapping[str, int], cutter: Cutter,
) -> list[Sheets]:  # fmt: skip
    """The same sheets with exactly the pieces that are wanted.

    ``areas`` and ``wanted`` are by kind; ``kinds`` by sheet says how each may lie there.
    """
    rows = list(cut)
    area = np.array(areas)
    over = sum((row.repeats * np.array(row.counts) for row in rows), np.zeros_like(wanted)) - wanted
    while over.any():
        spare = [float((np.minimum(row.counts, over) * area).sum()) for row in rows]
        at = int(np.argmax(spare))
        row = rows[at]
        gone = np.minimum(row.counts, over)
        counts = tuple(int(n) for n in np.array(row.counts) - gone)
        rows[at : at + 1] = [_fewer(row)] if row.repeats > 1 else []
        over = over - gone
        if any(counts):
            tree = _anew(row.tree, counts, kinds[row.sheet], names, cutter)
            rows.append(Sheets(row.sheet, counts, tree, 1))
    return rows


def _fewer(row: Sheets) -> Sheets:
    return Sheets(row.sheet, row.counts, row.tree, row.repeats - 1)


def _anew(
    tree: Part, counts: Sequence[int], kinds: Sequence[Kind], names: Mapping[str, int],
    cutter: Cutter,
) -> Part:  # fmt: skip
    """A sheet cut into so many of each kind, its largest rest as large as was found."""
    left_in = tidied(without_surplus(tree, list(counts), names)[0], cutter.kerf_nm)
    found = [left_in]
    if sum(counts) <= MOST_PIECES and cutter.is_free(tree.width_nm, tree.height_nm):
        whole = Part(tree.x_nm, tree.y_nm, tree.width_nm, tree.height_nm)
        found += _close_together(whole, counts, kinds, cutter.kerf_nm)
    return max(found, key=lambda part: (_largest_rest(part), -part.cuts()))


def _largest_rest(tree: Part) -> int:
    return max((p.width_nm * p.height_nm for p in tree.leaves() if not p.piece), default=0)


def _close_together(
    whole: Part, counts: Sequence[int], kinds: Sequence[Kind], kerf: int
) -> Iterator[Part]:
    """Layouts with all pieces in a strip along one edge, each narrower than the one before."""
    area = sum(
        n * kind.ways[0].width_nm * kind.ways[0].height_nm
        for n, kind in zip(counts, kinds, strict=True)
        if n
    )
    for down, ways in product((False, True), _orientations(kinds)):
        side, length = whole.width_nm, whole.height_nm
        if not down:
            side, length = length, side
        # The strip is at least as wide as the pieces' area asks, at most as the sheet.
        low, high, reach = area // length - 1, side, side
        for _ in range(TRIES):
            strip = _strip(whole, reach, counts, ways, kerf, down=down)
            if strip is None:
                low = reach
            else:
                yield tidied(replace(whole, cut="down" if down else "across", parts=(strip,)), kerf)
                high = used(strip)[0 if down else 1]
            if high - low <= 1:
                break
            reach = (low + high) // 2


def _orientations(kinds: Sequence[Kind]) -> list[Sequence[Kind]]:
    """The kinds as they are, and where some may be turned, all lying one way or all the other."""
    if all(len(kind.ways) < 2 for kind in kinds):
        return [kinds]
    alone = [
        [replace(kind, ways=(kind.ways[turn],)) if len(kind.ways) > 1 else kind for kind in kinds]
        for turn in (0, -1)
    ]
    return [kinds, *alone]


def _strip(
    whole: Part, reach: int, counts: Sequence[int], kinds: Sequence[Kind], kerf: int, *, down: bool
) -> Part | None:
    """All pieces within so much of the sheet; none where they were not found to fit."""
    size = (reach, whole.height_nm) if down else (whole.width_nm, reach)
    left = list(counts)
    tree = filled_up(Part(whole.x_nm, whole.y_nm, *size), kinds, left, kerf)
    return None if any(left) else joined(tree)
