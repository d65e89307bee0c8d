"""What can be made from paper that lies here: which journals, how many, what a sheet then earns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from sqlalchemy.orm import Session

from app.core.cutting.one_sheet.yields import yield_of
from app.core.errors import DomainError
from app.core.length import INCH, METRE
from app.core.paper import Piece
from app.models import Paper, Shop, StockSheet, Variant
from app.services.designs.estimating import ChannelPrice, Estimate, work_out
from app.services.designs.journals import Draft, draft_of, sellable
from app.services.designs.price_book import PriceBook
from app.services.designs.take_off import Choices, sheet_yields
from app.services.planning.sheet_sources import offcut_as_sheet
from app.services.stock.ledger import on_hand
from app.services.stock.offcuts import Offcut, lengths, offcuts


@dataclass(frozen=True)
class Pile:
    """So many whole sheets of one size, and offcuts of it; of a roll, the lengths that are here."""

    sheet: StockSheet
    sheets: int
    offcuts: tuple[Offcut, ...] = ()


def pile_of(session: Session, sheet: StockSheet, offcut_lot: int | None = None) -> Pile:
    """What is here of a sheet with its offcuts, or one size of offcut alone."""
    known = (*lengths(session, sheet), *offcuts(session, sheet))
    if offcut_lot is not None:
        return Pile(sheet, 0, tuple(o for o in known if o.lot.id == offcut_lot))
    return Pile(sheet, 0 if sheet.by_length else on_hand(session, sheet), known)


@dataclass(frozen=True)
class Makeable:
    """A journal of which one paper of a pile fills ``roles``; ``instead_of`` names what it has now.

    ``from_sheet`` is how many one whole sheet gives, or a metre or yard of a roll, none where not
    one piece fits; ``number`` how many the pile does, each kind of piece on sheets of its own. Of
    several kinds offcuts hold none.
    """

    variant: Variant
    roles: tuple[str, ...]
    instead_of: str
    from_sheet: Fraction
    number: int
    estimate: Estimate
    price: ChannelPrice | None

    @property
    def profit(self) -> Decimal | None:
        """What one leaves at the price asked, or suggested, in the first channel."""
        at = self.price and (self.price.at_asked or self.price.at_suggested)
        return at.profit if at else None

    @property
    def pay_per_hour(self) -> Decimal | None:
        """What an hour at the bench earns with it."""
        at = self.price and (self.price.at_asked or self.price.at_suggested)
        return at.pay_per_hour if at else None

    @property
    def profit_per_sheet(self) -> Fraction | None:
        """What a whole sheet earns, cut up for it."""
        return None if self.profit is None else Fraction(self.profit) * self.from_sheet


def makeable(session: Session, book: PriceBook, pile: Pile) -> list[Makeable]:
    """Every journal on sale that can be cut from a pile: as it is, or with its paper instead.

    Those as they are come first, then what earns most a sheet.
    """
    found = []
    for variant in sellable(session):
        draft = draft_of(variant)
        for choices, instead_of in _ways(draft, pile.sheet.paper):
            made = _made(book, variant, replace(draft, choices=choices), instead_of, pile)
            if made is not None:
                found.append(made)
    return sorted(
        found,
        key=lambda m: (
            bool(m.instead_of),
            m.profit_per_sheet is None,
            -(m.profit_per_sheet or 0),
            m.variant.full_name,
        ),
    )


def _ways(draft: Draft, paper: Paper) -> Iterable[tuple[Choices, str]]:
    """A design's choices where it has the paper, else with it in place of each other paper."""
    if any(thing is paper for thing in draft.choices.values()):
        yield draft.choices, ""
        return
    others = dict.fromkeys(thing for thing in draft.choices.values() if isinstance(thing, Paper))
    for other in others:
        yield {r: paper if t is other else t for r, t in draft.choices.items()}, other.name


