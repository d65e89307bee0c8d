"""Several signatures, each with a pamphlet stitch of its own, through one or two rows of holes.

Signatures that share a row go through the same holes of a cover in one piece, so its spine is no
wider than the block. The measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

from app.core.length import MM
from app.core.structures.advice import (
    HOLE_NM,
    cover_advice,
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
    PaperFacts,
    Structure,
)
from app.core.structures.common import (
    AWLS,
    BLADES,
    COVER,
    COVER_GRAIN,
    CUT,
    END_DISTANCE,
    FINISH,
    FOLD,
    FOREEDGE_SQUARE,
    LAWS,
    LEAF,
    LEAF_STAIRS,
    LEAVES,
    PUNCH,
    ROW_PITCH,
    SCORE,
    SEW,
    SPINE_STEP,
    SPINE_STEPS,
    SQUARE,
    SWELL,
    TAILS,
    THREAD,
    TIED,
    folio_pieces,
    folios,
    numbers,
    piece_of,
    pressed,
    refuse_low_cover,
    round_up,
    signatures,
    stations,
    trimmed,
    wrapped,
)
from app.core.structures.folio_steps import folio_steps, listed
from app.core.structures.gathering import Gathering, gather
from app.core.structures.words import altered
from app.core.structures.wrap_cover import (
    cover_steps,
    sewn_through,
    signatures_in_words,
    spine_panel,
    threads_cut,
    wrapped_cover,
)
from app.language import say, say_many, to_say

KEY = "pamphlet_rows"
MOST_A_HOLE = 2
"""Signatures that one row of holes takes before it tears and they lean: a rule of thumb."""


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one booklet; ``papers`` holds the roles ``leaves`` and ``cover``."""
    cover_paper = papers["cover"]
    n = numbers(dims, DIMENSIONS)
    refuse_low_cover(n)
    gathering = gather(dims, n, papers)
    shared = sharing(n["signatures"], int(dims["rows"]))
    spine = gathering.block_nm + cover_paper.caliper_nm
    step = SPINE_STEPS[str(dims["spine_step"])]
    apart = between_rows(gathering, shared)
    pitch = n["row_pitch"] or round_up(max(apart, 2 * HOLE_NM), step)
    pitch = pitch if len(shared) > 1 else 0
    wide = n["spine"] or round_up(max(spine, pitch + 2 * HOLE_NM), step)
    on_cover = n | {"signatures": len(shared), "row_pitch": pitch, "spine": wide}
    cover = wrapped_cover(dims, on_cover, gathering.block_nm, cover_paper.caliper_nm)
    thread = sewn_through(
        n, gathering, cover_paper.caliper_nm, knot_inside=dims["knot"] == "inside"
    )
    closed = gathering.block_nm + 2 * cover_paper.caliper_nm
    alone = n | {"signatures": 1, "row_pitch": 0, "flap": 0}
    advice = [
        *cover_advice(alone, cover, spine, 0, closed), *_rows_advice(pitch, apart, wide),
        *_crowded(max(map(len, shared)), len(shared)), *hole_advice(on_cover, gathering.folio),
        *fold_advice(n, gathering), *length_advice(thread),
        *grain_advice(dims, gathering, leaf_grain="leaves", cover_grain="cover"),
    ]  # fmt: skip
    sewn = n["signatures"] * n["stations"]
    return Build(
        structure=KEY,
        made_of=say("{signatures} through one row", signatures=signatures_in_words(gathering))
        if len(shared) == 1
        else say("{signatures} through two rows", signatures=signatures_in_words(gathering)),
        leaves=gathering.leaves,
        pieces=folio_pieces(gathering) | {"cover": (piece_of(cover),)},
        lengths={"thread": sum(path.length_nm for path in thread)},
        counts={},
        operations={
            "cut": gathering.folios + 1 + trimmed(gathering),
            "fold": gathering.folios,
            "score": len(cover.scores),
            "punch": sewn + len(cover.holes),
            "sew": sewn,
            "finish": 1,
        },
        flats=(cover, *gathering.flats),
        thread=thread,
        thickness_nm=max(closed, spine_panel(cover)),
        fore_edge_nm=gathering.leaves_nm + 2 * cover_paper.caliper_nm,
        closed_width_nm=n["leaf_width"] + n["foreedge_square"],
        closed_height_nm=cover.height_nm,
        creep_nm=gathering.creep_nm,
        advice=tuple(advice),
        steps=(
            *folio_steps(gathering),
            *cover_steps(cover, len(shared)),
            threads_cut(thread),
            *_sewn(shared, gathering),
            pressed(),
            wrapped(),
        ),
    )


