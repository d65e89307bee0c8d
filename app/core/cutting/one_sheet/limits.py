"""Kinds of pieces of which only so many are cut, and layouts within those limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from app.core.cutting.cut_sequence import tidied
from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.one_sheet.unlimited import Lying, cut_free
from app.core.cutting.tree import Part, joined, with_parts


@dataclass(frozen=True)
class Kind:
    """A kind of piece: the ways it may lie, its worth, and how many there are to cut."""

    ways: tuple[Lying, ...]
    value: int
    count: int


@dataclass(frozen=True)
class Start:
    """A layout known before a search, its value and its pieces of each kind."""

    value: int
    tree: Part
    counts: tuple[int, ...]


def counts_of(tree: Part, names: Mapping[str, int], kinds: int) -> npt.NDArray[np.int64]:
    """Pieces of each kind in a layout."""
    counts = np.zeros(kinds, dtype=np.int64)
    for leaf in tree.leaves():
        if leaf.piece:
            counts[names[leaf.piece.name]] += 1
    return counts


def without_surplus(
    tree: Part, limits: Sequence[int], names: Mapping[str, int]
) -> tuple[Part, tuple[int, ...]]:
    """A layout with the pieces beyond the limits left uncut, and what is cut of each kind."""
    counts = [0] * len(limits)

    def kept(part: Part) -> Part:
        if part.piece is None:
            return with_parts(part, tuple(map(kept, part.parts))) if part.parts else part
        kind = names[part.piece.name]
        if counts[kind] >= limits[kind]:
            return Part(part.x_nm, part.y_nm, part.width_nm, part.height_nm)
        counts[kind] += 1
        return part

    return kept(tree), tuple(counts)


def within(
    tree: Part, kinds: Sequence[Kind], names: Mapping[str, int], cutter: Cutter = KNIFE
) -> Start:
    """A layout with its surplus left out, and pieces that fit put in what is over."""
    found, counts = without_surplus(tree, [k.count for k in kinds], names)
    if cutter.is_free(tree.width_nm, tree.height_nm):
        left = [k.count - n for k, n in zip(kinds, counts, strict=True)]
        found = joined(filled_up(tidied(found, cutter.kerf_nm), kinds, left, cutter.kerf_nm))
        counts = tuple(k.count - n for k, n in zip(kinds, left, strict=True))
    return Start(sum(n * k.value for n, k in zip(counts, kinds, strict=True)), found, counts)


def filled_up(tree: Part, kinds: Sequence[Kind], left: list[int], kerf: int) -> Part:
    """A layout with more pieces: the most valuable first, each where least room is lost.

    ``left`` is how many there are of each kind, and goes down.
    """
    gaps = [leaf for leaf in tree.leaves() if leaf.piece is None]
    filled: dict[Part, Part] = {}
    for kind in sorted(range(len(kinds)), key=lambda at: -kinds[at].value):
        while left[kind] and kinds[kind].value:
            fits = [
                (gap.width_nm * gap.height_nm, at, way)
                for at, gap in enumerate(gaps)
                for way in kinds[kind].ways
                if way.width_nm <= gap.width_nm and way.height_nm <= gap.height_nm
            ]
            if not fits:
                break
            _, at, way = min(fits, key=lambda fit: fit[:2])
            gap = gaps.pop(at)
            filled[gap] = cut_free(way, gap.x_nm, gap.y_nm, gap.width_nm, gap.height_nm, kerf)
            gaps += [leaf for leaf in filled[gap].leaves() if leaf.piece is None]
            left[kind] -= 1

    def built(part: Part) -> Part:
        if part.parts:
            return with_parts(part, tuple(map(built, part.parts)))
        return built(filled[part]) if part.piece is None and part in filled else part

    return built(tree)
