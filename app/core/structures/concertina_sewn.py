"""Signatures sewn into the valleys of a concertina between two boards.

Every second fold of the strip holds a signature with a pamphlet stitch of its own, so the strip has
two panels for each. The measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

from app.core.length import MM
from app.core.structures.advice import (
    ACROSS,
    across_the_grain,
    fold_advice,
    grain_advice,
    hole_advice,
    length_advice,
)
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dimension,
    Dims,
    Flat,
    PaperFacts,
    Role,
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
    AWLS,
    BLADES,
    CUT,
    END_DISTANCE,
    FINISH,
    FOLD,
    GLUE,
    LAWS,
    LEAF,
    LEAF_STAIRS,
    LEAVES,
    PASTES,
    PUNCH,
    SEW,
    TAILS,
    THREAD,
    TIED,
    caution,
    folio_pieces,
    folios,
    numbers,
    piece_of,
    signatures,
    stations,
    trimmed,
)
from app.core.structures.folio_kinds import GRAIN_CHOICES
from app.core.structures.folio_steps import folio_steps
from app.core.structures.gathering import Gathering, gather, runs_along_the_fold
from app.core.structures.stages import CASED
from app.core.structures.strips import (
    STRIP_FOLD,
    TAB,
    Strip,
    strip_advice,
    strip_cut,
    strip_joined,
    to_the_boards,
)
from app.core.structures.thread import ThreadPath
from app.core.structures.words import altered, later
from app.core.structures.wrap_cover import sewn_through, signatures_in_words, threads_cut
from app.language import say, say_many, to_say

KEY = "concertina_sewn"


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one book; ``papers`` holds ``leaves``, ``strip``, ``boards`` and ``covering``."""
    n = numbers(dims, DIMENSIONS)
    gathering = gather(dims, n, papers)
    boards, past = papers["boards"], n["strip_past"]
    strip = Strip(
        2 * n["signatures"], 2 * n["on_each"], n["leaf_width"] + past, n["leaf_height"] + 2 * past,
        n["tab"], runs_along_the_fold(dims, "strip_grain"),
        holes_nm=tuple(past + y for y in gathering.at),
    )  # fmt: skip
    # The boards hold the panels, which stand past the leaves.
    panel = n | {"leaf_width": strip.width_nm, "leaf_height": strip.height_nm}
    board = board_flat(panel, spine=False)
    covering = covering_flat(panel, board)
    thread = sewn_through(n, gathering, papers["strip"].caliper_nm, knot_inside=True)
    pieces = folio_pieces(gathering) | {
        "strip": strip.pieces,
        "boards": (piece_of(board),),
    }
    flats = [board, *strip.flats, *gathering.flats]
    if covering is not None:
        pieces["covering"] = (piece_of(covering, "covering paper"),)
        flats.insert(1, covering)
    glued = 2 * covering.width_nm * covering.height_nm if covering else 0
    glued += 2 * strip.panel_nm2 + strip.joined_nm2
    layers = 2 * boards.caliper_nm + (4 * papers["covering"].caliper_nm if covering else 0)
    layers += strip.layers_nm(papers["strip"].caliper_nm)
    sewn = n["signatures"] * n["stations"]
    return Build(
        structure=KEY,
        made_of=say("{signatures} in a concertina", signatures=signatures_in_words(gathering)),
        leaves=gathering.leaves,
        pieces=pieces,
        lengths={"thread": sum(path.length_nm for path in thread)},
        counts={},
        amounts={"paste": paste_mg(glued)},
        operations={
            "cut": gathering.folios + trimmed(gathering) + strip.lengths + 2
            + (2 if covering else 0),
            "fold": gathering.folios,
            "concertina_fold": strip.panels - 1,
            "punch": 2 * sewn,
            "sew": sewn,
            "glue": (2 if covering else 0) + 2 + strip.lengths - 1,
            "finish": 1,
        },
        flats=tuple(flats),
        thread=thread,
        thickness_nm=gathering.block_nm + layers,
        closed_width_nm=board.width_nm,
        closed_height_nm=board.height_nm,
        creep_nm=gathering.creep_nm,
        advice=(*_advice(dims, panel, n, gathering, strip, thread, board, boards.caliper_nm),),
        steps=_steps(n, gathering, strip, board, covering, thread),
    )  # fmt: skip


