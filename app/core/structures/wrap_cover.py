"""Wrap cover with a fore-edge flap, signatures pamphlet-sewn through the spine, tied with cord.

Each signature is sewn with its own thread through its own row of holes. The cover is one piece:
back, spine, front and a flap that folds over the front; a doubled cord looped through the flap
goes round the closed journal and carries beads on its ends.

The measures offered first are common practice, no source: 1/8 in between rows, outer stations
1 in from head and tail, a flap of about 2 in, two wraps of the doubled cord, three beads on
each end.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import MM
from app.core.paper import Piece
from app.core.structures.advice import EDGE_NM, LEAST_COVER_NM, across_the_grain, all_advice
from app.core.structures.base import (
    Build,
    CoverLayout,
    Dimension,
    Dims,
    FolioLayout,
    Hole,
    Operation,
    Panel,
    PaperFacts,
    Role,
    Structure,
    ThreadPath,
    length_of,
)
from app.core.structures.sewing import even_stations, pamphlet_path, row_offsets

SPINE_STEP_NM = MM // 2

GRAIN_CHOICES = (("fold", "along the fold"), ("free", "either way"))


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one journal; ``papers`` holds the roles ``leaves`` and ``cover``."""
    n = {d.key: length_of(dims, d.key) for d in DIMENSIONS if d.kind != "choice"}
    n["stations"] = int(dims["stations"])
    leaves, cover_paper = papers["leaves"], papers["cover"]
    block = 2 * n["signatures"] * n["folios"] * leaves.caliper_nm
    block += block * n["swell"] // 100
    if n["leaf_height"] + 2 * n["square"] < LEAST_COVER_NM:
        raise DomainError(
            "With this square hardly any cover is left: it would be lower than 20 mm.", "square"
        )
    cover = _cover(n, block)
    folio = FolioLayout(
        width_nm=2 * n["leaf_width"],
        height_nm=n["leaf_height"],
        fold_nm=n["leaf_width"],
        stations_nm=even_stations(n["leaf_height"], n["stations"], n["end_distance"]),
    )
    thread = _thread(n, folio, leaves, cover_paper, knot_inside=dims["knot"] == "inside")
    closed_width = n["leaf_width"] + n["foreedge_square"]
    # Back and front, and the flap where it lies over the front.
    thickness = block + (3 if n["flap"] else 2) * cover_paper.caliper_nm
    cord = cord_length(
        wraps=n["wraps"],
        closed_width_nm=closed_width,
        thickness_nm=thickness,
        tail_nm=n["cord_tail"] or closed_width,
        hitch_nm=n["hitch"],
    )
    creep = (n["folios"] - 1) * leaves.caliper_nm
    advice = all_advice(n, folio, cover, block, thickness, thread, cord, leaves, creep)
    if dims["leaf_grain"] == "free":
        advice.append(across_the_grain("leaves", "leaf_grain"))
    if dims["cover_grain"] == "free":
        advice.append(across_the_grain("cover", "cover_grain"))
    return Build(
        structure=KEY,
        signatures=n["signatures"],
        folios=n["folios"],
        pieces=_pieces(dims, n, folio, cover),
        lengths={"thread": sum(path.length_nm for path in thread), "cord": cord},
        counts={"beads": _beads(n)},
        operations=_operations(n),
        cover=cover,
        folio=folio,
        thread=thread,
        thickness_nm=thickness,
        closed_width_nm=closed_width,
        closed_height_nm=cover.height_nm,
        creep_nm=creep,
        advice=tuple(advice),
    )


def _beads(n: Mapping[str, int]) -> int:
    """Beads on both ends of the cord; without a cord there is nothing to string them on."""
    return 2 * n["beads_each_end"] if n["wraps"] else 0


