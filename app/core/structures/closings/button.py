"""Two buttons, one on the flap and one on the front, and a string wound round both.

The string is fast under the button of the flap. How often it is wound and how far apart the buttons
lie are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from app.core.length import MM
from app.core.structures.base import Advice, BenchStep, Dimension, Operation, Role
from app.core.structures.closing import (
    GROUP,
    INSET_NM,
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
from app.language import say, say_many, to_say

SMALL = Sentences(to_say("Buttons are small parts: keep them from small children."), LAWS)
BUTTONS, BETWEEN_NM = 2, 2 * MM


def put_on(fitting: Fitting) -> Added:
    """Two buttons and a string; the front's lies past the edge of the closed flap.

    A turn of the string goes along between the buttons and back, and round both.
    """
    build, cover, flap = fitting.build, fitting.cover, fitting.panel("flap")
    apart, winds = fitting.chosen("button_apart"), fitting.chosen("button_winds")
    across = fitting.chosen("button_across")
    turn = 2 * apart + -(-across * 22 // 7)
    string = winds * turn + fitting.chosen("string_tail") + fitting.chosen("string_knot")
    if cover is None or flap is None:
        return Added(
            lengths={"string": string},
            counts={"buttons": BUTTONS},
            operations={"fit_button": BUTTONS},
            advice=(no_flap(say("There is no flap for the button.")),),
        )
    places, front = fitting.across_the_flap(apart)
    inset = cover.width_nm - places[0][0]
    width, middle = build.closed_width_nm, build.closed_height_nm // 2
    return Added(
        lengths={"string": string},
        counts={"buttons": BUTTONS},
        operations={"punch": BUTTONS, "fit_button": BUTTONS},
        holes={cover.key: places},
        punches=(punched(fitting),),
        steps=(
            caution(SMALL),
            BenchStep(
                say(
                    "Cut {string} of string. Sew or rivet one button to the front and one to the "
                    "flap, a disc or a stay of card behind each, and the end of the string under "
                    "that of the flap."
                ),
                to_cut={"string": string},
            ),
            BenchStep(
                say_many(
                    winds,
                    "Close the flap and wind the string round both buttons {n} time, crosswise.",
                    "Close the flap and wind the string round both buttons {n} times, crosswise.",
                )
            ),
        ),
        advice=(*no_room(fitting, front, "button_apart"), *_advice(apart, across, inset)),
        lines=((width - front, middle, width - front + apart, middle),),
        dots=((width - front, middle), (width - front + apart, middle)),
    )


def _advice(apart: int, across: int, inset: int) -> Iterator[Advice]:
    """Whether the button of the front clears the other one and the edge of the flap."""
    least = max(across + BETWEEN_NM, inset + across // 2 + BETWEEN_NM)
    if apart < least:
        yield Advice(
            say(
                "Buttons {across} across, {apart} apart, touch, or that of the front lies under "
                "the edge of the flap. Leave {mend} between them."
            ),
            {"across": across, "apart": apart, "mend": least},
            "button_apart",
        )


CLOSING = Closing(
    key="button",
    name=to_say("buttons and string"),
    fits=has_flap,
    dimensions=(
        Dimension(
            "button_apart",
            to_say("Between the buttons"),
            GROUP,
            "length",
            30 * MM,
            INSET_NM,
            200 * MM,
        ),
        Dimension(
            "button_across", to_say("Across a button"), GROUP, "length", 15 * MM, 4 * MM, 60 * MM
        ),
        Dimension("button_winds", to_say("Times wound"), GROUP, "count", 3, 1, 12),
        Dimension(
            "string_tail", to_say("Tail of the string"), GROUP, "length", 60 * MM, 0, 500 * MM
        ),
        Dimension(
            "string_knot", to_say("More for the knot"), GROUP, "length", 20 * MM, 0, 200 * MM
        ),
    ),
    roles=(Role("buttons", to_say("Buttons"), "count"), Role("string", to_say("String"), "length")),
    operations=(
        PUNCH,
        Operation("fit_button", to_say("Fix buttons"), "button", Fraction(1), Fraction(2)),
    ),
    put_on=put_on,
    cautions=(SMALL,),
)