def _advice(
    dims: Dims, panel: Mapping[str, int], n: Mapping[str, int], gathering: Gathering,
    strip: Strip, thread: tuple[ThreadPath, ...], board: Flat, caliper_nm: int,
) -> list[Advice]:  # fmt: skip
    found = [
        *board_advice(panel, board, caliper_nm), *strip_advice(strip, "on_each"),
        *hole_advice(dict(n) | {"signatures": 1}, gathering.folio), *fold_advice(n, gathering),
        *length_advice(thread), *grain_advice(dims, gathering, leaf_grain="leaves"),
    ]  # fmt: skip
    if dims["strip_grain"] == "free":
        found.append(across_the_grain(say(ACROSS["strip"]), "strip_grain"))
    if n["strip_past"] < gathering.creep_nm:
        found.append(
            Advice(
                say(
                    "The panels stand {past} past the leaf and the innermost folio creeps {creep}: "
                    "it shows when the book is closed. Let them stand {mend} past it."
                ),
                {"past": n["strip_past"], "creep": gathering.creep_nm,
                 "mend": -(-gathering.creep_nm // MM) * MM + MM},
                "strip_past",
            )
        )  # fmt: skip
    return found


def _steps(
    n: Mapping[str, int], gathering: Gathering, strip: Strip, board: Flat,
    covering: Flat | None, thread: tuple[ThreadPath, ...],
) -> tuple[BenchStep, ...]:  # fmt: skip
    first = strip.flats[0].stations_nm[0]
    many = n["signatures"]
    sew = (
        say(
            "Sew the signature into its valley, {past} from the head of the strip, in the order "
            "drawn; pull along the fold, never across it."
        )
        if many == 1
        else say(
            "Sew each signature into its own valley, {past} from the head of the strip, in the "
            "order drawn; pull along the fold, never across it."
        )
    )
    return (
        *folio_steps(gathering),
        *strip_cut(strip),
        BenchStep(
            say_many(
                many,
                "Punch the valley, every second fold from the first on, with the guide of the "
                "strip: {stations} stations, the outer ones {first} from its head and tail.",
                "Punch each of the {n} valleys, every second fold from the first on, with the "
                "guide of the strip: {stations} stations, the outer ones {first} from its head and "
                "tail.",
                stations=n["stations"],
                **later("first"),
            ),
            {"first": first},
            "strip",
        ),
        caution(PASTES),
        *strip_joined(strip),
        threads_cut(thread),
        BenchStep(
            f"{sew} {say(TIED)}",
            {"past": n["strip_past"]},
            shows="thread",
        ),
        *board_steps(board, covering),
        BenchStep(
            to_the_boards(strip.panels),
            {"square": n["square"], "side": n["foreedge_square"]},
            "board",
            stage=CASED,
        ),
        BenchStep(say("Check that it opens and closes evenly, and wrap it up.")),
    )


DIMENSIONS = (
    *LEAF,
    altered(signatures(6), most=40),
    folios(3),
    stations("3", 3, 5, 7),
    END_DISTANCE,
    TAILS,
    Dimension(
        "strip_past", to_say("Panels past the leaf"), to_say("Strip"), "length", 3 * MM, 0, 60 * MM,
        help=to_say("At head, tail and fore edge."),
    ),
    Dimension("on_each", to_say("Signatures on one length"), to_say("Strip"), "count", 2, 1, 20),
    TAB,
    Dimension(
        "strip_grain", to_say("Grain of the strip"), to_say("Strip"), "choice", "fold",
        choices=GRAIN_CHOICES,
    ),
    BOARD_SQUARE,
    BOARD_FOREEDGE,
    TURN_IN,
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Signatures sewn into a concertina"),
    says=to_say("A strip folded to and fro between boards, a signature sewn into every valley."),
    dimensions=DIMENSIONS,
    roles=(
        LEAVES,
        Role("strip", to_say("Paper of the strip"), "sheet"),
        BOARDS,
        COVERING,
        PASTE,
        THREAD,
    ),
    operations=(CUT, FOLD, STRIP_FOLD, PUNCH, SEW, GLUE, FINISH),
    build=build,
    cautions=(BLADES, AWLS, PASTES, LAWS),
    stairs_keys=LEAF_STAIRS,
)
