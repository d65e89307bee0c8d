"""Single leaves sewn through the side, near the spine, between two covers, in a pattern.

The thread begins between the leaves at the second hole. At every hole it goes once round the
spine, at the outer ones round head or tail as well; going and coming it fills the stitches of the
pattern on both sides. The measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations

from app.core.errors import DomainError
from app.core.length import MM
from app.core.structures.advice import EDGE_NM, HOLE_NM, length_advice
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dimension,
    Dims,
    Flat,
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
    FINISH,
    LAWS,
    LEAF,
    LEAF_STAIRS,
    LEAVES,
    PUNCH,
    SCORE,
    SEW,
    TAILS,
    THREAD,
    caution,
    leaves_and_covers_cut,
    numbers,
    piece_of,
    wrapped,
)
from app.core.structures.gathering import runs_along_the_fold
from app.core.structures.sewing import even_stations
from app.core.structures.side_patterns import (
    EXTRA,
    PATTERNS,
    PLAIN,
    SidePattern,
    SideSewing,
    side_pattern,
)
from app.core.structures.thread import ThreadPath, over
from app.core.structures.words import later
from app.language import say, say_many, to_say

KEY = "side_sewn"
FIRST_HOLES = 4
THICKEST_NM = 12 * MM
"""Thicker blocks are hard to pierce straight by hand: a rule of thumb."""
NEAR = {
    "margin": to_say(
        "The holes lie {near} from the spine; the paper tears closer than {edge}. Move them in to "
        "{edge} or more."
    ),
    "end_distance": to_say(
        "The holes lie {near} from head and tail; the paper tears closer than {edge}. Move them in "
        "to {edge} or more."
    ),
}
EXTRA_NEAR = {
    "margin": to_say(
        "The extra holes of the pattern lie {near} from the spine; the paper tears closer than "
        "{edge}. Move the line of stitches in, or sew a plain line."
    ),
    "end_distance": to_say(
        "The extra holes of the pattern lie {near} from head and tail; the paper tears closer than "
        "{edge}. Move the line of stitches in, or sew a plain line."
    ),
}
FREE = {
    "leaf_grain": to_say(
        "The grain of the leaves may run either way: across it they are stiff to turn and do not "
        "lie open. Choose “along the fold”, so that it runs along the spine, where the paper has a "
        "grain."
    ),
    "cover_grain": to_say(
        "The grain of the cover may run either way: across it the score cracks. Choose “along the "
        "fold”, so that it runs along the spine, where the paper has a grain."
    ),
}
"""Warnings by the dimension to change: holes near an edge, and a grain that may run either way."""


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one notebook; ``papers`` holds the roles ``leaves`` and ``cover``."""
    n = numbers(dims, DIMENSIONS)
    leaves, cover_paper = papers["leaves"], papers["cover"]
    if n["margin"] + n["hinge"] >= n["leaf_width"]:
        raise DomainError(
            say("The sewn margin takes the whole leaf; sew nearer the spine."), "margin"
        )
    thickness = n["leaves"] * leaves.caliper_nm + 2 * cover_paper.caliper_nm
    at = even_stations(n["leaf_height"], n["holes"], n["end_distance"])
    pattern = side_pattern(
        str(dims["pattern"]), at, n["leaf_height"], n["margin"], n["end_distance"]
    )
    leaf = _flat(dims, n, pattern, "leaf")
    cover = _flat(dims, n, pattern, "cover")
    path = SideSewing(pattern, n["leaf_height"], thickness, n["tails"]).path
    advice = [*_advice(n, thickness), *_extra_advice(pattern), *length_advice((path,))]
    advice += _free_grain(dims)
    return Build(
        structure=KEY,
        made_of=say_many(n["leaves"], "{n} single leaf", "{n} single leaves"),
        leaves=n["leaves"],
        pieces={"leaves": (piece_of(leaf),), "cover": (piece_of(cover),)},
        lengths={"thread": path.length_nm},
        counts={},
        operations={
            "cut": n["leaves"] + 2, "score": 2, "punch": len(pattern.holes),
            # Every hole is sewn through going and coming.
            "sew": 2 * len(pattern.holes), "finish": 1,
        },
        flats=(cover, leaf),
        thread=(path,),
        thickness_nm=thickness,
        closed_width_nm=n["leaf_width"],
        closed_height_nm=n["leaf_height"],
        advice=tuple(advice),
        steps=_steps(n, leaf, cover, pattern, path),
    )  # fmt: skip


