"""Signatures sewn to one another with chain stitches, between two boards: it opens quite flat.

The thread begins inside the first signature. At every station it comes out, takes a board or is
linked round the stitches below, and goes back in; at the end of a signature it climbs to the next
one. Board and signature are held by going out over the board's edge, in through its hole and back.
The measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

from app.core.errors import DomainError
from app.core.length import MM
from app.core.structures.advice import fold_advice, grain_advice, hole_advice, length_advice
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dimension,
    Dims,
    Flat,
    Hole,
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
    lining_flat,
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
    SWELL,
    TAILS,
    THREAD,
    caution,
    folio_pieces,
    folios,
    numbers,
    piece_of,
    signatures,
    stations,
    trimmed,
    wrapped,
)
from app.core.structures.folio_steps import folio_steps
from app.core.structures.gathering import Gathering, gather
from app.core.structures.sewing import middles
from app.core.structures.thread import Stitch, ThreadPath
from app.core.structures.words import altered, later
from app.core.structures.wrap_cover import signatures_in_words
from app.language import say, to_say

KEY = "chain_stitch"
LEAST_MARGIN_NM = 6 * MM


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one journal; ``papers`` holds ``leaves``, ``boards`` and ``covering``."""
    n = numbers(dims, DIMENSIONS)
    boards = papers["boards"]
    gathering = gather(dims, n, papers)
    at = gathering.at
    board = board_flat(
        n, tuple(Hole(n["board_margin"], n["square"] + y, 0, s) for s, y in enumerate(at))
    )
    if 2 * n["board_margin"] > board.width_nm:
        raise DomainError(say("The holes would lie past the middle of the board."), "board_margin")
    covering = covering_flat(n, board)
    thread = (chain_path(n, gathering, boards.caliper_nm),)
    advice = [
        *board_advice(n, board, boards.caliper_nm),
        *_advice(n),
        *hole_advice(n | {"signatures": 1}, gathering.folio),
    ]
    advice += [*fold_advice(n, gathering), *length_advice(thread)]
    advice += grain_advice(dims, gathering, leaf_grain="leaves")
    sewn = n["signatures"] * n["stations"]
    pieces = folio_pieces(gathering) | {"boards": (piece_of(board),)}
    flats = [board, *gathering.flats]
    lining = None
    if covering:
        lining = lining_flat(board)
        pieces["covering"] = (piece_of(covering, "covering paper"), piece_of(lining))
        flats[1:1] = [covering, lining]
    layers = 2 * boards.caliper_nm + (4 * papers["covering"].caliper_nm if covering else 0)
    return Build(
        structure=KEY,
        made_of=say("{signatures} between boards", signatures=signatures_in_words(gathering)),
        leaves=gathering.leaves,
        pieces=pieces,
        lengths={"thread": thread[0].length_nm},
        counts={},
        amounts={
            "paste": paste_mg(*(2 * f.width_nm * f.height_nm for f in (covering, lining) if f))
        },
        operations={
            "cut": gathering.folios + 2 + (4 if covering else 0) + trimmed(gathering),
            "fold": gathering.folios,
            "punch": sewn + 2 * n["stations"],
            "glue": 4 if covering else 0,
            "sew": sewn,
            "finish": 1,
        },
        flats=tuple(flats),
        thread=thread,
        thickness_nm=gathering.block_nm + layers,
        fore_edge_nm=gathering.leaves_nm + layers,
        closed_width_nm=board.width_nm,
        closed_height_nm=board.height_nm,
        creep_nm=gathering.creep_nm,
        advice=tuple(advice),
        steps=_steps(n, gathering, board, covering, lining, thread[0]),
    )


