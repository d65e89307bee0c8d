"""Signatures sewn straight through a one-piece cover with long stitches that show on the spine.

One thread sews the whole book: it runs through a signature from one end to the other, out and in
at every station, and crosses on the outside to the next row at the end it has come to. Both tails
stay outside until they are knotted. The measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from app.core.length import MM
from app.core.structures.advice import all_advice, grain_advice
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dimension,
    Dims,
    Operation,
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
    SQUARE,
    SWELL,
    TAILS,
    THREAD,
    folio_pieces,
    folios,
    numbers,
    piece_of,
    pressed,
    refuse_low_cover,
    signatures,
    stations,
    trimmed,
    wrapped,
)
from app.core.structures.folio_steps import folio_steps
from app.core.structures.gathering import Gathering, gather
from app.core.structures.sewing import row_offsets
from app.core.structures.thread import Stitch, ThreadPath
from app.core.structures.words import altered, later
from app.core.structures.wrap_cover import (
    cover_steps,
    signatures_in_words,
    spine_panel,
    with_rows,
    wrapped_cover,
)
from app.language import say, say_many, to_say

KEY = "long_stitch"
LEAST_WOVEN, FOUR = 3, 4
WEFT_NM = MM
"""Rows that a thread can be woven across, and the room it takes there: rules of thumb."""
WEAVE = Operation(
    "weave", to_say("Weave across the spine"), "thread across", Fraction(1), Fraction(1)
)


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one journal; ``papers`` holds the roles ``leaves`` and ``cover``."""
    cover_paper = papers["cover"]
    n = numbers(dims, DIMENSIONS)
    gathering = gather(dims, n, papers)
    n = with_rows(dims, n, gathering)
    refuse_low_cover(n)
    block = gathering.block_nm
    cover = wrapped_cover(dims, n, block, cover_paper.caliper_nm)
    woven = woven_paths(n, gathering.at)
    thread = (long_stitch_path(n, gathering, cover_paper.caliper_nm), *woven)
    closed = block + (3 if n["flap"] else 2) * cover_paper.caliper_nm
    spine = block + cover_paper.caliper_nm
    advice = all_advice(n, gathering, cover, spine, closed, thread)
    advice += grain_advice(dims, gathering, leaf_grain="leaves", cover_grain="cover")
    advice += _woven_advice(n, gathering.at)
    sewn = n["signatures"] * n["stations"]
    return Build(
        structure=KEY,
        made_of=signatures_in_words(gathering),
        leaves=gathering.leaves,
        pieces=folio_pieces(gathering) | {"cover": (piece_of(cover),)},
        lengths={"thread": sum(path.length_nm for path in thread)},
        counts={},
        operations={
            "cut": gathering.folios + 1 + trimmed(gathering),
            "fold": gathering.folios,
            "score": len(cover.scores),
            "punch": 2 * sewn,
            "sew": sewn,
            "finish": 1,
        }
        | ({"weave": n["woven"] * len(woven)} if woven else {}),
        flats=(cover, *gathering.flats),
        thread=thread,
        thickness_nm=max(closed, spine_panel(cover)),
        closed_width_nm=n["leaf_width"] + n["foreedge_square"],
        closed_height_nm=cover.height_nm,
        creep_nm=gathering.creep_nm,
        flap_nm=n["flap"],
        fore_edge_nm=gathering.leaves_nm + 2 * cover_paper.caliper_nm,
        advice=tuple(advice),
        steps=(
            *folio_steps(gathering),
            *cover_steps(cover, n["signatures"]),
            BenchStep(
                say(
                    "Cut {thread} of thread; join a second length inside a signature rather than "
                    "sew with more than you can pull through."
                ),
                to_cut={"thread": thread[0].length_nm},
            ),
            BenchStep(
                say(
                    "Sew in the order drawn: in at one end, along and out and in to the other end, "
                    "across on the outside to the next row, and back. Hold the first tail till it "
                    "is knotted, and keep every stretch as tight."
                ),
                shows="thread",
            ),
            BenchStep(_tails_said(n["signatures"])),
            *_weaving(n, woven),
            pressed(),
            wrapped(),
        ),
    )


def _tails_said(signatures_: int) -> str:
    """Where the two tails end and how they are made fast; rows are sewn down and up in turn."""
    if signatures_ == 2:
        return say(
            "Both tails end outside at the head, side by side: tie them together and trim them."
        )
    # Rows cross at the tail from the first to the second, at the head from there to the third.
    places = {"lower": signatures_ - 2, "upper": signatures_ - 1}
    if signatures_ % 2:
        return say(
            "One tail ends outside at the head of the first row, one at the tail of the last: knot "
            "the first round the stitch between rows 2 and 3, the other round that between rows "
            "{lower} and {upper}, and trim both.",
            **places,
        )
    if signatures_ == FOUR:
        return say(
            "Both tails end outside at the head, of the first and of the last row: knot the first "
            "round the stitch between rows 2 and 3, and the last round it as well, and trim both."
        )
    return say(
        "Both tails end outside at the head, of the first and of the last row: knot the first "
        "round the stitch between rows 2 and 3, the last round that between rows {lower} and "
        "{upper}, and trim both.",
        **places,
    )


