"""A toggle on the front and a loop of cord from the flap to go over it.

The loop is as wide open as the toggle is long, so that it passes over its end. The measures offered
first are common practice, no source.
"""

from __future__ import annotations

import math
from fractions import Fraction

from app.core.length import MM
from app.core.structures.base import BenchStep, Dimension, Operation, Role
from app.core.structures.closing import (
    GROUP,
    Added,
    Closing,
    Fitting,
    has_flap,
    no_flap,
    no_room,
    punched,
)
from app.core.structures.common import LAWS, PUNCH, caution
from app.core.structures.words import Sentences
from app.language import say, to_say

SMALL = Sentences(to_say("A toggle is a small part: keep it from small children."), LAWS)


def put_on(fitting: Fitting) -> Added:
    """The toggle with its stay, and the loop: twice the toggle and its two ends."""
    cover, flap = fitting.cover, fitting.panel("flap")
    toggle, ends = fitting.chosen("toggle_length"), fitting.chosen("loop_ends")
    loop, stay = 2 * toggle + 2 * ends, 2 * ends
    if cover is None or flap is None:
        return Added(
            lengths={"loop": loop + stay}, counts={"toggle": 1},
            operations={"fit_toggle": 1}, advice=(no_flap(say("There is no flap for the loop.")),),
        )  # fmt: skip
    width, middle = fitting.build.closed_width_nm, fitting.build.closed_height_nm // 2
    # Drawn over the end of the toggle, half its length aside, the loop is as long as the toggle.
    reach = math.isqrt(3 * toggle**2) // 2
    places, front = fitting.across_the_flap(reach)
    return Added(
        lengths={"loop": loop + stay},
        counts={"toggle": 1},
        operations={"punch": 2, "fit_toggle": 1},
        holes={cover.key: places},
        punches=(punched(fitting),),
        steps=(
            caution(SMALL),
            BenchStep(
                say(
                    "Cut {loop} of cord, double it, draw both ends in through the hole of the flap "
                    "and knot them inside, so that the loop just passes over the toggle."
                ),
                to_cut={"loop": loop},
            ),
            BenchStep(
                say(
                    "Cut {stay} of cord, draw it through the toggle and both its ends in through "
                    "the hole of the front, and knot them inside."
                ),
                to_cut={"stay": stay},
            ),
        ),
        advice=no_room(fitting, front, "toggle_length"),
        lines=((width - front, middle, width - front + reach, middle),),
        dots=((width - front, middle),),
    )


CLOSING = Closing(
    key="toggle",
    name=to_say("toggle and loop"),
    fits=has_flap,
    dimensions=(
        Dimension(
            "toggle_length", to_say("Length of the toggle"), GROUP, "length",
            25 * MM, 5 * MM, 120 * MM,
        ),
        Dimension(
            "loop_ends", to_say("For each end inside"), GROUP, "length", 30 * MM, 5 * MM, 200 * MM
        ),
    ),
    roles=(
        Role("toggle", to_say("Toggle"), "count"),
        Role("loop", to_say("Cord of the loop"), "length"),
    ),
    operations=(
        PUNCH,
        Operation("fit_toggle", to_say("Fit the toggle"), "journal", Fraction(1), Fraction(5)),
    ),
    put_on=put_on,
    cautions=(SMALL,),
)  # fmt: skip
