"""A strip folded to and fro between two boards, joined from as many lengths as it takes.

Each length has so many panels and a tab that is glued behind the first panel of the next one; the
outer panels are glued to the boards. The measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from app.core.length import MM
from app.core.structures.advice import grain_advice
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dimension,
    Dims,
    Flat,
    Operation,
    Panel,
    PaperFacts,
    Structure,
    upright_folds,
)
from app.core.structures.boards import (
    BOARD_FOREEDGE,
    BOARD_SQUARE,
    BOARDS,
    COVERING,
    PASTE,
    TURN_IN,
    board_advice,
    board_flat,
    board_steps,
    covering_flat,
    paste_mg,
)
from app.core.structures.common import (
    BLADES,
    CUT,
    FINISH,
    GLUE,
    LAWS,
    LEAF_GRAIN,
    LEAF_HEIGHT,
    LEAF_STAIRS,
    LEAF_WIDTH,
    LEAVES,
    PASTES,
    numbers,
    piece_of,
    runs_along_the_fold,
)

KEY = "concertina"


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one book; ``papers`` holds ``leaves``, ``boards`` and ``covering``."""
    n = numbers(dims, DIMENSIONS)
    leaves, boards = papers["leaves"], papers["boards"]
    each = min(n["panels_each"], n["panels"])
    lengths = -(-n["panels"] // each)
    strip = _strip(dims, n, each, lengths)
    board = board_flat(n, spine=False)
    covering = covering_flat(n, board)
    pieces = {"leaves": piece_of(strip), "boards": piece_of(board)}
    flats = [board, strip]
    if covering is not None:
        pieces["covering"] = piece_of(covering, "covering paper")
        flats.insert(1, covering)
    glued = 2 * covering.width_nm * covering.height_nm if covering else 0
    glued += 2 * n["leaf_width"] * n["leaf_height"] + (lengths - 1) * n["tab"] * n["leaf_height"]
    layers = 2 * boards.caliper_nm + (4 * papers["covering"].caliper_nm if covering else 0)
    advice = [*board_advice(n, board), *_advice(n, strip, lengths)]
    advice += grain_advice(dims, leaf_grain="strip")
    return Build(
        structure=KEY,
        made_of=f"{n['panels']} panels from {lengths} length{'' if lengths == 1 else 's'}",
        leaves=n["panels"],
        pieces=pieces,
        lengths={},
        counts={},
        amounts={"paste": paste_mg(glued)},
        operations={
            "cut": lengths + 2 + (2 if covering else 0),
            "concertina_fold": n["panels"] - 1,
            "glue": (2 if covering else 0) + 2 + lengths - 1,
            "finish": 1,
        },
        flats=tuple(flats),
        thread=(),
        thickness_nm=(n["panels"] + lengths - 1) * leaves.caliper_nm + layers,
        closed_width_nm=board.width_nm,
        closed_height_nm=board.height_nm,
        advice=tuple(advice),
        steps=_steps(n, strip, board, covering, lengths),
    )


def _strip(dims: Dims, n: Mapping[str, int], each: int, lengths: int) -> Flat:
    """One length with its panels, and the tab where another one follows."""
    tab = n["tab"] if lengths > 1 else 0
    width = each * n["leaf_width"] + tab
    panels = [Panel(f"{i + 1}", i * n["leaf_width"], n["leaf_width"]) for i in range(each)]
    if tab:
        panels.append(Panel("tab", each * n["leaf_width"], tab))
    return Flat(
        key="strip", name="One length of the concertina", stock="leaf", width_nm=width,
        height_nm=n["leaf_height"], folds=upright_folds([p.x_nm for p in panels[1:]],
                                                        n["leaf_height"]),
        panels=tuple(panels), grain=runs_along_the_fold(dims, "leaf_grain"), count=lengths,
    )  # fmt: skip


def _advice(n: Mapping[str, int], strip: Flat, lengths: int) -> list[Advice]:
    found = []
    if n["panels"] % 2:
        found.append(
            Advice(
                f"With {n['panels']} panels the two boards are glued to opposite faces of the "
                "strip, so it has no one side to look at. Take an even number.",
                field="panels",
            )
        )
    if lengths > 1 and n["tab"] < 6 * MM:
        found.append(
            Advice(
                "A tab of {tab} comes loose: give it {mend} or more.",
                {"tab": n["tab"], "mend": 10 * MM},
                "tab",
                grave=True,
            )
        )
    if strip.width_nm > 1500 * MM:
        found.append(
            Advice(
                "One length is {width} long, longer than most sheets. Put fewer panels into each.",
                {"width": strip.width_nm},
                "panels_each",
            )
        )
    return found


def _steps(
    n: Mapping[str, int], strip: Flat, board: Flat, covering: Flat | None, lengths: int
) -> tuple[BenchStep, ...]:
    each = min(n["panels_each"], n["panels"])
    last = n["panels"] - (lengths - 1) * each
    other = " Begin every second length with the opposite fold." if each % 2 else ""
    join = (
        BenchStep(
            f"Cut the last length to {last} panel{'' if last == 1 else 's'}, {{width}} wide, "
            f"without its tab.{other}",
            {"width": last * n["leaf_width"]},
        ),
        BenchStep(
            "Glue each tab behind the first panel of the next length, edges true, and press.",
            shows="strip",
        ),
    )
    return (
        BenchStep(BLADES, caution=True),
        BenchStep(
            f"Cut {lengths} length{'' if lengths == 1 else 's'} {{width}} wide and {{height}} "
            "high, the grain along the height.",
            {"width": strip.width_nm, "height": strip.height_nm},
            "strip",
        ),
        BenchStep(
            "Fold to and fro every {panel}, turning the strip over at each fold; rub each down.",
            {"panel": n["leaf_width"]},
            "strip",
        ),
        *(join if lengths > 1 else ()),
        *board_steps(board, covering),
        BenchStep(
            "Glue the same face of the first and the last panel to the inside of a board, "
            "{square} from its head and tail and {side} from both sides, and press overnight "
            "between waste sheets.",
            {"square": n["square"], "side": n["foreedge_square"]},
            "board",
        ),
        BenchStep("Check that it opens and closes evenly, and wrap it."),
    )


DIMENSIONS = (
    replace(LEAF_HEIGHT, help="One panel, from head to tail."),
    replace(LEAF_WIDTH, help="One panel, from fold to fold."),
    LEAF_GRAIN,
    Dimension("panels", "How many panels", "Strip", "count", 12, 2, 200),
    Dimension("panels_each", "Panels in one length", "Strip", "count", 4, 1, 40),
    Dimension("tab", "Tab to join them", "Strip", "length", 12 * MM, 0, 60 * MM),
    BOARD_SQUARE,
    BOARD_FOREEDGE,
    TURN_IN,
)

STRUCTURE = Structure(
    key=KEY,
    name="Concertina between boards",
    says="A strip folded to and fro, its ends glued to two boards.",
    dimensions=DIMENSIONS,
    roles=(LEAVES, BOARDS, COVERING, PASTE),
    operations=(
        CUT,
        Operation("concertina_fold", "Fold the strip", "fold", Fraction(1), Fraction(1, 2)),
        GLUE,
        FINISH,
    ),
    build=build,
    cautions=(BLADES, PASTES, LAWS),
    stairs_keys=LEAF_STAIRS,
)
