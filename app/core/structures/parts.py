"""Parts of any journal beside what its structure takes: labels, rings, ribbon, wrapping, a card.

A part is so much of a material with its own work, for each journal, for each signature of it, or
once for all that are made together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from app.core.costing import Work
from app.core.errors import DomainError
from app.core.structures.base import BenchStep, Dims
from app.language import say, say_many


class PartPer(StrEnum):
    """What a part and its minutes are for."""

    JOURNAL = "journal"
    SIGNATURE = "signature"
    BATCH = "batch"


@dataclass(frozen=True)
class Part:
    """So much of something, in base units of its measure, for one of ``per``; minutes likewise.

    ``of`` is what it is of, in words.
    """

    name: str
    of: str
    measure: str
    amount: int
    per: PartPer
    minutes: Fraction

    def times(self, signatures: int) -> int:
        """How often it goes into one journal; a part of the whole batch goes into none."""
        return {PartPer.JOURNAL: 1, PartPer.SIGNATURE: signatures, PartPer.BATCH: 0}[self.per]

    def work(self, signatures: int) -> Work:
        """Its work: minutes for a batch are setting up, all others are each."""
        key = f"part {self.name}"[:40]
        if self.per is PartPer.BATCH:
            return Work(self.name, self.per, 1, self.minutes, Fraction(0), key)
        return Work(self.name, self.per, self.times(signatures), Fraction(0), self.minutes, key)


def signatures_of(dims: Dims) -> int:
    """Signatures in one journal: as many as the design says, one where it has only folios."""
    said = dims.get("signatures", 1 if "folios" in dims else 0)
    return said if isinstance(said, int) else 0


def check_parts(parts: Sequence[Part], signatures: int) -> None:
    """Refuse a part for each signature of something that has none; ``field`` says which part."""
    for number, part in enumerate(parts):
        if part.per is PartPer.SIGNATURE and not signatures:
            raise DomainError(
                say("There are no signatures in this: say how much goes into one journal."),
                f"parts-{number}-per",
            )


def with_parts(
    steps: Sequence[BenchStep], parts: Sequence[tuple[Part, str]], signatures: int
) -> tuple[BenchStep, ...]:
    """The steps of the work with those of the parts before the last, which presses and wraps.

    Beside each part stands its amount in words, but for lengths, which are said as typed.
    """
    more = [_step(part, shown, signatures) for part, shown in parts]
    return (*steps[:-1], *more, *steps[-1:])


def _step(part: Part, shown: str, signatures: int) -> BenchStep:
    name, of = (text.replace("{", "{{").replace("}", "}}") for text in (part.name, part.of))
    is_length = part.measure == "length"
    places = {"part": name, "amount": "{amount}" if is_length else shown, "material": of}
    if part.per is PartPer.SIGNATURE:
        text = say_many(
            signatures,
            "{part}: {amount} of {material} for the signature.",
            "{part}: {amount} of {material} for each of the {n} signatures.",
            **places,
        )
    elif part.per is PartPer.BATCH:
        text = say("{part}, once for all that are made together: {amount} of {material}.", **places)
    else:
        text = say("{part}: {amount} of {material}.", **places)
    return BenchStep(text, lengths={"amount": part.amount} if is_length else {})
