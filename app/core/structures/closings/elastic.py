"""An elastic band: up the fore edge or round across, through two holes in the back.

It is cut shorter than its way by the stretch it is to have when the journal is closed. The measures
offered first are common practice, no source.
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
from app.core.structures.common import PUNCH
from app.language import say, to_say

UPRIGHT, ROUND = "upright", "round"
BESIDE_NM = 15 * MM
"""How far an upright band lies from the fore edge."""
SLACK, TIGHT = 5, 35
"""Stretch below which it hardly holds and above which it bends the cover, in per cent."""
AT_FORE_EDGE = Punching(
    to_say("Punch the two holes of the band, in the back alone, near the fore edge, in the boards "
           "by the template; an awl only marks a thick board: drill it."),
    to_say("Punch the two holes of the band, in the back alone, near the fore edge, in the covers "
           "by the template."),
    to_say("While the cover lies flat, inside up, punch the two holes of the band, in the back "
           "alone, near the fore edge, by the template, on a board."),
)  # fmt: skip
AT_SPINE = Punching(
    to_say("Punch the two holes of the band, in the back alone, near the spine, in the boards by "
           "the template; an awl only marks a thick board: drill it."),
    to_say("Punch the two holes of the band, in the back alone, near the spine, in the covers by "
           "the template."),
    to_say("While the cover lies flat, inside up, punch the two holes of the band, in the back "
           "alone, near the spine, by the template, on a board."),
)  # fmt: skip


def put_on(fitting: Fitting) -> Added:
    """The band as it is cut, with its holes."""
    build, upright = fitting.build, fitting.dims["elastic_way"] == UPRIGHT
    stretch, knot = fitting.chosen("elastic_stretch"), fitting.chosen("elastic_knot")
    width, height = build.closed_width_nm, build.closed_height_nm
    # Upright it runs down the front and round head and tail to its holes in the back.
    way = height + 2 * (build.edge_nm + INSET_NM) if upright else fitting.girth_nm
    taut = -(-way * 100 // (100 + stretch))
    holes = (_upright if upright else _round)(fitting)
    return Added(
        lengths={"elastic": taut + 2 * knot},
        operations={"punch": 2, "fit_elastic": 1},
        **fitting.in_the_back(holes),
        punches=(punched(fitting, AT_FORE_EDGE if upright else AT_SPINE),),
        steps=(
            BenchStep(
                say(
                    "Cut {band} of elastic, draw its ends in through the holes and glue them down "
                    "flat inside, in shallow grooves, {knot} each, so that {taut} are left outside."
                )
                if fitting.pasted_over
                else say(
                    "Cut {band} of elastic, draw its ends in through the holes and knot or sew "
                    "them inside, {knot} each, so that {taut} are left outside."
                ),
                {"knot": knot, "taut": taut},
                to_cut={"band": taut + 2 * knot},
            ),
        ),
        advice=tuple(_advice(stretch)),
        lines=((width - BESIDE_NM, 0, width - BESIDE_NM, height),)
        if upright
        else ((0, height // 2, width, height // 2),),
    )


def _upright(fitting: Fitting) -> Places:
    """One hole below the head and one above the tail, in the back."""
    x = fitting.back.x_nm + fitting.back.width_nm - BESIDE_NM
    return ((x, INSET_NM), (x, fitting.outside.height_nm - INSET_NM))


def _round(fitting: Fitting) -> Places:
    """Two holes above one another in the back, clear of spine and sewing."""
    loose, middle = fitting.loose, fitting.outside.height_nm // 2
    # In a board or a cover of its own the sewing takes holes beside the spine.
    sewn = max((hole.x_nm for hole in loose.holes), default=0) if loose else 0
    x = fitting.back.x_nm + sewn + BESIDE_NM
    return ((x, middle - 4 * MM), (x, middle + 4 * MM))


def _advice(stretch: int) -> list[Advice]:
    if stretch < SLACK:
        return [
            Advice(
                say(
                    "A band stretched by {stretch}% hardly holds: take {slack} to {tight}%.",
                    stretch=stretch,
                    slack=SLACK,
                    tight=TIGHT,
                ),
                field="elastic_stretch",
            )
        ]
    if stretch > TIGHT:
        return [
            Advice(
                say(
                    "A band stretched by {stretch}% bends the cover: take {slack} to {tight}%.",
                    stretch=stretch,
                    slack=SLACK,
                    tight=TIGHT,
                ),
                field="elastic_stretch",
            )
        ]
    return []


CLOSING = Closing(
    key="elastic",
    name=to_say("elastic band"),
    fits=has_covers,
    dimensions=(
        Dimension(
            "elastic_way", to_say("It runs"), GROUP, "choice", UPRIGHT,
            choices=(
                (UPRIGHT, to_say("up the fore edge")), (ROUND, to_say("round it, across")),
            ),
        ),
        Dimension("elastic_stretch", to_say("Stretched by"), GROUP, "percent", 12, 0, 100),
        Dimension(
            "elastic_knot", to_say("More at each end"), GROUP, "length", 20 * MM, 0, 200 * MM
        ),
    ),
    roles=(Role("elastic", to_say("Elastic"), "length"),),
    operations=(
        PUNCH,
        Operation("fit_elastic", to_say("Fit the elastic"), "journal", Fraction(1), Fraction(3)),
    ),
    put_on=put_on,
)  # fmt: skip
