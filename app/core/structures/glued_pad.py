"""A pad: leaves glued along one edge to a backing card, to be torn off one by one.

Two thin coats of glue on a backing card, about forty leaves a pad, are what printers' pages say;
other measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from app.core.length import MM
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dimension,
    Dims,
    Flat,
    Operation,
    PaperFacts,
    Role,
    Structure,
)
from app.core.structures.boards import PASTE, paste_mg
from app.core.structures.common import (
    BLADES,
    CUT,
    LAWS,
    LEAF_GRAIN,
    LEAF_HEIGHT,
    LEAF_STAIRS,
    LEAF_WIDTH,
    LEAVES,
    PASTES,
    WRAP_UP,
    caution,
    grain_said,
    numbers,
    piece_of,
    wrapped,
)
from app.core.structures.words import altered, later
from app.language import say, say_many, to_say

KEY = "glued_pad"
THICKEST_NM = 12 * MM
"""Past this the outer leaves tear away with their neighbours: a rule of thumb."""
HEAD, SIDE = "head", "side"

PAD = Operation(
    "pad", to_say("Clamp and coat the edge"), "coat", Fraction(5), Fraction(2), Fraction(1)
)


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one pad; ``papers`` holds ``leaves``, ``backing`` and ``top``."""
    n = numbers(dims, DIMENSIONS)
    at_head, top = dims["glued"] == HEAD, dims["top"] == "cover"
    along = n["leaf_width"] if at_head else n["leaf_height"]
    grain = {"edge": "width" if at_head else "height", "free": None}[str(dims["leaf_grain"])]
    leaf = _flat(n, "leaf", say("One leaf"), "leaf", n["leaves"], grain)
    backing = _flat(n, "backing", say("Backing card"), "board", 1, grain)
    cover = _flat(n, "top", say("Top sheet"), "card", 1, grain)
    block = n["leaves"] * papers["leaves"].caliper_nm
    thickness = block + papers["backing"].caliper_nm + (papers["top"].caliper_nm if top else 0)
    pieces = {"leaves": (piece_of(leaf),), "backing": (piece_of(backing, "backing card"),)}
    if top:
        pieces["top"] = (piece_of(cover, "top sheet"),)
    return Build(
        structure=KEY,
        made_of=say_many(
            n["leaves"], "{n} leaf glued at the head", "{n} leaves glued at the head"
        )
        if at_head
        else say_many(
            n["leaves"], "{n} leaf glued at the side", "{n} leaves glued at the side"
        ),
        leaves=n["leaves"],
        pieces=pieces,
        lengths={},
        counts={},
        amounts={"paste": paste_mg(n["coats"] * along * thickness)},
        operations={
            "cut": n["leaves"] + 1 + (1 if top else 0), "pad": n["coats"], "wrap_up": 1,
        },
        flats=(leaf, backing, *((cover,) if top else ())),
        thread=(),
        thickness_nm=thickness,
        closed_width_nm=n["leaf_width"],
        closed_height_nm=n["leaf_height"],
        advice=tuple(_advice(dims, n, block)),
        steps=_steps(dims, n, leaf, along, top=top),
    )  # fmt: skip


def _flat(
    n: Mapping[str, int], key: str, name: str, stock: str, count: int, grain: str | None
) -> Flat:
    return Flat(
        key=key, name=name, stock=stock, width_nm=n["leaf_width"], height_nm=n["leaf_height"],
        grain=grain, count=count,
    )  # fmt: skip


def _advice(dims: Dims, n: Mapping[str, int], block_nm: int) -> list[Advice]:
    found = []
    if block_nm > THICKEST_NM:
        found.append(
            Advice(
                say(
                    "{block} of leaves come off several at a time: up to {most} hold on an edge of "
                    "glue. Take fewer leaves, or sew them."
                ),
                {"block": block_nm, "most": THICKEST_NM},
                "leaves",
            )
        )
    if n["coats"] < 2:
        found.append(Advice(say("One coat lets leaves go: give it two thin ones."), field="coats"))
    if dims["leaf_grain"] == "free":
        found.append(
            Advice(
                say(
                    "The grain of the leaves may run either way: across the glued edge they cockle "
                    "and tear unevenly. Choose “along the glued edge” where the paper has a grain."
                ),
                field="leaf_grain",
            )
        )
    return found


