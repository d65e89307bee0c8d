"""Warnings about a case and the back it goes round, each with its figures and a mend."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from app.core.length import MM
from app.core.structures.base import Advice
from app.language import say

ROUNDABLE_NM = 8 * MM
LEAST_SQUARE_NM = 2 * MM
HALF_ROUND = Fraction(8, 5)
"""The thinnest block worth rounding, the least square, half a circle passed: rules of thumb."""


def case_advice(n: Mapping[str, int], caliper_nm: int, stands_nm: int) -> list[Advice]:
    """Squares and joints: where boards do not stand past the leaves, or the case does not open."""
    found: list[Advice] = []
    height = n["leaf_height"] + 2 * n["square"]
    if n["square"] <= 0:
        found.append(
            Advice(
                say(
                    "The board is {board} high and the leaf {leaf}: it does not stand past the "
                    "leaf. Make the square at least {mend}."
                ),
                {"board": height, "leaf": n["leaf_height"], "mend": 3 * MM},
                "square",
                grave=n["square"] < 0,
            )
        )
    if n["joint"] < max(2 * caliper_nm, 4 * MM):
        found.append(
            Advice(
                say(
                    "A joint of {joint} binds on boards {board} thick: the case does not open. "
                    "Give it {mend} or more."
                ),
                {"joint": n["joint"], "board": caliper_nm,
                 "mend": max(-(-4 * caliper_nm // MM) * MM, 7 * MM)},
                "joint",
                grave=True,
            )
        )  # fmt: skip
    if stands_nm < 0:
        found.append(
            Advice(
                say(
                    "The boards end {short} short of the fore edge: of the joint {round} go round "
                    "the edge of a board, and the board is {less} narrower than the leaf. Make it "
                    "{mend} narrower, or the joint wider."
                ),
                {"short": -stands_nm, "round": caliper_nm, "less": n["board_in"],
                 "mend": max(n["joint"] - caliper_nm - 3 * MM, 0)},
                "board_in",
                grave=True,
            )
        )  # fmt: skip
    elif stands_nm > 8 * MM:
        found.append(
            Advice(
                say(
                    "The boards stand {far} past the fore edge. Make them narrower by {mend}, for "
                    "{usual}."
                ),
                {"far": stands_nm, "mend": stands_nm - 3 * MM, "usual": 3 * MM},
                "board_in",
            )
        )
    elif stands_nm < LEAST_SQUARE_NM:
        found.append(
            Advice(
                say(
                    "The boards stand only {far} past the fore edge. Make the joint {joint}, or "
                    "the boards less narrow."
                ),
                {"far": stands_nm, "joint": n["joint"] + 3 * MM - stands_nm},
                "joint",
            )
        )
    return found


def back_advice(measured_nm: int, pressed_nm: int, block_nm: int, *, rounded: bool) -> list[Advice]:
    """A back too thin to round; one measured as less than its leaves, or past half a circle."""
    if rounded and block_nm < ROUNDABLE_NM:
        return [
            Advice(
                say(
                    "A block {block} thick is too thin to round: from {least} on a back takes it. "
                    "Choose a flat back."
                ),
                {"block": block_nm, "least": ROUNDABLE_NM},
                "back",
            )
        ]
    if 0 < measured_nm < pressed_nm:
        return [
            Advice(
                say(
                    "The back is measured as {back}; leaves and endpapers alone are {block} thick. "
                    "Measure over the back from edge to edge, or 0 to have it worked out."
                ),
                {"back": measured_nm, "block": pressed_nm},
                "back_measured",
                grave=True,
            )
        ]
    if measured_nm > HALF_ROUND * block_nm:
        return [
            Advice(
                say(
                    "The back is measured as {back}, more than half a circle over a block {block} "
                    "thick. Measure over the back from edge to edge, or 0 to have it worked out."
                ),
                {"back": measured_nm, "block": block_nm},
                "back_measured",
            )
        ]
    return []
