"""Lengths as whole nanometres, and how they are written.

A nanometre divides both 1/64 in (396 875 nm) and 0.01 mm, so lengths typed in either system
are exact and whether a piece fits is decided by integers alone.

>>> show_length(4 * INCH + INCH // 2, "in")
'4 1/2 in'
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from app.core.numbers import styled

NM = 1
MM = 1_000_000
CM = 10 * MM
METRE = 1_000 * MM
INCH = 25_400_000
LONGEST = 10_000 * METRE
"""No single length in the workshop is longer than this; it keeps sums inside 64 bits."""

Show = Callable[[int], str]
"""Turns a length in nanometres into words in the shop's units."""


def inches(value: int | str | Fraction) -> int:
    """Whole nanometres from inches (``"4 1/2"``, ``Fraction``), exactly."""
    if isinstance(value, str):
        total = sum((Fraction(part) for part in value.split()), Fraction(0))
        return _whole(total * INCH)
    return _whole(Fraction(value) * INCH)


def _whole(nm: Fraction) -> int:
    if nm.denominator != 1:
        raise ValueError("not a whole number of nanometres")
    return nm.numerator


def plain_decimal(value: Fraction | Decimal, places: int) -> str:
    """A number rounded half up to ``places`` decimals, without trailing zeros."""
    scale = 10**places
    scaled = Fraction(value) * scale
    whole = (abs(scaled.numerator) * 2 + scaled.denominator) // (2 * scaled.denominator)
    sign = "-" if scaled < 0 and whole else ""
    text = f"{whole // scale}"
    if places and whole % scale:
        text += "." + f"{whole % scale:0{places}d}".rstrip("0")
    return sign + text


def inch_fraction(nm: int) -> str | None:
    """Inches as a whole and a binary fraction down to 1/64, or None where they are not one."""
    if (nm * 64) % INCH:
        return None
    value = Fraction(nm, INCH)
    whole, rest = divmod(abs(value), 1)
    sign = "-" if value < 0 else ""
    if not rest:
        return f"{sign}{whole}"
    part = f"{rest.numerator}/{rest.denominator}"
    return f"{sign}{whole} {part}" if whole else f"{sign}{part}"


def show_length(nm: int, unit: str) -> str:
    """A length for reading: ``160 mm``, ``6 1/4 in``; rounded to 0.01 mm or 0.001 in.

    Millimetres above two metres are shown in metres: nobody measures thread in thousands.
    """
    return styled(_said(nm, unit))


@lru_cache(maxsize=10_000)
def _said(nm: int, unit: str) -> str:
    """A length with a point for decimals; a page says the same ones again and again."""
    if unit == "in":
        exact = inch_fraction(nm)
        places = 4 if abs(nm) < INCH // 8 else 3
        return f"{exact} in" if exact else f"{plain_decimal(Fraction(nm, INCH), places)} in"
    if abs(nm) >= 2 * METRE:
        return f"{plain_decimal(Fraction(nm, METRE), 2)} m"
    return f"{plain_decimal(Fraction(nm, MM), 2)} mm"


def type_length(nm: int, unit: str) -> str:
    """A length for a field: exact, so that saving an untouched form changes nothing.

    In a shop that works in inches a length that is neither a 64th nor a ten-thousandth of an
    inch is written in millimetres, where every nanometre can be written exactly.
    """
    if unit == "in":
        exact = inch_fraction(nm)
        if exact is None and (nm * 10_000) % INCH == 0:
            exact = plain_decimal(Fraction(nm, INCH), 4)
        if exact:
            return styled(f"{exact} in")
    return styled(f"{plain_decimal(Fraction(nm, MM), 6)} mm")


def measured_up(nm: int, unit: str) -> int:
    """A length of thread or cord as a person measures it: up to 5 mm, or to a quarter inch."""
    step = INCH // 4 if unit == "in" else 5 * MM
    return -(-nm // step) * step


def show_size(width_nm: int, height_nm: int, unit: str) -> str:
    """Two lengths as one size: ``560 × 760 mm``, the unit said once where both share it."""
    width, height = show_length(width_nm, unit), show_length(height_nm, unit)
    number, _, last = width.rpartition(" ")
    return f"{number} × {height}" if height.endswith(" " + last) else f"{width} × {height}"
