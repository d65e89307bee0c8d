"""A thing with a parts list only: a pen loop, a pack of charms, a bookmark with a bead.

There is no sheet to cut and nothing to draw; each part is a material and how much of it goes into
one, which the maker says where the material is chosen.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from app.core.structures.base import (
    BenchStep,
    Build,
    Dimension,
    Dims,
    Operation,
    PaperFacts,
    Role,
    Structure,
    length_of,
)
from app.core.structures.common import BEADS, FINISH, caution
from app.language import say, say_many, to_say

KEY = "parts_list"
PARTS = 8


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one; amounts of the parts are the variant's own, since nothing derives them."""
    steps = length_of(dims, "steps")
    return Build(
        structure=KEY,
        made_of=say("made of its parts"),
        leaves=0,
        pieces={},
        lengths={},
        counts={},
        operations={"make_up": steps, "finish": 1},
        flats=(),
        thread=(),
        thickness_nm=length_of(dims, "thickness"),
        closed_width_nm=length_of(dims, "width"),
        closed_height_nm=length_of(dims, "height"),
        advice=(),
        steps=(
            caution(BEADS),
            BenchStep(say("Lay out the parts on the list.")),
            BenchStep(
                say_many(
                    steps,
                    "Make it up in {n} step, check it, wrap it.",
                    "Make it up in {n} steps, check it, wrap it.",
                )
                if steps
                else say("Check it and wrap it.")
            ),
        ),
    )


DIMENSIONS = (
    Dimension(
        "height", to_say("Height"), to_say("Packed"), "length", 0, 0, 2_000_000_000,
        help=to_say("For its parcel; 0 if small."),
    ),
    Dimension("width", to_say("Width"), to_say("Packed"), "length", 0, 0, 2_000_000_000),
    Dimension("thickness", to_say("Thickness"), to_say("Packed"), "length", 0, 0, 500_000_000),
    Dimension(
        "steps", to_say("Steps to make it up"), to_say("Work"), "count", 1, 0, 200,
        help=to_say("Each takes the minutes of “Make up”."),
    ),
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Parts list only"),
    says=to_say("No sheets and no sewing: materials by length, count or weight, and time."),
    dimensions=DIMENSIONS,
    roles=tuple(Role(f"part_{n}", to_say("Part {number}"), "any", n) for n in range(1, PARTS + 1)),
    operations=(Operation("make_up", to_say("Make up"), "step", Fraction(2), Fraction(2)), FINISH),
    build=build,
    cautions=(BEADS,),
)