def _flat(dims: Dims, n: Mapping[str, int], pattern: SidePattern, key: str) -> Flat:
    """A leaf or a cover with its holes, the spine at the left; the cover is scored to hinge."""
    hinge = n["margin"] + n["hinge"]
    panels: tuple[Panel, ...] = ()
    folds: tuple[tuple[int, int, int, int], ...] = ()
    if key == "cover":
        panels = (
            Panel(to_say("spine"), 0, hinge),
            Panel(to_say("cover"), hinge, n["leaf_width"] - hinge),
        )
        folds = upright_folds([hinge], n["leaf_height"])
    return Flat(
        key=key,
        name=say("One cover of two, spine at the left")
        if panels
        else say("One leaf, spine at the left"),
        stock="card" if panels else "leaf", width_nm=n["leaf_width"], height_nm=n["leaf_height"],
        folds=folds, panels=panels,
        holes=pattern.holes,
        grain=runs_along_the_fold(dims, "cover_grain" if panels else "leaf_grain"),
        count=2 if panels else n["leaves"],
    )  # fmt: skip


def _advice(n: Mapping[str, int], thickness_nm: int) -> list[Advice]:
    found = []
    for key, text in NEAR.items():
        if n[key] < EDGE_NM:
            found.append(Advice(say(text), {"near": n[key], "edge": EDGE_NM}, key, grave=True))
    if 2 * (n["margin"] + n["hinge"]) > n["leaf_width"]:
        found.append(
            Advice(
                say(
                    "The sewn margin takes {margin} of a leaf {leaf} wide: hardly half of it "
                    "opens. Sew nearer the spine, or take a wider leaf."
                ),
                {"margin": n["margin"] + n["hinge"], "leaf": n["leaf_width"]},
                "margin",
            )
        )
    if n["leaf_height"] - 2 * n["end_distance"] < (n["holes"] - 1) * EDGE_NM:
        found.append(
            Advice(
                say(
                    "Outer holes {end} from both ends leave the {holes} too close together, or let "
                    "them pass each other, on a leaf {leaf} high. Bring them nearer the ends, or "
                    "pierce fewer.",
                    holes=n["holes"],
                    **later("end", "leaf"),
                ),
                {"end": n["end_distance"], "leaf": n["leaf_height"]},
                "end_distance",
                grave=True,
            )
        )
    if thickness_nm > THICKEST_NM:
        found.append(
            Advice(
                say(
                    "The block is {thick} thick; past {most} it is hard to pierce straight. Take "
                    "fewer leaves, or drill it clamped between boards."
                ),
                {"thick": thickness_nm, "most": THICKEST_NM},
                "leaves",
            )
        )
    return found


def _extra_advice(pattern: SidePattern) -> Iterator[Advice]:
    """Whether the holes that a pattern adds lie too near to an edge or to those of the line."""
    extra = pattern.of_row(EXTRA)
    if not extra:
        return
    for key, near in (("margin", extra[0].x_nm), ("end_distance", extra[0].y_nm)):
        if near < EDGE_NM:
            yield Advice(say(EXTRA_NEAR[key]), {"near": near, "edge": EDGE_NM}, key)
    beside = min(
        over(abs(a.x_nm - b.x_nm), abs(a.y_nm - b.y_nm)) for a, b in combinations(pattern.holes, 2)
    )
    if beside < HOLE_NM * 2:
        yield Advice(
            say(
                "Holes of the pattern lie {near} from one another and tear into each other. Pierce "
                "fewer, or choose another pattern."
            ),
            {"near": beside},
            "holes",
            grave=True,
        )


