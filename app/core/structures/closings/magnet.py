"""Pairs of magnets, one of each pair in the flap and one in the front, under paper.

Where they lie is marked on the cover and not punched. The measures offered first are common
practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

from app.core.length import MM
from app.core.structures.advice import EDGE_NM
from app.core.structures.base import Advice, BenchStep, Dimension, Operation, Role
from app.core.structures.closing import GROUP, Added, Closing, Fitting, has_flap, no_flap
from app.core.structures.common import LAWS, caution
from app.core.structures.words import Sentences, later
from app.language import say, say_many, to_say

CAUTION = Sentences(
    to_say(
        "Swallowed magnets injure gravely: glue them in fast under paper and keep loose ones from "
        "children; keep them from pacemakers and cards."
    ),
    LAWS,
)


def put_on(fitting: Fitting) -> Added:
    """So many pairs, evenly down the flap, each opposite its fellow when it is closed."""
    pairs, across = fitting.chosen("magnet_pairs"), fitting.chosen("magnet_across")
    cover, flap = fitting.cover, fitting.panel("flap")
    magnets, work = {"magnets": 2 * pairs}, {"fit_magnet": 2 * pairs}
    if cover is None or flap is None:
        return Added(
            counts=magnets,
            operations=work,
            advice=(no_flap(say("There is no flap for the magnets.")),),
        )
    inset, least = across // 2 + EDGE_NM, across + 2 * EDGE_NM
    reach = fitting.build.flap_reach_nm
    if reach < least:
        narrow = Advice(
            say(
                "The flap reaches {reach} over the front: magnets {across} across have no room. "
                "Make it {mend} wider."
            ),
            {"reach": reach, "across": across, "mend": least - reach},
            "flap",
            grave=True,
        )
        return Added(counts=magnets, operations=work, advice=(narrow,))
    front, heights = reach - inset, fitting.heights(pairs)
    down = {f"down_{n}": y for n, y in enumerate(heights)}
    marks = [(x, y, "+") for y in heights for x in (cover.width_nm - inset, front)]
    return Added(
        counts=magnets,
        operations=work,
        labels={cover.key: tuple(marks)},
        steps=(
            caution(CAUTION),
            BenchStep(
                say(
                    "Mark the places of the magnets, crosses in the template, inside flap and "
                    "front: {inset} from the edge of the flap, and {front} from the fore edge of "
                    "the front, from the head {places}.",
                    places=", ".join(later(*down).values()),
                    **later("inset", "front"),
                ),
                {"inset": inset, "front": front, **down},
                "cover",
            ),
            BenchStep(
                say_many(
                    2 * pairs,
                    "Try which sides draw one another, glue {n} magnet in so, and paste paper over "
                    "it. Keep other magnets away until the glue is hard, overnight. Glue and paper "
                    "go among the parts.",
                    "Try which sides draw one another, glue {n} magnets in so, and paste paper "
                    "over them. Keep other magnets away until the glue is hard, overnight. Glue "
                    "and paper go among the parts.",
                )
            ),
        ),
        dots=tuple((fitting.build.closed_width_nm - front, y) for y in heights),
    )


CLOSING = Closing(
    key="magnet",
    name=to_say("magnets"),
    fits=has_flap,
    dimensions=(
        Dimension("magnet_pairs", to_say("Pairs of magnets"), GROUP, "count", 1, 1, 6),
        Dimension(
            "magnet_across", to_say("Across a magnet"), GROUP, "length", 10 * MM, 2 * MM, 40 * MM
        ),
    ),
    roles=(Role("magnets", to_say("Magnets"), "count"),),
    operations=(
        Operation(
            "fit_magnet", to_say("Set magnets"), "magnet", Fraction(2), Fraction(2), Fraction(12)
        ),
    ),
    put_on=put_on,
    cautions=(CAUTION,),
)
