"""Boards covered with paper or bare: their pieces, flats, glue and steps, for several structures.

Paste is reckoned at 100 g to the square metre of glued paper, *common practice, no source*; a
shop's own brush decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from app.core.errors import DomainError
from app.core.length import MM
from app.core.structures.base import Advice, BenchStep, Dimension, Flat, Hole, Role
from app.core.structures.common import grain_said
from app.core.structures.words import later
from app.language import say, to_say

LEAST_BOARD_NM = 20 * MM
LINING_MARGIN_NM = 3 * MM
"""A lining keeps this far from the board's edges: common practice, no source."""
PASTE_MG_A_MM2_TIMES_1000 = 100
"""100 g a square metre is a tenth of a milligram a square millimetre."""

BOARDS = Role("boards", to_say("Board"), "sheet")
COVERING = Role("covering", to_say("Paper over the boards"), "sheet")
PASTE = Role("paste", to_say("Paste or glue"), "mass")

TURN_IN = Dimension(
    "turn_in", to_say("Turned in"), to_say("Boards"), "length", 15 * MM, 0, 60 * MM,
    help=to_say("How far the covering paper goes round the edges; 0 for bare boards."),
)  # fmt: skip
BOARD_SQUARE = Dimension(
    "square", to_say("Square, head and tail"), to_say("Boards"), "length",
    3 * MM, -50 * MM, 50 * MM,
    help=to_say("How far the board stands past the leaf above and below."),
)  # fmt: skip
BOARD_FOREEDGE = Dimension(
    "foreedge_square",
    to_say("Fore-edge square"),
    to_say("Boards"),
    "length",
    3 * MM,
    -50 * MM,
    50 * MM,
)


def board_flat(n: Mapping[str, int], holes: tuple[Hole, ...] = (), *, spine: bool = True) -> Flat:
    """One of two boards, its spine edge at the left; without a spine it is square on all sides."""
    width = n["leaf_width"] + (1 if spine else 2) * n["foreedge_square"]
    height = n["leaf_height"] + 2 * n["square"]
    if width < LEAST_BOARD_NM:
        raise DomainError(say("With this square hardly any board is left: under 20 mm wide."),
                          "foreedge_square")  # fmt: skip
    if height < LEAST_BOARD_NM:
        raise DomainError(
            say("With this square hardly any board is left: under 20 mm high."), "square"
        )
    name = (
        say("One board, outside up, spine at the left") if spine else say("One board, outside up")
    )
    return Flat(
        key="board",
        name=name,
        stock="board",
        width_nm=width,
        height_nm=height,
        holes=holes,
        grain="height",
        count=2,
    )


def covering_flat(n: Mapping[str, int], board: Flat) -> Flat | None:
    """The paper over one board, turned in all round; none over bare boards."""
    turn = n["turn_in"]
    if not turn:
        return None
    width, height = board.width_nm + 2 * turn, board.height_nm + 2 * turn
    folds = (
        (turn, turn, turn, height - turn), (width - turn, turn, width - turn, height - turn),
        (turn, turn, width - turn, turn), (turn, height - turn, width - turn, height - turn),
    )  # fmt: skip
    corner = turn * 3 // 2
    outline = (
        (corner, 0), (width - corner, 0), (width, corner), (width, height - corner),
        (width - corner, height), (corner, height), (0, height - corner), (0, corner),
    )  # fmt: skip
    return Flat(
        key="covering", name=say("Paper over one board, wrong side up"), stock="card",
        width_nm=width, height_nm=height, folds=folds, outline=outline, grain="height", count=2,
    )  # fmt: skip


def lining_flat(board: Flat) -> Flat:
    """The paper pasted inside a covered board, so that both sides pull alike."""
    return Flat(
        key="lining", name=say("Lining of one board"), stock="leaf",
        width_nm=board.width_nm - 2 * LINING_MARGIN_NM,
        height_nm=board.height_nm - 2 * LINING_MARGIN_NM, grain="height", count=2,
    )  # fmt: skip


