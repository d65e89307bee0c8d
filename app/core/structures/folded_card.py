"""A card folded once, with an envelope folded from one sheet to take it.

The envelope's front is larger than the card by a clearance on each side; two side tabs, a back and
a flap are folded over it and glued. The measures offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import MM
from app.core.structures.advice import grain_advice
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dimension,
    Dims,
    Flat,
    Operation,
    Panel,
    PaperFacts,
    Role,
    Structure,
    upright_folds,
)
from app.core.structures.boards import PASTE, paste_mg
from app.core.structures.common import (
    BLADES,
    CUT,
    FINISH,
    GLUE,
    LAWS,
    LEAF_GRAIN,
    LEAF_HEIGHT,
    LEAF_STAIRS,
    LEAF_WIDTH,
    PASTES,
    caution,
    grain_said,
    numbers,
    piece_of,
)
from app.core.structures.gathering import runs_along_the_fold
from app.core.structures.words import altered, later
from app.language import say, to_say

KEY = "folded_card"


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one card; ``papers`` holds the roles ``card`` and ``envelope``."""
    n = numbers(dims, DIMENSIONS)
    if _back(n) < 10 * MM:
        raise DomainError(
            say(
                "So high a flap leaves hardly any back for the envelope: under 10 mm. Make it "
                "lower."
            ),
            "flap",
        )
    card = Flat(
        key="card", name=say("The card laid flat"), stock="card", width_nm=2 * n["leaf_width"],
        height_nm=n["leaf_height"], folds=upright_folds([n["leaf_width"]], n["leaf_height"]),
        panels=(
            Panel(to_say("back"), 0, n["leaf_width"]),
            Panel(to_say("front"), n["leaf_width"], n["leaf_width"]),
        ),
        grain=runs_along_the_fold(dims, "leaf_grain"),
    )  # fmt: skip
    envelope = _envelope(n)
    front = n["leaf_width"] + 2 * n["clearance"], n["leaf_height"] + 2 * n["clearance"]
    seam = 2 * n["side"] * _back(n)
    thickness = 2 * papers["card"].caliper_nm + 4 * papers["envelope"].caliper_nm
    return Build(
        structure=KEY,
        made_of=say("a card folded once, and its envelope"),
        leaves=2,
        pieces={"card": (piece_of(card),), "envelope": (piece_of(envelope),)},
        lengths={},
        counts={},
        amounts={"paste": paste_mg(seam)},
        operations={"cut": 2, "card_fold": 5, "glue": 2, "finish": 1},
        flats=(card, envelope),
        thread=(),
        thickness_nm=thickness,
        closed_width_nm=front[0],
        closed_height_nm=front[1],
        advice=tuple(_advice(dims, n)),
        steps=_steps(n, card, envelope),
    )


def _back(n: Mapping[str, int]) -> int:
    """Height of the envelope's back: it and the flap overlap by the flap's own share."""
    return n["leaf_height"] + 2 * n["clearance"] - n["flap"] + n["overlap"]


