"""What several structures share: measures offered first, operations, cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import INCH, MM
from app.core.paper import Piece
from app.core.structures.advice import CREEP_NM
from app.core.structures.base import (
    BenchStep,
    Build,
    Dimension,
    Dims,
    Flat,
    Operation,
    PaperFacts,
    Role,
    length_of,
)
from app.core.structures.folio_kinds import GRAIN_CHOICES, role_of
from app.core.structures.gathering import Gathering
from app.core.structures.words import Sentences, later, said
from app.language import say, say_many, to_say

LEAST_COVER_NM = 20 * MM

LEAF_HEIGHT = Dimension(
    "leaf_height", to_say("Height"), to_say("Leaf"), "length", 160 * MM, 20 * MM, 1000 * MM,
    help=to_say("One page, from head to tail."),
)  # fmt: skip
LEAF_WIDTH = Dimension(
    "leaf_width", to_say("Width"), to_say("Leaf"), "length", 120 * MM, 20 * MM, 1000 * MM,
    help=to_say("One page, from fold to fore edge."),
)  # fmt: skip
LEAF_GRAIN = Dimension(
    "leaf_grain",
    to_say("Grain of the leaves"),
    to_say("Leaf"),
    "choice",
    "fold",
    choices=GRAIN_CHOICES,
)
COVER_GRAIN = Dimension(
    "cover_grain",
    to_say("Grain of the cover"),
    to_say("Cover"),
    "choice",
    "fold",
    choices=GRAIN_CHOICES,
)
SWELL = Dimension(
    "swell", to_say("Swell"), to_say("Signatures"), "percent", 0, 0, 60,
    help=to_say("What thread adds to the thickness at the spine, in per cent."),
)  # fmt: skip
END_DISTANCE = Dimension(
    "end_distance", to_say("From each end"), to_say("Sewing"), "length", 25 * MM, 0, 400 * MM,
    help=to_say("Head or tail of the leaf to the outer station."),
)  # fmt: skip
SPINE_STEPS = {"half": MM // 2, "sixteenth": INCH // 16}
SPINE_STEP = Dimension(
    "spine_step", to_say("Worked out to"), to_say("Cover"), "choice", "half",
    choices=(("half", to_say("0.5 mm")), ("sixteenth", to_say("1/16 in"))),
    inch_default="sixteenth",
    help=to_say("What a spine or rows that are worked out are rounded up to."),
)  # fmt: skip
ROW_PITCH = Dimension(
    "row_pitch", to_say("Between rows"), to_say("Sewing"), "length", 0, 0, 50 * MM,
    help=to_say("0 to have it worked out: the thickness of a signature at the spine."),
)  # fmt: skip
TAILS = Dimension("tails", to_say("Tails"), to_say("Sewing"), "length", 60 * MM, 0, 1000 * MM)
SQUARE = Dimension(
    "square", to_say("Square, head and tail"), to_say("Cover"), "length",
    5 * MM, -100 * MM, 100 * MM,
    help=to_say("How far the cover stands past the leaf above and below."),
)  # fmt: skip
FOREEDGE_SQUARE = Dimension(
    "foreedge_square", to_say("Fore-edge square"), to_say("Cover"), "length", 6 * MM, 0, 100 * MM
)
LEAF = (LEAF_HEIGHT, LEAF_WIDTH, LEAF_GRAIN)
LEAF_STAIRS = ("leaf_height", "leaf_width")

LEAVES = Role("leaves", to_say("Paper of the leaves"), "sheet")
COVER = Role("cover", to_say("Paper of the cover"), "sheet")
THREAD = Role("thread", to_say("Thread"), "length")


def signatures(first: int = 3, least: int = 1) -> Dimension:
    """How many signatures."""
    return Dimension(
        "signatures", to_say("How many"), to_say("Signatures"), "count", first, least, 24
    )


def folios(first: int = 4) -> Dimension:
    """How many folios in each signature."""
    return Dimension(
        "folios", to_say("Folios in each"), to_say("Signatures"), "count", first, 1, 40
    )


def stations(first: str, *counts: int) -> Dimension:
    """How many stations, of a few numbers."""
    choices = tuple((str(n), str(n)) for n in counts)
    return Dimension(
        "stations", to_say("Stations"), to_say("Sewing"), "choice", first, choices=choices
    )


CUT = Operation("cut", to_say("Cut pieces"), "piece", Fraction(6), Fraction(1, 5))
FOLD = Operation("fold", to_say("Fold folios"), "folio", Fraction(0), Fraction(2, 5))
SCORE = Operation("score", to_say("Score the cover"), "score line", Fraction(3), Fraction(3, 5))
PUNCH = Operation("punch", to_say("Punch holes"), "hole", Fraction(4), Fraction(3, 20))
SEW = Operation("sew", to_say("Sew"), "station", Fraction(2), Fraction(6, 5))
GLUE = Operation(
    "glue", to_say("Glue and press"), "glued side", Fraction(4), Fraction(3), Fraction(12)
)
FINISH = Operation(
    "finish", to_say("Press, check and wrap"), "journal", Fraction(2), Fraction(4), Fraction(12)
)

WRAP_UP = Operation("wrap_up", to_say("Check and wrap"), "journal", Fraction(2), Fraction(3))

BLADES = to_say(
    "Cut on a mat along a safety straightedge, the holding hand behind the blade; latch the arm "
    "of a board cutter when it is not in use."
)
TIED = to_say(
    "Bring the two ends up one on each side of the long stitch over the middle, tie them over it "
    "and trim them."
)
AWLS = to_say("Punch with an awl away from the hand, into a cradle or a pad.")
LAWS = to_say(
    "Local rules on product safety and labelling decide what may be sold and how it must be "
    "marked; ask the authority or a licensed adviser where you sell."
)
BEADS = Sentences(
    to_say("Beads are small parts and a long cord is a snare: keep both from small children."), LAWS
)
PASTES = to_say(
    "Air the room when you glue, and keep to what the maker of the glue says about skin and eyes."
)


def caution(text: str, stage: str = "") -> BenchStep:
    """What must be minded before going on."""
    return BenchStep(said(text), caution=True, stage=stage)


def pressed() -> BenchStep:
    """What is sewn is pressed."""
    return BenchStep(say("Press it overnight under a board and check every fold."))


def wrapped() -> BenchStep:
    """The last step of most."""
    return BenchStep(say("Check it once more and wrap it up."))


def numbers(dims: Dims, dimensions: Sequence[Dimension]) -> dict[str, int]:
    """Lengths and counts by key; the number of stations among them where there are any."""
    n = {d.key: length_of(dims, d.key) for d in dimensions if d.kind != "choice"}
    if "stations" in dims:
        n["stations"] = int(dims["stations"])
    return n


def refuse_low_cover(n: Mapping[str, int]) -> None:
    """Refuse a square below zero that takes the cover away."""
    if n["leaf_height"] + 2 * n["square"] < LEAST_COVER_NM:
        raise DomainError(
            say("With this square hardly any cover is left: it would be lower than 20 mm."),
            "square",
        )


def piece_of(flat: Flat, name: str = "") -> Piece:
    """The piece of paper a flat is cut from."""
    return Piece(name or flat.key, flat.width_nm, flat.height_nm, flat.count, flat.grain)


def round_up(nm: int, step_nm: int) -> int:
    """The next whole step."""
    return -(-nm // step_nm) * step_nm


def grain_said(grain: str | None) -> str:
    """How a piece lies in its sheet, for the step that cuts it."""
    if grain == "height":
        return say("the grain along the height")
    return say("the grain along the width") if grain else say("the grain either way")


def leaves_and_covers_cut(leaves: int, leaf: Flat, cover: Flat) -> BenchStep:
    """Single leaves and the two covers between which they lie, cut to one size."""
    return BenchStep(
        say_many(
            leaves,
            "Cut {n} leaf {width} wide and {height} high, {grain}, and two covers of the same "
            "size, {cover_grain}.",
            "Cut {n} leaves {width} wide and {height} high, {grain}, and two covers of the same "
            "size, {cover_grain}.",
            grain=grain_said(leaf.grain),
            cover_grain=grain_said(cover.grain),
            **later("width", "height"),
        ),
        {"width": leaf.width_nm, "height": leaf.height_nm},
        "leaf",
        stage="cover",
    )


def folio_pieces(gathering: Gathering) -> dict[str, tuple[Piece, ...]]:
    """The folios of every kind as pieces of the paper in its role."""
    return {
        role_of(kind.number): (
            piece_of(flat, "folio" if kind.plain else f"kind {kind.number} folio"),
        )
        for kind, flat in zip(gathering.kinds, gathering.flats, strict=True)
    }


def trimmed(gathering: Gathering) -> int:
    """How many signatures are trimmed because their folios creep."""
    return gathering.creeping(CREEP_NM)


def bare(name: str) -> PaperFacts:
    """A paper about which nothing is known."""
    return PaperFacts(name, 0, Fraction(0))


def for_customers(build: Build) -> tuple[str, ...]:
    """What whoever gets it must mind: the cautions on whose words local rules decide."""
    laws = say(LAWS)
    told = [step.text for step in build.steps if step.caution and laws in step.text]
    texts = (text.replace(laws, "").strip() for text in dict.fromkeys(told))
    return tuple(text for text in texts if text)