def paste_mg(*areas_nm2: int) -> int:
    """Milligrams of paste for so much glued paper."""
    return sum(areas_nm2) * PASTE_MG_A_MM2_TIMES_1000 // (1000 * MM * MM)


def board_advice(n: Mapping[str, int], board: Flat, caliper_nm: int) -> list[Advice]:
    """Boards smaller than the leaf, hardly any paper turned in, or corners left bare.

    Where a corner is cut off, the paper has to reach one and a half thicknesses of the board past
    it (common practice, no source). A turn-in of t leaves t/√8 there.
    """
    found = []
    if n["square"] <= 0:
        found.append(
            Advice(
                say(
                    "The board is {board} high and the leaf {leaf}: it does not stand past the "
                    "leaf. Make the square at least {mend}."
                ),
                {"board": board.height_nm, "leaf": n["leaf_height"], "mend": 3 * MM},
                "square",
                grave=n["square"] < 0,
            )
        )
    if n["foreedge_square"] < 0:
        found.append(
            Advice(
                say(
                    "The board is {board} wide and does not reach the leaf's fore edge, {leaf}. "
                    "Make the fore-edge square zero or more, {mend} as a rule."
                ),
                {"board": board.width_nm, "leaf": n["leaf_width"], "mend": 3 * MM},
                "foreedge_square",
                grave=True,
            )
        )
    return [*found, *turn_in_advice(n["turn_in"], caliper_nm)]


def turn_in_advice(turn_nm: int, caliper_nm: int) -> list[Advice]:
    """Hardly anything turned in, or corners left bare; see :func:`board_advice`."""
    if turn_nm and turn_nm * turn_nm < 18 * caliper_nm * caliper_nm:
        return [
            Advice(
                say(
                    "{turn} turned in leaves the corners of a board {board} thick bare: cut off, "
                    "the paper does not reach round them. Turn in {mend} or more."
                ),
                {"turn": turn_nm, "board": caliper_nm, "mend": -(-caliper_nm * 17 // 4 // MM) * MM},
                "turn_in",
                grave=True,
            )
        ]
    if 0 < turn_nm < 8 * MM:
        return [
            Advice(
                say("{turn} turned in does not hold at the corners: turn in {mend} or more."),
                {"turn": turn_nm, "mend": 12 * MM},
                "turn_in",
            )
        ]
    return []


def board_steps(board: Flat, covering: Flat | None, lining: Flat | None = None) -> list[BenchStep]:
    """Cutting, covering and lining two boards; the caution about glue comes before, elsewhere."""
    found = [
        BenchStep(
            say(
                "Cut two boards {width} wide and {height} high, {grain}.",
                grain=grain_said(board.grain), **later("width", "height"),
            ),
            {"width": board.width_nm, "height": board.height_nm},
            "board",
        )
    ]  # fmt: skip
    if covering is not None:
        cut = say(
            "Cut two covering papers {width} wide and {height} high, {grain}, and cut off their "
            "corners by the template, {corner} from each along both edges. Paste them, lay a board "
            "in the middle of each and turn the edges in.",
            grain=grain_said(covering.grain), **later("width", "height", "corner"),
        )  # fmt: skip
        press = (
            say("Press until dry.") if lining is None else say("Press, and line them the same day.")
        )
        lengths = {
            "width": covering.width_nm, "height": covering.height_nm,
            "corner": covering.outline[0][0],
        }  # fmt: skip
        found.append(BenchStep(f"{cut} {press}", lengths, "covering"))
    if lining is not None:
        found.append(
            BenchStep(
                say(
                    "Cut two linings {width} wide and {height} high, {grain}. Paste each on the "
                    "inside of a board, {margin} from all its edges: covered on one side only a "
                    "board warps. Press overnight, until dry.",
                    grain=grain_said(lining.grain), **later("width", "height", "margin"),
                ),
                {"width": lining.width_nm, "height": lining.height_nm, "margin": LINING_MARGIN_NM},
            )
        )  # fmt: skip
    return [replace(step, stage="cover") for step in found]
