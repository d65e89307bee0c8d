"""A single signature sewn through its fold with three, five or seven stations, and a folded cover.

The cover is one piece folded once; it may lie flush with the leaves and be trimmed with them.
The measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

from app.core.length import MM
from app.core.structures.advice import (
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
    Hole,
    Panel,
    PaperFacts,
    Structure,
    upright_folds,
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
    SCORE,
    SEW,
    SQUARE,
    TAILS,
    THREAD,
    TIED,
    folio_pieces,
    folios,
    grain_said,
    numbers,
    piece_of,
    pressed,
    refuse_low_cover,
    stations,
    trimmed,
    wrapped,
)
from app.core.structures.folio_steps import folio_steps
from app.core.structures.gathering import Gathering, gather, runs_along_the_fold
from app.core.structures.sewing import even_stations, pamphlet_path
from app.core.structures.thread import ThreadPath
from app.core.structures.words import altered, later
from app.language import say, say_many, to_say

KEY = "pamphlet"


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one booklet; ``papers`` holds the roles ``leaves`` and ``cover``."""
    n = numbers(dims, DIMENSIONS) | {"signatures": 1}
    cover_paper = papers["cover"]
    refuse_low_cover(n)
    gathering, cover = gather(dims, n, papers), _cover(dims, n)
    through = tuple(nm + cover_paper.caliper_nm for nm in gathering.through(0))
    points = pamphlet_path(n["stations"], 0, knot_inside=dims["knot"] == "inside")
    thread = (ThreadPath.through_fold(points, gathering.at, through, n["tails"]),)
    advice = [
        *_cover_advice(n, cover), *hole_advice(n, gathering.folio), *fold_advice(n, gathering)
    ]  # fmt: skip
    advice += length_advice(thread)
    advice += grain_advice(dims, gathering, leaf_grain="leaves", cover_grain="cover")
    return Build(
        structure=KEY,
        made_of=say_many(
            gathering.folios, "one signature of {n} folio", "one signature of {n} folios"
        ),
        leaves=gathering.leaves,
        pieces=folio_pieces(gathering) | {"cover": (piece_of(cover),)},
        lengths={"thread": thread[0].length_nm},
        counts={},
        operations={
            "cut": gathering.folios + 1 + trimmed(gathering),
            "fold": gathering.folios,
            "score": 1,
            "punch": 2 * n["stations"],
            "sew": n["stations"],
            "finish": 1,
        },
        flats=(cover, *gathering.flats),
        thread=thread,
        thickness_nm=gathering.block_nm + 2 * cover_paper.caliper_nm,
        closed_width_nm=n["leaf_width"] + n["foreedge_square"],
        closed_height_nm=cover.height_nm,
        creep_nm=gathering.creep_nm,
        advice=tuple(advice),
        steps=_steps(n, gathering, cover, thread[0]),
    )


def _cover(dims: Dims, n: Mapping[str, int]) -> Flat:
    panel = n["leaf_width"] + n["foreedge_square"]
    height = n["leaf_height"] + 2 * n["square"]
    at = even_stations(n["leaf_height"], n["stations"], n["end_distance"])
    return Flat(
        key="cover", name=say("Cover laid flat, inside up"), stock="card",
        width_nm=2 * panel, height_nm=height, folds=upright_folds([panel], height),
        holes=tuple(Hole(panel, n["square"] + y, 0, s) for s, y in enumerate(at)),
        panels=(Panel(to_say("front"), 0, panel), Panel(to_say("back"), panel, panel)),
        grain=runs_along_the_fold(dims, "cover_grain"),
    )  # fmt: skip


def _cover_advice(n: Mapping[str, int], cover: Flat) -> list[Advice]:
    if n["square"] >= 0:
        return []
    return [
        Advice(
            say(
                "The cover is {cover} high and the leaf {leaf}: the leaves stand out of it. Make "
                "the square zero for a cover of {leaf} that is trimmed with the leaves, or more."
            ),
            {"cover": cover.height_nm, "leaf": n["leaf_height"]},
            "square",
            grave=True,
        )
    ]


def _steps(
    n: Mapping[str, int], gathering: Gathering, cover: Flat, path: ThreadPath
) -> tuple[BenchStep, ...]:
    return (
        *folio_steps(gathering),
        BenchStep(
            say(
                "Cut the cover {width} wide and {height} high, {grain}; score it in the middle and "
                "fold it.",
                grain=grain_said(cover.grain),
                **later("width", "height"),
            ),
            {"width": cover.width_nm, "height": cover.height_nm},
            "cover",
            stage="cover",
        ),
        BenchStep(
            say(
                "Lay the cover template on and punch its {holes} holes in the fold, the outer ones "
                "{first} from its head and tail, so that they meet those of the leaves.",
                holes=n["stations"],
                **later("first"),
            ),
            {"first": cover.stations_nm[0]},
            "cover",
            stage="cover",
        ),
        BenchStep(
            say("Cut {thread} of thread and sew in the order drawn.") + " " + say(TIED),
            shows="thread",
            to_cut={"thread": path.length_nm},
        ),
        pressed(),
        wrapped(),
    )


DIMENSIONS = (
    *LEAF,
    altered(folios(6), group=to_say("Signature"), label=to_say("Folios")),
    stations("3", 3, 5, 7),
    END_DISTANCE,
    TAILS,
    Dimension(
        "knot", to_say("Knot"), to_say("Sewing"), "choice", "inside",
        choices=(("inside", to_say("inside")), ("outside", to_say("on the spine"))),
    ),
    altered(SQUARE, default=0),
    altered(FOREEDGE_SQUARE, default=2 * MM),
    COVER_GRAIN,
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Pamphlet of one signature"),
    says=to_say("Folios nested once and sewn through the fold into a cover folded once."),
    dimensions=DIMENSIONS,
    roles=(LEAVES, COVER, THREAD),
    operations=(CUT, FOLD, SCORE, PUNCH, SEW, FINISH),
    build=build,
    cautions=(BLADES, AWLS, LAWS),
    stairs_keys=LEAF_STAIRS,
)
