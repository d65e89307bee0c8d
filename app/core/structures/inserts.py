"""Pieces of paper laid into a journal beside its leaves: tipped in, pasted down, folded to pockets.

A dimension of an insert has its number in its key, from 1 on; its paper fills a role of the same
name. An insert is cut as it is typed; a pocket is folded of it. How an insert is fixed, and what
that takes, is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from app.core.length import MM, show_length
from app.core.paper import Piece
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
    length_of,
)
from app.core.structures.common import PASTES, grain_said
from app.core.structures.finish import after_stage
from app.core.structures.gathering import in_braces

MOST_INSERTS = 6
TIP, PASTE, POCKET, LOOSE = "tip", "paste", "pocket", "loose"
HOW = (
    (TIP, "tipped in by an edge"), (PASTE, "pasted down inside the cover"),
    (POCKET, "folded to a pocket, pasted in"), (LOOSE, "laid in loose"),
)  # fmt: skip
NAMES = {TIP: "tip-in", PASTE: "paste-down", POCKET: "pocket", LOOSE: "loose piece"}
LAYERS = {TIP: 1, PASTE: 1, POCKET: 3, LOOSE: 1}
"""How often its paper lies in the closed journal; a pocket is folded twice."""
PER = (("journal", "each journal"), ("signature", "each signature"))
GRAINS = (("height", "along its height"), ("width", "along its width"), ("free", "either way"))
FELT_NM = MM // 2
"""Thickness from which inserts are told to bulge a spine that does not count them."""
TIP_NM = 3 * MM

TIPPING = Operation("tip", "Tip in leaves", "tip-in", Fraction(2), Fraction(1))
PASTING = Operation("mount", "Paste pieces in", "piece", Fraction(3), Fraction(2))
FOLDING = Operation("pocket", "Make pockets", "pocket", Fraction(3), Fraction(4))
WORK = {TIP: "tip", PASTE: "mount", POCKET: "pocket"}


def insert_key(number: int, what: str) -> str:
    """The key of a dimension of an insert."""
    return f"insert{number}_{what}"


def insert_role(number: int) -> str:
    """The role that the paper of an insert fills."""
    return f"insert{number}"


def inserts_in(keys: Iterable[str]) -> tuple[int, ...]:
    """The numbers of the inserts that dimensions or fields speak of."""
    known = set(keys)
    return tuple(n for n in range(1, MOST_INSERTS + 1) if insert_key(n, "count") in known)


def takes_inserts(structure: Structure) -> bool:
    """Whether it has leaves that something can be laid in with."""
    return any(role.key == "leaves" for role in structure.roles)


def insert_dimensions(number: int, *, several: bool) -> tuple[Dimension, ...]:
    """What is chosen about an insert; in every one of ``several`` signatures as well."""
    group = f"Insert {number}"

    def key(what: str) -> str:
        return insert_key(number, what)

    per = Dimension(key("per"), "For", group, "choice", "journal", choices=PER)
    return (
        Dimension(key("count"), "How many", group, "count", 1, 0, 40, help="0 leaves it out."),
        *((per,) if several else ()),
        Dimension(key("how"), "It is", group, "choice", TIP, choices=HOW),
        Dimension(key("width"), "Width, as cut", group, "length", 90 * MM, 20 * MM, 1000 * MM),
        Dimension(key("height"), "Height, as cut", group, "length", 130 * MM, 20 * MM, 1000 * MM),
        Dimension(key("grain"), "Grain", group, "choice", "height", choices=GRAINS),
    )


@dataclass(frozen=True)
class Insert:
    """Pieces of one paper and size; ``total`` of them go into one journal."""

    number: int
    paper: PaperFacts
    total: int
    how: str
    width_nm: int
    height_nm: int
    grain: str | None

    @property
    def piece(self) -> Piece:
        """As it is cut."""
        return Piece(NAMES[self.how], self.width_nm, self.height_nm, self.total, self.grain)

    @property
    def flat(self) -> Flat:
        """As it is drawn."""
        return Flat(
            insert_role(self.number), f"One {NAMES[self.how]} as it is cut", "leaf",
            self.width_nm, self.height_nm, grain=self.grain, count=self.total,
        )  # fmt: skip

    @property
    def bulk_nm(self) -> int:
        """What all of them add to the thickness."""
        return self.total * LAYERS[self.how] * self.paper.caliper_nm


def with_inserts(structure: Structure, numbers: Sequence[int]) -> Structure:
    """A structure that asks for these inserts and their papers as well."""
    if not numbers or not takes_inserts(structure):
        return structure
    several = any(d.key == "signatures" for d in structure.dimensions)
    at = next(i for i, r in enumerate(structure.roles) if r.key == "leaves") + 1

    def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
        return _laid_in(structure.build(dims, papers), _inserts(dims, papers))

    def check(dims: Dims) -> dict[str, str]:
        return dict(structure.check(dims) if structure.check else {}) | _problems(dims)

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
        check=check,
    )


def _inserts(dims: Dims, papers: Mapping[str, PaperFacts]) -> list[Insert]:
    signatures = length_of(dims, "signatures") if "signatures" in dims else 1
    found = []
    for number in inserts_in(dims):
        count = length_of(dims, insert_key(number, "count"))
        times = signatures if dims.get(insert_key(number, "per")) == "signature" else 1
        grain = str(dims[insert_key(number, "grain")])
        if count:
            found.append(
                Insert(
                    number, papers[insert_role(number)], count * times,
                    str(dims[insert_key(number, "how")]),
                    length_of(dims, insert_key(number, "width")),
                    length_of(dims, insert_key(number, "height")),
                    None if grain == "free" else grain,
                )
            )  # fmt: skip
    return found


def _problems(dims: Dims) -> dict[str, str]:
    """Whatever is not folded must lie within the leaf."""
    found: dict[str, str] = {}
    for number in inserts_in(dims):
        if not dims[insert_key(number, "count")] or dims[insert_key(number, "how")] == POCKET:
            continue
        for what, side in (("width", "leaf_width"), ("height", "leaf_height")):
            most = length_of(dims, side)
            if length_of(dims, insert_key(number, what)) > most:
                found[insert_key(number, what)] = (
                    f"It would stand out of the leaf, {show_length(most, 'mm')}: cut it smaller, "
                    "or fold it to a pocket."
                )
    return found


def _laid_in(build: Build, inserts: Sequence[Insert]) -> Build:
    """The journal with its inserts: cut with the leaves, tipped in before it is sewn."""
    operations = dict(build.operations)
    for insert in inserts:
        for key in ("cut", WORK.get(insert.how, "")):
            if key:
                operations[key] = operations.get(key, 0) + insert.total
    bulk = sum(insert.bulk_nm for insert in inserts)
    steps = after_stage(build.steps, "leaves", [*_before_sewing(inserts)])
    return replace(
        build,
        leaves=build.leaves + sum(i.total for i in inserts if i.how == TIP),
        pieces={**build.pieces, **{insert_role(i.number): (i.piece,) for i in inserts}},
        operations=operations,
        flats=(*build.flats, *(insert.flat for insert in inserts)),
        thickness_nm=max(build.thickness_nm, build.edge_nm + bulk),
        fore_edge_nm=build.edge_nm + bulk,
        advice=(*build.advice, *_advice(build, bulk)),
        steps=(*steps[:-1], *_after_press(inserts), *steps[-1:]),
    )


def _advice(build: Build, bulk_nm: int) -> Iterator[Advice]:
    """Whether the spine has room for what was laid in."""
    panels = build.cover.panels if build.cover else ()
    spine = next((panel for panel in panels if panel.name == "spine"), None)
    more = build.edge_nm + bulk_nm - build.thickness_nm
    if spine is not None and more > FELT_NM:
        yield Advice(
            "What is laid in adds {bulk}, more than the spine of {spine} has room for: the journal "
            "gapes at the fore edge. Give the spine {mend}, or lay in less.",
            {"bulk": bulk_nm, "spine": spine.width_nm, "mend": spine.width_nm + more},
            "spine",
        )


def _before_sewing(inserts: Sequence[Insert]) -> Iterator[BenchStep]:
    for insert in inserts:
        many, name = insert.total, insert.piece.named(insert.total)
        yield BenchStep(
            f"Cut {many} {name} of {in_braces(insert.paper.name)} {{width}} wide and {{height}} "
            f"high, {grain_said(insert.grain)}.",
            {"width": insert.width_nm, "height": insert.height_nm},
            insert_role(insert.number),
        )
        if insert.how == TIP:
            yield BenchStep(PASTES, caution=True)
            each = "it" if many == 1 else "each"
            yield BenchStep(
                f"Tip {each} in where it belongs, {{line}} of paste along the edge by the fold and "
                "no more, and press it between waste sheets until it is dry.",
                {"line": TIP_NM},
            )


def _after_press(inserts: Sequence[Insert]) -> Iterator[BenchStep]:
    for insert in inserts:
        name = in_braces(insert.paper.name)
        them = f"the {insert.piece.named(insert.total)} of {name}"
        if insert.how == POCKET:
            yield BenchStep(PASTES, caution=True)
            yield BenchStep(
                f"Fold {them} up from the tail and in at both sides, paste the flaps and, once "
                "dry, paste it inside the cover; press it between waste sheets."
            )
        elif insert.how == PASTE:
            yield BenchStep(PASTES, caution=True)
            yield BenchStep(
                f"Paste {them} inside the cover, thinly, and press it between waste sheets until "
                "it is dry."
            )
        elif insert.how == LOOSE:
            yield BenchStep(f"Lay in {them}.")
