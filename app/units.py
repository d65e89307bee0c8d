"""Lengths, areas, masses, volumes and times as people type them; the only user of Pint.

``4 1/2 in``, ``4½"``, ``11,4 cm`` and ``114`` all become whole nanometres. A bare number is in
the shop's unit. Fractions and decimals are read exactly; what is finer than a nanometre is
rounded to the nearest one.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Collection
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from app.core.errors import DomainError
from app.core.length import INCH, LONGEST, METRE, plain_decimal
from app.core.numbers import read_number, styled
from app.core.structures import drivers
from app.language import say, say_many, to_say

if TYPE_CHECKING:
    import pint

MEASURES = ("length", "count", "mass", "volume", "area")
"""How a material is measured; base units are nanometres, ones, milligrams, microlitres and square
micrometres."""
DM2, M2, SQUARE_FOOT = 10**10, 10**12, 92_903_040_000
LARGEST_AREA = 10_000 * M2


@dataclass(frozen=True)
class Base:
    """A measure's base unit in Pint's words, and how a maker may write its units."""

    unit: str
    aliases: dict[str, str]


_BASES = {
    "length": Base(
        "nanometer",
        {
            "mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch", '"': "inch",
            "″": "inch", "”": "inch", "''": "inch", "inch": "inch", "inches": "inch",
            "ft": "foot", "'": "foot", "′": "foot", "yd": "yard", "yard": "yard",
            "yards": "yard", "metre": "meter", "metres": "meter", "µm": "micrometer",
            "um": "micrometer", "nm": "nanometer", "yds": "yard", "feet": "foot", "foot": "foot",
            "meter": "meter", "meters": "meter", "millimetre": "millimeter",
            "millimetres": "millimeter", "millimeter": "millimeter", "millimeters": "millimeter",
            "centimetre": "centimeter", "centimetres": "centimeter", "centimeter": "centimeter",
            "centimeters": "centimeter",
        },
    ),
    "mass": Base(
        "milligram",
        {"g": "gram", "kg": "kilogram", "mg": "milligram", "oz": "ounce", "lb": "pound",
         "gram": "gram", "grams": "gram", "kgs": "kilogram", "kilo": "kilogram",
         "kilos": "kilogram", "lbs": "pound", "pound": "pound", "pounds": "pound",
         "ounce": "ounce", "ounces": "ounce"},
    ),
    "volume": Base(
        "microliter",
        {
            "ml": "milliliter", "l": "liter", "cl": "centiliter", "µl": "microliter",
            "floz": "fluid_ounce", "litre": "liter", "litres": "liter", "liter": "liter",
            "liters": "liter",
        },
    ),
    "area": Base(
        "micrometer ** 2",
        {
            **{f"sq{one}": f"{name} ** 2" for one, name in (
                ("mm", "millimeter"), ("cm", "centimeter"), ("dm", "decimeter"), ("m", "meter"),
                ("in", "inch"), ("ft", "foot"), ("yd", "yard"),
            )},
        },
    ),
    "minutes": Base(
        "minute",
        {"min": "minute", "h": "hour", "hr": "hour", "hrs": "hour", "hour": "hour",
         "hours": "hour", "s": "second", "sec": "second", "mins": "minute", "minute": "minute",
         "minutes": "minute"},
    ),
}  # fmt: skip
_BARE = {"mass": "g", "volume": "ml", "minutes": "min"}
_NUMBER = re.compile(
    r"^(?P<sign>[-−+]?)\s*"
    r"(?:(?P<whole>\d+)(?:\s+|\s*-\s*)(?P<top>\d+)\s*/\s*(?P<under>\d+)"
    r"|(?P<top2>\d+)\s*/\s*(?P<under2>\d+)"
    r"|(?P<decimal>\d(?:[\d.,]| (?=\d{3}(?!\d)))*|[.,]\d+))"
    r"\s*(?P<unit>[^\d\s.,/+-]*)\.?$"
)


_SIDES = {
    "mm": "mm", "cm": "cm", "dm": "dm", "m": "m", "in": "in", "inch": "in", "inches": "in",
    "ft": "ft", "foot": "ft", "feet": "ft", "yd": "yd", "yard": "yd", "yards": "yd",
    "metre": "m", "metres": "m", "meter": "m", "meters": "m",
}  # fmt: skip
_SQUARED = re.compile(
    r"\s*(?:\b(?:sq|square)\.?\s*(?P<side>[a-z]+)|(?P<side2>mm|cm|dm|m|in|ft|yd)\s*\^?2)$", re.I
)
"""An area's unit as ``dm²``, ``dm2``, ``dm^2``, ``sq ft``, ``square feet``."""