def _made(
    book: PriceBook, variant: Variant, draft: Draft, instead_of: str, pile: Pile
) -> Makeable | None:
    """How many of a design a pile gives; None where it cannot be built or cut from it."""
    try:
        estimate = work_out(
            book, draft.structure, draft.dimensions, draft.choices, batch=draft.batch_size,
            asked=draft.prices, quantities=draft.quantities, parts=draft.parts,
        )  # fmt: skip
    except DomainError:
        return None
    if any(grave for _, grave in estimate.advice):
        return None
    mine = [
        (role, piece)
        for role, piece in estimate.wanted_pieces()
        if estimate.choices.get(role.key) is pile.sheet.paper
    ]
    pieces = [piece for _, piece in mine]
    number, from_sheet = (_off_a_roll if pile.sheet.by_length else _out_of)(pieces, pile, book)
    if not pieces or (not number and not from_sheet):
        return None
    return Makeable(
        variant, tuple(dict.fromkeys(role.label for role, _ in mine)), instead_of,
        from_sheet, number, estimate, next(iter(estimate.prices), None),
    )  # fmt: skip


def _out_of(pieces: Sequence[Piece], pile: Pile, book: PriceBook) -> tuple[int, Fraction]:
    """How many journals a pile of sheets and offcuts gives, and how many one whole sheet."""
    yields = [_yields(piece, pile, book) for piece in pieces]
    each = [whole for whole, *_ in yields]
    return _number(pieces, yields, pile), _from_one_sheet(pieces, each)


def _off_a_roll(pieces: Sequence[Piece], pile: Pile, book: PriceBook) -> tuple[int, Fraction]:
    """The same of lengths off a roll, each cut in plain rows, and how many a metre gives."""
    cuts = [cut for piece in pieces for _, cut in sheet_yields(piece, [pile.sheet], book.shop)]
    if not all(cut.best for cut in cuts) or not cuts:
        return 0, Fraction(0)

    def takes(number: int) -> int:
        """How long a piece of the roll so many journals take."""
        rows = [-(-number * c.piece.count // c.best) for c in cuts]
        high = sum(n * cut.sheet.height_nm for n, cut in zip(rows, cuts, strict=True))
        return high + (sum(rows) - 1) * book.shop.kerf_nm + 2 * pile.sheet.trim_nm

    number = 0
    ends = tuple(o for o in pile.offcuts if o.lot.offcut_width_nm is not None)
    for length in (o.quantity for o in pile.offcuts if o not in ends):
        fits = length // max(takes(1), 1)
        while takes(fits + 1) <= length:
            fits += 1
        number += fits
    if ends and len(pieces) == 1:
        rest = Pile(pile.sheet, 0, ends)
        number += _number(pieces, [_yields(pieces[0], rest, book)], rest)
    each = sum((Fraction(c.piece.count * c.sheet.height_nm, c.best) for c in cuts), Fraction(0))
    return number, long_measure(book.shop) / each


def long_measure(shop: Shop) -> int:
    """What a roll is talked about by: a metre, or a yard."""
    return 36 * INCH if shop.unit == "in" else METRE


def _yields(piece: Piece, pile: Pile, book: PriceBook) -> list[int]:
    """How many of a piece a whole sheet gives, then each offcut."""
    cutter, unit = book.shop.cutter_for(pile.sheet.paper), book.shop.unit
    whole = [] if pile.sheet.by_length else [pile.sheet.as_sheet("")]
    found = [
        yield_of(piece, sheet, cutter).best
        for sheet in (*whole, *(offcut_as_sheet(o, unit) for o in pile.offcuts))
    ]
    return found if whole else [0, *found]


def _from_one_sheet(pieces: Sequence[Piece], each: Sequence[int]) -> Fraction:
    """Journals from a whole sheet: one takes its share of it for each kind of piece."""
    if not all(each):
        return Fraction(0)
    return 1 / sum(
        (Fraction(p.count, best) for p, best in zip(pieces, each, strict=True)), Fraction(0)
    )


def _number(pieces: Sequence[Piece], yields: Sequence[Sequence[int]], pile: Pile) -> int:
    """How many journals the pile gives; ``yields`` as :func:`_yields` has them for each piece."""
    if len(pieces) == 1:
        [piece], [(whole, *rest)] = pieces, yields
        cut = pile.sheets * whole
        cut += sum(best * o.number for best, o in zip(rest, pile.offcuts, strict=True))
        return cut // piece.count
    each = [whole for whole, *_ in yields]
    if not pieces or not all(each):
        return 0
    number = 0
    while _sheets_for(number + 1, pieces, each) <= pile.sheets:
        number += 1
    return number


def _sheets_for(number: int, pieces: Sequence[Piece], each: Sequence[int]) -> int:
    """Whole sheets for so many journals, each kind of piece on its own."""
    return sum(-(-number * p.count // best) for p, best in zip(pieces, each, strict=True))
