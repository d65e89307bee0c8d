"""Where sheets of a paper come from: here, offcuts, on their way, and every supplier's offer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from app.core.cutting.model import Break, SheetOffer
from app.core.length import show_size
from app.core.money import Currency, half_up
from app.core.paper import Sheet
from app.core.planning.paper_answer import PaperAnswer
from app.core.states import SheetKind
from app.language import say, say_list, say_many
from app.models import Offer, Paper, StockSheet
from app.services.planning.making_days import days_to_have
from app.services.planning.requirements import Needs
from app.services.planning.supply import Coming
from app.services.stock.ledger import item_key
from app.services.stock.materials import offers_with, sheet_said
from app.services.stock.offcuts import Offcut
from app.units import show_quantity


@dataclass(frozen=True)
class Source:
    """Where a sheet comes from: a supplier's offer, or what is here or on its way already."""

    stock_sheet: StockSheet
    offer: Offer | None
    label: str
    coming: Coming | None = None
    offcut: Offcut | None = None
    length: Offcut | None = None
    """The lot of a length off a roll."""
    offer_days: int = 0
    """Days until what its offer gives is here."""

    @property
    def what(self) -> str:
        """What one of its sheets is called."""
        if self.offcut is not None:
            return "sheet"
        return {SheetKind.ROLL: "length", SheetKind.HIDE: "hide"}.get(
            self.stock_sheet.kind, "sheet"
        )

    @property
    def here(self) -> bool:
        """Whether its sheets are here already."""
        return self.offer is None and self.coming is None

    @property
    def state(self) -> str:
        """``in stock``, ``on its way``, ``drafted`` or ``to buy``."""
        if self.offer is not None:
            return "to buy"
        if self.coming is None:
            return "in stock"
        return "drafted" if self.coming.drafted else "on its way"

    def days(self, on: date) -> int:
        """Days until its sheets are here; none for what is here already."""
        if self.offer is not None:
            return self.offer_days
        return (self.coming.expected_on - on).days if self.coming else -1


ByKey = dict[str, Source]
"""What a cutting offer's key stands for."""


def sheet_offers(
    found: Needs, paper: Paper, on: date, money: Currency
) -> tuple[list[SheetOffer], ByKey]:
    """Each size on hand as sheets that cost no money, and every supplier's offer of it.

    Also what each offer's key stands for.
    """
    offers: list[SheetOffer] = []
    by_key: ByKey = {}
    for stock_sheet in paper.sheets:
        sheet = stock_sheet.as_sheet(_size_said(stock_sheet, found.shop.unit))
        key = item_key(stock_sheet)
        here = found.there(key)
        current = [] if stock_sheet.retired else offers_with(stock_sheet, on, found.own.get(key))
        for length in found.lengths.get(stock_sheet.id, ()):
            way = f"length-{length.lot.id}"
            worth = Fraction(length.cost) / length.quantity * 10**money.digits
            offers.append(SheetOffer(way, sheet, on_hand=length.quantity, limit=0, value=worth))
            by_key[way] = Source(stock_sheet, None, say("a length in stock"), length=length)
        if here > 0 and not stock_sheet.by_length:
            # Of one size what is here goes first, whatever it cost: it is here in time.
            worth = Fraction(found.stock[key].cost) / here
            unit_prices = (Fraction(min(o.prices.values())) / o.pack_quantity for o in current)
            worth = min(worth, *unit_prices, worth) * 10**money.digits
            offers.append(SheetOffer(key, sheet, on_hand=here, limit=0, value=worth))
            by_key[key] = Source(stock_sheet, None, say("in stock"))
        for number, coming in enumerate(found.coming.get(key, ())):
            way = f"{key}/coming-{number}"
            worth = Fraction(coming.cost) / coming.quantity * 10**money.digits
            offers.append(SheetOffer(way, sheet, on_hand=coming.quantity, limit=0, value=worth))
            by_key[way] = Source(stock_sheet, None, _coming_said(coming), coming)
        for offcut in found.offcuts.get(stock_sheet.id, ()):
            way = f"offcut-{offcut.lot.id}"
            rest = offcut_as_sheet(offcut, found.shop.unit)
            worth = Fraction(offcut.cost) / offcut.quantity * 10**money.digits
            offers.append(SheetOffer(way, rest, on_hand=offcut.quantity, limit=0, value=worth))
            by_key[way] = Source(stock_sheet, None, say("an offcut in stock"), offcut=offcut)
        for offer in current:
            breaks = tuple(
                Break(least, int(half_up(price.scaleb(money.digits), Decimal(1))))
                for least, price in sorted(offer.prices.items())
            )
            offer_key = f"{key}/offer-{offer.id}"
            worth = Fraction(breaks[0].price, offer.pack_quantity)
            offers.append(SheetOffer(offer_key, sheet, offer.pack_quantity, breaks, value=worth))
            days = days_to_have(found, offer, stock_sheet, on)
            by_key[offer_key] = Source(stock_sheet, offer, offer.supplier.name, offer_days=days)
    return offers, by_key


