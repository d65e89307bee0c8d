"""The parts of a case: boards, spine piece, covering; the arc of a rounded back.

A back is rounded to a third of a circle (Zaehnsdorf 1890, ch. XI); tapes and lining reach 1 1/4 in
past it on each side (Bailey 1916, 20-21); by how much a ribbon is longer than the diagonal of the
leaf is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import INCH, MM
from app.core.structures.base import Flat, Panel
from app.core.structures.boards import LEAST_BOARD_NM
from app.core.structures.thread import over
from app.language import say, to_say

REACH_NM = 5 * INCH // 4
"""How far tapes and lining reach past the back on each side (Bailey 1916, 20-21)."""
SHORTER_NM = 10 * MM
"""By how much the lining is lower than the leaf."""
ARC = Fraction(12091995761561452, 10**16)
RISE = Fraction(2886751345948129, 10**16)
"""Of a third of a circle, for a chord of one: 2π/(3√3), and the height of its segment 1/(2√3)."""
RIBBON_MORE_NM, RIBBON_GLUED_NM = 50 * MM, 25 * MM
"""Past the diagonal of the leaf, and glued to the back."""


def arc_nm(chord_nm: int) -> int:
    """Over a back that is rounded to a third of a circle."""
    return round(ARC * chord_nm)


def rise_nm(chord_nm: int) -> int:
    """How far such a back stands out."""
    return round(RISE * chord_nm)


def ribbon_nm(n: Mapping[str, int]) -> int:
    """One ribbon: the diagonal of the leaf, what hangs out, and what is glued to the back."""
    return over(n["leaf_width"], n["leaf_height"]) + RIBBON_MORE_NM + RIBBON_GLUED_NM


def case_flats(n: Mapping[str, int], spine_nm: int) -> tuple[Flat, Flat, Flat]:
    """One of two boards, the spine piece, and the covering they are pasted to, inside up."""
    width, height = n["leaf_width"] - n["board_in"], n["leaf_height"] + 2 * n["square"]
    turn, joint = n["turn_in"], n["joint"]
    if width < LEAST_BOARD_NM:
        raise DomainError(
            say("So much narrower than the leaf hardly any board is left: under 20 mm."), "board_in"
        )
    if height < LEAST_BOARD_NM:
        raise DomainError(
            say("With this square hardly any board is left: under 20 mm high."), "square"
        )
    board = Flat(
        key="board", name=say("One board, outside up, spine at the left"), stock="board",
        width_nm=width, height_nm=height, grain="height", count=2,
    )  # fmt: skip
    strip = Flat(
        key="spine_piece", name=say("Spine piece"), stock="card", width_nm=spine_nm,
        height_nm=height, grain="height",
    )  # fmt: skip
    panels: list[Panel] = []
    for key, wide in (
        (to_say("turn-in"), turn), (to_say("front"), width), (to_say("joint"), joint),
        (to_say("spine"), spine_nm), (to_say("joint"), joint), (to_say("back"), width),
        (to_say("turn-in"), turn),
    ):  # fmt: skip
        panels.append(Panel(key, sum(p.width_nm for p in panels), wide))
    whole, high = sum(p.width_nm for p in panels), height + 2 * turn
    corner = turn * 3 // 2
    covering = Flat(
        key="covering", name=say("Cloth or paper of the case, wrong side up"), stock="card",
        width_nm=whole, height_nm=high, panels=tuple(panels), grain="height",
        folds=(
            *((p.x_nm, turn, p.x_nm, turn + height) for p in panels[1:]),
            (turn, turn, whole - turn, turn),
            (turn, turn + height, whole - turn, turn + height),
        ),
        outline=(
            (corner, 0), (whole - corner, 0), (whole, corner), (whole, high - corner),
            (whole - corner, high), (corner, high), (0, high - corner), (0, corner),
        ),
    )  # fmt: skip
    return board, strip, covering
