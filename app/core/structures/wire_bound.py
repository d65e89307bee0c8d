"""Single leaves and two covers held by wire, rings or a file, through holes along one edge.

Filing holes are those of ISO 838: two, 80 mm apart, the middle of the sheet between them, 12 mm
from its edge; four go on at the same distance. Wire has three or two loops to the inch. How many
of its holes go on an edge is what shops punch: the outer ones keep 7 mm or more from its ends.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import INCH, MM
from app.core.structures.advice import HOLE_NM
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dimension,
    Dims,
    Flat,
    Hole,
    Operation,
    Panel,
    PaperFacts,
    Role,
    Structure,
)
from app.core.structures.common import (
    BLADES,
    COVER,
    COVER_GRAIN,
    CUT,
    LAWS,
    LEAF,
    LEAF_STAIRS,
    LEAVES,
    WRAP_UP,
    caution,
    leaves_and_covers_cut,
    numbers,
    piece_of,
    wrapped,
)
from app.core.structures.gathering import runs_along_the_fold
from app.core.structures.insert_kinds import inserts_of
from app.core.structures.words import later, one, said_when_read, unsaid
from app.language import say, say_many, to_say

KEY = "wire_bound"
END_NM = 7 * MM
"""The least from an end of the edge to the middle of a hole for wire."""
WIRE_EDGE_NM, FILE_EDGE_NM = 6 * MM, 12 * MM
HANDFUL_NM = 2 * MM
"""What a hand punch takes at a time: a rule of thumb."""
FILED_NM = 100 * MM
"""The least edge that ISO 838 punches."""
PUNCHING = to_say(
    "A punch crushes fingers and ends of wire are sharp: keep your hands on the paper, clear of it."
)


@said_when_read(name=one)
@dataclass(frozen=True)
class Holes:
    """A way of punching an edge: a pitch filled from the middle, or so many holes ``apart_nm``.

    ``most_nm`` is the thickest block its wire takes; ``across_nm`` a hole's width. Wire is
    ``roomier`` by this factor than what it holds.
    """

    name: str
    held: str
    apart_nm: Fraction
    across_nm: int
    count: int = 0
    most_nm: int = 0
    roomier: Fraction = Fraction(1)

    def places(self, edge_nm: int) -> tuple[int, ...]:
        """Middles of the holes from the head; none where they do not go on the edge."""
        count = self.count or max((edge_nm - 2 * END_NM) // self.apart_nm + 1, 0)
        first = (edge_nm - (count - 1) * self.apart_nm) / 2
        if count < 2 or first < self.across_nm:
            return ()
        return tuple(round(first + i * self.apart_nm) for i in range(count))

    def inside_nm(self, thickness_nm: int, margin_nm: int) -> int:
        """How wide wire or rings are inside, to the next millimetre; rings go round the edge."""
        wide = thickness_nm * self.roomier if self.held == WIRE else thickness_nm + margin_nm
        return max(-(-wide // MM), 6) * MM


WIRE, RINGS, FILE = "wire", "rings", "file"
PUNCHED = {
    "wire3": Holes(
        to_say("wire, 3 to the inch"),
        WIRE,
        Fraction(INCH, 3),
        4 * MM,
        most_nm=12 * MM,
        roomier=Fraction(6, 5),
    ),
    "wire2": Holes(
        to_say("wire, 2 to the inch"),
        WIRE,
        Fraction(INCH, 2),
        5 * MM,
        most_nm=25 * MM,
        roomier=Fraction(34, 25),
    ),
    "rings2": Holes(to_say("two rings, 80 mm apart"), RINGS, Fraction(80 * MM), 6 * MM, 2),
    "rings3": Holes(
        to_say("three rings, 4 1/4 in apart"), RINGS, Fraction(INCH * 17, 4), 7 * MM, 3
    ),
    "file2": Holes(to_say("a file, two holes"), FILE, Fraction(80 * MM), 6 * MM, 2),
    "file4": Holes(to_say("a file, four holes"), FILE, Fraction(80 * MM), 6 * MM, 4),
}

PUNCH_EDGE = Operation(
    "punch_edge", to_say("Punch the edge"), "handful", Fraction(2), Fraction(1, 2)
)
CLOSE = Operation(
    "close_wire", to_say("Put wire or rings in"), "notebook", Fraction(1), Fraction(2)
)


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one notebook; ``papers`` holds the roles ``leaves`` and ``cover``."""
    n = numbers(dims, DIMENSIONS)
    how = PUNCHED[str(dims["held"])]
    at = how.places(n["leaf_height"])
    if not at or (how.held == FILE and n["leaf_height"] < FILED_NM):
        raise DomainError(
            say(
                "The holes for {held} do not go on so short an edge: make it higher.", held=how.name
            ),
            "leaf_height",
        )
    margin = n["margin"] or (WIRE_EDGE_NM if how.held == WIRE else FILE_EDGE_NM)
    leaf = _flat(dims, n, at, margin, "leaf")
    cover = _flat(dims, n, at, margin, "cover")
    block = n["leaves"] * papers["leaves"].caliper_nm
    thickness = block + 2 * papers["cover"].caliper_nm
    held = thickness + sum(insert.bulk_nm for insert in inserts_of(dims, papers))
    return Build(
        structure=KEY,
        made_of=say_many(n["leaves"], "{n} leaf on {held}", "{n} leaves on {held}", held=how.name),
        leaves=n["leaves"],
        pieces={"leaves": (piece_of(leaf),), "cover": (piece_of(cover),)},
        lengths={},
        counts={
            "loops": len(at) if how.held == WIRE else 0,
            "rings": len(at) if how.held == RINGS else 0,
        },
        operations={
            "cut": n["leaves"] + 2,
            "punch_edge": -(-thickness // HANDFUL_NM),
            "close_wire": 0 if how.held == FILE else 1,
            "wrap_up": 1,
        },
        flats=(cover, leaf),
        thread=(),
        thickness_nm=thickness,
        closed_width_nm=n["leaf_width"],
        closed_height_nm=n["leaf_height"],
        advice=tuple(_advice(dims, n, how, margin, held)),
        steps=_steps(n, how, leaf, cover, margin, held),
    )


def _flat(dims: Dims, n: Mapping[str, int], at: tuple[int, ...], margin_nm: int, key: str) -> Flat:
    of_cover = key == "cover"
    return Flat(
        key=key,
        name=say("One cover of two, bound edge at the left")
        if of_cover
        else say("One leaf, bound edge at the left"),
        stock="card" if of_cover else "leaf",
        width_nm=n["leaf_width"],
        height_nm=n["leaf_height"],
        panels=(Panel(to_say("cover"), 0, n["leaf_width"]),) if of_cover else (),
        holes=tuple(Hole(margin_nm, y, 0, station) for station, y in enumerate(at)),
        grain=runs_along_the_fold(dims, "cover_grain" if of_cover else "leaf_grain"),
        count=2 if of_cover else n["leaves"],
    )


def _advice(
    dims: Dims, n: Mapping[str, int], how: Holes, margin_nm: int, thickness_nm: int
) -> list[Advice]:
    found = []
    least = how.across_nm // 2 + HOLE_NM
    if margin_nm < least:
        found.append(
            Advice(
                say(
                    "Holes {hole} wide with their middle {near} from the edge tear out. Move them "
                    "in to {mend} or more, or 0 for the usual distance."
                ),
                {"hole": how.across_nm, "near": margin_nm, "mend": least},
                "margin",
                grave=True,
            )
        )
    if 3 * margin_nm > n["leaf_width"]:
        found.append(
            Advice(
                say("The holes lie {margin} in on a leaf {leaf} wide: hardly any of it opens."),
                {"margin": margin_nm, "leaf": n["leaf_width"]},
                "margin",
                grave=2 * margin_nm > n["leaf_width"],
            )
        )
    if how.most_nm and thickness_nm > how.most_nm:
        thick = say(
            "Leaves and covers are {thick} thick; {held}, takes {most}.",
            held=how.name,
            **later("thick", "most"),
        )
        mend = (
            say("Take fewer leaves, or two loops to the inch.")
            if dims["held"] == "wire3"
            else say("Take fewer leaves.")
        )
        found.append(
            Advice(
                f"{thick} {mend}",
                {"thick": thickness_nm, "most": how.most_nm},
                "leaves",
                grave=True,
            )
        )
    return found + [
        Advice(say(text), field=key) for key, text in FREE.items() if dims[key] == "free"
    ]


FREE = {
    "leaf_grain": to_say(
        "The grain of the leaves may run either way: across the bound edge they are stiff to turn. "
        "Choose “along the fold”, so that it runs along that edge."
    ),
    "cover_grain": to_say(
        "The grain of the covers may run either way: across the bound edge they are stiff to turn. "
        "Choose “along the fold”, so that it runs along that edge."
    ),
}
"""Warnings about a grain that may run either way, by the dimension to change."""


def _steps(
    n: Mapping[str, int], how: Holes, leaf: Flat, cover: Flat, margin_nm: int, held_nm: int
) -> tuple[BenchStep, ...]:
    count = len(leaf.holes)
    return (
        caution(BLADES),
        leaves_and_covers_cut(n["leaves"], leaf, cover),
        caution(PUNCHING),
        BenchStep(
            say(
                "Punch {holes} holes by the template along the left edge of leaves and covers, the "
                "back cover lying face down, as many at a time as your punch takes: {margin} from "
                "the edge to the middle of a hole, the outer ones {first} from head and tail.",
                holes=count,
                **later("margin", "first"),
            ),
            {"margin": margin_nm, "first": leaf.holes[0].y_nm},
            "cover",
        ),
        BenchStep(_held(how, count), {"inside": how.inside_nm(held_nm, margin_nm)}),
        wrapped(),
    )


def _held(how: Holes, count: int) -> str:
    """How leaves and covers are put on what holds them, at so many holes."""
    if how.held == WIRE:
        return say(
            "Lay the front cover face up on the leaves and the back cover face down on top, all "
            "holes in line. Hang them on {count} loops of wire, {inside} wide inside or a little "
            "more, close it in its closer until its ends meet, and turn the back cover over to its "
            "place: the seam of the wire lies behind it.",
            count=count,
            **later("inside"),
        )
    if how.held == RINGS:
        return say(
            "Put {count} rings, {inside} wide inside or more, through covers and leaves and close "
            "them.",
            count=count,
            **later("inside"),
        )
    return say("Keep covers and leaves together with a band: they go into a file.")


DIMENSIONS = (
    *LEAF,
    Dimension("leaves", to_say("How many leaves"), to_say("Leaf"), "count", 60, 2, 1000),
    Dimension(
        "held", to_say("Held by"), to_say("Binding"), "choice", "wire3",
        choices=tuple((key, unsaid(how, "name")) for key, how in PUNCHED.items()),
        help=to_say(
            "Along the height. For one that opens upwards make the height the shorter side."
        ),
    ),
    Dimension(
        "margin", to_say("Holes from the edge"), to_say("Binding"), "length", 0, 0, 60 * MM,
        help=to_say("Edge to the middle of a hole; 0 for 6 mm with wire, else 12 mm."),
    ),
    COVER_GRAIN,
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Notebook on wire, rings or for a file"),
    says=to_say("Single leaves and two covers through holes punched along one edge."),
    dimensions=DIMENSIONS,
    roles=(
        LEAVES,
        COVER,
        Role("loops", to_say("Wire, by the loop"), "count"),
        Role("rings", to_say("Rings"), "count"),
    ),
    operations=(CUT, PUNCH_EDGE, CLOSE, WRAP_UP),
    build=build,
    cautions=(BLADES, PUNCHING, LAWS),
    stairs_keys=LEAF_STAIRS,
)