def _size_said(sheet: StockSheet, unit: str) -> str:
    """A size as it is bought; of a hide the area alone, since it is said what it is."""
    if sheet.kind == SheetKind.HIDE and sheet.hide_area:
        return show_quantity(sheet.hide_area, "area", unit)
    return sheet_said(sheet, unit)


def _coming_said(coming: Coming) -> str:
    if coming.drafted:
        return say("{origin}, drafted, not sent yet", origin=coming.said)
    return say("{origin}, on its way", origin=coming.said)


def offcut_as_sheet(offcut: Offcut, unit: str) -> Sheet:
    """An offcut as a sheet of its own, its grain along the same side as its parent's."""
    width, height = offcut.sides
    parent = offcut.lot.stock_sheet
    return Sheet(
        say("offcut {size}", size=show_size(width, height, unit)), width, height,
        parent.grain if parent else None, pattern_up=bool(parent and parent.pattern_up),
        reach_nm=parent.reach_nm if parent else None,
    )  # fmt: skip


def sheets_said(by_state: Mapping[str, int], made: int = 0, what: str = "sheet") -> str:
    """How many of the sheets cut are in which state, in a sentence; those to buy apart.

    ``by_state`` counts sheets by :attr:`Source.state`; so many of those to buy are ``made`` here.
    """
    total = sum(by_state.values())
    states = dict(by_state) | {"to make": made}
    states["to buy"] = states.get("to buy", 0) - made
    have = {state: n for state, n in states.items() if n}
    if set(have) <= {"in stock"}:
        return _all_in_stock(total, what)
    said = (_in_state(state, have[state]) for state in _STATES if state in have)
    return _of_all(total, what, say_list(list(said)))


def what_is_cut(answer: PaperAnswer) -> str:
    """What a plan cuts up, in a word: sheets, lengths off a roll, hides, or several of them."""
    kinds = {answer.problem.by_key[cut.source].what for cut in answer.cuts}
    return kinds.pop() if len(kinds) == 1 else "piece" if kinds else "sheet"


_STATES = ("in stock", "on its way", "drafted", "to buy", "to make")


def _in_state(state: str, n: int) -> str:
    match state:
        case "in stock":
            return say_many(n, "{n} is in stock", "{n} are in stock")
        case "on its way":
            return say_many(n, "{n} is on the way", "{n} are on the way")
        case "drafted":
            return say_many(
                n, "{n} is drafted and not sent yet", "{n} are drafted and not sent yet"
            )
        case "to buy":
            return say_many(n, "{n} is still to buy", "{n} are still to buy")
    return say_many(n, "{n} is to be made here first", "{n} are to be made here first")


def _all_in_stock(n: int, what: str) -> str:
    match what:
        case "length":
            return say_many(
                n, "The one length cut is in stock.", "All {n} lengths cut are in stock."
            )
        case "hide":
            return say_many(n, "The one hide cut is in stock.", "All {n} hides cut are in stock.")
        case "piece":
            return say_many(n, "The one piece cut is in stock.", "All {n} pieces cut are in stock.")
    return say_many(n, "The one sheet cut is in stock.", "All {n} sheets cut are in stock.")


def _of_all(n: int, what: str, parts: str) -> str:
    match what:
        case "length":
            return say_many(
                n, "Of {n} length cut {parts}.", "Of {n} lengths cut {parts}.", parts=parts
            )
        case "hide":
            return say_many(n, "Of {n} hide cut {parts}.", "Of {n} hides cut {parts}.", parts=parts)
        case "piece":
            return say_many(
                n, "Of {n} piece cut {parts}.", "Of {n} pieces cut {parts}.", parts=parts
            )
    return say_many(n, "Of {n} sheet cut {parts}.", "Of {n} sheets cut {parts}.", parts=parts)
