"""A design worked out: its build, what each sheet yields, what one costs, what it should sell for.

Everything on the design page comes from one :class:`Estimate`, so drawing, yield, cost and
price cannot disagree. Nothing here writes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from decimal import Decimal
from fractions import Fraction
from functools import cached_property

from app.core.costing import (
    Carriage,
    ChannelTerms,
    CostSheet,
    MaterialUse,
    Outcome,
    PaperUse,
    cost_sheet,
    outcome,
    show_rate,
    suggested_price,
)
from app.core.cutting.one_sheet.yields import Yield
from app.core.errors import DomainError
from app.core.length import METRE, show_length
from app.core.money import MOST, Currency
from app.core.paper import Piece
from app.core.price_sums import pay_sum, profit_sum, suggested_sum
from app.core.states import SheetKind
from app.core.structures.base import Dims, Role
from app.language import about, say
from app.models import Channel, Offer, Paper, Shop, StockSheet
from app.services.designs.price_book import PriceBook
from app.services.designs.take_off import (
    Choices,
    PaperPiece,
    PartUse,
    TakeOff,
    sheets_to_cut,
    take_off,
    why_not_cut,
)
from app.services.shop.settings import terms
from app.services.shop.wording import capital
from app.services.stock import materials as stock_of
from app.services.stock.ledger import item_key
from app.units import M2, show_quantity, type_quantity


@dataclass(frozen=True)
class SheetOption:
    """One stock sheet for a role: what it yields and what the role's paper costs from it."""

    stock_sheet: StockSheet
    cut: Yield
    price: stock_of.UnitPrice | None
    each: Fraction | None
    """Cost of the pieces of one journal, None without a price or where nothing fits."""

    @property
    def takes(self) -> int:
        """Base units of stock that the sheet cut is: one; of a roll, how high its row is."""
        return self.cut.sheet.height_nm if self.stock_sheet.by_length else 1

    @property
    def said(self) -> str:
        """What the pieces are cut from, in words."""
        if self.stock_sheet.by_length:
            return self.cut.sheet.name
        if self.stock_sheet.kind == SheetKind.HIDE:
            return say("a {hide}", hide=self.cut.sheet.name)
        return say("a {size} sheet", size=self.cut.sheet.name)

    @property
    def sheet_costs(self) -> Fraction | None:
        """What the sheet cut costs, of a roll the row."""
        return self.price.each * self.takes if self.price else None


@dataclass(frozen=True)
class RolePaper(PaperPiece):
    """One kind of piece with its sheets, the cheapest first; ``chosen`` is the one costed."""

    options: tuple[SheetOption, ...]

    @property
    def key(self) -> str:
        """What this kind of piece is known by on a page."""
        return f"{self.role.key}-{self.piece.name}".replace(" ", "-")

    @property
    def chosen(self) -> SheetOption | None:
        """The cheapest sheet with a price, else the one that yields most."""
        return self.options[0] if self.options and self.options[0].cut.best else None

    @property
    def problem(self) -> str | None:
        """Why it costs nothing here, in words; None where it is costed."""
        if self.trouble:
            return about(self.role.label, self.trouble)
        if self.chosen is None or self.chosen.price is None:
            return _not_offered(self.paper.name)
        return None


@dataclass(frozen=True)
class ChannelPrice:
    """The price a channel wants, or why there is none, and what the asked price leaves."""

    channel: Channel
    suggested: Decimal | None
    at_suggested: Outcome | None
    asked: Decimal | None
    at_asked: Outcome | None
    trouble: str | None
    terms: ChannelTerms

    def sums(self, sheet: CostSheet, money: Currency) -> tuple[str, ...]:
        """In words where the suggested price, the profit and the pay for an hour come from."""
        at = self.at_asked or self.at_suggested
        found = []
        if self.suggested is not None:
            found.append(suggested_sum(self.suggested, sheet, self.terms, money))
        if at is not None:
            found += [profit_sum(at, money), pay_sum(at, sheet, money)]
        return tuple(filter(None, found))


