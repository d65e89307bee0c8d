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
from app.core.structures.common import BEADS, FINISH

KEY = "parts_list"
PARTS = 8


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one; amounts of the parts are the variant's own, since nothing derives them."""
    steps = length_of(dims, "steps")
    return Build(
        structure=KEY,
        made_of="made of its parts",
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
            BenchStep(BEADS, caution=True),
            BenchStep("Lay out the parts on the list."),
            BenchStep(
                f"Make it up in {steps} step{'' if steps == 1 else 's'}, check it, wrap it."
                if steps
                else "Check it and wrap it."
            ),
        ),
    )


DIMENSIONS = (
    Dimension(
        "height", "Height", "Packed", "length", 0, 0, 2_000_000_000,
        help="For its parcel; 0 if small.",
    ),
    Dimension("width", "Width", "Packed", "length", 0, 0, 2_000_000_000),
    Dimension("thickness", "Thickness", "Packed", "length", 0, 0, 500_000_000),
    Dimension(
        "steps", "Steps to make it up", "Work", "count", 1, 0, 200,
        help="Each takes the minutes of “Make up”.",
    ),
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name="Parts list only",
    says="No sheets and no sewing: materials by length, count or weight, and time.",
    dimensions=DIMENSIONS,
    roles=tuple(Role(f"part_{n}", f"Part {n}", "any") for n in range(1, PARTS + 1)),
    operations=(Operation("make_up", "Make up", "step", Fraction(2), Fraction(2)), FINISH),
    build=build,
    cautions=(BEADS,),
)
