"""A strip folded to and fro between two boards, perhaps with pockets along its foot.

It is joined from as many lengths as it takes; the outer panels are glued to the boards. The
measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

from app.core.errors import DomainError
from app.core.length import MM
from app.core.structures.advice import grain_advice
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dimension,
    Dims,
    Flat,
    PaperFacts,
    Structure,
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
    caution,
    numbers,
    piece_of,
)
from app.core.structures.stages import CASED
from app.core.structures.strips import (
    STRIP_FOLD,
    TAB,
    Strip,
    strip_advice,
    strip_cut,
    strip_joined,
    strip_of,
    to_the_boards,
)
from app.core.structures.words import altered
from app.language import say, say_many, to_say

KEY = "concertina"


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one book; ``papers`` holds ``leaves``, ``boards`` and ``covering``."""
    n = numbers(dims, DIMENSIONS)
    if n["pocket"] >= n["leaf_height"]:
        raise DomainError(say("A pocket must be lower than its panel."), "pocket")
    boards, strip = papers["boards"], strip_of(dims, n)
    board = board_flat(n, spine=False)
    covering = covering_flat(n, board)
    pieces = {
        "leaves": strip.pieces,
        "boards": (piece_of(board),),
    }
    flats = [board, *strip.flats]
    if covering is not None:
        pieces["covering"] = (piece_of(covering, "covering paper"),)
        flats.insert(1, covering)
    glued = 2 * strip.panel_nm2 + strip.joined_nm2
    if covering is not None:
        glued += 2 * covering.width_nm * covering.height_nm
    layers = 2 * boards.caliper_nm + (4 * papers["covering"].caliper_nm if covering else 0)
    lengths = strip.lengths
    advice = [*board_advice(n, board, boards.caliper_nm), *_advice(n)]
    advice += [*strip_advice(strip, "panels_each"), *grain_advice(dims, leaf_grain="strip")]
    return Build(
        structure=KEY,
        made_of=say(
            "{panels} from {lengths}",
            panels=say_many(n["panels"], "{n} panel", "{n} panels"),
            lengths=say_many(lengths, "{n} length", "{n} lengths"),
        ),
        leaves=n["panels"],
        pieces=pieces,
        lengths={},
        counts={},
        amounts={"paste": paste_mg(glued)},
        operations={
            "cut": lengths + 2 + (2 if covering else 0),
            "concertina_fold": n["panels"] - 1 + (lengths if n["pocket"] else 0),
            "glue": (2 if covering else 0) + 2 + lengths - 1 + (2 * lengths if n["pocket"] else 0),
            "finish": 1,
        },
        flats=tuple(flats),
        thread=(),
        thickness_nm=strip.layers_nm(papers["leaves"].caliper_nm) + layers,
        closed_width_nm=board.width_nm,
        closed_height_nm=board.height_nm,
        advice=tuple(advice),
        steps=_steps(n, strip, board, covering),
    )


def _advice(n: Mapping[str, int]) -> list[Advice]:
    found = []
    if n["panels"] % 2:
        found.append(
            Advice(
                say(
                    "With {panels} panels the two boards are glued to opposite faces of the "
                    "strip, so it has no one side to look at. Take an even number.",
                    panels=n["panels"],
                ),
                field="panels",
            )
        )
    if n["pocket"] and n["pocket"] < 20 * MM:
        found.append(
            Advice(
                say("A pocket of {pocket} hardly holds anything: give it {mend} or more, or 0."),
                {"pocket": n["pocket"], "mend": 40 * MM},
                "pocket",
            )
        )
    return found


def _steps(
    n: Mapping[str, int], strip: Strip, board: Flat, covering: Flat | None
) -> tuple[BenchStep, ...]:
    return (
        caution(BLADES),
        *strip_cut(strip),
        caution(PASTES),
        *strip_joined(strip),
        *board_steps(board, covering),
        BenchStep(
            to_the_boards(n["panels"]),
            {"square": n["square"], "side": n["foreedge_square"]},
            "board",
            stage=CASED,
        ),
        BenchStep(say("Check that it opens and closes evenly, and wrap it up.")),
    )


DIMENSIONS = (
    altered(LEAF_HEIGHT, help=to_say("One panel, from head to tail.")),
    altered(LEAF_WIDTH, help=to_say("One panel, from fold to fold.")),
    LEAF_GRAIN,
    Dimension("panels", to_say("How many panels"), to_say("Strip"), "count", 12, 2, 200),
    Dimension("panels_each", to_say("Panels in one length"), to_say("Strip"), "count", 4, 1, 40),
    TAB,
    Dimension(
        "pocket",
        to_say("Pocket along its foot"),
        to_say("Strip"),
        "length",
        0,
        0,
        500 * MM,
        optional=True,
        help=to_say("How high; the strip is cut so much higher and folded up. 0 for none."),
    ),
    BOARD_SQUARE,
    BOARD_FOREEDGE,
    TURN_IN,
)

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Concertina between boards"),
    says=to_say("A strip folded to and fro, its ends glued to two boards."),
    dimensions=DIMENSIONS,
    roles=(LEAVES, BOARDS, COVERING, PASTE),
    operations=(
        CUT,
        STRIP_FOLD,
        GLUE,
        FINISH,
    ),
    build=build,
    cautions=(BLADES, PASTES, LAWS),
    stairs_keys=LEAF_STAIRS,
)
