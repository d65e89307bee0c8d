"""What figures worked out by hand are compared with: a structure built and read in millimetres."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from app.core.length import MM, show_length
from app.core.structures import structure
from app.core.structures.base import Build, Flat, PaperFacts

PAPERS = {
    "leaves": PaperFacts("text", 120_000, Fraction(100)),
    "cover": PaperFacts("card", 300_000, Fraction(250)),
    "boards": PaperFacts("board", 2 * MM, Fraction(1250)),
    "covering": PaperFacts("covering", 130_000, Fraction(90)),
    "card": PaperFacts("card", 280_000, Fraction(240)),
    "envelope": PaperFacts("envelope", 110_000, Fraction(80)),
}


def nm(mm: float | str) -> int:
    """Whole nanometres from millimetres as written."""
    whole = Fraction(str(mm)) * MM
    assert whole.denominator == 1
    return int(whole)


def build(key: str, papers: dict[str, PaperFacts] | None = None, **dims: Any) -> Build:
    """One piece; lengths are given in millimetres."""
    made = structure(key)
    kinds = {d.key: d.kind for d in made.dimensions}
    given = {k: nm(v) if kinds[k] == "length" else v for k, v in dims.items()}
    return made.build(made.checked(made.defaults() | given), PAPERS | (papers or {}))


def leaves(caliper_mm: float | str) -> dict[str, PaperFacts]:
    return {"leaves": PaperFacts("text", nm(caliper_mm), Fraction(100))}


def flat(made: Build, key: str) -> Flat:
    found = made.flat(key)
    assert found is not None
    return found


def size(made: Build, key: str) -> tuple[float, float, int]:
    """Width and height in millimetres, and how many of it."""
    found = flat(made, key)
    return found.width_nm / MM, found.height_nm / MM, found.count


def panels(made: Build, key: str = "cover") -> list[tuple[str, float, float]]:
    return [(p.name, p.x_nm / MM, p.width_nm / MM) for p in flat(made, key).panels]


def corners(made: Build, key: str) -> list[tuple[float, ...]]:
    return [tuple(v / MM for v in point) for point in flat(made, key).outline]


def folds(made: Build, key: str) -> list[tuple[float, ...]]:
    return [tuple(v / MM for v in line) for line in flat(made, key).folds]


def holes(made: Build, key: str) -> list[tuple[float, float, int, int]]:
    return [(h.x_nm / MM, h.y_nm / MM, h.row, h.station) for h in flat(made, key).holes]


def steps(made: Build) -> str:
    return " ".join(s.say(lambda length: show_length(length, "mm")) for s in made.steps)