def _squares(text: str) -> str:
    """An area's unit in one word, as the table has it."""
    return _SQUARED.sub(
        lambda found: " sq" + _SIDES.get((found["side"] or found["side2"]).lower(), "?"),
        text.strip().replace("²", "2"),
    )


@cache
def _registry() -> pint.UnitRegistry[Fraction]:
    # Loaded when a unit is first read: it takes longer to start than all the rest.
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


@cache
def _factor(unit: str, base: str) -> Fraction:
    """How many base units one unit holds, exactly."""
    registry = _registry()
    return Fraction(registry.Quantity(Fraction(1), unit).to(base).magnitude)


def _plain(text: str) -> str:
    """Vulgar fractions spelt out (``4½`` to ``4 1/2``), blanks of every kind made plain."""
    spelt = "".join(
        " " + unicodedata.normalize("NFKC", c) if unicodedata.category(c) == "No" else c
        for c in text
    )
    return " ".join(spelt.replace("⁄", "/").replace("fl oz", "floz").split())


def _read(text: str, measure: str, bare_unit: str) -> Fraction:
    """A typed quantity in the measure's base unit, exactly."""
    if len(text) > 60:
        raise DomainError(say("That is too long to be a measure."))
    found = _NUMBER.match(_plain(_squares(text) if measure == "area" else text))
    if not found:
        raise DomainError(say(_UNREAD[measure], typed=text.strip()[:30]))
    base = _BASES[measure]
    written = found["unit"].lower() or bare_unit
    unit = base.aliases.get(written)
    if unit is None and measure == "area":
        raise DomainError(
            say("“{unit}” is no unit of area: use dm², m², sq ft or sq in.", unit=found["unit"])
        )
    if unit is None:
        known = ", ".join(dict.fromkeys(a for a in base.aliases if a.isalpha() and len(a) < 4))
        raise DomainError(
            say(
                "“{unit}” is no unit this field knows: use {known}.",
                unit=found["unit"],
                known=known,
            )
        )
    top, under = found["top"] or found["top2"], found["under"] or found["under2"]
    if top:
        if not int(under):
            raise DomainError(say("A fraction cannot have zero below the line."))
        number = Fraction(int(found["whole"] or 0)) + Fraction(int(top), int(under))
    else:
        number = Fraction(read_number(found["decimal"]))
    if found["sign"] in ("-", "−"):
        number = -number
    return number * _factor(unit, base.unit)


_UNREAD = {
    "length": to_say("“{typed}” is not a length such as 114 mm or 4 1/2 in."),
    "mass": to_say("“{typed}” is not a weight such as 250 g."),
    "volume": to_say("“{typed}” is not a volume such as 250 ml."),
    "minutes": to_say("“{typed}” is not a time such as 12 min."),
    "area": to_say("“{typed}” is not an area such as 12 dm² or 2 sq ft."),
}


_PARTS = (("feet", "ft"), ("inches", "in"))
_FEET_AND_INCHES = re.compile(r"^(?P<feet>\d+\s*(?:ft|feet|foot|'|′))\s*(?P<inches>\d.*)$")