def chain_path(n: Mapping[str, int], gathering: Gathering, board_nm: int) -> ThreadPath:
    """The way of the one thread. Row 0 is the front board, the last row the back board.

    From the fold of one signature to that of the next it is half of each.
    """
    last, at = n["signatures"], gathering.at
    through = [gathering.through(row) for row in range(last)]
    across = middles([gathering.thickness_nm(row) for row in range(last)])
    points: list[Stitch] = []

    def board(row: int, board_row: int, station: int) -> list[Stitch]:
        """Over the board's edge, in through its hole, and back to the fold."""
        return [
            Stitch(board_row, station, inside=False, over="board"),
            Stitch(board_row, station, inside=True, over="board"),
            Stitch(row, station, inside=False),
        ]

    for row in range(1, last + 1):
        order = list(range(len(at))) if row % 2 else list(range(len(at) - 1, -1, -1))
        for number, station in enumerate(order):
            climbs_in = number == 0 and row > 1
            if climbs_in:
                points.append(Stitch(row, station, inside=False))
            else:
                points.append(Stitch(row, station, inside=True))
                points.append(Stitch(row, station, inside=False))
                if row > 1:
                    points.append(Stitch(row - 1, station, inside=False, over="link"))
                    points.append(Stitch(row, station, inside=False))
            if row == 1:
                points += board(row, 0, station)
            if row == last:
                points += board(row, last + 1, station)
            if number < len(order) - 1 or row == last:
                points.append(Stitch(row, station, inside=True))
    reach = n["board_margin"]

    def place(p: Stitch) -> tuple[int, int, int]:
        if p.over == "board":
            x = -reach if p.row == 0 else across[-1] + reach
            return x, at[p.station], 0 if p.inside else -board_nm
        depth = through[p.row - 1][p.station] if p.inside else 0
        return across[p.row - 1], at[p.station], depth

    rows = [say("signature {number}", number=row) for row in range(1, last + 1)]
    names = (say("front board"), *rows, say("back board"))
    return ThreadPath(tuple(points), tuple(map(place, points)), n["tails"], row_names=names)


def _advice(n: Mapping[str, int]) -> list[Advice]:
    if n["board_margin"] >= LEAST_MARGIN_NM:
        return []
    return [
        Advice(
            say(
                "The holes of the boards lie {margin} from the spine; closer than {least} they "
                "break out. Move them in to {mend}."
            ),
            {"margin": n["board_margin"], "least": LEAST_MARGIN_NM, "mend": 8 * MM},
            "board_margin",
            grave=True,
        )
    ]


def _steps(
    n: Mapping[str, int],
    gathering: Gathering,
    board: Flat,
    covering: Flat | None,
    lining: Flat | None,
    path: ThreadPath,
) -> tuple[BenchStep, ...]:
    return (
        *folio_steps(gathering),
        *([caution(PASTES)] if covering else []),
        *board_steps(board, covering, lining),
        BenchStep(
            say(
                "Punch {stations} holes in each board by the template, {margin} from its spine "
                "edge, the outer ones {first} from its head and tail. An awl only marks a thick "
                "board: drill it, or strike a punch with a hammer.",
                stations=n["stations"],
                **later("margin", "first"),
            ),
            {"margin": n["board_margin"], "first": board.stations_nm[0]},
            "board",
        ),
        BenchStep(
            say(
                "Cut {thread} of thread and wax it; join a second length inside a signature rather "
                "than sew with more than you can pull through."
            ),
            to_cut={"thread": path.length_nm},
        ),
        BenchStep(
            say(
                "Sew in the order drawn. Take the front board with the first signature and tie its "
                "tail round the stitch inside before you go on; link every station round the "
                "stitches below, and take the back board with the last."
            ),
            shows="thread",
        ),
        BenchStep(
            say("Tie the last tail round the stitch inside the last signature and trim both.")
        ),
        BenchStep(say("Press it lightly overnight and check every fold.")),
        wrapped(),
    )


DIMENSIONS = (
    *LEAF,
    signatures(6, least=2),
    folios(),
    SWELL,
    stations("4", 3, 4, 5, 6, 7),
    altered(END_DISTANCE, default=20 * MM),
    altered(TAILS, default=100 * MM),
    BOARD_SQUARE,
    BOARD_FOREEDGE,
    Dimension(
        "board_margin", to_say("Holes from the spine"), to_say("Boards"), "length",
        8 * MM, MM, 60 * MM,
        help=to_say("From the spine edge of the board to its holes."),
    ),
    TURN_IN,
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Chain stitch between boards"),
    says=to_say("Signatures linked to one another with chain stitches; it opens quite flat."),
    dimensions=DIMENSIONS,
    roles=(LEAVES, BOARDS, COVERING, PASTE, THREAD),
    operations=(CUT, FOLD, PUNCH, GLUE, SEW, FINISH),
    build=build,
    cautions=(BLADES, AWLS, PASTES, LAWS),
    stairs_keys=LEAF_STAIRS,
)
