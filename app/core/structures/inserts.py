"""Pieces of paper laid into a journal beside its leaves: tipped in, pasted down, folded to pockets.

How an insert is fixed, and what that takes, is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from app.core.length import MM, show_length
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dims,
    Operation,
    PaperFacts,
    Role,
    Structure,
    length_of,
)
from app.core.structures.boards import paste_mg
from app.core.structures.common import PASTES, grain_said
from app.core.structures.folio_kinds import gathers
from app.core.structures.gathering import in_braces
from app.core.structures.insert_kinds import (
    FLAP_NM,
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
MOST_INSIDE = 4
"""What may be pasted inside front and back before it is told: two to each."""
USUAL_MARGIN_NM, HELD_NM = 12 * MM, 5 * MM
"""Where holes lie when none is said, and what wire or rings take beyond them."""

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
            structure.build(dims, papers),
            inserts_of(dims, papers),
            counted=gathers(structure),
            advice=[*_advice(dims, inserts_of(dims, papers))],
            pasted=any(role.key == "paste" for role in structure.roles),
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


def _advice(dims: Dims, inserts: Sequence[Insert]) -> Iterator[Advice]:
    """What is laid in and does not open, does not close, or has no room inside the cover."""
    leaf, opens = length_of(dims, "leaf_width"), _sewn_margin(dims)
    for insert in inserts:
        width = insert_key(insert.number, "width")
        inside = insert.width_nm - 2 * FLAP_NM
        if insert.how == TIP and insert.width_nm > leaf - opens:
            yield Advice(
                "A tip-in {wide} wide reaches into the sewn margin, {margin} from the spine, and "
                "does not open. Cut it {mend} wide or less.",
                {"wide": insert.width_nm, "margin": opens, "mend": max(leaf - opens, 0)},
                width,
                grave=True,
            )
        if insert.how == POCKET and not 2 * FLAP_NM <= inside <= leaf:
            yield Advice(
                "A pocket cut {wide} wide is {inside} wide between its flaps; the leaf is {leaf}. "
                "Cut it between {least} and {most} wide.",
                {"wide": insert.width_nm, "inside": max(inside, 0), "leaf": leaf,
                 "least": 4 * FLAP_NM, "most": leaf + 2 * FLAP_NM},
                width,
                grave=True,
            )  # fmt: skip
        if insert.how in (PASTE, POCKET) and insert.total > MOST_INSIDE:
            yield Advice(
                f"{insert.total} are pasted inside the cover, which has two sides: lay them in "
                "loose, or take fewer.",
                field=insert_key(insert.number, "count"),
            )


def _sewn_margin(dims: Dims) -> int:
    """How far in from the spine a leaf opens that is sewn or held through its side."""
    if "margin" not in dims:
        return 0
    margin = length_of(dims, "margin") or USUAL_MARGIN_NM
    return margin + (length_of(dims, "hinge") if "hinge" in dims else HELD_NM)


def _laid_in(
    build: Build, inserts: Sequence[Insert], *, advice: Sequence[Advice], counted: bool,
    pasted: bool,
) -> Build:  # fmt: skip
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
        advice=(*build.advice, *advice),
        amounts=_more_paste(build.amounts, inserts) if pasted else build.amounts,
        flats=(*build.flats, *(insert.flat for insert in inserts)),
        thickness_nm=build.thickness_nm + bulk,
        steps=(*steps[:-1], *_loose(inserts), *steps[-1:]),
    )


def _more_paste(amounts: Mapping[str, int], inserts: Sequence[Insert]) -> Mapping[str, int]:
    """Paste for what is pasted in: all over, along an edge, or on a pocket's back and flaps."""
    pasted = [insert for insert in inserts if insert.how != LOOSE]
    more = paste_mg(*(insert.total * _pasted_nm2(insert) for insert in pasted))
    return {**amounts, "paste": amounts.get("paste", 0) + more} if more else amounts


def _pasted_nm2(insert: Insert) -> int:
    whole = insert.width_nm * insert.height_nm
    return {TIP: TIP_NM * insert.height_nm, PASTE: whole, POCKET: whole // 2}[insert.how]


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
        them, each = _them(insert), "it is" if insert.total == 1 else "each is"
        if insert.how == POCKET:
            yield BenchStep(PASTES, caution=True, stage=INSIDE)
            yield BenchStep(
                f"Cut {them} to shape by the template, fold the lower half up and its flaps, "
                f"{{flap}} wide, round behind the upper half, and paste them down there: {each} "
                "{width} wide and {height} high. Once dry, paste it inside the cover and press it "
                "between waste sheets.",
                {
                    "flap": FLAP_NM,
                    "width": insert.width_nm - 2 * FLAP_NM,
                    "height": insert.height_nm // 2,
                },
                insert_role(insert.number),
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