def parse_length(text: str, unit: str) -> int:
    """Whole nanometres from what was typed; ``unit`` (``mm``, ``in``) is that of a bare number.

    ``5 ft 3 1/2 in`` is read as well.
    """
    both = _FEET_AND_INCHES.match(_plain(text))
    if both:
        feet, inches = (_read(both[part], "length", one) for part, one in _PARTS)
        if inches >= _factor("foot", "nanometer"):
            raise DomainError(
                say("Inches behind feet stay below 12: write “5 ft 3 in”, or 1500 alone.")
            )
        nm = round(feet + inches)
    else:
        nm = round(_read(text, "length", unit))
    if abs(nm) > LONGEST:
        raise DomainError(say("“{typed}” is longer than 10 km.", typed=text.strip()[:30]))
    return nm


_BY = re.compile(r"\s*[x×]\s*|\s+by\s+", re.IGNORECASE)
"""What stands between the two sides of a piece."""


def parse_size(text: str, unit: str) -> tuple[int, int]:
    """Width and height in nanometres of ``640 x 900`` or ``22 × 30 in``."""
    sides = _BY.split(text.strip())
    if len(sides) != 2:
        raise DomainError(
            say("“{typed}” is no size; type one as 640 x 900.", typed=text.strip()[:30])
        )
    width, height = _two_sides(sides[0], sides[1], unit)
    if min(width, height) <= 0:
        raise DomainError(say("Both sides of a size must be above zero."))
    return width, height


def _two_sides(wide: str, high: str, unit: str) -> tuple[int, int]:
    """Two lengths; a unit said once, behind the second, is that of both."""
    said = re.search(r"(?<=[\d\s½¼¾⅛⅜⅝⅞])[^\d\s.,/½¼¾⅛⅜⅝⅞]+$", high.strip())
    if said and not re.search(r"[^\d\s.,/½¼¾⅛⅜⅝⅞]", wide):
        wide = f"{wide} {said.group()}"
    return parse_length(wide, unit), parse_length(high, unit)


