"""Finish of a sewn journal: corners clipped or rounded, edges coloured, a cover stamped.

Where corners are drawn and cut round, an arc stands in as straight stretches that leave it by less
than a twentieth of a millimetre. The measures offered first are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
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
    Structure,
    length_of,
)
from app.core.structures.common import caution
from app.core.structures.folio_kinds import gathers
from app.core.structures.parts import signatures_of
from app.core.structures.stages import COVER, ENDPAPERS, LEAVES, after_stage
from app.core.structures.words import altered, unsaid
from app.language import say, say_many, to_say

Points = tuple[tuple[int, int], ...]
GROUP = to_say("Finish")
SQUARE, CLIPPED, ROUNDED = "square", "clipped", "rounded"
CORNERS = Dimension(
    "corners", to_say("Corners"), GROUP, "choice", SQUARE, optional=True,
    choices=(
        (SQUARE, to_say("square")), (CLIPPED, to_say("clipped")), (ROUNDED, to_say("rounded")),
    ),
)  # fmt: skip
CORNER_SIZE = Dimension(
    "corner_size", to_say("Radius, or what is clipped"), GROUP, "length", 6 * MM, MM, 60 * MM,
    optional=True, help=to_say("Taken off along each side of a corner."),
)  # fmt: skip
CORNERS_OF = Dimension(
    "corners_of", to_say("Corners of"), GROUP, "choice", "both", optional=True,
    choices=(
        ("both", to_say("leaves and cover")), ("leaves", to_say("the leaves")),
        ("cover", to_say("the cover")),
    ),
)  # fmt: skip
EDGES = Dimension(
    "edges", to_say("Edges of the leaves"), GROUP, "choice", "plain", optional=True,
    choices=(
        ("plain", to_say("as they are cut")), ("one", to_say("fore edge coloured")),
        ("all", to_say("all coloured")),
    ),
)  # fmt: skip
STAMPED = Dimension(
    "stamped", to_say("Stamped impressions"), GROUP, "count", 0, 0, 20, optional=True
)
EMBOSSED = Dimension(
    "embossed", to_say("Embossed impressions"), GROUP, "count", 0, 0, 20, optional=True
)
EDGES_COLOURED = {"plain": 0, "one": 1, "all": 3}

CORNER = Operation("corner", to_say("Clip or round corners"), "corner", Fraction(2), Fraction(1, 4))
COLOUR = Operation("edge", to_say("Colour edges"), "edge", Fraction(8), Fraction(3))
STAMP = Operation("stamp", to_say("Stamp the cover"), "impression", Fraction(12), Fraction(2))
EMBOSS = Operation("emboss", to_say("Emboss the cover"), "impression", Fraction(15), Fraction(2))

STAMPING = to_say(
    "A heated type or die burns and a press crushes: keep to what the maker of the tool says, "
    "hands out of the press, and let it cool before you put it away."
)
COLOURING = to_say(
    "Clamp the leaves and keep colours off food and skin; keep to what their maker says about air "
    "and gloves."
)

OF_SIGNATURES = (
    to_say("With a corner punch or a gouge round the two fore-edge corners of each signature, one "
           "signature at a time to a radius of {size}."),
    to_say("Clip the two fore-edge corners of each signature, one signature at a time, {size} "
           "along both sides."),
)  # fmt: skip
OF_THE_SIGNATURE = (
    to_say("With a corner punch or a gouge round the two fore-edge corners of the signature to a "
           "radius of {size}."),
    to_say("Clip the two fore-edge corners of the signature, {size} along both sides."),
)  # fmt: skip
OF_ENDPAPERS = (
    to_say("With a corner punch or a gouge round the two fore-edge corners of each endpaper as "
           "well to a radius of {size}."),
    to_say("Clip the two fore-edge corners of each endpaper as well, {size} along both sides."),
)  # fmt: skip
OF_THE_COVER = (
    to_say("With a corner punch or a gouge round the four corners of the cover, by the template, "
           "to a radius of {size}."),
    to_say("Clip the four corners of the cover, by the template, {size} along both sides."),
)  # fmt: skip
"""Corners cut: rounded, clipped."""
CLAMP = {
    (True, True): to_say(
        "Clamp the signature between boards and colour the fore edge, thinly; let it dry before "
        "you open them."
    ),
    (True, False): to_say(
        "Clamp the signature between boards and colour head, tail and fore edge, thinly; let it "
        "dry before you open them."
    ),
    (False, True): to_say(
        "Clamp the signatures, folds and heads flush, between boards and colour the fore edge, "
        "thinly; let it dry before you open them."
    ),
    (False, False): to_say(
        "Clamp the signatures, folds and heads flush, between boards and colour head, tail and "
        "fore edge, thinly; let it dry before you open them."
    ),
}
"""By whether there is one signature alone, and whether one edge alone is coloured."""


def finished(structure: Structure, cautions: tuple[str, ...] = ()) -> Structure:
    """A sewn structure that asks for its finish as well; any other as it is."""
    if not gathers(structure):
        return structure
    has_cover = any(role.key == "cover" for role in structure.roles)
    own = (CORNERS, CORNER_SIZE, *((CORNERS_OF,) if has_cover else ()), EDGES, STAMPED, EMBOSSED)

    def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
        return _finish(with_finish.complete(dims), structure.build(dims, papers))

    with_finish = altered(
        structure,
        dimensions=(*structure.dimensions, *own),
        operations=(*structure.operations, CORNER, COLOUR, STAMP, EMBOSS),
        cautions=(*unsaid(structure, "cautions"), *cautions),
        build=build,
        checks=(*structure.checks, _problems),
    )
    return with_finish


def finish_cautions(asked: Mapping[str, object]) -> Iterator[str]:
    """The cautions of the finish that dimensions (or fields of a form) ask for."""
    if str(asked.get("edges", "plain")) != "plain":
        yield COLOURING
    if any(str(asked.get(key, 0)) not in ("", "0") for key in ("stamped", "embossed")):
        yield STAMPING


def _problems(dims: Dims) -> dict[str, str]:
    most = min(length_of(dims, "leaf_width"), length_of(dims, "leaf_height")) // 2
    if dims["corners"] == SQUARE or length_of(dims, "corner_size") <= most:
        return {}
    return {"corner_size": say("A corner can take no more than half the shorter side of the leaf.")}


def _finish(dims: Dims, build: Build) -> Build:
    size = 0 if dims["corners"] == SQUARE else length_of(dims, "corner_size")
    of = dims.get("corners_of", "leaves")
    leaves, cover = bool(size) and of != "cover", bool(size) and of != "leaves"
    rounded = dims["corners"] == ROUNDED
    whole = (2 * length_of(dims, "leaf_width"), length_of(dims, "leaf_height"))
    flats = tuple(
        replace(flat, outline=outline(flat, size, rounded=rounded))
        if (cover and flat.key == "cover")
        or (leaves and _is_leaf(flat) and (flat.width_nm, flat.height_nm) == whole)
        else flat
        for flat in build.flats
    )
    signatures = signatures_of(dims)
    endpaper = build.flat("endpaper")
    ends = endpaper.count if endpaper else 0
    edges = EDGES_COLOURED[str(dims["edges"])]
    counts = {
        "corner": (2 * (signatures + ends) if leaves else 0) + (4 if cover else 0),
        "edge": edges,
        "stamp": length_of(dims, "stamped"),
        "emboss": length_of(dims, "embossed"),
    }
    steps = after_stage(
        build.steps, LEAVES, [*_leaf_steps(dims, size if leaves else 0, signatures, edges, ends)]
    )
    if leaves and ends:
        each = _corners_cut(dims, OF_ENDPAPERS)
        steps = after_stage(steps, ENDPAPERS, [BenchStep(each, {"size": size}, "endpaper")])
    steps = after_stage(steps, COVER, [*_cover_steps(dims, size if cover else 0, counts)])
    return replace(
        build,
        flats=flats,
        operations={**build.operations, **{key: n for key, n in counts.items() if n}},
        advice=(
            *build.advice,
            *_advice(dims, size if cover and not leaves else 0),
            *_past_the_score(build, size if cover else 0),
        ),
        steps=steps,
    )


def _is_leaf(flat: Flat) -> bool:
    """Whether it is folded to leaves of the block."""
    return flat.key.startswith(("folio", "endpaper"))


def outline(flat: Flat, size_nm: int, *, rounded: bool) -> Points:
    """The four corners of a rectangle clipped or rounded, from the top left clockwise."""
    width, height = flat.width_nm, flat.height_nm
    centres = (
        (size_nm, size_nm, 180), (width - size_nm, size_nm, 270),
        (width - size_nm, height - size_nm, 0), (size_nm, height - size_nm, 90),
    )  # fmt: skip
    # A stretch over an angle a leaves its arc by r (1 − cos a/2).
    stretches = math.ceil(math.sqrt(size_nm / MM) * 4) if rounded else 1
    return tuple(
        (
            x + round(size_nm * math.cos(math.radians(begin + 90 * n / stretches))),
            y + round(size_nm * math.sin(math.radians(begin + 90 * n / stretches))),
        )
        for x, y, begin in centres
        for n in range(stretches + 1)
    )


def _leaf_steps(
    dims: Dims, size_nm: int, signatures: int, edges: int, ends: int
) -> Iterator[BenchStep]:
    if size_nm:
        which = OF_THE_SIGNATURE if signatures == 1 else OF_SIGNATURES
        yield BenchStep(_corners_cut(dims, which), {"size": size_nm}, "folio")
    if edges:
        yield caution(COLOURING)
        text = say(CLAMP[signatures == 1, edges == 1])
        stays = say("What is lower or narrower stays as it is.")
        white = say("The endpapers come later and stay white.")
        yield BenchStep(f"{text} {stays} {white}" if ends else f"{text} {stays}")


def _corners_cut(dims: Dims, rounded_or_clipped: tuple[str, str]) -> str:
    rounded, clipped = rounded_or_clipped
    return say(rounded if dims["corners"] == ROUNDED else clipped)


def _cover_steps(dims: Dims, size_nm: int, counts: Mapping[str, int]) -> Iterator[BenchStep]:
    if size_nm:
        yield BenchStep(_corners_cut(dims, OF_THE_COVER), {"size": size_nm}, "cover")
    if counts["stamp"] or counts["emboss"]:
        yield caution(STAMPING)
    if number := counts["emboss"]:
        yield BenchStep(
            say_many(
                number,
                "Emboss the cover once; try it on a scrap of the same stock first.",
                "Emboss the cover {n} times; try it on a scrap of the same stock first.",
            )
        )
    if number := counts["stamp"]:
        yield BenchStep(
            say_many(
                number,
                "Stamp the cover once; try it on a scrap of the same stock first.",
                "Stamp the cover {n} times; try it on a scrap of the same stock first.",
            )
        )


def _past_the_score(build: Build, size_nm: int) -> Iterator[Advice]:
    """Whether a corner takes more than the flap has past its score."""
    flap = build.cover.panel("flap") if build.cover else None
    if flap is not None and size_nm > flap.width_nm:
        yield Advice(
            say(
                "Corners of {size} reach past the score of a flap of {flap}. Take less off, or "
                "make the flap wider."
            ),
            {"size": size_nm, "flap": flap.width_nm},
            "corner_size",
        )


def _advice(dims: Dims, size_nm: int) -> Iterator[Advice]:
    """Whether a square leaf stands out of a cover that lost its corner."""
    if not size_nm:
        return
    head, side = length_of(dims, "square"), length_of(dims, "foreedge_square")
    if head >= size_nm or side >= size_nm:
        return
    if dims["corners"] == ROUNDED:
        out = (size_nm - head) ** 2 + (size_nm - side) ** 2 > size_nm**2
    else:
        out = head + side < size_nm
    if out:
        yield Advice(
            say(
                "The cover loses {size} at its corners and stands {head} past the leaf at head and "
                "tail, {side} at the fore edge: the corners of the leaves show. Round or clip the "
                "leaves as well, or take less off."
            ),
            {"size": size_nm, "head": head, "side": side},
            "corner_size",
        )
