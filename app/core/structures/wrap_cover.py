"""Wrap cover with a fore-edge flap, signatures pamphlet-sewn through the spine.

Each signature is sewn with its own thread through its own row of holes. The cover is one piece:
front, spine, back and a flap that folds over the front.

The measures offered first are common practice, no source: outer stations 1 in from head and tail,
a flap of about 2 in. Rows lie a signature's thickness apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from app.core.length import MM
from app.core.structures.advice import EDGE_NM, HOLE_NM, all_advice, grain_advice
from app.core.structures.base import (
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
    grain_said,
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
from app.core.structures.gathering import Gathering, gather, runs_along_the_fold
from app.core.structures.sewing import even_stations, pamphlet_path, row_offsets
from app.core.structures.thread import ThreadPath
from app.core.structures.words import later
from app.language import say, say_many, to_say

THICK_EDGE_NM, LEAST_FLAP_NM = 5 * MM, 2 * EDGE_NM
"""From this thickness on a flap is scored twice; what is left of it then (common practice)."""
KEY = "wrap_cover"
SAME_LENGTH_NM = 10 * MM
"""Lengths of thread that differ by less are cut alike (common practice, no source)."""


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one journal; ``papers`` holds the roles ``leaves`` and ``cover``."""
    cover_paper = papers["cover"]
    n = numbers(dims, DIMENSIONS)
    gathering = gather(dims, n, papers)
    n = with_rows(dims, n, gathering)
    block = gathering.block_nm
    refuse_low_cover(n)
    cover = wrapped_cover(dims, n, block, cover_paper.caliper_nm)
    thread = sewn_through(
        n, gathering, cover_paper.caliper_nm, knot_inside=dims["knot"] == "inside"
    )
    closed_width = n["leaf_width"] + n["foreedge_square"]
    # Back and front, and the flap where it lies over the front.
    closed = block + (3 if n["flap"] else 2) * cover_paper.caliper_nm
    thickness = max(closed, spine_panel(cover))
    spine = block + cover_paper.caliper_nm
    advice = all_advice(n, gathering, cover, spine, closed, thread)
    advice += grain_advice(dims, gathering, leaf_grain="leaves", cover_grain="cover")
    return Build(
        structure=KEY,
        made_of=signatures_in_words(gathering),
        leaves=gathering.leaves,
        pieces=folio_pieces(gathering) | {"cover": (piece_of(cover),)},
        lengths={"thread": sum(path.length_nm for path in thread)},
        counts={},
        operations=_operations(n, gathering, cover),
        flats=(cover, *gathering.flats),
        thread=thread,
        thickness_nm=thickness,
        closed_width_nm=closed_width,
        closed_height_nm=cover.height_nm,
        creep_nm=gathering.creep_nm,
        flap_nm=n["flap"],
        fore_edge_nm=gathering.leaves_nm + 2 * cover_paper.caliper_nm,
        advice=tuple(advice),
        steps=_steps(n, gathering, cover, thread),
    )


def signatures_in_words(gathering: Gathering) -> str:
    """``3 signatures of 4 folios``; where they have not as many each, all folios together."""
    number, folios = len(gathering.signatures), {len(nest) for nest in gathering.signatures}
    some = say_many(number, "{n} signature", "{n} signatures")
    if len(folios) > 1:
        all_ = say_many(gathering.folios, "{n} folio in all", "{n} folios in all")
        return f"{some}, {all_}"
    [made_of] = folios
    each = say_many(made_of, "{n} folio", "{n} folios")
    return say("{signatures} of {folios}", signatures=some, folios=each)


def spine_panel(cover: Flat) -> int:
    """Width of the spine: rows a hole apart may make it wider than the block is thick."""
    return next(panel.width_nm for panel in cover.panels if panel.key == "spine")


