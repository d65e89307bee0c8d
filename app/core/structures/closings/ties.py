"""Pairs of ties at the fore edge, one of each pair in front and back (or its flap).

A tie is knotted inside, goes out through its hole and hangs free. The measures offered first are
common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

from app.core.length import MM
from app.core.structures.base import Advice, BenchStep, Dimension, Operation, Role
from app.core.structures.closing import (
    GROUP,
    INSET_NM,
    SNARE,
    Added,
    Closing,
    Fitting,
    has_covers,
    no_room,
    punched,
)
from app.core.structures.common import LAWS, PUNCH, caution
from app.core.structures.words import Sentences, later
from app.language import say, say_many, to_say

CAUTION = Sentences(SNARE, LAWS)
BOW_NM = 150 * MM
"""What a tie needs to be tied in a bow with its fellow."""


def put_on(fitting: Fitting) -> Added:
    """The ties, their holes evenly down the fore edge."""
    build, pairs = fitting.build, fitting.chosen("tie_pairs")
    each = fitting.chosen("tie_length") + fitting.chosen("tie_knot")
    heights, width = fitting.heights(pairs), build.closed_width_nm
    free = fitting.chosen("tie_length") - build.thickness_nm
    front = build.flap_reach_nm + INSET_NM
    advice = no_room(fitting, front) if build.flap_reach_nm else ()
    advice += () if free >= BOW_NM else (
        Advice(
            say(
                "A tie of {tie} on a journal {thick} thick leaves {free} to tie: a bow wants "
                "{bow}. Make it {mend}."
            ),
            {
                "tie": fitting.chosen("tie_length"), "thick": build.thickness_nm,
                "free": max(free, 0), "bow": BOW_NM,
                "mend": -(-(BOW_NM + build.thickness_nm) // (5 * MM)) * 5 * MM,
            },
            "tie_length",
        ),
    )  # fmt: skip
    return Added(
        lengths={"ties": 2 * pairs * each},
        operations={"punch": 2 * pairs, "fit_tie": 2 * pairs},
        holes=fitting.at_fore_edges(heights),
        punches=(punched(fitting),),
        steps=(
            caution(CAUTION),
            BenchStep(
                _fastened(2 * pairs, pasted_over=fitting.pasted_over),
                {"knot": fitting.chosen("tie_knot")},
                to_cut={"each": each},
            ),
        ),
        advice=advice,
        lines=tuple((width - front - width // 8, y, width - front, y) for y in heights),
    )


def _fastened(ties: int, *, pasted_over: bool) -> str:
    if pasted_over:
        return say_many(
            ties,
            "Cut {n} tie, {each} each; draw every one through its hole from inside and glue {knot} "
            "of it down flat in a shallow groove cut there, so that it leaves no lump. Glue the "
            "ends.",
            "Cut {n} ties, {each} each; draw every one through its hole from inside and glue "
            "{knot} of it down flat in a shallow groove cut there, so that it leaves no lump. Glue "
            "the ends.",
            **later("each", "knot"),
        )
    return say_many(
        ties,
        "Cut {n} tie, {each} each; draw every one through its hole from inside and knot it there, "
        "{knot} for the knot. Glue the ends.",
        "Cut {n} ties, {each} each; draw every one through its hole from inside and knot it "
        "there, {knot} for the knot. Glue the ends.",
        **later("each", "knot"),
    )


CLOSING = Closing(
    key="ties",
    name=to_say("ties"),
    fits=has_covers,
    dimensions=(
        Dimension("tie_pairs", to_say("Pairs of ties"), GROUP, "count", 1, 1, 4),
        Dimension(
            "tie_length", to_say("Length of a tie"), GROUP, "length", 220 * MM, 20 * MM, 1000 * MM
        ),
        Dimension(
            "tie_knot", to_say("More to fasten it inside"), GROUP, "length", 30 * MM, 0, 200 * MM
        ),
    ),
    roles=(Role("ties", to_say("Ties"), "length"),),
    operations=(
        PUNCH,
        Operation("fit_tie", to_say("Fit ties"), "tie", Fraction(1), Fraction(3, 2)),
    ),
    put_on=put_on,
    cautions=(CAUTION,),
)
