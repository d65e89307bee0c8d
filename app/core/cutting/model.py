"""What is wanted, the sheets to be had, and what a plan buys: the words of a cutting problem.

Money to spend comes first, then the worth of sheets cut up, then the number of sheets.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from app.core.errors import DomainError
from app.core.paper import Piece, Sheet
from app.language import to_say

MOST_SHEETS = 1_000_000
TOO_FEW = to_say("The sheets on hand and the limits on buying cannot cover the list.")


@dataclass(frozen=True)
class Break:
    """From this many packs on, a pack costs ``price`` (minor units)."""

    from_packs: int
    price: int


@dataclass(frozen=True)
class SheetOffer:
    """A sheet that can be had: so many on hand for nothing, the rest in packs.

    ``value`` (minor units) is what a sheet on hand is worth, used only to choose between plans
    that cost the same money. ``limit`` is the most sheets that can be bought, None for any
    number; without ``breaks`` none can be bought.
    """

    key: str
    sheet: Sheet
    pack: int = 1
    breaks: tuple[Break, ...] = ()
    on_hand: int = 0
    limit: int | None = None
    value: Fraction = Fraction(0)


@dataclass(frozen=True)
class Wanted:
    """So many of one piece, known by ``key``."""

    key: str
    piece: Piece
    count: int


@dataclass(frozen=True)
class Buy:
    """Whole packs of one offer, and what they cost in minor units."""

    offer: SheetOffer
    packs: int
    cost: int

    @property
    def sheets(self) -> int:
        """Sheets in the packs."""
        return self.packs * self.offer.pack


@dataclass(frozen=True)
class Supply:
    """Sheets of one size: how many are on hand, their worth, and the offers of more."""

    sheet: Sheet
    on_hand: int
    value: float
    offers: tuple[SheetOffer, ...]


def supplies(offers: Sequence[SheetOffer]) -> list[Supply]:
    """Offers gathered by the sheet they are for."""
    by_sheet: dict[Sheet, list[SheetOffer]] = {}
    for offer in offers:
        by_sheet.setdefault(offer.sheet, []).append(offer)
    return [
        Supply(
            sheet,
            sum(o.on_hand for o in rows),
            min((float(o.value) for o in rows), default=0.0),
            tuple(o for o in rows if o.breaks and (o.limit is None or o.limit >= o.pack)),
        )
        for sheet, rows in by_sheet.items()
    ]


def worth_of(
    cut: Mapping[Sheet, int], bought: Mapping[str, int], offers: Sequence[SheetOffer]
) -> Fraction:
    """What sheets cut are worth, in minor units: of each size those on hand first, then the rest.

    ``bought`` is sheets by the key of their offer.
    """
    worth = Fraction(0)
    for sheet, number in cut.items():
        left = number
        mine = sorted((o for o in offers if o.sheet == sheet), key=lambda o: o.key)
        for offer, there in (
            *((o, o.on_hand) for o in mine),
            *((o, bought.get(o.key, 0)) for o in mine),
        ):
            taken = min(left, there)
            worth += taken * offer.value
            left -= taken
    return worth


class NoPlanError(DomainError):
    """No plan covers the list; the message says why."""


class WorkDoneError(NoPlanError):
    """No plan was found in the work allowed; there may be one."""
