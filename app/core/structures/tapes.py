"""Sewing on tapes: where the stations lie, and the way of the one thread through all signatures.

Between two kettle stations near head and tail each tape has a station on either side of it. The
thread runs through a signature from kettle to kettle, out and over every tape, climbs to the next
and comes back; from the third signature on it is linked at the kettle under the one before. In a
French link it is linked at every tape as well, or where a tape would lie.

Stations as published: kettles 3/4 in from the head and 1 1/4 in from the foot, the end tapes 1/4 in
inside of them, the rest evenly (Vaughn, Modern Bookbinding, 1912).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from app.core.length import INCH, MM
from app.core.structures.advice import EDGE_NM
from app.core.structures.base import Advice, Dimension
from app.core.structures.gathering import Gathering
from app.core.structures.sewing import middles
from app.core.structures.thread import Stitch, ThreadPath
from app.core.structures.words import later
from app.language import say, say_many, to_say

Placed = tuple[Stitch, tuple[int, int, int]]
TAPES, LINK_TAPES, LINK = "tapes", "link_tapes", "link"
SEWN_ON = Dimension(
    "sewn", to_say("Sewn"), to_say("Sewing"), "choice", TAPES,
    choices=((TAPES, to_say("on tapes")), (LINK_TAPES, to_say("French link over tapes")),
             (LINK, to_say("French link without tapes"))),
)  # fmt: skip
SEWING = (
    SEWN_ON,
    Dimension(
        "tapes", to_say("Tapes, or links"), to_say("Sewing"), "count", 3, 1, 8,
        help=to_say("Three for a back of 8 in, four for 12 in."),
    ),
    Dimension(
        "tape_width", to_say("Width of a tape, or link"), to_say("Sewing"), "length",
        12 * MM, 4 * MM, 60 * MM
    ),
    Dimension(
        "head_distance", to_say("Kettle from the head"), to_say("Sewing"), "length",
        15 * MM, 0, 300 * MM,
        help=to_say("Head of the leaf to the first station."),
    ),
    Dimension(
        "tail_distance", to_say("Kettle from the tail"), to_say("Sewing"), "length",
        20 * MM, 0, 300 * MM,
        help=to_say("As a rule a little more than at the head."),
    ),
    Dimension(
        "kettle_gap", to_say("Kettle to the end tapes"), to_say("Sewing"), "length",
        6 * MM, 0, 100 * MM
    ),
)  # fmt: skip
CLOSE_NM = 4 * MM
"""Stations closer than this tear into one another: a rule of thumb."""
TALL_NM = 10 * INCH
"""From half way between published heights on a back wants a fourth tape."""
NEAR = {
    "head_distance": to_say(
        "The kettle station lies {near} from the head; the paper tears closer than {edge}. Move it "
        "in to {edge} or more."
    ),
    "tail_distance": to_say(
        "The kettle station lies {near} from the tail; the paper tears closer than {edge}. Move it "
        "in to {edge} or more."
    ),
}


def tape_stations(n: Mapping[str, int]) -> tuple[int, ...]:
    """Kettle, two beside each tape, kettle: from the head of the leaf."""
    head, tail = n["head_distance"], n["leaf_height"] - n["tail_distance"]
    first, last = head + n["kettle_gap"], tail - n["kettle_gap"] - n["tape_width"]
    count = n["tapes"]
    starts = (
        [first + i * (last - first) // (count - 1) for i in range(count)]
        if count > 1
        else [(first + last) // 2]
    )
    return (head, *(y for x in starts for y in (x, x + n["tape_width"])), tail)


def tape_path(n: Mapping[str, int], gathering: Gathering, sewn: str) -> ThreadPath:
    """The way of the thread; row 0 is the first signature, sewn from head to tail."""
    at = gathering.at
    many = len(gathering.signatures)
    across = middles([gathering.thickness_nm(row) for row in range(many)])
    found: list[Placed] = []

    def through(row: int, station: int, *, inward: bool) -> Iterator[Placed]:
        deep = gathering.through(row)[station]
        for inside in (not inward, inward):
            place = (across[row], at[station], deep if inside else 0)
            yield Stitch(row, station, inside), place

    def outside(row: int, station: int, y_nm: int, over: str) -> Placed:
        return Stitch(row, station, inside=False, over=over), (across[row], y_nm, 0)

    last = len(at) - 1
    for row in range(many):
        order = range(last + 1) if row % 2 == 0 else range(last, -1, -1)
        for number, station in enumerate(order):
            over_tape = number % 2 == 0 and number > 0
            if over_tape and row and sewn != TAPES:
                middle = (at[station] + at[order[number - 1]]) // 2
                found.append(outside(row - 1, station, middle, "below"))
            found += through(row, station, inward=number % 2 == 0)
        if row == 1:
            found.append(outside(row, order[-1], at[order[-1]], "tie"))
        elif row > 1:
            found.append(outside(row - 1, order[-1], at[order[-1]], "kettle"))
    stitches, places = zip(*found, strict=True)
    names = tuple(say("signature {number}", number=row + 1) for row in range(many))
    return ThreadPath(stitches, places, n["tails"], row_names=names)


def tape_advice(n: Mapping[str, int], at: tuple[int, ...]) -> list[Advice]:
    """Stations too near to an edge or to one another, and too few tapes for the height."""
    found: list[Advice] = []
    for key, text in NEAR.items():
        if n[key] < EDGE_NM:
            found.append(Advice(say(text), {"near": n[key], "edge": EDGE_NM}, key, grave=True))
    # Between kettle and tape, tape and tape, tape and kettle.
    if min(b - a for a, b in zip(at[::2], at[1::2], strict=True)) < CLOSE_NM:
        found.append(
            Advice(
                say_many(
                    n["tapes"],
                    "One tape or link {width} wide does not fit between kettles {apart} apart with "
                    "{least} on either side of each. Take fewer or narrower ones, or move the "
                    "kettles out.",
                    "{n} tapes or links {width} wide do not fit between kettles {apart} apart with "
                    "{least} on either side of each. Take fewer or narrower ones, or move the "
                    "kettles out.",
                    **later("width", "apart", "least"),
                ),
                {"width": n["tape_width"], "apart": max(at[-1] - at[0], 0), "least": CLOSE_NM},
                "kettle_gap" if n["kettle_gap"] < CLOSE_NM else "tapes",
                grave=True,
            )
        )
    if n["leaf_height"] >= TALL_NM and n["tapes"] < 4:
        found.append(
            Advice(
                say("A leaf {leaf} high wants four tapes or links: three are for one of {usual}."),
                {"leaf": n["leaf_height"], "usual": 8 * INCH},
                "tapes",
            )
        )
    return found
