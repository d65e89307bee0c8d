"""Two buttons, one on the flap and one on the front, and a string wound round both.

The string is fast under the button of the flap. How often it is wound and how far apart the buttons
lie are common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

from app.core.length import MM
from app.core.structures.advice import EDGE_NM
from app.core.structures.base import Advice, BenchStep, Dimension, Operation, Role
from app.core.structures.closing import GROUP, INSET_NM, Added, Closing, Fitting, has_flap, no_flap
from app.core.structures.common import LAWS, PUNCH

SMALL = "Buttons are small parts: keep them from small children. " + LAWS
BUTTONS = 2


def put_on(fitting: Fitting) -> Added:
    """Two buttons and a string; the front's lies past the edge of the closed flap."""
    build, cover, flap = fitting.build, fitting.cover, fitting.panel("flap")
    apart, winds = fitting.chosen("button_apart"), fitting.chosen("button_winds")
    string = 2 * winds * apart + fitting.chosen("string_tail") + fitting.chosen("string_knot")
    if cover is None or flap is None:
        return Added(
            lengths={"string": string},
            counts={"buttons": BUTTONS},
            operations={"fit_button": BUTTONS},
            advice=(no_flap("the button"),),
        )
    [at_flap] = fitting.at_flap()
    inset = cover.width_nm - at_flap[0]
    # Closed, the flap's button lies so far from the fore edge of the front as the flap is wide.
    front = flap.width_nm - inset + apart
    width = build.closed_width_nm
    advice: tuple[Advice, ...] = ()
    if front > width - EDGE_NM:
        advice = (
            Advice(
                "The button on the front would lie {at} from its fore edge; the front is {front} "
                "wide. Bring the buttons closer, or make the flap narrower.",
                {"at": front, "front": width},
                "button_apart",
                grave=True,
            ),
        )
    return Added(
        lengths={"string": string},
        counts={"buttons": BUTTONS},
        operations={"punch": BUTTONS, "fit_button": BUTTONS},
        holes={cover.key: (at_flap, (min(front, width), cover.height_nm // 2))},
        steps=(
            BenchStep(SMALL, caution=True),
            BenchStep(
                "Punch the holes of both buttons where the template has them: the front's "
                "{front} from its fore edge, in the middle of its height.",
                {"front": front},
                "cover",
            ),
            BenchStep(
                "Cut {string} of string, knot one end under the button of the flap, and fix both "
                "buttons with a disc or a stay behind the cover.",
                to_cut={"string": string},
            ),
            BenchStep(
                f"Close the flap and wind the string round both buttons {winds} "
                f"time{'' if winds == 1 else 's'}, crosswise."
            ),
        ),
        advice=advice,
        lines=((width - front, build.closed_height_nm // 2, width - front + apart,
                build.closed_height_nm // 2),),
        dots=((width - front, build.closed_height_nm // 2),
              (width - front + apart, build.closed_height_nm // 2)),
    )  # fmt: skip


CLOSING = Closing(
    key="button",
    name="buttons and string",
    fits=has_flap,
    dimensions=(
        Dimension(
            "button_apart", "Between the buttons", GROUP, "length", 30 * MM, INSET_NM, 200 * MM
        ),
        Dimension("button_winds", "Times wound", GROUP, "count", 3, 1, 12),
        Dimension("string_tail", "Tail of the string", GROUP, "length", 60 * MM, 0, 500 * MM),
        Dimension("string_knot", "More for the knot", GROUP, "length", 20 * MM, 0, 200 * MM),
    ),
    roles=(Role("buttons", "Buttons", "count"), Role("string", "String", "length")),
    operations=(
        PUNCH,
        Operation("fit_button", "Fix buttons", "button", Fraction(1), Fraction(2)),
    ),
    put_on=put_on,
    cautions=(SMALL,),
)
