"""What several structures share: measures offered first, folios, operations, steps, cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import INCH, MM
from app.core.paper import Piece
from app.core.structures.advice import CREEP_NM
from app.core.structures.base import (
    BenchStep,
    Dimension,
    Dims,
    Flat,
    Hole,
    Operation,
    PaperFacts,
    Role,
    length_of,
    upright_folds,
)
from app.core.structures.sewing import even_stations

LEAST_COVER_NM = 20 * MM
GRAIN_CHOICES = (("fold", "along the fold"), ("free", "either way"))

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


def block_thickness(n: Mapping[str, int], caliper_nm: int) -> int:
    """Leaves on one another, and the swell."""
    block = 2 * n["signatures"] * n["folios"] * caliper_nm
    return block + block * n.get("swell", 0) // 100


def folio_flat(dims: Dims, n: Mapping[str, int]) -> Flat:
    """One folio laid flat with its stations in the fold."""
    at = even_stations(n["leaf_height"], n["stations"], n["end_distance"])
    fold = n["leaf_width"]
    return Flat(
        key="folio", name="One folio laid flat", stock="leaf",
        width_nm=2 * fold, height_nm=n["leaf_height"],
        folds=upright_folds([fold], n["leaf_height"]),
        holes=tuple(Hole(fold, y, 0, station) for station, y in enumerate(at)),
        grain=runs_along_the_fold(dims, "leaf_grain"),
        count=n["signatures"] * n["folios"],
    )  # fmt: skip


def runs_along_the_fold(dims: Dims, key: str) -> str | None:
    """The side of a piece with upright folds that its grain must run along."""
    return "height" if dims[key] == "fold" else None


def piece_of(flat: Flat, name: str = "") -> Piece:
    """The piece of paper a flat is cut from."""
    return Piece(name or flat.key, flat.width_nm, flat.height_nm, flat.count, flat.grain)


def round_up(nm: int, step_nm: int) -> int:
    """The next whole step."""
    return -(-nm // step_nm) * step_nm


def grain_said(grain: str | None) -> str:
    """How a piece lies in its sheet, for the step that cuts it."""
    return f"the grain along the {grain}" if grain else "the grain either way"


def trimmed(n: Mapping[str, int], creep_nm: int) -> int:
    """How many signatures are trimmed because their folios creep."""
    return n["signatures"] if creep_nm > CREEP_NM else 0


def folio_steps(folio: Flat, made_of: int, signatures_: int, creep_nm: int) -> list[BenchStep]:
    """Cutting, folding, nesting, trimming where it creeps, and punching folios."""
    if made_of == 1:
        nest = (
            "Press it."
            if signatures_ == 1
            else "Each is a signature: lay them in order, and press."
        )
    elif signatures_ > 1:
        nest = (
            f"Nest them in {signatures_} signatures of {made_of}, heads together, and press them."
        )
    else:
        nest = "Nest them into one signature, heads together, and press it."
    return [
        BenchStep(BLADES, caution=True),
        BenchStep(
            f"Cut {folio.count} folio{'' if folio.count == 1 else 's'} {{width}} wide and "
            f"{{height}} high, {grain_said(folio.grain)}.",
            {"width": folio.width_nm, "height": folio.height_nm},
            "folio",
        ),
        BenchStep(
            f"Fold {'it' if folio.count == 1 else 'each'} in the middle and rub the fold down "
            "with a folder.",
            shows="folio",
        ),
        BenchStep(nest),
        *(
            [
                BenchStep(
                    f"Trim the fore edge of {'the' if signatures_ == 1 else 'each'} signature: the "
                    "innermost folio stands {creep} past the outermost. Take off no more than "
                    "makes them end together.",
                    {"creep": creep_nm},
                )
            ]
            if creep_nm > CREEP_NM
            else []
        ),
        BenchStep(AWLS, caution=True),
        BenchStep(
            f"Lay the punching guide into the fold, its head to the head, and punch "
            f"{len(folio.stations_nm)} stations: {_places(folio)} from the head.",
            {f"at{i}": y for i, y in enumerate(folio.stations_nm)},
            "folio",
        ),
    ]


def _places(folio: Flat) -> str:
    names = [f"{{at{i}}}" for i in range(len(folio.stations_nm))]
    return ", ".join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1]


def bare(name: str) -> PaperFacts:
    """A paper about which nothing is known."""
    return PaperFacts(name, 0, Fraction(0))