def _steps(
    dims: Dims, n: Mapping[str, int], leaf: Flat, along_nm: int, *, top: bool
) -> tuple[BenchStep, ...]:
    return (
        caution(BLADES),
        BenchStep(
            _leaves_cut(n["leaves"], leaf, top=top),
            {"width": leaf.width_nm, "height": leaf.height_nm},
            "leaf",
        ),
        BenchStep(say(KNOCKED_UP[str(dims["glued"]), top]), {"along": along_nm}),
        caution(PASTES),
        BenchStep(
            say_many(
                n["coats"],
                "Brush one coat of padding glue on that edge, along it and not over its corners; "
                "let it dry before you take the weight off.",
                "Brush {n} thin coats of padding glue on that edge, along it and not over its "
                "corners; let each dry before the next, and the last before you take the weight "
                "off.",
            )
        ),
        wrapped(),
    )


KNOCKED_UP = {
    (HEAD, True): to_say(
        "Knock the leaves up on the backing card, the top sheet on top until the head is one even "
        "edge, {along} long, and clamp or weight it a finger's breadth from there."
    ),
    (HEAD, False): to_say(
        "Knock the leaves up on the backing card until the head is one even edge, {along} long, "
        "and clamp or weight it a finger's breadth from there."
    ),
    (SIDE, True): to_say(
        "Knock the leaves up on the backing card, the top sheet on top until the side is one even "
        "edge, {along} long, and clamp or weight it a finger's breadth from there."
    ),
    (SIDE, False): to_say(
        "Knock the leaves up on the backing card until the side is one even edge, {along} long, "
        "and clamp or weight it a finger's breadth from there."
    ),
}
"""By the edge that is glued, and whether there is a top sheet."""


def _leaves_cut(leaves: int, leaf: Flat, *, top: bool) -> str:
    places = {"grain": grain_said(leaf.grain), **later("width", "height")}
    if top:
        return say_many(
            leaves,
            "Cut {n} leaf {width} wide and {height} high, {grain}, and a backing card and a top "
            "sheet of the same size and grain.",
            "Cut {n} leaves {width} wide and {height} high, {grain}, and a backing card and a top "
            "sheet of the same size and grain.",
            **places,
        )
    return say_many(
        leaves,
        "Cut {n} leaf {width} wide and {height} high, {grain}, and a backing card of the same size "
        "and grain.",
        "Cut {n} leaves {width} wide and {height} high, {grain}, and a backing card of the same "
        "size and grain.",
        **places,
    )


DIMENSIONS = (
    altered(LEAF_HEIGHT, help=to_say("From head to tail.")),
    altered(LEAF_WIDTH, help=to_say("From side to side.")),
    altered(
        LEAF_GRAIN, default="edge",
        choices=(("edge", to_say("along the glued edge")), ("free", to_say("either way"))),
    ),
    Dimension("leaves", to_say("How many leaves"), to_say("Leaf"), "count", 40, 2, 500),
    Dimension(
        "glued", to_say("Glued at"), to_say("Pad"), "choice", HEAD,
        choices=((HEAD, to_say("the head")), (SIDE, to_say("the side"))),
    ),
    Dimension("coats", to_say("Coats of glue"), to_say("Pad"), "count", 2, 1, 5),
    Dimension(
        "top", to_say("On top"), to_say("Pad"), "choice", "none",
        choices=(("none", to_say("nothing")), ("cover", to_say("a top sheet"))),
    ),
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Glued pad"),
    says=to_say("Leaves glued along one edge to a backing card, to be torn off."),
    dimensions=DIMENSIONS,
    roles=(
        LEAVES,
        Role("backing", to_say("Backing card"), "sheet"),
        Role("top", to_say("Paper of the top sheet"), "sheet"),
        PASTE,
    ),
    operations=(CUT, PAD, WRAP_UP),
    build=build,
    cautions=(BLADES, PASTES, LAWS),
    stairs_keys=LEAF_STAIRS,
)
