"""Layouts of an earlier plan: where a new one begins.

What was bought to be cut by a plan is enough only if the plan is found again. Begun from the
layouts it had, a new plan for the same list costs no more, and one for a list that changed a
little changes little.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from app.core.cutting.many_sheets.columns import Pool
from app.core.cutting.many_sheets.integer_master import Chosen
from app.core.cutting.many_sheets.linear_master import Column
from app.core.cutting.many_sheets.residual_heuristic import bought
from app.core.cutting.tree import Layout, Part, Placed


@dataclass(frozen=True)
class KnownLayout:
    """A layout that was to be cut ``repeats`` times."""

    layout: Layout
    repeats: int


def begun_from(known: Sequence[KnownLayout], pool: Pool) -> Chosen | None:
    """The plan these layouts give, each cut no more often than it is of use and was planned.

    All that still suit sheets and pieces are known to the pool from then on. None where they do
    not cover everything, or the sheets for them cannot be had.
    """
    left = np.array([w.count for w in pool.wanted])
    repeats: list[tuple[Column, int]] = []
    for row in known:
        column = _column(row.layout, pool)
        if column is None:
            continue
        counts = np.array(column.counts)
        cut = counts > 0
        times = min(row.repeats, int(np.max(-(-left[cut] // counts[cut]))))
        repeats.append((column, times))
        left = np.maximum(left - times * counts, 0)
    return None if left.any() else bought(repeats, pool)


def _column(layout: Layout, pool: Pool) -> Column | None:
    """The layout for the sheet it is of, less the pieces that nobody wants any more."""
    for sheet, supply in enumerate(pool.sheets):
        size = (supply.sheet.width_nm, supply.sheet.height_nm, supply.sheet.trim_nm)
        if size == (layout.width_nm, layout.height_nm, layout.trim_nm):
            tree = _wanted_only(layout.tree, pool)
            if tree is not None and _may_lie(tree, sheet, pool):
                return pool.take(sheet, pool.found(tree))[0]
    return None


def _wanted_only(tree: Part, pool: Pool) -> Part | None:
    """The same cuts, unwanted pieces left over; none where no piece is wanted."""
    parts = tuple(
        _wanted_only(part, pool) or replace(part, cut=None, parts=(), piece=None)
        for part in tree.parts
    )
    if tree.piece is not None:
        return tree if tree.piece.name in pool.index else None
    if not any(leaf.piece for part in parts for leaf in part.leaves()):
        return None
    return replace(tree, parts=parts)


def _may_lie(tree: Part, sheet: int, pool: Pool) -> bool:
    """Whether every piece still has the size and the ways to lie that it had."""
    placed = [leaf.piece for leaf in tree.leaves() if leaf.piece]
    return all(
        any(
            (way.width_nm, way.height_nm, way.turned) == (p.width_nm, p.height_nm, p.turned)
            for way in pool.lying[sheet][pool.index[p.name]]
        )
        for p in placed
    )


def as_data(known: Sequence[KnownLayout]) -> list[dict[str, Any]]:
    """Layouts as plain lists and numbers (nanometres), to be stored."""
    return [
        {
            "repeats": row.repeats,
            "sheet": [row.layout.width_nm, row.layout.height_nm, row.layout.trim_nm],
            "tree": _tree_data(row.layout.tree),
        }
        for row in known
    ]


def from_data(rows: Sequence[Mapping[str, Any]]) -> tuple[KnownLayout, ...]:
    """Layouts that were stored."""
    found = []
    for row in rows:
        width, height, trim = row["sheet"]
        found.append(
            KnownLayout(Layout(width, height, trim, _tree_from(row["tree"])), row["repeats"])
        )
    return tuple(found)


def _tree_data(part: Part) -> dict[str, Any]:
    data: dict[str, Any] = {"at": [part.x_nm, part.y_nm, part.width_nm, part.height_nm]}
    if part.piece is not None:
        data |= {"piece": part.piece.name, "turned": part.piece.turned}
    if part.parts:
        data |= {"cut": part.cut, "parts": [_tree_data(inner) for inner in part.parts]}
    return data


def _tree_from(data: Mapping[str, Any]) -> Part:
    x, y, width, height = data["at"]
    piece = None
    if "piece" in data:
        piece = Placed(data["piece"], x, y, width, height, data["turned"])
    parts = tuple(_tree_from(inner) for inner in data.get("parts", ()))
    return Part(x, y, width, height, data.get("cut"), parts, piece)
