"""Kinds of pieces of which only so many are cut, and layouts within those limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from app.core.cutting.layout import Part
from app.core.cutting.unlimited import Lying


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


def within(tree: Part, kinds: Sequence[Kind], names: Mapping[str, int]) -> Start:
    """A layout with the pieces beyond the limits left uncut."""
    counts = [0] * len(kinds)

    def kept(part: Part) -> Part:
        if part.piece is not None:
            kind = names[part.piece.name]
            if counts[kind] >= kinds[kind].count:
                return replace(part, piece=None)
            counts[kind] += 1
        return replace(part, parts=tuple(kept(p) for p in part.parts))

    found = kept(tree)
    value = sum(n * k.value for n, k in zip(counts, kinds, strict=True))
    return Start(value, found, tuple(counts))
