"""Papers and sheets: standard sizes, grammage, weight, caliper.

Sizes of the A and B series are those of ISO 216, untrimmed RA and SRA those of ISO 217; the
old British sizes are in inches. Grain is always said outright as the side the fibres run
along (``"width"`` or ``"height"`` of the sheet as its size is written): the marks printed on
packets are read differently from country to country.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import INCH, MM, inches
from app.language import say, say_many, to_say

GRAINS = ("width", "height")
POUND_GRAMS = Fraction(45359237, 100000)
REAM = 500


@dataclass(frozen=True)
class Sheet:
    """One size a paper is bought in; lengths in nanometres, ``grain`` None where it has none.

    ``pattern_up`` says that a print or a deckle fixes which way is up, so no piece is turned.
    ``trim_nm`` is cut off each of the four edges before anything else. No piece may lie longer
    than ``reach_nm`` along the height: a hide counts as a rectangle of its usable area, as wide
    as its largest piece, and yields none longer than that.
    """

    name: str
    width_nm: int
    height_nm: int
    grain: str | None = None
    pattern_up: bool = False
    trim_nm: int = 0
    reach_nm: int | None = None

    @property
    def usable(self) -> tuple[int, int]:
        """Width and height left after trimming the edges."""
        return self.width_nm - 2 * self.trim_nm, self.height_nm - 2 * self.trim_nm


NAMES = {
    to_say("backing card"): to_say("backing cards"),
    to_say("board"): to_say("boards"),
    to_say("card"): to_say("cards"),
    to_say("cover"): to_say("covers"),
    to_say("covering"): to_say("coverings"),
    to_say("covering paper"): to_say("covering papers"),
    to_say("endpaper"): to_say("endpapers"),
    to_say("envelope"): to_say("envelopes"),
    to_say("folio"): to_say("folios"),
    to_say("last length"): to_say("last lengths"),
    to_say("leaf"): to_say("leaves"),
    to_say("length"): to_say("lengths"),
    to_say("lining"): to_say("linings"),
    to_say("loose piece"): to_say("loose pieces"),
    to_say("offcut"): to_say("offcuts"),
    to_say("paste-down"): to_say("paste-downs"),
    to_say("piece"): to_say("pieces"),
    to_say("pocket"): to_say("pockets"),
    to_say("sheet"): to_say("sheets"),
    to_say("spine piece"): to_say("spine pieces"),
    to_say("tip-in"): to_say("tip-ins"),
    to_say("top sheet"): to_say("top sheets"),
}
"""What one piece is called and what several are."""
KIND = re.compile(r"kind (\d+) folio")


@dataclass(frozen=True)
class Piece:
    """A rectangle wanted from a sheet; ``count`` of them go into one journal.

    ``grain`` is the side of the piece the fibres must run along, None where it does not
    matter. A turned piece lies with its width along the sheet's height.
    """

    name: str
    width_nm: int
    height_nm: int
    count: int = 1
    grain: str | None = None
    may_turn: bool = True

    def named(self, number: int) -> str:
        """What so many of it are called: ``folio``, ``leaves``."""
        if kind := KIND.fullmatch(self.name):
            return say_many(number, "kind {kind} folio", "kind {kind} folios", kind=kind[1])
        return say(self.name if number == 1 else NAMES.get(self.name, f"{self.name}s"))

    def __post_init__(self) -> None:
        """A piece without area would make nonsense of every yield."""
        if min(self.width_nm, self.height_nm) <= 0:
            raise DomainError(
                say("The {piece} would have no width or no height left.", piece=self.named(1))
            )


def ways_to_lie(piece: Piece, sheet: Sheet) -> tuple[bool, bool]:
    """Whether a piece may lie straight and whether it may lie turned, by grain and pattern."""
    grain_matters = piece.grain is not None and sheet.grain is not None
    straight = not grain_matters or piece.grain == sheet.grain
    turned = piece.may_turn and not sheet.pattern_up
    if grain_matters:
        turned = turned and piece.grain != sheet.grain
    if sheet.reach_nm is not None:
        straight = straight and piece.height_nm <= sheet.reach_nm
        turned = turned and piece.width_nm <= sheet.reach_nm
    return straight, turned


def _halved(width: int, height: int, times: int) -> list[tuple[int, int]]:
    sizes = [(width, height)]
    for _ in range(times):
        width, height = height // 2, width
        sizes.append((width, height))
    return sizes


def iso_sizes() -> dict[str, tuple[int, int]]:
    """Name to (width, height) in nanometres of ISO 216 A and B and ISO 217 RA and SRA."""
    series = {
        "A": _halved(841, 1189, 6),
        "B": _halved(1000, 1414, 5),
        "RA": _halved(860, 1220, 4),
        "SRA": _halved(900, 1280, 4),
    }
    return {
        f"{letter}{step}": (width * MM, height * MM)
        for letter, sizes in series.items()
        for step, (width, height) in enumerate(sizes)
    }


def iso_tolerance(side_nm: int) -> int:
    """How far a side may stray from its nominal length under ISO 216, in nanometres."""
    if side_nm <= 150 * MM:
        return 3 * MM // 2
    return 2 * MM if side_nm <= 600 * MM else 3 * MM


TRADITIONAL_SIZES: dict[str, tuple[int, int]] = {
    "Royal": (inches(19), inches(24)),
    "Imperial": (inches(22), inches(30)),
    "Double elephant": (inches("26 1/2"), inches(40)),
    "Letter": (inches("8 1/2"), inches(11)),
    "Legal": (inches("8 1/2"), inches(14)),
    "Tabloid": (inches(11), inches(17)),
}
"""Old writing and drawing sizes in inches, and the office sizes sold beside them."""


def named_sizes() -> dict[str, tuple[int, int]]:
    """Every size that can be picked by name."""
    return iso_sizes() | TRADITIONAL_SIZES


BASIC_SIZES: dict[str, tuple[Fraction, Fraction]] = {
    to_say("bond"): (Fraction(17), Fraction(22)),
    to_say("cover"): (Fraction(20), Fraction(26)),
    to_say("tag"): (Fraction(24), Fraction(36)),
    to_say("text"): (Fraction(25), Fraction(38)),
    to_say("bristol"): (Fraction(45, 2), Fraction(57, 2)),
    to_say("index"): (Fraction(51, 2), Fraction(61, 2)),
    to_say("watercolour"): (Fraction(22), Fraction(30)),
}
"""Basic sizes in inches that a weight in pounds refers to."""


def grammage_from_pounds(
    pounds: Fraction | int, width_in: Fraction | int, height_in: Fraction | int
) -> Fraction:
    """Grams per square metre of a paper sold as so many pounds to the ream of 500.

    The width and height are those of its basic size in inches.
    """
    area_m2 = Fraction(width_in) * Fraction(height_in) * Fraction(INCH, 10**9) ** 2
    return Fraction(pounds) * POUND_GRAMS / REAM / area_m2


def weight_mg(width_nm: int, height_nm: int, grammage: Fraction) -> Fraction:
    """Milligrams of one rectangle of paper."""
    return Fraction(width_nm * height_nm, 10**18) * grammage * 1000


def caliper_from_bulk(grammage: Fraction, bulk_cm3_g: Fraction) -> Fraction:
    """Thickness in nanometres from grammage and bulk (cm³/g), as bulk is defined (ISO 534)."""
    return grammage * bulk_cm3_g * 1000


USUAL_BULK = Fraction(5, 4)
"""Bulk in cm³/g of an uncoated paper (common practice, no source); a rough one is bulkier."""


def usual_caliper(grammage: Fraction) -> int:
    """Nanometres to reckon with until a paper is measured, to whole micrometres."""
    return round(caliper_from_bulk(grammage, USUAL_BULK) / 1000) * 1000


def stack_thickness(leaves: int, caliper_nm: int) -> int:
    """Thickness of so many leaves lying on one another."""
    return leaves * caliper_nm


def check_sheet(sheet: Sheet) -> None:
    """Refuse a sheet with no area left or with a grain this program cannot read."""
    if sheet.width_nm <= 0 or sheet.height_nm <= 0:
        raise DomainError(say("A sheet needs a width and a height above zero."), "width_nm")
    if sheet.trim_nm < 0 or min(sheet.usable) <= 0:
        raise DomainError(say("Trimming takes the whole sheet away; trim less."), "trim_nm")
    if sheet.grain is not None and sheet.grain not in GRAINS:
        raise DomainError(say("Grain runs along the width or along the height."), "grain")