def with_rows(dims: Dims, n: Mapping[str, int], gathering: Gathering) -> dict[str, int]:
    """The numbers with the distance of the rows, worked out where none was typed.

    Rows lie the thickest signature apart, and never closer than holes can be punched.
    """
    step = SPINE_STEPS[str(dims["spine_step"])]
    least = max(gathering.thickest_nm, 2 * HOLE_NM)
    return dict(n) | {"row_pitch": n["row_pitch"] or round_up(least, step)}


def wrapped_cover(dims: Dims, n: Mapping[str, int], block_nm: int, caliper_nm: int) -> Flat:
    """Front, spine, back and perhaps a flap in one piece, a row of holes for each signature.

    Measured outside, the spine takes the block and the cover's own thickness; a flap over a thick
    block is scored twice, the thickness apart, so that it lies round the fore edge.
    """
    rows = n["signatures"]
    step = SPINE_STEPS[str(dims["spine_step"])]
    least_spine = max(block_nm + caliper_nm, rows * n["row_pitch"])
    spine = n["spine"] or round_up(least_spine, step)
    panel = n["leaf_width"] + n["foreedge_square"]
    height = n["leaf_height"] + 2 * n["square"]
    flap = n.get("flap", 0)
    # Inside up the front lies at the left, and the flap grows out of the back.
    panels = [Panel(to_say("front"), 0, panel), Panel(to_say("spine"), panel, spine)]
    panels.append(Panel(to_say("back"), panel + spine, panel))
    edge = round_up(block_nm + 2 * caliper_nm, step)
    if edge < THICK_EDGE_NM or flap < edge + LEAST_FLAP_NM:
        edge = 0
    if edge:
        panels.append(Panel(to_say("fore edge"), 2 * panel + spine, edge))
    if flap:
        panels.append(Panel(to_say("flap"), 2 * panel + spine + edge, flap - edge))
    middle = panel + spine // 2
    at = even_stations(n["leaf_height"], n["stations"], n["end_distance"])
    holes = tuple(
        Hole(middle + offset, n["square"] + y, row, station)
        for row, offset in enumerate(row_offsets(rows, n["row_pitch"]))
        for station, y in enumerate(at)
    )
    width = 2 * panel + spine + flap
    return Flat(
        key="cover", name=say("Cover laid flat, inside up"), stock="card",
        width_nm=width, height_nm=height, folds=upright_folds([p.x_nm for p in panels[1:]], height),
        holes=holes, panels=tuple(panels),
        grain=runs_along_the_fold(dims, "cover_grain"),
    )  # fmt: skip


def sewn_through(
    n: Mapping[str, int], gathering: Gathering, backing_nm: int, *, knot_inside: bool
) -> tuple[ThreadPath, ...]:
    """One thread a signature, through its fold and what lies behind it, ``backing_nm`` thick."""
    return tuple(
        ThreadPath.through_fold(
            pamphlet_path(n["stations"], row, knot_inside=knot_inside),
            gathering.at,
            tuple(nm + backing_nm for nm in gathering.through(row)),
            n["tails"],
        )
        for row in range(n["signatures"])
    )


def _operations(n: Mapping[str, int], gathering: Gathering, cover: Flat) -> dict[str, int]:
    sewn = n["signatures"] * n["stations"]
    return {
        "cut": gathering.folios + 1 + trimmed(gathering),
        "fold": gathering.folios,
        "score": len(cover.scores),
        "punch": 2 * sewn,
        "sew": sewn,
        "finish": 1,
    }