def _by_sides(wide: str, high: str, unit: str) -> int:
    """The area of a piece from its sides."""
    across, along = _two_sides(wide, high, unit)
    # Up to the next square thousandth of a millimetre, so that it is never too little.
    area = -(-across * along // 10**6)
    if min(across, along) < 0 or area > LARGEST_AREA:
        raise DomainError(
            say("“{width} × {height}” is out of all bounds.", width=wide[:20], height=high[:20])
        )
    return area


def parse_quantity(text: str, measure: str, unit: str) -> int:
    """Whole base units of a material's measure; a bare length is in metres or yards.

    ``unit`` is the shop's: metres go with millimetres, yards with inches; so do dm² and sq ft. An
    area is read from the sides of a piece as well, ``30 × 20 cm``.
    """
    if measure == "count":
        return parse_count(text)
    inches = unit == "in"
    if measure == "area" and (sides := _BY.split(text.strip())) and len(sides) == 2:
        return _by_sides(sides[0], sides[1], unit)
    bare = {"length": "yd" if inches else "m", "area": "sqft" if inches else "sqdm"}.get(measure)
    amount = round(_read(text, measure, bare or _BARE[measure]))
    if not 0 <= amount <= (LARGEST_AREA if measure == "area" else LONGEST):
        raise DomainError(say("“{typed}” is out of all bounds.", typed=text.strip()[:30]))
    return amount


COUNTED = ("sheet", "piece", "pc", "bead", "ring", "button", "journal", "copy", "copies", "x", "×")
"""What may stand behind a number of things; a pack is not one thing and is not among them."""

_SAID: dict[str, Callable[[int], str]] = {
    **drivers.COUNTED,
    "sheet": lambda n: say_many(n, "{n} sheet", "{n} sheets"),
    "ring": lambda n: say_many(n, "{n} ring", "{n} rings"),
    "pack": lambda n: say_many(n, "{n} pack", "{n} packs"),
    "day": lambda n: say_many(n, "{n} day", "{n} days"),
    "hour": lambda n: say_many(n, "{n} hour", "{n} hours"),
}


def _is_counted(word: str, words: Collection[str]) -> bool:
    """Whether a word is one of these, in English or as the shop says it behind a number."""
    if word in words or word.removesuffix("s") in words:
        return True
    said = {_SAID[known](n) for known in words if known in _SAID for n in (1, 2)}
    return word in {behind.partition(" ")[2].lower() for behind in said}


def parse_count(text: str, words: Collection[str] = COUNTED) -> int:
    """A whole number, with or without what is counted: ``25``, ``25 sheets``, ``1,000``."""
    found = re.fullmatch(r"(?P<number>.*?[\d.,])\s*(?P<word>[^\d\s.,+-]*)\.?", _plain(text))
    if not found or len(text) > 60:
        raise DomainError(say("“{typed}” is not a whole number.", typed=text.strip()[:30]))
    word = found["word"].lower()
    if word and not _is_counted(word, words):
        raise DomainError(
            say("“{typed}” is not counted here: type a number alone.", typed=found["word"][:20])
        )
    number = read_number(found["number"])
    if number < 0:
        raise DomainError(say("A number of things is not below zero."))
    if number >= 10**9:
        raise DomainError(
            say("“{typed}” is more than this program counts.", typed=text.strip()[:30])
        )
    if number != number.to_integral_value():
        raise DomainError(say("“{typed}” is not a whole number.", typed=text.strip()[:30]))
    return int(number)


_HOURS_AND_MINUTES = re.compile(
    r"^(?:(?P<h>\d+)\s*(?:h|hr|hrs|hour|hours)\s*(?P<m>[0-5]?\d)\s*(?:min|mins|minutes?|m)?"
    r"|(?P<h2>\d+):(?P<m2>[0-5]\d))$"
)


def parse_minutes(text: str) -> Decimal:
    """Minutes to four decimals from ``12``, ``12 min``, ``1/2 min``, ``1.5 h``, ``1 h 30``."""
    both = _HOURS_AND_MINUTES.match(_plain(text).lower())
    if both:
        hours, rest = both["h"] or both["h2"], both["m"] or both["m2"]
        minutes = Fraction(60 * int(hours) + int(rest))
    else:
        minutes = _read(text, "minutes", "min")
    if not 0 <= minutes <= 100_000:
        raise DomainError(say("Minutes lie between 0 and 100 000."))
    return Decimal(round(minutes * 10_000)).scaleb(-4)


def show_quantity(amount: int, measure: str, unit: str) -> str:
    """A quantity of a material for reading, rounded to two decimals."""
    if measure == "count":
        return f"{amount}"
    if measure == "length":
        if unit == "in":
            return styled(f"{plain_decimal(Fraction(amount, 36 * INCH), 2)} yd")
        return styled(f"{plain_decimal(Fraction(amount, METRE), 2)} m")
    if measure == "area":
        if unit == "in":
            return styled(f"{plain_decimal(Fraction(amount, SQUARE_FOOT), 2)} sq ft")
        if abs(amount) >= M2:
            return styled(f"{plain_decimal(Fraction(amount, M2), 2)} m²")
        return styled(f"{plain_decimal(Fraction(amount, DM2), 2)} dm²")
    small, big = {"mass": ("g", "kg"), "volume": ("ml", "l")}[measure]
    if abs(amount) >= 1_000_000:
        return styled(f"{plain_decimal(Fraction(amount, 1_000_000), 2)} {big}")
    return styled(f"{plain_decimal(Fraction(amount, 1000), 2)} {small}")


def type_quantity(amount: int, measure: str, unit: str) -> str:
    """A quantity for a field: exact, so that an untouched form changes nothing."""
    if measure == "count":
        return f"{amount}"
    if measure == "length":
        if unit == "in" and amount % (36 * INCH) == 0:
            return f"{amount // (36 * INCH)} yd"
        return styled(f"{plain_decimal(Fraction(amount, METRE), 9)} m")
    if measure == "area":
        if unit == "in" and amount * 10_000 % SQUARE_FOOT == 0:
            return styled(f"{plain_decimal(Fraction(amount, SQUARE_FOOT), 4)} sq ft")
        return styled(f"{plain_decimal(Fraction(amount, DM2), 10)} dm²")
    return styled(f"{plain_decimal(Fraction(amount, 1000), 3)} {_BARE[measure]}")