def long_stitch_path(n: Mapping[str, int], gathering: Gathering, cover_nm: int) -> ThreadPath:
    """The way of the one thread: rows up and down in turn, crossing outside at their ends."""
    at = gathering.at
    through = [gathering.through(row) for row in range(n["signatures"])]
    across = row_offsets(n["signatures"], n["row_pitch"])
    points: list[Stitch] = []
    for row in range(n["signatures"]):
        order = range(len(at)) if row % 2 == 0 else range(len(at) - 1, -1, -1)
        inside = False
        for station in order:
            points.append(Stitch(row, station, inside))
            inside = not inside
            points.append(Stitch(row, station, inside))
    places = tuple(
        (
            across[p.row],
            at[p.station],
            through[p.row][p.station] + cover_nm if p.inside else 0,
        )
        for p in points
    )
    return ThreadPath(tuple(points), places, n["tails"])


def woven_paths(n: Mapping[str, int], at: tuple[int, ...]) -> tuple[ThreadPath, ...]:
    """A thread for each stretch that shows on the spine, over and under its stitches in turn."""
    if not n["woven"]:
        return ()
    across = row_offsets(n["signatures"], n["row_pitch"])
    found = []
    for station in range(1, len(at) - 1, 2):
        points, places = [], []
        for time in range(n["woven"]):
            y = at[station] + (at[station + 1] - at[station]) * (time + 1) // (n["woven"] + 1)
            rows = range(n["signatures"])
            for row in rows if time % 2 == 0 else reversed(rows):
                points.append(Stitch(row, station, (row + time) % 2 == 1, over="stitch"))
                places.append((across[row], y, 0))
        sides = ("over", "under")
        found.append(ThreadPath(tuple(points), tuple(places), n["tails"], sides=sides))
    return tuple(found)


def _woven_advice(n: Mapping[str, int], at: tuple[int, ...]) -> list[Advice]:
    found: list[Advice] = []
    if n["woven"] and n["signatures"] < LEAST_WOVEN:
        found.append(
            Advice(
                say(
                    "Over {stitches} stitches nothing is woven: it takes {least} or more "
                    "signatures.",
                    stitches=n["signatures"],
                    least=LEAST_WOVEN,
                ),
                field="woven",
            )
        )
    if n["woven"] and (at[2] - at[1]) // (n["woven"] + 1) < WEFT_NM:
        found.append(
            Advice(
                say(
                    "Woven so often, threads lie {apart} apart on a stitch {stitch} long; they "
                    "take about {thick}. Weave less often."
                ),
                {"apart": max(at[2] - at[1], 0) // (n["woven"] + 1),
                 "stitch": max(at[2] - at[1], 0), "thick": WEFT_NM},
                "woven",
            )
        )  # fmt: skip
    return found


def _weaving(n: Mapping[str, int], woven: tuple[ThreadPath, ...]) -> Iterator[BenchStep]:
    if not woven:
        return
    cut = say_many(
        len(woven),
        "Cut a length of thread, {weft}.",
        "Cut {n} lengths of thread, {weft} each.",
        **later("weft"),
    )
    lengths = {"weft": woven[0].length_nm}
    yield BenchStep(f"{cut} {_woven_said(n['woven'], len(woven))}", to_cut=lengths, shows="thread")


def _woven_said(times: int, heights: int) -> str:
    """How thread is woven in, so many times at each of so many heights."""
    weave = (
        say_many(
            times,
            "With a blunt needle weave it across the stitches that show on the spine, once, over "
            "and under in turn, and every time the other way round than before; keep it loose "
            "enough not to draw the rows together.",
            "With a blunt needle weave it across the stitches that show on the spine, {n} times, "
            "over and under in turn, and every time the other way round than before; keep it loose "
            "enough not to draw the rows together.",
        )
        if heights == 1
        else say_many(
            times,
            "With a blunt needle weave one across the stitches that show on the spine, at each "
            "height, once, over and under in turn, and every time the other way round than before; "
            "keep it loose enough not to draw the rows together.",
            "With a blunt needle weave one across the stitches that show on the spine, at each "
            "height, {n} times, over and under in turn, and every time the other way round than "
            "before; keep it loose enough not to draw the rows together.",
        )
    )
    return weave + " " + say("Run the ends back under the stitches and trim them.")


DIMENSIONS = (
    *LEAF,
    signatures(4, least=2),
    folios(),
    SWELL,
    stations("4", 4, 6, 8),
    altered(END_DISTANCE, default=20 * MM),
    ROW_PITCH,
    altered(TAILS, default=100 * MM),
    Dimension(
        "woven", to_say("Woven across the spine"), to_say("Sewing"), "count", 0, 0, 40,
        optional=True,
        help=to_say(
            "How often a thread is woven over and under the stitches that show; 0 for none."
        ),
    ),
    SQUARE,
    FOREEDGE_SQUARE,
    Dimension(
        "spine", to_say("Spine"), to_say("Cover"), "length", 0, 0, 300 * MM,
        help=to_say("0 to have it worked out: the block and the cover, or the rows of holes."),
    ),
    SPINE_STEP,
    Dimension(
        "flap", to_say("Flap"), to_say("Cover"), "length", 0, 0, 500 * MM,
        help=to_say("0 for none."),
    ),
    COVER_GRAIN,
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Long stitch through a wrap cover"),
    says=to_say("Signatures sewn with one thread through the spine, the stitches showing outside."),
    dimensions=DIMENSIONS,
    roles=(LEAVES, COVER, THREAD),
    operations=(CUT, FOLD, SCORE, PUNCH, SEW, WEAVE, FINISH),
    build=build,
    cautions=(BLADES, AWLS, LAWS),
    stairs_keys=LEAF_STAIRS,
)