def cover_steps(cover: Flat, rows: int) -> list[BenchStep]:
    """Cutting, scoring and punching a one-piece cover."""
    panels = {p.key: p.width_nm for p in cover.panels}
    places = {"first": cover.stations_nm[0], "last": cover.height_nm - cover.stations_nm[-1]}
    found = [
        BenchStep(
            say(
                "Cut the cover {width} wide and {height} high, {grain}. From the left, inside up: "
                "{panels}.",
                grain=grain_said(cover.grain),
                panels=", ".join(f"{p.name} {{{p.key}}}" for p in cover.panels),
                **later("width", "height"),
            ),
            {"width": cover.width_nm, "height": cover.height_nm} | panels,
            "cover",
        ),
        BenchStep(
            say_many(
                rows,
                "Lay the cover template on the inside and punch {holes} holes, one row: the outer "
                "ones {first} from the head and {last} from the tail of the cover.",
                "Lay the cover template on the inside and punch {holes} holes, {n} rows, the first "
                "signature's next to the front: the outer ones {first} from the head and {last} "
                "from the tail of the cover.",
                holes=len(cover.holes),
                **later(*places),
            ),
            places,
            "cover",
        ),
        BenchStep(
            say_many(
                len(cover.scores),
                "Score the {n} fold line by the template and fold them sharp.",
                "Score the {n} fold lines by the template and fold them sharp.",
            ),
            shows="cover",
        ),
    ]
    # What else is punched, clipped or stamped comes while it lies flat, before it is scored.
    return [*(replace(step, stage="cover") for step in found[:-1]), found[-1]]


def _steps(
    n: Mapping[str, int],
    gathering: Gathering,
    cover: Flat,
    thread: tuple[ThreadPath, ...],
) -> tuple[BenchStep, ...]:
    sew = (
        say(
            "Sew the signature through its row, in the order drawn; pull along the fold, never "
            "across it."
        )
        if len(thread) == 1
        else say(
            "Sew each signature through its own row, in the order drawn; pull along the fold, "
            "never across it."
        )
    )
    return (
        *folio_steps(gathering),
        *cover_steps(cover, n["signatures"]),
        threads_cut(thread),
        BenchStep(f"{sew} {say(TIED)}", shows="thread"),
        pressed(),
        wrapped(),
    )


def threads_cut(thread: tuple[ThreadPath, ...]) -> BenchStep:
    """A length of thread for each signature: that of the longest, where they differ by little."""
    rows: dict[int, list[int]] = {}
    for row, path in enumerate(thread):
        rows.setdefault(path.length_nm, []).append(row + 1)
    if max(rows) - min(rows) < SAME_LENGTH_NM:
        rows = {max(rows): list(range(1, len(thread) + 1))}
    lengths = {f"each{i}": nm for i, nm in enumerate(rows)}
    if len(thread) == 1:
        text = say("Cut {each0} of thread.")
    elif len(rows) == 1:
        text = say(
            "Cut {lengths} lengths of thread, {each0} each.",
            lengths=len(thread),
            **later("each0"),
        )
    else:
        text = say(
            "Cut {lengths} lengths of thread: {each}.",
            lengths=len(thread),
            each="; ".join(
                _threads_for(whose, f"{{each{i}}}") for i, whose in enumerate(rows.values())
            ),
        )
    return BenchStep(text, to_cut=lengths)


def _threads_for(whose: list[int], length: str) -> str:
    return say_many(
        len(whose),
        "{length} for signature {numbers}",
        "{length} for signatures {numbers}",
        length=length,
        numbers=listed(whose),
    )


DIMENSIONS = (
    *LEAF,
    signatures(),
    folios(),
    SWELL,
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
        help=to_say("0 to have it worked out: the block and the cover, or the rows of holes."),
    ),
    SPINE_STEP,
    Dimension("flap", to_say("Flap"), to_say("Cover"), "length", 50 * MM, 0, 500 * MM),
    COVER_GRAIN,
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Wrap cover with fore-edge flap"),
    says=to_say(
        "Signatures sewn through the spine of a one-piece cover, tied with cord and beads."
    ),
    dimensions=DIMENSIONS,
    roles=(LEAVES, COVER, THREAD),
    operations=(
        CUT,
        FOLD,
        SCORE,
        PUNCH,
        SEW,
        FINISH,
    ),
    build=build,
    cautions=(BLADES, AWLS),
    closing="cord",
    stairs_keys=LEAF_STAIRS,
)
