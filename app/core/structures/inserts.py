"""Pieces of paper laid into a journal beside its leaves: tipped in, pasted down, folded to pockets.

How an insert is fixed, and what that takes, is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from app.core.length import MM, show_length
from app.core.structures.base import (
    BenchStep,
    Build,
    Dims,
    Operation,
    PaperFacts,
    Role,
    Structure,
    length_of,
)
from app.core.structures.common import PASTES, grain_said
from app.core.structures.folio_kinds import gathers
from app.core.structures.gathering import in_braces
from app.core.structures.insert_kinds import (
    LOOSE,
    PASTE,
    POCKET,
    TIP,
    Insert,
    insert_dimensions,
    insert_key,
    insert_role,
    inserts_in,
    inserts_of,
    takes_inserts,
)
from app.core.structures.stages import INSIDE, LEAVES, after_stage, before_inside

TIP_NM = 3 * MM

TIPPING = Operation("tip", "Tip in leaves", "tip-in", Fraction(2), Fraction(1))
PASTING = Operation("mount", "Paste pieces in", "piece", Fraction(3), Fraction(2))
FOLDING = Operation("pocket", "Make pockets", "pocket", Fraction(3), Fraction(4))
WORK = {TIP: "tip", PASTE: "mount", POCKET: "pocket"}


def with_inserts(structure: Structure, numbers: Sequence[int]) -> Structure:
    """A structure that asks for these inserts and their papers as well."""
    if not numbers or not takes_inserts(structure):
        return structure
    several = any(d.key == "signatures" for d in structure.dimensions)
    at = next(i for i, r in enumerate(structure.roles) if r.key == "leaves") + 1

    def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
        return _laid_in(
            structure.build(dims, papers), inserts_of(dims, papers), counted=gathers(structure)
        )

    return replace(
        structure,
        dimensions=(
            *structure.dimensions,
            *(d for number in numbers for d in insert_dimensions(number, several=several)),
        ),
        roles=(
            *structure.roles[:at],
            *(Role(insert_role(n), f"Paper of insert {n}", "sheet") for n in numbers),
            *structure.roles[at:],
        ),
        operations=(*structure.operations, TIPPING, PASTING, FOLDING),
        build=build,
        checks=(*structure.checks, _problems),
    )


def _problems(dims: Dims) -> dict[str, str]:
    """What would stand out: of the leaf, of the cover it is pasted to, or of a pocket's folds."""
    found: dict[str, str] = {}
    square = length_of(dims, "square") if "square" in dims else 0
    beside = length_of(dims, "foreedge_square") if "foreedge_square" in dims else 0
    leaf = {"width": length_of(dims, "leaf_width"), "height": length_of(dims, "leaf_height")}
    within = {
        PASTE: {
            "width": leaf["width"] + max(beside, 0),
            "height": leaf["height"] + 2 * max(square, 0),
        },
        POCKET: {"width": 2 * leaf["width"], "height": 2 * leaf["height"]},
    }
    for number in inserts_in(dims):
        if not dims[insert_key(number, "count")]:
            continue
        how = str(dims[insert_key(number, "how")])
        for what, most in within.get(how, leaf).items():
            if length_of(dims, insert_key(number, what)) > most:
                shown = show_length(most, "mm")
                found[insert_key(number, what)] = {
                    POCKET: f"A pocket of more than {shown} folds to more than the leaf holds.",
                    PASTE: f"It would stand out of the cover, {shown}: cut it smaller.",
                }.get(how, f"It would stand out of the leaf, {shown}: cut it smaller.")
    return found


def _laid_in(build: Build, inserts: Sequence[Insert], *, counted: bool) -> Build:
    """The journal with its inserts; their thickness may be ``counted`` in its leaves already."""
    operations = dict(build.operations)
    for insert in inserts:
        for key in ("cut", WORK.get(insert.how, "")):
            if key:
                operations[key] = operations.get(key, 0) + insert.total
    bulk = 0 if counted else sum(insert.bulk_nm for insert in inserts)
    first, later = [*_cut_and_tipped(inserts)], [*_pasted(inserts)]
    if any(step.stage == LEAVES for step in build.steps):
        steps = before_inside(after_stage(build.steps, LEAVES, first), later, cased=False)
    else:
        # What is no signature is tipped into once it is folded or sewn.
        steps = before_inside(build.steps, [*first, *later], cased=False)
    return replace(
        build,
        leaves=build.leaves + sum(i.total for i in inserts if i.how == TIP),
        pieces={**build.pieces, **{insert_role(i.number): (i.piece,) for i in inserts}},
        operations=operations,
        flats=(*build.flats, *(insert.flat for insert in inserts)),
        thickness_nm=build.thickness_nm + bulk,
        steps=(*steps[:-1], *_loose(inserts), *steps[-1:]),
    )


def _cut_and_tipped(inserts: Sequence[Insert]) -> Iterator[BenchStep]:
    for insert in inserts:
        many, name = insert.total, insert.piece.named(insert.total)
        yield BenchStep(
            f"Cut {many} {name} of {in_braces(insert.paper.name)}, {{width}} wide and {{height}} "
            f"high, {grain_said(insert.grain)}.",
            {"width": insert.width_nm, "height": insert.height_nm},
            insert_role(insert.number),
        )
        if insert.how == TIP:
            yield BenchStep(PASTES, caution=True)
            each = "it" if many == 1 else "each"
            yield BenchStep(
                f"Tip {each} in where it belongs, {{line}} of paste along the inner edge and no "
                "more, and press it between waste sheets until it is dry.",
                {"line": TIP_NM},
            )


def _pasted(inserts: Sequence[Insert]) -> Iterator[BenchStep]:
    """What is pasted inside the cover, after whatever is knotted there."""
    for insert in inserts:
        them = _them(insert)
        if insert.how == POCKET:
            yield BenchStep(PASTES, caution=True, stage=INSIDE)
            yield BenchStep(
                f"Fold {them} up from the tail and in at both sides, paste the flaps and, once "
                "dry, paste it inside the cover; press it between waste sheets.",
                stage=INSIDE,
            )
        elif insert.how == PASTE:
            yield BenchStep(PASTES, caution=True, stage=INSIDE)
            yield BenchStep(
                f"Paste {them} inside the cover, thinly, and press it between waste sheets until "
                "it is dry.",
                stage=INSIDE,
            )


def _loose(inserts: Sequence[Insert]) -> Iterator[BenchStep]:
    for insert in inserts:
        if insert.how == LOOSE:
            yield BenchStep(f"Lay in {_them(insert)}.")


def _them(insert: Insert) -> str:
    return f"the {insert.piece.named(insert.total)} of {in_braces(insert.paper.name)}"
