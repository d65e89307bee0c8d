"""A strap once round the closed journal, fast to the back, with a buckle.

It is as long as the girth, what overlaps past the buckle, and what is turned round its bar. The
measures offered first are common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

from app.core.length import MM
from app.core.structures.base import Advice, BenchStep, Dimension, Operation, Role
from app.core.structures.closing import (
    GROUP,
    INSET_NM,
    Added,
    Closing,
    Fitting,
    Places,
    Punching,
    has_covers,
    punched,
)
from app.core.structures.common import LAWS, PUNCH, caution
from app.core.structures.words import Sentences, later
from app.language import say, say_many, to_say

SMALL = Sentences(
    to_say("A buckle is a small part and a strap a snare: keep both from small children."), LAWS
)
FASTENINGS = 2
APART_NM = 12 * MM
IN_THE_BACK = Punching(
    to_say("Punch the two holes of the strap, in the back alone, in the boards by the template; an "
           "awl only marks a thick board: drill it."),
    to_say("Punch the two holes of the strap, in the back alone, in the covers by the template."),
    to_say("While the cover lies flat, inside up, punch the two holes of the strap, in the back "
           "alone, by the template, on a board."),
)  # fmt: skip


def put_on(fitting: Fitting) -> Added:
    """The strap and its buckle, two fastenings in the middle of the back, holes in the strap."""
    holes = fitting.chosen("strap_holes")
    overlap, turned = fitting.chosen("strap_overlap"), fitting.chosen("strap_turned")
    strap = fitting.girth_nm + overlap + turned
    width, height = fitting.build.closed_width_nm, fitting.build.closed_height_nm
    pitch = fitting.chosen("strap_pitch")
    # Closed, the bar lies the overlap from the tip: one hole there, the others to both sides of it.
    first = overlap - holes // 2 * pitch
    advice: tuple[Advice, ...] = ()
    if first < INSET_NM:
        advice = (
            Advice(
                say_many(
                    holes,
                    "{n} hole {pitch} apart about the buckle would begin {first} from the tip. "
                    "Make the overlap {mend}, or punch fewer.",
                    "{n} holes {pitch} apart about the buckle would begin {first} from the tip. "
                    "Make the overlap {mend}, or punch fewer.",
                    **later("pitch", "first", "mend"),
                ),
                {"pitch": pitch, "first": max(first, 0), "mend": overlap + INSET_NM - first},
                "strap_overlap",
            ),
        )
    dry = say("Lay the block dry in its case and close it.")
    on = say(
        "Lay it round the closed journal, the buckle on the front and done up in hole {hole} from "
        "the tip, mark where it lies on the two holes of the back, and sew or rivet it there. "
        "Thread or rivets go among the parts.",
        hole=holes // 2 + 1,
    )
    return Added(
        lengths={"strap": strap},
        counts={"buckle": 1},
        operations={"punch": holes + FASTENINGS, "fit_strap": 1},
        **fitting.in_the_back(_fastenings(fitting)),
        punches=(punched(fitting, IN_THE_BACK),),
        steps=(
            caution(SMALL),
            BenchStep(
                say(
                    "Cut {strap} of strap. Turn {turned} of it round the bar of the buckle and sew "
                    "or rivet it."
                ),
                {"turned": turned},
                to_cut={"strap": strap},
            ),
            BenchStep(
                say_many(
                    holes,
                    "Punch {n} hole in its other end, the first {first} from the tip.",
                    "Punch {n} holes in its other end, {pitch} apart, the first {first} from the "
                    "tip.",
                    **later("pitch", "first"),
                ),
                {"pitch": pitch, "first": first},
            ),
            BenchStep(f"{dry} {on}" if fitting.pasted_over else on),
        ),
        advice=advice,
        lines=((0, height // 2, width, height // 2),),
        dots=((width * 2 // 3, height // 2),),
    )


def _fastenings(fitting: Fitting) -> Places:
    x = fitting.back.x_nm + fitting.back.width_nm // 2
    y = fitting.outside.height_nm // 2
    return ((x - APART_NM, y), (x + APART_NM, y))


CLOSING = Closing(
    key="strap",
    name=to_say("strap and buckle"),
    fits=has_covers,
    dimensions=(
        Dimension(
            "strap_overlap", to_say("Past the buckle"), GROUP, "length", 60 * MM, 10 * MM, 500 * MM
        ),
        Dimension(
            "strap_turned",
            to_say("Turned round its bar"),
            GROUP,
            "length",
            30 * MM,
            10 * MM,
            200 * MM,
        ),
        Dimension("strap_holes", to_say("Holes in the strap"), GROUP, "count", 3, 1, 12),
        Dimension(
            "strap_pitch", to_say("Between the holes"), GROUP, "length", 12 * MM, 6 * MM, 60 * MM
        ),
    ),
    roles=(Role("strap", to_say("Strap"), "length"), Role("buckle", to_say("Buckle"), "count")),
    operations=(
        PUNCH,
        Operation("fit_strap", to_say("Fit the strap"), "journal", Fraction(2), Fraction(8)),
    ),
    put_on=put_on,
    cautions=(SMALL,),
)
