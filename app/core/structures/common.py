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

LEAST_COVER_NM = 20 * MM

LEAF_HEIGHT = Dimension(
    "leaf_height", "Height", "Leaf", "length", 160 * MM, 20 * MM, 1000 * MM,
    help="One page, from head to tail.",
)  # fmt: skip
LEAF_WIDTH = Dimension(
    "leaf_width", "Width", "Leaf", "length", 120 * MM, 20 * MM, 1000 * MM,
    help="One page, from fold to fore edge.",
)  # fmt: skip
LEAF_GRAIN = Dimension(
    "leaf_grain", "Grain of the leaves", "Leaf", "choice", "fold", choices=GRAIN_CHOICES
)
COVER_GRAIN = Dimension(
    "cover_grain", "Grain of the cover", "Cover", "choice", "fold", choices=GRAIN_CHOICES
)
SWELL = Dimension(
    "swell", "Swell", "Signatures", "percent", 0, 0, 60,
    help="What thread adds to the thickness at the spine, in per cent.",
)  # fmt: skip
END_DISTANCE = Dimension(
    "end_distance", "From each end", "Sewing", "length", 25 * MM, 0, 400 * MM,
    help="Head or tail of the leaf to the outer station.",
)  # fmt: skip
SPINE_STEPS = {"half": MM // 2, "sixteenth": INCH // 16}
SPINE_STEP = Dimension(
    "spine_step", "Worked out to", "Cover", "choice", "half",
    choices=(("half", "0.5 mm"), ("sixteenth", "1/16 in")),
    inch_default="sixteenth",
    help="What a spine or rows that are worked out are rounded up to.",
)  # fmt: skip
ROW_PITCH = Dimension(
    "row_pitch", "Between rows", "Sewing", "length", 0, 0, 50 * MM,
    help="0 to have it worked out: the thickness of a signature at the spine.",
)  # fmt: skip
TAILS = Dimension("tails", "Tails", "Sewing", "length", 60 * MM, 0, 1000 * MM)
SQUARE = Dimension(
    "square", "Square, head and tail", "Cover", "length", 5 * MM, -100 * MM, 100 * MM,
    help="How far the cover stands past the leaf above and below.",
)  # fmt: skip
FOREEDGE_SQUARE = Dimension(
    "foreedge_square", "Fore-edge square", "Cover", "length", 6 * MM, 0, 100 * MM
)
LEAF = (LEAF_HEIGHT, LEAF_WIDTH, LEAF_GRAIN)
LEAF_STAIRS = ("leaf_height", "leaf_width")

LEAVES = Role("leaves", "Paper of the leaves", "sheet")
COVER = Role("cover", "Paper of the cover", "sheet")
THREAD = Role("thread", "Thread", "length")


def signatures(first: int = 3, least: int = 1) -> Dimension:
    """How many signatures."""
    return Dimension("signatures", "How many", "Signatures", "count", first, least, 24)


def folios(first: int = 4) -> Dimension:
    """How many folios in each signature."""
    return Dimension("folios", "Folios in each", "Signatures", "count", first, 1, 40)


def stations(first: str, *counts: int) -> Dimension:
    """How many stations, of a few numbers."""
    choices = tuple((str(n), str(n)) for n in counts)
    return Dimension("stations", "Stations", "Sewing", "choice", first, choices=choices)


CUT = Operation("cut", "Cut pieces", "piece", Fraction(6), Fraction(1, 5))
FOLD = Operation("fold", "Fold folios", "folio", Fraction(0), Fraction(2, 5))
SCORE = Operation("score", "Score the cover", "score line", Fraction(3), Fraction(3, 5))
PUNCH = Operation("punch", "Punch holes", "hole", Fraction(4), Fraction(3, 20))
SEW = Operation("sew", "Sew", "station", Fraction(2), Fraction(6, 5))
GLUE = Operation("glue", "Glue and press", "glued side", Fraction(4), Fraction(3), Fraction(12))
FINISH = Operation(
    "finish", "Press, check and wrap", "journal", Fraction(2), Fraction(4), Fraction(12)
)

WRAP_UP = Operation("wrap_up", "Check and wrap", "journal", Fraction(2), Fraction(3))

BLADES = (
    "Cut on a mat along a safety straightedge, the holding hand behind the blade; latch the arm "
    "of a board cutter when it is not in use."
)
TIED = (
    "Bring the two ends up one on each side of the long stitch over the middle, tie them over it "
    "and trim them."
)
AWLS = "Punch with an awl away from the hand, into a cradle or a pad."
LAWS = (
    "Local rules on product safety and labelling decide what may be sold and how it must be "
    "marked; ask the authority or a licensed adviser where you sell."
)
BEADS = "Beads are small parts and a long cord is a snare: keep both from small children. " + LAWS
PASTES = (
    "Air the room when you glue, and keep to what the maker of the glue says about skin and eyes."
)


PRESSED = BenchStep("Press it overnight under a board and check every fold.")
WRAPPED = BenchStep("Check it once more and wrap it up.")


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
            "With this square hardly any cover is left: it would be lower than 20 mm.", "square"
        )


def piece_of(flat: Flat, name: str = "") -> Piece:
    """The piece of paper a flat is cut from."""
    return Piece(name or flat.key, flat.width_nm, flat.height_nm, flat.count, flat.grain)


def round_up(nm: int, step_nm: int) -> int:
    """The next whole step."""
    return -(-nm // step_nm) * step_nm


def grain_said(grain: str | None) -> str:
    """How a piece lies in its sheet, for the step that cuts it."""
    return f"the grain along the {grain}" if grain else "the grain either way"


def leaves_and_covers_cut(leaves: int, leaf: Flat, cover: Flat) -> BenchStep:
    """Single leaves and the two covers between which they lie, cut to one size."""
    return BenchStep(
        f"Cut {leaves} leaves {{width}} wide and {{height}} high, {grain_said(leaf.grain)}, "
        f"and two covers of the same size, {grain_said(cover.grain)}.",
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
    said = [step.text for step in build.steps if step.caution and LAWS in step.text]
    texts = (text.replace(LAWS, "").strip() for text in dict.fromkeys(said))
    return tuple(text for text in texts if text)