def _free_grain(dims: Dims) -> list[Advice]:
    """Nothing is folded here: across the grain a leaf is stiff to turn and a score cracks."""
    return [Advice(say(text), field=key) for key, text in FREE.items() if dims[key] == "free"]


def _steps(
    n: Mapping[str, int], leaf: Flat, cover: Flat, pattern: SidePattern, path: ThreadPath
) -> tuple[BenchStep, ...]:
    extra = len(pattern.of_row(EXTRA))
    places = {"holes": n["holes"], **later("margin", "end")}
    pierce = (
        say(
            "Lay the template on and pierce {holes} holes {margin} from the spine, the outer ones "
            "{end} from head and tail and the {extra} of the pattern {near} from the spine.",
            extra=extra,
            **places,
            **later("near"),
        )
        if extra
        else say(
            "Lay the template on and pierce {holes} holes {margin} from the spine, the outer ones "
            "{end} from head and tail.",
            **places,
        )
    )
    clip = say(
        "Then clip the block at its fore edge and take the clamp off: the thread goes round the "
        "spine."
    )
    return (
        caution(BLADES),
        leaves_and_covers_cut(n["leaves"], leaf, cover),
        BenchStep(
            say("Score both covers {hinge} from the spine, so that they open there."),
            {"hinge": n["margin"] + n["hinge"]},
            "cover",
        ),
        BenchStep(say("Knock the leaves up between the covers and clamp them near the spine.")),
        caution(AWLS),
        BenchStep(
            f"{pierce} {clip}",
            {"margin": n["margin"], "end": n["end_distance"], "near": n["margin"] // 2},
            "cover",
        ),
        BenchStep(
            say(
                "Cut {thread} of thread and sew in the order drawn, beginning between the leaves "
                "at the second hole of the line from the head. Come back into the same opening "
                "there, tie the tails, draw the knot in and trim it."
            ),
            shows="thread",
            to_cut={"thread": path.length_nm},
        ),
        BenchStep(say("Press it overnight under a board.")),
        wrapped(),
    )


DIMENSIONS = (
    *LEAF,
    Dimension("leaves", to_say("How many leaves"), to_say("Leaf"), "count", 40, 2, 1000),
    Dimension(
        "margin", to_say("Holes from the spine"), to_say("Sewing"), "length", 12 * MM, 0, 100 * MM,
        help=to_say("From the spine edge to the line of stitches."),
    ),
    Dimension(
        "end_distance", to_say("From each end"), to_say("Sewing"), "length", 15 * MM, 0, 400 * MM,
        help=to_say("Head or tail to the outer hole."),
    ),
    Dimension(
        "holes", to_say("Holes in the line"), to_say("Sewing"), "count", FIRST_HOLES, 2, 12,
        optional=True,
    ),
    Dimension(
        "pattern", to_say("Pattern"), to_say("Sewing"), "choice", PLAIN, choices=PATTERNS,
        optional=True,
        help=to_say("Any but the plain line adds holes half way to the spine."),
    ),
    TAILS,
    Dimension(
        "hinge", to_say("Hinge beyond the holes"), to_say("Cover"), "length", 4 * MM, 0, 50 * MM,
        help=to_say("From the line of stitches to the score along which the cover opens."),
    ),
    COVER_GRAIN,
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Side-sewn single leaves"),
    says=to_say("Single leaves and two covers sewn through the side, round spine, head and tail."),
    dimensions=DIMENSIONS,
    roles=(LEAVES, COVER, THREAD),
    operations=(CUT, SCORE, PUNCH, SEW, FINISH),
    build=build,
    cautions=(BLADES, AWLS, LAWS),
    stairs_keys=LEAF_STAIRS,
)
