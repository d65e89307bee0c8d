"""Pieces of paper laid into a journal: what a maker chooses about them, and what that comes to.

A dimension of an insert has its number in its key, from 1 on; its paper fills a role of the same
name. An insert is cut as it is typed; a pocket is folded of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from app.core.length import MM
from app.core.paper import Piece
from app.core.structures.base import Dimension, Dims, Flat, PaperFacts, Structure, length_of
from app.core.structures.parts import signatures_of
from app.core.structures.words import altered
from app.language import say, to_say

MOST_INSERTS = 6
TIP, PASTE, POCKET, LOOSE = "tip", "paste", "pocket", "loose"
HOW = (
    (TIP, to_say("tipped in by an edge")), (PASTE, to_say("pasted down inside the cover")),
    (POCKET, to_say("folded to a pocket, pasted in")), (LOOSE, to_say("laid in loose")),
)  # fmt: skip
NAMES = {TIP: "tip-in", PASTE: "paste-down", POCKET: "pocket", LOOSE: "loose piece"}
CUT = {
    TIP: to_say("One tip-in as it is cut"), PASTE: to_say("One paste-down as it is cut"),
    POCKET: to_say("One pocket as it is cut"), LOOSE: to_say("One loose piece as it is cut"),
}  # fmt: skip
LAYERS = {TIP: 1, PASTE: 1, POCKET: 3, LOOSE: 1}
"""How often its paper lies in the closed journal; a pocket is folded twice."""
FLAP_NM = 12 * MM
"""How wide the flaps of a pocket are."""
PER = (("journal", to_say("each journal")), ("signature", to_say("each signature")))
GRAINS = (
    ("height", to_say("along its height")),
    ("width", to_say("along its width")),
    ("free", to_say("either way")),
)


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
    """Whether it has leaves that something can be laid in with, and a cover to paste it to."""
    roles = {role.key for role in structure.roles}
    return "leaves" in roles and not roles.isdisjoint(("cover", "boards"))


def insert_dimensions(number: int, *, several: bool) -> tuple[Dimension, ...]:
    """What is chosen about an insert; in every one of ``several`` signatures as well."""
    group = to_say("Insert {number}")

    def key(what: str) -> str:
        return insert_key(number, what)

    per = Dimension(key("per"), to_say("For"), group, "choice", "journal", choices=PER)
    found = (
        Dimension(
            key("count"), to_say("How many"), group, "count", 1, 0, 40,
            help=to_say("0 leaves it out."),
        ),
        *((per,) if several else ()),
        Dimension(key("how"), to_say("It is"), group, "choice", TIP, choices=HOW),
        Dimension(
            key("width"), to_say("Width, as cut"), group, "length", 90 * MM, 20 * MM, 1000 * MM
        ),
        Dimension(
            key("height"), to_say("Height, as cut"), group, "length", 130 * MM, 20 * MM, 1000 * MM
        ),
        Dimension(key("grain"), to_say("Grain"), group, "choice", "height", choices=GRAINS),
    )  # fmt: skip
    return tuple(altered(dimension, number=number) for dimension in found)


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
        """As it is drawn; a pocket's lower half folds up, its flaps round behind the upper one."""
        wide, high, flap = self.width_nm, self.height_nm, FLAP_NM
        half, inner = high // 2, wide - FLAP_NM
        pocket = self.how == POCKET
        return Flat(
            insert_role(self.number), say(CUT[self.how]), "leaf", wide, high,
            grain=self.grain, count=self.total,
            folds=(
                (flap, half, inner, half), (flap, half, flap, high), (inner, half, inner, high)
            ) if pocket else (),
            outline=(
                (flap, 0), (inner, 0), (inner, half), (wide, half), (wide, high), (0, high),
                (0, half), (flap, half),
            ) if pocket else (),
        )  # fmt: skip

    @property
    def bulk_nm(self) -> int:
        """What all of them add to the thickness."""
        return self.total * LAYERS[self.how] * self.paper.caliper_nm


def inserts_of(dims: Dims, papers: Mapping[str, PaperFacts]) -> list[Insert]:
    """What dimensions say is laid in, each with its paper."""
    found = []
    for number in inserts_in(dims):
        count = length_of(dims, insert_key(number, "count"))
        each = dims.get(insert_key(number, "per")) == "signature"
        times = signatures_of(dims) if each else 1
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
