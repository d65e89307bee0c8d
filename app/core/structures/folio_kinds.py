"""Further kinds of folio in a signature: what a maker chooses about them, and what goes together.

A dimension of such a kind has its number in its key, from 2 on, plain folios being the first; its
paper fills a role of the same name. A kind may be as large as the leaf or smaller, lies inside so
many of the plain folios, and goes into every signature or into some.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from app.core.length import MM, show_length
from app.core.structures.base import Dimension, Dims, Role, Structure, length_of
from app.core.structures.parts import signatures_of
from app.core.structures.words import altered
from app.language import say, say_many, to_say

MOST_KINDS = 8
LEAST_SIDE_NM = 20 * MM
PLAIN = 1
GRAIN_CHOICES = (("fold", to_say("along the fold")), ("free", to_say("either way")))
WHERE = (
    ("each", to_say("every signature")),
    ("outer", to_say("the first and the last")),
    ("middle", to_say("all between first and last")),
    ("first", to_say("the first")),
    ("last", to_say("the last")),
)
BESIDE = (
    ("with", to_say("with the plain folios")),
    ("instead", to_say("instead of the plain folios")),
)
SIDES = (
    ("width", "leaf_width", to_say("A folio can be no wider than the leaf, {most}.")),
    ("height", "leaf_height", to_say("A folio can be no higher than the leaf, {most}.")),
)
PLACES = (
    ("middle", to_say("in the middle")),
    ("head", to_say("at the head")),
    ("tail", to_say("at the tail")),
)


def key_of(kind: int, what: str) -> str:
    """The key of a dimension of a further kind of folio."""
    return f"folio{kind}_{what}"


def role_of(kind: int) -> str:
    """The role that the paper of a kind of folio fills."""
    return "leaves" if kind == PLAIN else f"folio{kind}"


def kinds_in(keys: Iterable[str]) -> tuple[int, ...]:
    """The numbers of the further kinds of folio that dimensions or fields speak of."""
    known = set(keys)
    return tuple(k for k in range(PLAIN + 1, MOST_KINDS + 1) if key_of(k, "count") in known)


def without_kind(dims: Dims, kind: int) -> dict[str, int | str]:
    """The dimensions less those of a kind."""
    return {key: value for key, value in dims.items() if not key.startswith(key_of(kind, ""))}


def kind_dimensions(kind: int, *, several: bool) -> tuple[Dimension, ...]:
    """What is chosen about a further kind; in which of ``several`` signatures it goes as well."""
    group = to_say("Folios, kind {number}")

    def key(what: str) -> str:
        return key_of(kind, what)

    which = (
        Dimension(key("where"), to_say("Goes into"), group, "choice", "each", choices=WHERE),
        Dimension(key("beside"), to_say("Lies there"), group, "choice", "with", choices=BESIDE),
    )
    found = (
        Dimension(
            key("count"), to_say("How many"), group, "count", 1, 0, 40,
            help=to_say("0 leaves them out."),
        ),
        *(which if several else ()),
        Dimension(
            key("inside"), to_say("Inside how many plain ones"), group, "count", 1, 0, 40,
            help=to_say("0 to lie round them all; as many as there are to lie in the middle."),
        ),
        Dimension(
            key("width"), to_say("Width of a leaf"), group, "length", 0, 0, 1000 * MM,
            help=to_say("0 for as wide as the others."),
        ),
        Dimension(
            key("height"), to_say("Height"), group, "length", 0, 0, 1000 * MM,
            help=to_say("0 for as high as the others."),
        ),
        Dimension(key("at"), to_say("A lower one sits"), group, "choice", "middle", choices=PLACES),
        Dimension(key("grain"), to_say("Grain"), group, "choice", "fold", choices=GRAIN_CHOICES),
    )  # fmt: skip
    return tuple(altered(dimension, number=kind) for dimension in found)


def gathers(structure: Structure) -> bool:
    """Whether a structure is sewn of folios, so that there can be several kinds of them."""
    return any(d.key == "folios" for d in structure.dimensions)


def gathered(structure: Structure, kinds: Sequence[int]) -> Structure:
    """A structure that asks for these further kinds of folio and their papers as well."""
    if not kinds or not gathers(structure):
        return structure
    several = any(d.key == "signatures" for d in structure.dimensions)
    at = next(i for i, r in enumerate(structure.roles) if r.key == role_of(PLAIN)) + 1
    return altered(
        structure,
        dimensions=(
            *structure.dimensions,
            *(d for kind in kinds for d in kind_dimensions(kind, several=several)),
        ),
        roles=(
            *structure.roles[:at],
            *(
                Role(role_of(kind), to_say("Paper of folios, kind {number}"), "sheet", kind)
                for kind in kinds
            ),
            *structure.roles[at:],
        ),
        checks=(*structure.checks, _problems),
    )


def lies_instead(dims: Dims, kind: int) -> bool:
    """Whether a kind takes the place of the plain folios where it goes."""
    return dims.get(key_of(kind, "beside")) == "instead"


def rows_of(dims: Dims, kind: int, signatures: int) -> tuple[int, ...]:
    """The signatures that a kind goes into; one alone is both the first and the last."""
    last = signatures - 1
    return {
        "each": tuple(range(signatures)),
        "outer": tuple(sorted({0, last})),
        "middle": tuple(range(1, last)),
        "first": (0,),
        "last": (last,),
    }[str(dims.get(key_of(kind, "where"), "each"))]


def _problems(dims: Dims) -> dict[str, str]:
    """What cannot be gathered, by dimension; each is within its own bounds."""
    signatures = signatures_of(dims)
    folios = length_of(dims, "folios")
    rows = {
        kind: rows_of(dims, kind, signatures)
        for kind in kinds_in(dims)
        if dims[key_of(kind, "count")]
    }
    replaced = {row for kind, whose in rows.items() if lies_instead(dims, kind) for row in whose}
    found: dict[str, str] = {}
    for kind, whose in rows.items():
        for what, side, too_large in SIDES:
            most, typed = length_of(dims, side), length_of(dims, key_of(kind, what))
            if 0 < typed < LEAST_SIDE_NM:
                found[key_of(kind, what)] = say(
                    "At least {least}, or 0 for that of the others.",
                    least=show_length(LEAST_SIDE_NM, "mm"),
                )
            if typed > most:
                found[key_of(kind, what)] = say(too_large, most=show_length(most, "mm"))
        if not whose:
            found[key_of(kind, "where")] = say_many(
                signatures,
                "Of {n} signature none lies between.",
                "Of {n} signatures none lies between.",
            )
        if len(replaced) == signatures and lies_instead(dims, kind):
            found[key_of(kind, "beside")] = say(
                "No plain folios are left in any signature: give the leaves this paper instead."
            )
        elif set(whose) - replaced and length_of(dims, key_of(kind, "inside")) > folios:
            found[key_of(kind, "inside")] = say_many(
                folios,
                "There is only {n} plain to lie inside.",
                "There are only {n} plain to lie inside.",
            )
    return found
