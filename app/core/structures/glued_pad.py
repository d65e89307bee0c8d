"""A pad: leaves glued along one edge to a backing card, to be torn off one by one.

Two thin coats of glue on a backing card, about forty leaves a pad, are what printers' pages say;
other measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
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
    WRAPPED,
    grain_said,
    numbers,
    piece_of,
)

KEY = "glued_pad"
THICKEST_NM = 12 * MM
"""Past this the outer leaves tear away with their neighbours: a rule of thumb."""
HEAD, SIDE = "head", "side"

PAD = Operation("pad", "Clamp and coat the edge", "coat", Fraction(5), Fraction(2), Fraction(1))


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one pad; ``papers`` holds ``leaves``, ``backing`` and ``top``."""
    n = numbers(dims, DIMENSIONS)
    at_head, top = dims["glued"] == HEAD, dims["top"] == "cover"
    along = n["leaf_width"] if at_head else n["leaf_height"]
    grain = {"edge": "width" if at_head else "height", "free": None}[str(dims["leaf_grain"])]
    leaf = _flat(n, "leaf", "One leaf", "leaf", n["leaves"], grain)
    backing = _flat(n, "backing", "Backing card", "board", 1, grain)
    cover = _flat(n, "top", "Top sheet", "card", 1, grain)
    block = n["leaves"] * papers["leaves"].caliper_nm
    thickness = block + papers["backing"].caliper_nm + (papers["top"].caliper_nm if top else 0)
    pieces = {"leaves": (piece_of(leaf),), "backing": (piece_of(backing, "backing card"),)}
    if top:
        pieces["top"] = (piece_of(cover, "top sheet"),)
    return Build(
        structure=KEY,
        made_of=f"{n['leaves']} leaves glued at the {dims['glued']}",
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
                "{block} of leaves come off several at a time: up to {most} hold on an edge of "
                "glue. Take fewer leaves, or sew them.",
                {"block": block_nm, "most": THICKEST_NM},
                "leaves",
            )
        )
    if n["coats"] < 2:
        found.append(Advice("One coat lets leaves go: give it two thin ones.", field="coats"))
    if dims["leaf_grain"] == "free":
        found.append(
            Advice(
                "The grain of the leaves may run either way: across the glued edge they cockle and "
                "tear unevenly. Choose “along the glued edge” where the paper has a grain.",
                field="leaf_grain",
            )
        )
    return found


def _steps(
    dims: Dims, n: Mapping[str, int], leaf: Flat, along_nm: int, *, top: bool
) -> tuple[BenchStep, ...]:
    more = "a backing card and a top sheet" if top else "a backing card"
    over = ", the top sheet on top" if top else ""
    coats = "one coat" if n["coats"] == 1 else f"{n['coats']} thin coats"
    return (
        BenchStep(BLADES, caution=True),
        BenchStep(
            f"Cut {n['leaves']} leaves {{width}} wide and {{height}} high, "
            f"{grain_said(leaf.grain)}, and {more} of the same size and grain.",
            {"width": leaf.width_nm, "height": leaf.height_nm},
            "leaf",
        ),
        BenchStep(
            f"Knock the leaves up on the backing card{over} until the {dims['glued']} is one even "
            "edge, {along} long, and clamp or weight it a finger's breadth from there.",
            {"along": along_nm},
        ),
        BenchStep(PASTES, caution=True),
        BenchStep(
            f"Brush {coats} of padding glue on that edge, along it and not over its corners; let "
            + ("it dry " if n["coats"] == 1 else "each dry before the next, and the last ")
            + "before you take the weight off."
        ),
        WRAPPED,
    )


DIMENSIONS = (
    replace(LEAF_HEIGHT, help="From head to tail."),
    replace(LEAF_WIDTH, help="From side to side."),
    replace(
        LEAF_GRAIN, default="edge",
        choices=(("edge", "along the glued edge"), ("free", "either way")),
    ),
    Dimension("leaves", "How many leaves", "Leaf", "count", 40, 2, 500),
    Dimension(
        "glued", "Glued at", "Pad", "choice", HEAD,
        choices=((HEAD, "the head"), (SIDE, "the side")),
    ),
    Dimension("coats", "Coats of glue", "Pad", "count", 2, 1, 5),
    Dimension(
        "top", "On top", "Pad", "choice", "none",
        choices=(("none", "nothing"), ("cover", "a top sheet")),
    ),
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name="Glued pad",
    says="Leaves glued along one edge to a backing card, to be torn off.",
    dimensions=DIMENSIONS,
    roles=(
        LEAVES,
        Role("backing", "Backing card", "sheet"),
        Role("top", "Paper of the top sheet", "sheet"),
        PASTE,
    ),
    operations=(CUT, PAD, WRAP_UP),
    build=build,
    cautions=(BLADES, PASTES, LAWS),
    stairs_keys=LEAF_STAIRS,
)
