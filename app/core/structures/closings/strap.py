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
    has_covers,
    punched,
)
from app.core.structures.common import LAWS, PUNCH

SMALL = "A buckle is a small part and a strap a snare: keep both from small children. " + LAWS
FASTENINGS = 2
APART_NM = 12 * MM


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
                f"{holes} holes {{pitch}} apart about the buckle would begin {{first}} from the "
                "tip. Make the overlap {mend}, or punch fewer.",
                {"pitch": pitch, "first": max(first, 0), "mend": overlap + INSET_NM - first},
                "strap_overlap",
            ),
        )
    return Added(
        lengths={"strap": strap},
        counts={"buckle": 1},
        operations={"punch": holes + FASTENINGS, "fit_strap": 1},
        **fitting.in_the_back(_fastenings(fitting)),
        punches=(punched(fitting, "the two holes of the strap, in the back alone,"),),
        steps=(
            BenchStep(SMALL, caution=True),
            BenchStep(
                "Cut {strap} of strap. Turn {turned} of it round the bar of the buckle and sew or "
                "rivet it.",
                {"turned": turned},
                to_cut={"strap": strap},
            ),
            BenchStep(
                f"Punch {holes} hole{'' if holes == 1 else 's'} in its other end"
                + (", {pitch} apart" if holes > 1 else "")
                + ", the first {first} from the tip.",
                {"pitch": pitch, "first": first},
            ),
            BenchStep(
                ("Lay the block dry in its case and close it. " if fitting.pasted_over else "")
                + "Lay it round the closed journal, the buckle on the front and done up in hole "
                f"{holes // 2 + 1} from the tip, mark where it lies on the two holes of the back, "
                "and sew or rivet it there. Thread or rivets go among the parts."
            ),
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
    name="strap and buckle",
    fits=has_covers,
    dimensions=(
        Dimension("strap_overlap", "Past the buckle", GROUP, "length", 60 * MM, 10 * MM, 500 * MM),
        Dimension(
            "strap_turned", "Turned round its bar", GROUP, "length", 30 * MM, 10 * MM, 200 * MM
        ),
        Dimension("strap_holes", "Holes in the strap", GROUP, "count", 3, 1, 12),
        Dimension("strap_pitch", "Between the holes", GROUP, "length", 12 * MM, 6 * MM, 60 * MM),
    ),
    roles=(Role("strap", "Strap", "length"), Role("buckle", "Buckle", "count")),
    operations=(
        PUNCH,
        Operation("fit_strap", "Fit the strap", "journal", Fraction(2), Fraction(8)),
    ),
    put_on=put_on,
    cautions=(SMALL,),
)