@dataclass(frozen=True)
class Estimate(TakeOff):
    """A design in full, made ``batch`` together."""

    shop: Shop
    currency: Currency
    batch: int
    papers: tuple[RolePaper, ...]
    sheet: CostSheet
    weight_mg: Fraction
    missing: tuple[str, ...]
    """What the cost leaves out, in words; empty where it is whole."""
    channels: tuple[Channel, ...] = field(default=(), repr=False)
    asked: Mapping[int, Decimal] = field(default_factory=dict)
    """What the maker asks, by channel."""

    @cached_property
    def prices(self) -> tuple[ChannelPrice, ...]:
        """What it is sold for and what that leaves, in each channel."""
        return tuple(map(self._price, self.channels))

    def price_in(self, channel_id: int) -> ChannelPrice | None:
        """What it is sold for in one channel; None where that is no longer used."""
        return next((self._price(c) for c in self.channels if c.id == channel_id), None)

    def _price(self, channel: Channel) -> ChannelPrice:
        return _channel_price(
            channel, self.shop, self.sheet, self.currency, self.asked.get(channel.id)
        )

    @cached_property
    def advice(self) -> tuple[tuple[str, bool], ...]:
        """The structure's warnings in the shop's unit, and whether each is grave."""
        unit = self.shop.unit
        return tuple((a.say(lambda nm: show_length(nm, unit)), a.grave) for a in self.build.advice)

    @property
    def whole(self) -> bool:
        """Whether every part of the cost is known."""
        return not self.missing

    @property
    def every_paper(self) -> bool:
        """Whether a paper is chosen for every piece."""
        return len(self.papers) == sum(map(len, self.build.pieces.values()))


def work_out(
    book: PriceBook,
    structure_key: str,
    dims: Dims,
    choices: Choices,
    *,
    batch: int | None = None,
    asked: Mapping[int, Decimal] | None = None,
    quantities: Mapping[str, int] | None = None,
    parts: Sequence[PartUse] = (),
) -> Estimate:
    """Work a design out for a batch, at the prices of the book.

    ``choices`` maps roles to papers and materials; ``asked`` maps channels to the price the
    maker asks there, ``quantities`` what roles take that nothing derives. Raises DomainError
    naming the dimension that cannot be built.
    """
    shop, money = book.shop, book.currency
    taken = take_off(book, structure_key, dims, choices, quantities, parts)
    size = shop.batch_size if batch is None else batch
    if not 1 <= size <= 100_000:
        raise DomainError(say("A batch is between 1 and 100 000."), "batch")
    papers, no_paper = _papers(taken, book, size)
    uses = [use for role in papers if (use := _paper_use(role))]
    goods, bought, no_goods = _goods(taken, book, size)
    missing = [*no_paper, *(role.problem for role in papers if role.problem), *no_goods]
    getting_here = _carriage(book, papers, bought)
    sheet = cost_sheet(uses, goods, taken.work, size, book.rates, money, getting_here)
    if sheet.total() >= MOST:
        raise DomainError(
            say(
                "One would cost {cost}, more than this program counts: look for a mistake in the "
                "offers' packs and prices.",
                cost=money.show(sheet.total()),
            )
        )
    return Estimate(
        **{part.name: getattr(taken, part.name) for part in fields(taken)},
        shop=shop, currency=money, batch=size, papers=tuple(papers), sheet=sheet,
        weight_mg=_weight(taken), missing=tuple(missing),
        channels=book.channels, asked=dict(asked or {}),
    )  # fmt: skip


def _papers(taken: TakeOff, book: PriceBook, batch: int) -> tuple[list[RolePaper], list[str]]:
    """Every piece with its paper, and what has none, in words."""
    found: list[RolePaper] = []
    missing: dict[str, str] = {}
    for role, piece in taken.wanted_pieces():
        paper = taken.choices.get(role.key)
        if isinstance(paper, Paper):
            found.append(role_paper(role, paper, piece, book, batch))
        else:
            missing[role.key] = _not_chosen(role.label)
    return found, list(missing.values())


def role_paper(role: Role, paper: Paper, piece: Piece, book: PriceBook, batch: int) -> RolePaper:
    """A piece on every sheet of its paper, the one that costs a whole batch least first.

    What counts is the money for whole packs, as on the buy list; the price of a sheet is then
    that of the packs bought, spoilage included in their number.
    """
    shop = book.shop
    cuts = sheets_to_cut(piece, paper, shop)
    options = _options(cuts, piece, book, batch)
    options.sort(
        key=lambda o: (
            not o.cut.best,
            o.price is None,
            o.price.choice.cost if o.price else 0,
            o.each or 0,
            -o.cut.best,
            o.stock_sheet.id,
        )
    )
    return RolePaper(role, paper, piece, why_not_cut(piece, paper, cuts, shop), tuple(options))