def cord_length(
    *, wraps: int, closed_width_nm: int, thickness_nm: int, tail_nm: int, hitch_nm: int
) -> int:
    """Cord for a closing of so many wraps, doubled and looped through the flap.

    Both strands go round ``wraps`` times and end in a tail; the hitch is what the loop takes.
    No wraps, no cord. *Common practice, no source.*
    """
    if not wraps:
        return 0
    girth = 2 * (closed_width_nm + thickness_nm)
    return 2 * (wraps * girth + tail_nm) + hitch_nm


def _cover(n: Mapping[str, int], block_nm: int) -> CoverLayout:
    rows = n["signatures"]
    least_spine = max(block_nm, rows * n["row_pitch"])
    spine = n["spine"] or -(-least_spine // SPINE_STEP_NM) * SPINE_STEP_NM
    panel = n["leaf_width"] + n["foreedge_square"]
    height = n["leaf_height"] + 2 * n["square"]
    panels = [Panel("back", 0, panel), Panel("spine", panel, spine)]
    panels.append(Panel("front", panel + spine, panel))
    if n["flap"]:
        panels.append(Panel("flap", 2 * panel + spine, n["flap"]))
    stations = even_stations(n["leaf_height"], n["stations"], n["end_distance"])
    middle = panel + spine // 2
    holes = tuple(
        Hole(middle + offset, n["square"] + y, row, station)
        for row, offset in enumerate(row_offsets(rows, n["row_pitch"]))
        for station, y in enumerate(stations)
    )
    width = 2 * panel + spine + n["flap"]
    closing = None
    if n["wraps"]:
        closing = (width - min(10 * MM, max(n["flap"] // 3, EDGE_NM)), height // 2)
    return CoverLayout(width, height, tuple(panels), holes, closing)


def _thread(
    n: Mapping[str, int],
    folio: FolioLayout,
    leaves: PaperFacts,
    cover: PaperFacts,
    *,
    knot_inside: bool,
) -> tuple[ThreadPath, ...]:
    through = n["folios"] * leaves.caliper_nm + cover.caliper_nm
    return tuple(
        ThreadPath(
            points=pamphlet_path(n["stations"], row, knot_inside=knot_inside),
            stations_nm=folio.stations_nm,
            pass_nm=through,
            tail_nm=n["tails"],
        )
        for row in range(n["signatures"])
    )


def _pieces(
    dims: Dims, n: Mapping[str, int], folio: FolioLayout, cover: CoverLayout
) -> dict[str, Piece]:
    return {
        "leaves": Piece(
            "folio",
            folio.width_nm,
            folio.height_nm,
            n["signatures"] * n["folios"],
            "height" if dims["leaf_grain"] == "fold" else None,
        ),
        "cover": Piece(
            "cover",
            cover.width_nm,
            cover.height_nm,
            1,
            "height" if dims["cover_grain"] == "fold" else None,
        ),
    }


def _operations(n: Mapping[str, int]) -> dict[str, int]:
    folios = n["signatures"] * n["folios"]
    stations = n["signatures"] * n["stations"]
    return {
        "cut": folios + 1,
        "fold": folios,
        "score": 3 if n["flap"] else 2,
        "punch": 2 * stations + (1 if n["wraps"] else 0),
        "sew": stations,
        "bead": _beads(n),
        "tie": 1 if n["wraps"] else 0,
        "finish": 1,
    }


KEY = "wrap_cover"

DIMENSIONS = (
    Dimension(
        "leaf_height",
        "Height",
        "Leaf",
        "length",
        160 * MM,
        20 * MM,
        1000 * MM,
        help="One page, from head to tail.",
    ),
    Dimension(
        "leaf_width",
        "Width",
        "Leaf",
        "length",
        120 * MM,
        20 * MM,
        1000 * MM,
        help="One page, from fold to fore edge.",
    ),
    Dimension("leaf_grain", "Grain of the leaves", "Leaf", "choice", "fold", choices=GRAIN_CHOICES),
    Dimension("signatures", "How many", "Signatures", "count", 3, 1, 24),
    Dimension("folios", "Folios in each", "Signatures", "count", 4, 1, 40),
    Dimension(
        "swell",
        "Swell",
        "Signatures",
        "percent",
        0,
        0,
        60,
        help="What thread adds to the thickness at the spine, in per cent.",
    ),
    Dimension(
        "stations",
        "Stations",
        "Sewing",
        "choice",
        "3",
        choices=(("3", "3"), ("5", "5"), ("7", "7")),
    ),
    Dimension(
        "end_distance",
        "From each end",
        "Sewing",
        "length",
        25 * MM,
        0,
        400 * MM,
        help="Head or tail of the leaf to the outer station.",
    ),
    Dimension("row_pitch", "Between rows", "Sewing", "length", 3_175_000, 0, 50 * MM),
    Dimension("tails", "Tails", "Sewing", "length", 60 * MM, 0, 1000 * MM),
    Dimension(
        "knot",
        "Knot",
        "Sewing",
        "choice",
        "inside",
        choices=(("inside", "inside"), ("outside", "on the spine")),
    ),
    Dimension(
        "square",
        "Square, head and tail",
        "Cover",
        "length",
        5 * MM,
        -100 * MM,
        100 * MM,
        help="How far the cover stands past the leaf above and below.",
    ),
    Dimension("foreedge_square", "Fore-edge square", "Cover", "length", 6 * MM, 0, 100 * MM),
    Dimension(
        "spine",
        "Spine",
        "Cover",
        "length",
        0,
        0,
        300 * MM,
        help="0 to have it worked out: the block or the rows of holes, whichever is wider.",
    ),
    Dimension("flap", "Flap", "Cover", "length", 50 * MM, 0, 500 * MM),
    Dimension(
        "cover_grain", "Grain of the cover", "Cover", "choice", "fold", choices=GRAIN_CHOICES
    ),
    Dimension("wraps", "Wraps", "Closing", "count", 2, 0, 12),
    Dimension(
        "cord_tail",
        "Cord tail",
        "Closing",
        "length",
        0,
        0,
        1000 * MM,
        help="0 for the width of the closed journal.",
    ),
    Dimension("hitch", "Loop and hitch", "Closing", "length", 40 * MM, 0, 500 * MM),
    Dimension("beads_each_end", "Beads on each end", "Closing", "count", 3, 0, 40),
)

STRUCTURE = Structure(
    key=KEY,
    name="Wrap cover with fore-edge flap",
    says="Signatures sewn through the spine of a one-piece cover, tied with cord and beads.",
    dimensions=DIMENSIONS,
    roles=(
        Role("leaves", "Paper of the leaves", "sheet"),
        Role("cover", "Paper of the cover", "sheet"),
        Role("thread", "Thread", "length"),
        Role("cord", "Cord", "length"),
        Role("beads", "Beads", "count"),
    ),
    operations=(
        Operation("cut", "Cut pieces", "piece", Fraction(6), Fraction(1, 5)),
        Operation("fold", "Fold folios", "folio", Fraction(0), Fraction(2, 5)),
        Operation("score", "Score the cover", "score line", Fraction(3), Fraction(3, 5)),
        Operation("punch", "Punch holes", "hole", Fraction(4), Fraction(3, 20)),
        Operation("sew", "Sew", "station", Fraction(2), Fraction(6, 5)),
        Operation("bead", "String beads", "bead", Fraction(1), Fraction(1, 2)),
        Operation("tie", "Fit the closing", "journal", Fraction(1), Fraction(3)),
        Operation("finish", "Press, check and wrap", "journal", Fraction(2), Fraction(4)),
    ),
    build=build,
    cautions=(
        "Cut on a mat along a safety straightedge, the holding hand behind the blade; latch the "
        "arm of a board cutter when it is not in use.",
        "Punch with an awl away from the hand, into a cradle or a pad.",
        "Beads are small parts and a long cord is a snare: keep both from small children. Local "
        "rules on product safety and labelling decide what may be sold and how it must be "
        "marked; ask the authority or a licensed adviser where you sell.",
    ),
    stairs_keys=("leaf_height", "leaf_width"),
)
