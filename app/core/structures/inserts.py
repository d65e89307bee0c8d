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
from app.core.structures.common import PASTES, caution, grain_said
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
from app.core.structures.words import altered, later
from app.language import say, say_many, to_say

TIP_NM = 3 * MM
MOST_INSIDE = 4
"""What may be pasted inside front and back before it is told: two to each."""
USUAL_MARGIN_NM, HELD_NM = 12 * MM, 5 * MM
"""Where holes lie when none is said, and what wire or rings take beyond them."""

TIPPING = Operation("tip", to_say("Tip in leaves"), "tip-in", Fraction(2), Fraction(1))
PASTING = Operation("mount", to_say("Paste pieces in"), "piece", Fraction(3), Fraction(2))
FOLDING = Operation("pocket", to_say("Make pockets"), "pocket", Fraction(3), Fraction(4))
WORK = {TIP: "tip", PASTE: "mount", POCKET: "pocket"}
TOO_LARGE = {
    POCKET: to_say("A pocket of more than {most} folds to more than the leaf holds."),
    PASTE: to_say("It would stand out of the cover, {most}: cut it smaller."),
    **dict.fromkeys(
        (TIP, LOOSE), to_say("It would stand out of the leaf, {most}: cut it smaller.")
    ),
}


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

    return altered(
        structure,
        dimensions=(
            *structure.dimensions,
            *(d for number in numbers for d in insert_dimensions(number, several=several)),
        ),
        roles=(
            *structure.roles[:at],
            *(
                Role(insert_role(n), to_say("Paper of insert {number}"), "sheet", n)
                for n in numbers
            ),
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
                found[insert_key(number, what)] = say(TOO_LARGE[how], most=shown)
    return found


def _advice(dims: Dims, inserts: Sequence[Insert]) -> Iterator[Advice]:
    """What is laid in and does not open, does not close, or has no room inside the cover."""
    leaf, opens = length_of(dims, "leaf_width"), _sewn_margin(dims)
    for insert in inserts:
        width = insert_key(insert.number, "width")
        inside = insert.width_nm - 2 * FLAP_NM
        if insert.how == TIP and insert.width_nm > leaf - opens:
            yield Advice(
                say(
                    "A tip-in {wide} wide reaches into the sewn margin, {margin} from the spine, "
                    "and does not open. Cut it {mend} wide or less."
                ),
                {"wide": insert.width_nm, "margin": opens, "mend": max(leaf - opens, 0)},
                width,
                grave=True,
            )
        if insert.how == POCKET and not 2 * FLAP_NM <= inside <= leaf:
            yield Advice(
                say(
                    "A pocket cut {wide} wide is {inside} wide between its flaps; the leaf is "
                    "{leaf}. Cut it between {least} and {most} wide."
                ),
                {"wide": insert.width_nm, "inside": max(inside, 0), "leaf": leaf,
                 "least": 4 * FLAP_NM, "most": leaf + 2 * FLAP_NM},
                width,
                grave=True,
            )  # fmt: skip
        if insert.how in (PASTE, POCKET) and insert.total > MOST_INSIDE:
            yield Advice(
                say_many(
                    insert.total,
                    "{n} is pasted inside the cover, which has two sides: lay it in loose, or take "
                    "fewer.",
                    "{n} are pasted inside the cover, which has two sides: lay them in loose, or "
                    "take fewer.",
                ),
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
        yield BenchStep(
            say(
                "Cut {pieces} of {paper}, {width} wide and {height} high, {grain}.",
                pieces=_many(insert), paper=in_braces(insert.paper.name),
                grain=grain_said(insert.grain), **later("width", "height"),
            ),
            {"width": insert.width_nm, "height": insert.height_nm},
            insert_role(insert.number),
        )  # fmt: skip
        if insert.how == TIP:
            yield caution(PASTES)
            yield BenchStep(
                say(
                    "Tip it in where it belongs, {line} of paste along the inner edge and no more, "
                    "and press it between waste sheets until it is dry."
                )
                if insert.total == 1
                else say(
                    "Tip each in where it belongs, {line} of paste along the inner edge and no "
                    "more, and press it between waste sheets until it is dry."
                ),
                {"line": TIP_NM},
            )


def _many(insert: Insert) -> str:
    """So many of them."""
    n = insert.total
    if insert.how == TIP:
        return say_many(n, "{n} tip-in", "{n} tip-ins")
    if insert.how == PASTE:
        return say_many(n, "{n} paste-down", "{n} paste-downs")
    if insert.how == POCKET:
        return say_many(n, "{n} pocket", "{n} pockets")
    return say_many(n, "{n} loose piece", "{n} loose pieces")


def _pasted(inserts: Sequence[Insert]) -> Iterator[BenchStep]:
    """What is pasted inside the cover, after whatever is knotted there."""
    for insert in inserts:
        paper = in_braces(insert.paper.name)
        if insert.how == POCKET:
            yield caution(PASTES, INSIDE)
            yield BenchStep(
                say_many(
                    insert.total,
                    "Cut the pocket of {paper} to shape by the template, fold the lower half up "
                    "and its flaps, {flap} wide, round behind the upper half, and paste them down "
                    "there: it is {width} wide and {height} high. Once dry, paste it inside the "
                    "cover and press it between waste sheets.",
                    "Cut the pockets of {paper} to shape by the template, fold the lower half up "
                    "and its flaps, {flap} wide, round behind the upper half, and paste them down "
                    "there: each is {width} wide and {height} high. Once dry, paste it inside the "
                    "cover and press it between waste sheets.",
                    paper=paper,
                    **later("flap", "width", "height"),
                ),
                {
                    "flap": FLAP_NM,
                    "width": insert.width_nm - 2 * FLAP_NM,
                    "height": insert.height_nm // 2,
                },
                insert_role(insert.number),
                stage=INSIDE,
            )
        elif insert.how == PASTE:
            yield caution(PASTES, INSIDE)
            yield BenchStep(
                say_many(
                    insert.total,
                    "Paste the paste-down of {paper} inside the cover, thinly, and press it "
                    "between waste sheets until it is dry.",
                    "Paste the paste-downs of {paper} inside the cover, thinly, and press it "
                    "between waste sheets until it is dry.",
                    paper=paper,
                ),
                stage=INSIDE,
            )


def _loose(inserts: Sequence[Insert]) -> Iterator[BenchStep]:
    for insert in inserts:
        if insert.how == LOOSE:
            yield BenchStep(
                say_many(
                    insert.total,
                    "Lay in the loose piece of {paper}.",
                    "Lay in the loose pieces of {paper}.",
                    paper=in_braces(insert.paper.name),
                )
            )