def sharing(signatures_: int, rows: int) -> tuple[tuple[int, ...], ...]:
    """The signatures of each row, counted from 0; the first half in the first of two rows."""
    found: dict[int, list[int]] = {}
    for number in range(signatures_):
        found.setdefault(number * rows // signatures_, []).append(number)
    return tuple(map(tuple, found.values()))


def between_rows(gathering: Gathering, shared: tuple[tuple[int, ...], ...]) -> int:
    """How far apart two rows lie: half of what either holds; nothing for one row."""
    if len(shared) == 1:
        return 0
    return sum(sum(map(gathering.thickness_nm, whose)) for whose in shared) // 2


def _rows_advice(pitch_nm: int, apart_nm: int, spine_nm: int) -> list[Advice]:
    """Two rows that crowd what they hold, or lie past the spine."""
    found: list[Advice] = []
    if pitch_nm and pitch_nm < apart_nm:
        found.append(
            Advice(
                say(
                    "Rows {pitch} apart crowd signatures whose middles lie {apart} apart. Leave "
                    "{mend} between rows, or 0 to have it worked out."
                ),
                {"pitch": pitch_nm, "apart": apart_nm, "mend": -(-apart_nm // MM) * MM},
                "row_pitch",
            )
        )
    if pitch_nm and spine_nm < pitch_nm + 2 * HOLE_NM:
        found.append(
            Advice(
                say(
                    "The spine is {spine} and two rows {pitch} apart want {wide}: they would lie "
                    "in back and front. Give the spine as much, or bring the rows closer."
                ),
                {"spine": spine_nm, "pitch": pitch_nm, "wide": pitch_nm + 2 * HOLE_NM},
                "spine",
                grave=True,
            )
        )
    return found


def _crowded(most: int, rows: int) -> list[Advice]:
    if most <= MOST_A_HOLE:
        return []
    crowd = say(
        "{signatures} signatures go through the same holes, which tear, and the signatures lean: "
        "{most} are what a row holds.",
        signatures=most,
        most=MOST_A_HOLE,
    )
    if rows == 1:
        mend = say("Take two rows, or a cover with a row for each signature.")
        return [Advice(f"{crowd} {mend}", field="rows")]
    mend = say("Take fewer signatures, or a cover with a row for each.")
    return [Advice(f"{crowd} {mend}", field="signatures")]


def _sewn(shared: tuple[tuple[int, ...], ...], gathering: Gathering) -> list[BenchStep]:
    which = "; ".join(
        _through(whose, row + 1, alone=len(shared) == 1) for row, whose in enumerate(shared)
    )
    sew = say(
        "Sew one signature after the other in the order drawn, each with its own thread: {which}. "
        "Where a thread is in the hole already, go in beside it and not through it. Pull along the "
        "fold, never across it.",
        which=which,
    )
    return [BenchStep(f"{sew} {say(TIED)}", shows="thread")]


def _through(whose: tuple[int, ...], row: int, *, alone: bool) -> str:
    """Which signatures go through a row of holes."""
    numbers = listed([number + 1 for number in whose])
    if alone:
        return say_many(
            len(whose),
            "signature {numbers} through the row",
            "signatures {numbers} through the row",
            numbers=numbers,
        )
    return say_many(
        len(whose),
        "signature {numbers} through row {row}",
        "signatures {numbers} through row {row}",
        numbers=numbers,
        row=row,
    )


DIMENSIONS = (
    *LEAF,
    altered(signatures(2, least=2), most=12),
    folios(),
    SWELL,
    Dimension(
        "rows", to_say("Rows of holes"), to_say("Sewing"), "choice", "1",
        choices=(("1", to_say("one")), ("2", to_say("two"))),
    ),
    stations("3", 3, 5, 7),
    END_DISTANCE,
    ROW_PITCH,
    TAILS,
    Dimension(
        "knot", to_say("Knot"), to_say("Sewing"), "choice", "inside",
        choices=(("inside", to_say("inside")), ("outside", to_say("on the spine"))),
    ),
    SQUARE,
    FOREEDGE_SQUARE,
    Dimension(
        "spine", to_say("Spine"), to_say("Cover"), "length", 0, 0, 300 * MM,
        help=to_say("0 to have it worked out: the block and the cover."),
    ),
    SPINE_STEP,
    COVER_GRAIN,
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Pamphlet of several signatures"),
    says=to_say("Signatures sewn one by one through one or two rows of holes they share."),
    dimensions=DIMENSIONS,
    roles=(LEAVES, COVER, THREAD),
    operations=(CUT, FOLD, SCORE, PUNCH, SEW, FINISH),
    build=build,
    cautions=(BLADES, AWLS, LAWS),
    stairs_keys=LEAF_STAIRS,
)
