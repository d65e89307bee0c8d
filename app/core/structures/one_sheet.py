"""A book of eight pages folded from a single sheet with one slit: no thread and no glue.

The sheet is four leaves wide and two high, the slit lies in the middle of it. Which page comes
where follows from the folding: with the sheet folded lengthwise and pushed together, panels that
meet at a fold are neighbours, and those of the upper half stand on their heads.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from app.core.length import MM
from app.core.structures.advice import grain_advice
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dims,
    Flat,
    Operation,
    PaperFacts,
    Structure,
    upright_folds,
)
from app.core.structures.common import (
    BLADES,
    CUT,
    LAWS,
    LEAF_GRAIN,
    LEAF_HEIGHT,
    LEAF_STAIRS,
    LEAF_WIDTH,
    LEAVES,
    WRAP_UP,
    caution,
    grain_said,
    numbers,
    piece_of,
    wrapped,
)
from app.core.structures.gathering import runs_along_the_fold
from app.core.structures.words import altered, later
from app.language import say, to_say

KEY = "one_sheet"
ACROSS, DOWN, PAGES = 4, 2, 8
UPPER, LOWER = (5, 4, 3, 2), (6, 7, 8, 1)
"""Pages of the two rows of panels from the left, printed side up; the upper ones on their heads."""
FOLDABLE_NM = 3 * MM // 10
"""Thicker than this eight layers gape: a rule of thumb."""

FOLDS = Operation(
    "sheet_fold", to_say("Fold and slit the sheet"), "fold", Fraction(1), Fraction(1, 3)
)


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one book; ``papers`` holds the role ``leaves``."""
    n = numbers(dims, DIMENSIONS)
    caliper = papers["leaves"].caliper_nm
    sheet = _sheet(dims, n)
    return Build(
        structure=KEY,
        made_of=say("one sheet folded to eight pages"),
        leaves=PAGES // 2,
        pieces={"leaves": (piece_of(sheet),)},
        lengths={},
        counts={},
        # Once along, three times across, the slit, and together.
        operations={"cut": 1, "sheet_fold": 6, "wrap_up": 1},
        flats=(sheet,),
        thread=(),
        thickness_nm=PAGES * caliper,
        closed_width_nm=n["leaf_width"],
        closed_height_nm=n["leaf_height"],
        advice=(*_advice(caliper), *grain_advice(dims, leaf_grain="sheet")),
        steps=_steps(n, sheet),
    )


def _sheet(dims: Dims, n: Mapping[str, int]) -> Flat:
    wide, high = n["leaf_width"], n["leaf_height"]
    labels = []
    for column, (above, below) in enumerate(zip(UPPER, LOWER, strict=True)):
        x = column * wide + wide // 2
        labels += [
            (x, high // 2, str(above)), (x, high * 5 // 8, say("head down")),
            (x, high + high // 2, str(below)),
        ]  # fmt: skip
    return Flat(
        key="sheet", name=say("The sheet, printed side up"), stock="leaf",
        width_nm=ACROSS * wide,
        height_nm=DOWN * high, grain=runs_along_the_fold(dims, "leaf_grain"), labels=tuple(labels),
        folds=(
            *upright_folds([wide, 2 * wide, 3 * wide], DOWN * high),
            (0, high, wide, high), (3 * wide, high, ACROSS * wide, high),
        ),
        cuts=((wide, high, 3 * wide, high),),
    )  # fmt: skip


def _advice(caliper_nm: int) -> list[Advice]:
    if caliper_nm <= FOLDABLE_NM:
        return []
    return [
        Advice(
            say(
                "Paper {thick} thick does not fold to eight layers that lie together: take one of "
                "{most} or less."
            ),
            {"thick": caliper_nm, "most": FOLDABLE_NM},
        )
    ]


def _steps(n: Mapping[str, int], sheet: Flat) -> tuple[BenchStep, ...]:
    return (
        caution(BLADES),
        BenchStep(
            say(
                "Cut the sheet {width} wide and {height} high, {grain}.",
                grain=grain_said(sheet.grain),
                **later("width", "height"),
            ),
            {"width": sheet.width_nm, "height": sheet.height_nm},
            "sheet",
        ),
        BenchStep(
            say(
                "Fold it along its length, {height} from the head, rub the fold down and open it; "
                "then fold it across in the middle, and both halves across again, to panels {wide} "
                "wide. Rub every fold down and open it."
            ),
            {"height": n["leaf_height"], "wide": n["leaf_width"]},
            "sheet",
        ),
        BenchStep(
            say(
                "Slit it along the long fold over the two middle panels, {wide} from either side "
                "and no further."
            ),
            {"wide": n["leaf_width"]},
            "sheet",
        ),
        BenchStep(
            say(
                "Fold it along its length again, the printed side out. Take both ends and push "
                "them together until the slit opens and the two middle panels stand out before and "
                "behind: a cross of four leaves."
            )
        ),
        BenchStep(
            say(
                "Lay all four leaves to one side, so that pages 8 and 1 are the outside, and rub "
                "the spine down."
            )
        ),
        wrapped(),
    )


DIMENSIONS = (
    altered(LEAF_HEIGHT, default=105 * MM),
    altered(LEAF_WIDTH, default=74 * MM),
    LEAF_GRAIN,
)

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Book of one folded sheet"),
    says=to_say("Eight pages from a single sheet with a slit, without thread or glue."),
    dimensions=DIMENSIONS,
    roles=(LEAVES,),
    operations=(CUT, FOLDS, WRAP_UP),
    build=build,
    cautions=(BLADES, LAWS),
    stairs_keys=LEAF_STAIRS,
)
