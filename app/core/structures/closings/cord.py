"""A doubled cord looped through the flap, wrapped round the closed journal, beads on its ends.

*Common practice, no source*: two wraps of the doubled cord, a tail about the closed width, three
beads on each end.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from app.core.length import METRE, MM
from app.core.structures.base import Advice, BenchStep, Dimension, Line, Operation, Role
from app.core.structures.closing import (
    GROUP,
    Added,
    Closing,
    Fitting,
    Punching,
    has_flap,
    punched,
)
from app.core.structures.common import BEADS, PUNCH, caution
from app.core.structures.words import later
from app.language import say, say_many, to_say

WORKABLE_NM = 4 * METRE
EYELET = Punching(
    flat=to_say(
        "While the cover lies flat, inside up, punch the eyelet of the flap by the template, on a "
        "board."
    )
)


def cord_length(
    *, wraps: int, closed_width_nm: int, thickness_nm: int, tail_nm: int, hitch_nm: int
) -> int:
    """Cord for a closing of so many wraps, doubled and looped through the flap.

    Both strands go round ``wraps`` times and end in a tail; the hitch is what the loop takes.
    No wraps, no cord. *Common practice, no source.*
    """
    if not wraps:
        return 0
    girth = 2 * (closed_width_nm + thickness_nm)
    return 2 * (wraps * girth + tail_nm) + hitch_nm


def put_on(fitting: Fitting) -> Added:
    """Cord and beads; without wraps there is neither, nor a hole."""
    build, wraps, each = fitting.build, fitting.chosen("wraps"), fitting.chosen("beads_each_end")
    cord = cord_length(
        wraps=wraps,
        closed_width_nm=build.closed_width_nm,
        thickness_nm=build.thickness_nm,
        tail_nm=fitting.chosen("cord_tail") or build.closed_width_nm,
        hitch_nm=fitting.chosen("hitch"),
    )
    beads = 2 * each if wraps else 0
    return Added(
        lengths={"cord": cord},
        counts={"beads": beads},
        operations={"punch": 1, "bead": beads, "tie": 1} if wraps else {},
        holes={"cover": fitting.at_flap()} if wraps else {},
        punches=(punched(fitting, EYELET),) if wraps else (),
        steps=tuple(_steps(wraps, each, cord)) if wraps else (),
        last=True,
        advice=tuple(_advice(fitting, wraps, cord)),
        lines=tuple(_lines(fitting, wraps)),
    )


def _lines(fitting: Fitting, wraps: int) -> Iterator[Line]:
    """The turns across the front, a little apart."""
    width, height = fitting.build.closed_width_nm, fitting.build.closed_height_nm
    for turn in range(wraps):
        y = height // 2 + (2 * turn - (wraps - 1)) * height // 50
        yield (0, y, width, y)


def _advice(fitting: Fitting, wraps: int, cord_nm: int) -> Iterator[Advice]:
    if wraps and not fitting.panel("flap"):
        yield Advice(
            say(
                "There is no flap to loop the cord through: its hole would lie in the back. Give "
                "the flap {mend}, or wrap no cord."
            ),
            {"mend": 50 * MM},
            "flap",
            grave=True,
        )
    if cord_nm > WORKABLE_NM:
        yield Advice(
            say(
                "The closing wants {cord} of cord; more than {most} is unhandy and a snare for "
                "small children. Wrap it fewer times."
            ),
            {"cord": cord_nm, "most": WORKABLE_NM},
            "wraps",
        )


def _steps(wraps: int, beads: int, cord_nm: int) -> Iterator[BenchStep]:
    """After the press: beads would leave their marks."""
    yield caution(BEADS)
    yield BenchStep(
        say_many(
            beads,
            "Cut {cord} of cord, double it, loop it through the eyelet, string {n} bead on each "
            "end and knot behind them.",
            "Cut {cord} of cord, double it, loop it through the eyelet, string {n} beads on each "
            "end and knot behind them.",
            **later("cord"),
        )
        if beads
        else say("Cut {cord} of cord, double it, loop it through the eyelet, and knot each end."),
        to_cut={"cord": cord_nm},
    )
    yield BenchStep(
        say_many(
            wraps,
            "Close the flap and wrap the cord round once, the ends tucked under.",
            "Close the flap and wrap the cord round {n} times, the ends tucked under.",
        )
    )


CLOSING = Closing(
    key="cord",
    name=to_say("cord and beads"),
    fits=has_flap,
    dimensions=(
        Dimension("wraps", to_say("Wraps"), GROUP, "count", 2, 0, 12),
        Dimension(
            "cord_tail", to_say("Cord tail"), GROUP, "length", 0, 0, 1000 * MM,
            help=to_say("0 for the width of the closed journal."),
        ),
        Dimension("hitch", to_say("Loop and hitch"), GROUP, "length", 40 * MM, 0, 500 * MM),
        Dimension("beads_each_end", to_say("Beads on each end"), GROUP, "count", 3, 0, 40),
    ),
    roles=(Role("cord", to_say("Cord"), "length"), Role("beads", to_say("Beads"), "count")),
    operations=(
        PUNCH,
        Operation("bead", to_say("String beads"), "bead", Fraction(1), Fraction(1, 2)),
        Operation("tie", to_say("Fit the closing"), "journal", Fraction(1), Fraction(3)),
    ),
    put_on=put_on,
    cautions=(BEADS,),
)  # fmt: skip