def _envelope(n: Mapping[str, int]) -> Flat:
    """The envelope laid flat, inside up: flap above, sides left and right, back below."""
    side, slope = n["side"], 4 * MM
    width, height = n["leaf_width"] + 2 * n["clearance"], n["leaf_height"] + 2 * n["clearance"]
    top, bottom = n["flap"], n["flap"] + height
    left, right, end = side, side + width, bottom + _back(n)
    folds = (
        (left, top, right, top), (left, bottom, right, bottom),
        (left, top, left, bottom), (right, top, right, bottom),
    )  # fmt: skip
    outline = (
        (left + slope, 0), (right - slope, 0), (right, top), (right + side, top + slope),
        (right + side, bottom - slope), (right, bottom), (right - slope, end),
        (left + slope, end), (left, bottom), (0, bottom - slope), (0, top + slope), (left, top),
    )  # fmt: skip
    return Flat(
        key="envelope", name=say("The envelope laid flat, inside up"), stock="leaf",
        width_nm=width + 2 * side, height_nm=end, folds=folds, outline=outline,
        labels=(
            (width // 2 + side, top // 2, say("flap")),
            (width // 2 + side, top + height // 2, say("front")),
            (width // 2 + side, (bottom + end) // 2, say("back")),
            (side // 2, top + height // 2, say("side")),
            (width + side + side // 2, top + height // 2, say("side")),
        ),
    )  # fmt: skip


def _advice(dims: Dims, n: Mapping[str, int]) -> list[Advice]:
    found = []
    if n["clearance"] < MM:
        found.append(
            Advice(
                say(
                    "With {clearance} of room the card will not go into its envelope. Leave {mend} "
                    "on each side."
                ),
                {"clearance": n["clearance"], "mend": 3 * MM},
                "clearance",
                grave=True,
            )
        )
    if n["overlap"] < 5 * MM:
        found.append(
            Advice(
                say(
                    "Flap and back overlap by {overlap}: it will not stay shut. Let them overlap "
                    "{mend} or more."
                ),
                {"overlap": n["overlap"], "mend": 12 * MM},
                "overlap",
                grave=n["overlap"] <= 0,
            )
        )
    if n["overlap"] >= n["flap"]:
        found.append(
            Advice(
                say(
                    "The back stands past the opening: the flap is {flap} and laps over it by "
                    "{overlap}. Let it lap over {mend} or less."
                ),
                {"flap": n["flap"], "overlap": n["overlap"], "mend": n["flap"] // 2},
                "overlap",
                grave=True,
            )
        )
    front = n["leaf_width"] + 2 * n["clearance"]
    if n["side"] > front:
        found.append(
            Advice(
                say(
                    "Sides of {side} stand out past the front, {front} wide. Make them {mend} or "
                    "less."
                ),
                {"side": n["side"], "front": front, "mend": front // 4 // MM * MM},
                "side",
                grave=True,
            )
        )
    elif 2 * n["side"] > front:
        found.append(
            Advice(
                say(
                    "Sides of {side} lie over one another on a front {front} wide, and the card "
                    "rubs on the step. Make them {mend} or less."
                ),
                {"side": n["side"], "front": front, "mend": front // 4 // MM * MM},
                "side",
            )
        )
    if 3 * _back(n) < n["leaf_height"]:
        found.append(
            Advice(
                say(
                    "A back of {back} hardly holds the sides of a card {card} high. Make the flap "
                    "{mend} or less."
                ),
                {"back": _back(n), "card": n["leaf_height"], "mend": n["leaf_height"] // 2},
                "flap",
                grave=True,
            )
        )
    found += grain_advice(dims, leaf_grain="card")
    return found


def _steps(n: Mapping[str, int], card: Flat, envelope: Flat) -> tuple[BenchStep, ...]:
    return (
        caution(BLADES),
        BenchStep(
            say(
                "Cut the card {width} wide and {height} high, {grain}; score it in the middle and "
                "fold it.",
                grain=grain_said(card.grain), **later("width", "height"),
            ),
            {"width": card.width_nm, "height": card.height_nm},
            "card",
        ),
        BenchStep(
            say(
                "Cut the envelope's paper {width} wide and {height} high, {grain}; lay the "
                "template on it and cut it to the outline.",
                grain=grain_said(envelope.grain), **later("width", "height"),
            ),
            {"width": envelope.width_nm, "height": envelope.height_nm},
            "envelope",
        ),
        caution(PASTES),
        BenchStep(
            say(
                "Score the four folds and fold the sides in. Glue a narrow strip along both edges "
                "of the back, {clear} clear of where the sides end, and fold the back up on the "
                "sides. Leave the flap open."
            ),
            {"clear": 5 * MM},
            "envelope",
        ),
        BenchStep(
            say("Lay waste paper inside and press it under a board overnight, until it is dry.")
        ),
        BenchStep(
            say(
                "Slide the card in with {room} of room, press it flat overnight, check and wrap it."
            ),
            {"room": n["clearance"]},
        ),
    )  # fmt: skip


DIMENSIONS = (
    altered(
        LEAF_HEIGHT, group=to_say("Card"), default=148 * MM,
        help=to_say("The folded card, head to tail."),
    ),
    altered(
        LEAF_WIDTH, group=to_say("Card"), default=105 * MM,
        help=to_say("The folded card, fold to edge."),
    ),
    altered(LEAF_GRAIN, group=to_say("Card"), label=to_say("Grain of the card")),
    Dimension(
        "clearance", to_say("Room on each side"), to_say("Envelope"), "length", 3 * MM, 0, 30 * MM,
        help=to_say("How much larger the envelope is than the card."),
    ),
    Dimension("flap", to_say("Flap"), to_say("Envelope"), "length", 55 * MM, 5 * MM, 400 * MM),
    Dimension(
        "overlap", to_say("Flap over back"), to_say("Envelope"), "length", 15 * MM, 0, 200 * MM
    ),
    Dimension("side", to_say("Sides"), to_say("Envelope"), "length", 20 * MM, 5 * MM, 100 * MM),
)  # fmt: skip

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Folded card with envelope"),
    says=to_say("A card folded once and an envelope folded from one sheet."),
    dimensions=DIMENSIONS,
    roles=(
        Role("card", to_say("Paper of the card"), "sheet"),
        Role("envelope", to_say("Paper of the envelope"), "sheet"),
        PASTE,
    ),
    operations=(
        CUT,
        Operation("card_fold", to_say("Score and fold"), "fold", Fraction(1), Fraction(1, 3)),
        GLUE,
        FINISH,
    ),
    build=build,
    cautions=(BLADES, PASTES, LAWS),
    stairs_keys=LEAF_STAIRS,
)
