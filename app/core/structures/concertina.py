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
    grain_said,
    numbers,
    piece_of,
)
from app.core.structures.gathering import runs_along_the_fold

KEY = "concertina"


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one book; ``papers`` holds ``leaves``, ``boards`` and ``covering``."""
    n = numbers(dims, DIMENSIONS)
    leaves, boards = papers["leaves"], papers["boards"]
    each = min(n["panels_each"], n["panels"])
    lengths = -(-n["panels"] // each)
    strips = _strips(dims, n, each, lengths)
    board = board_flat(n, spine=False)
    covering = covering_flat(n, board)
    pieces = {
        "leaves": tuple(piece_of(strip, strip.name.lower()) for strip in strips),
        "boards": (piece_of(board),),
    }
    flats = [board, *strips]
    if covering is not None:
        pieces["covering"] = (piece_of(covering, "covering paper"),)
        flats.insert(1, covering)
    glued = 2 * covering.width_nm * covering.height_nm if covering else 0
    glued += 2 * n["leaf_width"] * n["leaf_height"] + (lengths - 1) * n["tab"] * n["leaf_height"]
    layers = 2 * boards.caliper_nm + (4 * papers["covering"].caliper_nm if covering else 0)
    advice = [*board_advice(n, board, boards.caliper_nm), *_advice(n, strips[0], lengths)]
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
        steps=_steps(n, strips, board, covering, lengths),
    )


def _strips(dims: Dims, n: Mapping[str, int], each: int, lengths: int) -> tuple[Flat, ...]:
    """The lengths with a tab where another one follows, and the last one without, often shorter."""
    last = n["panels"] - (lengths - 1) * each
    rest = _strip(dims, n, "last", "Last length", last, 0, 1)
    if lengths == 1:
        return (_strip(dims, n, "strip", "Length", each, 0, 1),)
    return (_strip(dims, n, "strip", "Length", each, n["tab"], lengths - 1), rest)


def _strip(
    dims: Dims, n: Mapping[str, int], key: str, name: str, panels_: int, tab: int, count: int
) -> Flat:
    width = panels_ * n["leaf_width"] + tab
    panels = [Panel(f"{i + 1}", i * n["leaf_width"], n["leaf_width"]) for i in range(panels_)]
    if tab:
        panels.append(Panel("tab", panels_ * n["leaf_width"], tab))
    return Flat(
        key=key, name=name, stock="leaf", width_nm=width,
        height_nm=n["leaf_height"], folds=upright_folds([p.x_nm for p in panels[1:]],
                                                        n["leaf_height"]),
        panels=tuple(panels), grain=runs_along_the_fold(dims, "leaf_grain"), count=count,
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
    n: Mapping[str, int], strips: tuple[Flat, ...], board: Flat, covering: Flat | None, lengths: int
) -> tuple[BenchStep, ...]:
    strip = strips[0]
    grain = grain_said(strip.grain)
    found = [BenchStep(BLADES, caution=True)]
    found.append(
        BenchStep(
            f"Cut {strip.count} length{'' if strip.count == 1 else 's'} {{width}} wide and "
            f"{{height}} high, {grain}.",
            {"width": strip.width_nm, "height": strip.height_nm},
            "strip",
        )
    )
    if lengths > 1:
        last = len([panel for panel in strips[-1].panels if panel.name != "tab"])
        found.append(
            BenchStep(
                f"Cut one more, the last, {{width}} wide, {grain}: {last} "
                f"panel{'' if last == 1 else 's'} and no tab.",
                {"width": strips[-1].width_nm},
                "last",
            )
        )
    found.append(BenchStep(_folding(n, lengths), {"panel": n["leaf_width"]}, "strip"))
    found.append(BenchStep(PASTES, caution=True))
    if lengths > 1:
        found.append(
            BenchStep(
                "Glue each tab behind the first panel of the next length, the panel's edge to the "
                "tab's fold, and press.",
                shows="strip",
            )
        )
    found += board_steps(board, covering)
    found.append(
        BenchStep(
            _to_the_boards(n["panels"]),
            {"square": n["square"], "side": n["foreedge_square"]},
            "board",
            stage="inside",
        )
    )
    found.append(BenchStep("Check that it opens and closes evenly, and wrap it up."))
    return tuple(found)


def _folding(n: Mapping[str, int], lengths: int) -> str:
    """How the lengths are folded so that they go on to and fro where they are joined."""
    said = "Fold to and fro every {panel}, turning the strip over at each fold; rub each down."
    if lengths > 1 and n["panels_each"] % 2 == 0:
        said += " Begin every length with the same fold, a valley with its good side up."
    elif lengths > 1:
        said += (
            " Each length has an odd number of panels: begin the first fold of every second length "
            "the other way, so that the folds still alternate where they are joined."
        )
    return said


def _to_the_boards(panels: int) -> str:
    """Which faces of the strip lie outside when folded up: the same one if panels are even."""
    faces = (
        "They are the same face of the strip."
        if panels % 2 == 0
        else "With an odd number of panels they are opposite faces of the strip."
    )
    return (
        "Fold the strip up and glue the outward face of its first and of its last panel to the "
        f"inside of a board each. {faces} Leave {{square}} at head and tail and {{side}} at both "
        "sides, and press overnight between waste sheets."
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
