"""What one journal takes, before any money: its build, its pieces of paper, minutes, waiting.

Needs and bench hours ask no more of a design than this; an :class:`Estimate` is one with its cost.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, lru_cache
from math import ceil
from typing import TYPE_CHECKING

from app.core.costing import Work, standard_time
from app.core.cutting.one_sheet.yields import Yield, lying_ways, yield_of
from app.core.length import show_length
from app.core.paper import Piece, Sheet
from app.core.structures import structure_for
from app.core.structures.base import BenchStep, Build, Dims, PaperFacts, Role, Structure
from app.core.structures.parts import Part, PartPer, check_parts, signatures_of, with_parts
from app.language import language, say
from app.models import Material, Paper, Shop, StockSheet
from app.services.designs.fit_check import why_it_does_not_fit
from app.services.shop.settings import TimeOf
from app.services.stock import materials as stock_of
from app.units import type_quantity

if TYPE_CHECKING:
    from app.services.designs.price_book import PriceBook

Choices = Mapping[str, Paper | Material | None]
MOST_BUILT = 1_000
"""Designs that are remembered as they were built."""


@dataclass(frozen=True)
class PaperPiece:
    """One kind of piece of the paper in a role, or why it cannot be cut from that paper."""

    role: Role
    paper: Paper
    piece: Piece
    trouble: str | None


@dataclass(frozen=True)
class PartUse:
    """A part of a design with the material it is of, ``quantity`` in base units."""

    name: str
    material: Material
    quantity: int
    per: PartPer
    minutes: Decimal

    @property
    def part(self) -> Part:
        """As the core works with it."""
        goods = self.material
        return Part(
            self.name, goods.name, goods.measure, self.quantity, self.per, Fraction(self.minutes)
        )


@dataclass(frozen=True)
class Goods:
    """So much of a material, in base units: in each journal, or ``once`` for all made together.

    ``typed`` amounts are the maker's own, and said exactly.
    """

    label: str
    amount: int
    material: Material | None
    once: bool = False
    typed: bool = False


@dataclass(frozen=True)
class TakeOff:
    """One journal of a design; minutes are standard minutes, at the times the shop keeps."""

    structure: Structure
    choices: Choices
    facts: Mapping[str, PaperFacts]
    """What the structure had to know of each paper, by role."""
    build: Build
    work: tuple[Work, ...]
    allowance: Fraction
    waiting_days: int
    """Days that pass after the bench work, pressing and drying."""
    parts: tuple[PartUse, ...]
    signatures: int

    @cached_property
    def setting_up(self) -> Fraction:
        """Minutes to set up for a whole batch."""
        normal = sum((job.setup_minutes for job in self.work), Fraction(0))
        return standard_time(normal, self.allowance)

    def minutes_for(self, count: int) -> Fraction:
        """Minutes for so many made together, set up for once."""
        if not count:
            return Fraction(0)
        normal = sum((job.count * job.minutes_each for job in self.work), Fraction(0))
        return self.setting_up + standard_time(normal, self.allowance) * count

    def wanted_pieces(self) -> Iterable[tuple[Role, Piece]]:
        """Every kind of piece with the role whose paper it is cut from."""
        for role in self.structure.roles:
            if role.measure == "sheet":
                for piece in self.build.pieces.get(role.key, ()):
                    yield role, piece

    def pieces(self, shop: Shop) -> list[PaperPiece]:
        """The pieces of which the paper is chosen."""
        return [
            PaperPiece(
                role,
                paper,
                piece,
                why_not_cut(piece, paper, sheets_to_cut(piece, paper, shop), shop),
            )
            for role, piece in self.wanted_pieces()
            if isinstance(paper := self.choices.get(role.key), Paper)
        ]

    def materials(self) -> Iterable[Goods]:
        """What it takes that is no paper; a role for which none is chosen has no material."""
        for role in self.structure.roles:
            amount = self.build.amount(role.key)
            if role.measure != "sheet" and amount:
                material = self.choices.get(role.key)
                yield Goods(
                    role.label, amount, material if isinstance(material, Material) else None
                )
        for use in self.parts:
            once = use.per is PartPer.BATCH
            amount = use.quantity * (1 if once else use.part.times(self.signatures))
            yield Goods(use.name, amount, use.material, once, typed=True)

    def steps(self, unit: str) -> tuple[BenchStep, ...]:
        """How it is made, the parts among it; amounts that are no lengths in words of the unit."""
        shown = [
            (use.part, type_quantity(use.quantity, use.material.measure, unit))
            for use in self.parts
        ]
        return with_parts(self.build.steps, shown, self.signatures)


def take_off(
    book: PriceBook,
    structure_key: str,
    dims: Dims,
    choices: Choices,
    quantities: Mapping[str, int] | None = None,
    parts: Sequence[PartUse] = (),
) -> TakeOff:
    """Take a design off; ``quantities`` says what roles take that nothing derives.

    Raises DomainError naming the dimension that cannot be built.
    """
    made = structure_for(structure_key, dims)
    dims = made.checked(dims)
    facts = {
        r.key: stock_of.paper_facts(choices.get(r.key)) for r in made.roles if r.measure == "sheet"
    }
    build = _built(
        structure_key, tuple(sorted(dims.items())), tuple(sorted(facts.items())), language.get()
    )
    if quantities:
        build = replace(build, amounts={**build.amounts, **quantities})
    work = tuple(
        Work(t.label, t.driver, count, Fraction(t.setup_minutes), Fraction(t.minutes_each), key)
        for key, t in book.times.items()
        if (count := build.operations.get(key))
    )
    signatures = signatures_of(dims)
    check_parts([use.part for use in parts], signatures)
    work += tuple(use.part.work(signatures) for use in parts if use.minutes)
    return TakeOff(
        made, choices, facts, build, work, book.rates.allowance, _waiting_days(build, book.times),
        tuple(parts), signatures,
    )  # fmt: skip


@lru_cache(maxsize=MOST_BUILT)
def _built(
    key: str,
    dims: tuple[tuple[str, int | str], ...],
    facts: tuple[tuple[str, PaperFacts], ...],
    _spoken: str,
) -> Build:
    """What a structure comes to; a page asks for the same designs again and again.

    Its words are those of a language.
    """
    made = dict(dims)
    return structure_for(key, made).build(made, dict(facts))


def _waiting_days(build: Build, times: Mapping[str, TimeOf]) -> int:
    """A night or a day for every operation after which the work has to wait."""
    hours = [t.waiting_hours for key, t in times.items() if build.operations.get(key)]
    return sum(ceil(some / 24) for some in hours)


def sheet_yields(
    piece: Piece, sheets: Collection[StockSheet], shop: Shop
) -> list[tuple[StockSheet, Yield]]:
    """What each sheet yields of a piece."""
    return [
        (sheet, yield_of(piece, _cut_from(piece, sheet, shop), shop.cutter_for(sheet.paper)))
        for sheet in sheets
    ]


def _cut_from(piece: Piece, sheet: StockSheet, shop: Shop) -> Sheet:
    """What pieces of a kind are cut from: a sheet; of a roll the row that takes least length."""
    if not sheet.by_length:
        return sheet.as_sheet(stock_of.sheet_said(sheet, shop.unit))
    wide, kerf = sheet.width_nm - 2 * sheet.trim_nm, shop.kerf_nm
    ways = [
        (Fraction(way.height_nm, (wide + kerf) // (way.width_nm + kerf)), way.height_nm)
        for way in lying_ways(piece, sheet.as_sheet("roll"))
        if way.width_nm <= wide
    ]
    high = min(ways)[1] if ways else max(piece.width_nm, piece.height_nm)
    name = say(
        "{length} of a roll {width} wide",
        length=show_length(high, shop.unit), width=show_length(sheet.width_nm, shop.unit),
    )  # fmt: skip
    return Sheet(name, wide, high, sheet.grain, sheet.pattern_up)


def sheets_to_cut(piece: Piece, paper: Paper, shop: Shop) -> list[tuple[StockSheet, Yield]]:
    """A paper's sheets with what they yield: those bought, and where none does, the others too.

    What is no longer bought may still lie here and be cut.
    """
    found = sheet_yields(piece, [s for s in paper.sheets if not s.retired], shop)
    if not any(cut.best for _, cut in found):
        found += sheet_yields(piece, [s for s in paper.sheets if s.retired], shop)
    return found


def why_not_cut(
    piece: Piece, paper: Paper, found: Collection[tuple[StockSheet, Yield]], shop: Shop
) -> str | None:
    """Why a piece cannot be cut from a paper's sheets, in words; None where it can."""
    if not found:
        return say(
            "{paper} has no sheet sizes yet: add the sizes you can buy it in.", paper=paper.name
        )
    if any(cut.best for _, cut in found):
        return None
    sheets = [cut.sheet for _, cut in found]
    return why_it_does_not_fit(piece, sheets, shop, shop.cutter_for(paper))