def _options(
    cuts: Iterable[tuple[StockSheet, Yield]], piece: Piece, book: PriceBook, batch: int
) -> list[SheetOption]:
    options: list[SheetOption] = []
    for stock_sheet, cut in cuts:
        price, each = None, None
        if cut.best:
            pieces = piece.count * batch * (1 + Fraction(book.shop.spoilage)) / cut.best
            count = -(-pieces.numerator // pieces.denominator)
            own = book.own.get(item_key(stock_sheet))
            takes = SheetOption(stock_sheet, cut, None, None).takes
            if not stock_sheet.retired:
                price = stock_of.price_for(stock_sheet, count * takes, book.on, own)
            each = price.each * takes * piece.count / cut.best if price else None
        options.append(SheetOption(stock_sheet, cut, price, each))
    return options


def _paper_use(role: RolePaper) -> PaperUse | None:
    chosen = role.chosen
    if role.trouble or chosen is None or chosen.sheet_costs is None:
        return None
    named = role.piece.named(role.piece.count)
    return PaperUse(
        f"{capital(named)}, {role.paper.name}",
        named,
        role.piece.count,
        chosen.cut.best,
        chosen.cut.sheet.name,
        chosen.sheet_costs,
        "" if chosen.stock_sheet.kind == SheetKind.SHEET else chosen.said,
    )


def _goods(
    taken: TakeOff, book: PriceBook, batch: int
) -> tuple[list[MaterialUse], list[_Bought], list[str]]:
    """What each material costs, how much of which offer is bought for one, and what is missing."""
    shop, money = book.shop, book.currency
    found: list[MaterialUse] = []
    bought: list[_Bought] = []
    missing: list[str] = []
    for taking in taken.materials():
        material = taking.material
        if material is None:
            missing.append(_not_chosen(taking.label))
            continue
        waste = Fraction(material.waste)
        each_takes = Fraction(taking.amount, batch if taking.once else 1)
        exact = each_takes * batch * (1 + waste)
        own = book.own.get(item_key(material))
        price = stock_of.price_for(material, -(-exact.numerator // exact.denominator), book.on, own)
        if price is None:
            missing.append(_not_offered(material.name))
            continue
        bought.append(_Bought(material.name, price.offer, each_takes * (1 + waste)))
        pack = show_quantity(price.offer.pack_quantity, material.measure, shop.unit)
        each = (
            say("{price} each", price=show_rate(price.each, money))
            if material.measure == "count"
            else say("{price} for {pack}", price=money.show(price.choice.pack_price), pack=pack)
        )
        show = type_quantity if taking.typed else show_quantity
        shown = show(taking.amount, material.measure, shop.unit)
        if taking.once:
            shown = say("{amount} ÷ {batch} in the batch", amount=shown, batch=batch)
        found.append(
            MaterialUse(
                f"{taking.label}, {material.name}" if taking.typed else material.name,
                each_takes, waste, price.each, shown, each,
            )
        )  # fmt: skip
    return found, bought, missing


def _not_chosen(role: str) -> str:
    return say("{role}: none chosen yet.", role=role)


def _not_offered(name: str) -> str:
    return say("{name}: nobody offers it yet, so it costs nothing here.", name=name)


@dataclass(frozen=True)
class _Bought:
    """How many base units of an offer go into one journal."""

    label: str
    offer: Offer
    amount: Fraction


def _carriage(
    book: PriceBook, papers: Iterable[RolePaper], bought: Iterable[_Bought]
) -> list[Carriage]:
    """What it costs to get the materials of one journal here, where that is known."""
    sheets = [
        _Bought(
            role.paper.name,
            chosen.price.offer,
            Fraction(role.piece.count * chosen.takes, chosen.cut.best),
        )
        for role in papers
        if (chosen := role.chosen) and chosen.price
    ]
    return [
        Carriage(b.label, b.amount * each)
        for b in (*sheets, *bought)
        if (each := book.carriage(b.offer))
    ]


def _weight(taken: TakeOff) -> Fraction:
    """Milligrams of one: its paper, and every material by the metre, the piece or as it is.

    What is used once for a batch is not in it.
    """
    total = taken.build.paper_weight_mg(taken.facts)
    for taking in taken.materials():
        material, amount = taking.material, taking.amount
        if material is None or taking.once:
            continue
        if material.measure == "length":
            total += Fraction(amount, METRE) * material.weight_mg
        elif material.measure == "count":
            total += amount * material.weight_mg
        elif material.measure == "area":
            total += Fraction(amount, M2) * material.weight_mg
        elif material.measure == "mass":
            total += amount
    return total


def _channel_price(
    channel: Channel, shop: Shop, sheet: CostSheet, money: Currency, asked: Decimal | None
) -> ChannelPrice:
    deal = terms(channel, shop.tax)
    at_asked = outcome(asked, sheet, deal, money) if asked is not None else None
    try:
        wanted = suggested_price(sheet.total(), deal, money)
    except DomainError as error:
        return ChannelPrice(channel, None, None, asked, at_asked, error.message, deal)
    at_wanted = outcome(wanted, sheet, deal, money)
    return ChannelPrice(channel, wanted, at_wanted, asked, at_asked, None, deal)
