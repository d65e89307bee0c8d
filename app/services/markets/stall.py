"""Selling at a stall: a tally of strokes that is written down as it is made.

A stroke is kept at once, so nothing is lost by a phone that goes dark; what is paid takes its
number and leaves the shelf in the same transaction. The same sheet is filled in afterwards from a
tally on paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload, selectinload

from app.core.errors import DomainError
from app.core.money import currency
from app.core.states import FOR_NOTHING, MovementKind, PaidHow
from app.language import say
from app.models import (
    Design,
    Market,
    MarketLine,
    Movement,
    Sale,
    SaleDraw,
    SaleLine,
    Variant,
)
from app.services.shop.settings import next_number, the_shop
from app.services.stock import ledger as stock

MOST_STROKES = 1000
"""Of one journal in one sale."""
_NAMED = (joinedload(Variant.design).joinedload(Design.journal), selectinload(Variant.prices))
_WITH_LINES = (selectinload(Sale.lines).joinedload(SaleLine.variant).options(*_NAMED),)
"""Names and prices of all journals at once, however many there are."""


@dataclass(frozen=True)
class StallRow:
    """A journal on the sheet: what it costs here, how many are paid, begun, and left."""

    variant: Variant
    price: Decimal | None
    paid: int
    begun: int
    left: int


@dataclass(frozen=True)
class StallSheet:
    """The tally of a market: its rows, the sale that is begun, and what was paid so far."""

    rows: tuple[StallRow, ...]
    begun: Sale | None
    last: Sale | None
    pieces: int
    taken: Decimal


def listed(session: Session, market: Market) -> list[MarketLine]:
    """The lines of a market's list with their journals, by name."""
    query = (
        select(MarketLine)
        .where(MarketLine.market_id == market.id)
        .options(joinedload(MarketLine.variant).options(*_NAMED))
    )
    return sorted(session.scalars(query), key=lambda line: line.variant.full_name)


def paid_sales(session: Session, market: Market) -> list[Sale]:
    """Sales of a market that stand, in the order they were paid."""
    query = (
        select(Sale)
        .where(Sale.market_id == market.id, Sale.paid_at.is_not(None), Sale.undone_at.is_(None))
        .order_by(Sale.number)
        .options(*_WITH_LINES)
    )
    return list(session.scalars(query))


def begun_sale(session: Session, market: Market, till: str) -> Sale | None:
    """The sale that a browser has begun, where it has."""
    query = (
        select(Sale)
        .where(Sale.market_id == market.id, Sale.till == till, Sale.paid_at.is_(None))
        .options(*_WITH_LINES)
    )
    return session.scalars(query).first()


def sold_at(session: Session, markets: Iterable[Market]) -> dict[int, dict[int, int]]:
    """How many of each variant were sold at each of some markets, by their ids; one question."""
    numbers = [market.id for market in markets]
    rows = session.execute(
        select(Sale.market_id, SaleLine.variant_id, func.sum(SaleLine.quantity))
        .join(SaleLine.sale)
        .where(Sale.market_id.in_(numbers), Sale.paid_at.is_not(None), Sale.undone_at.is_(None))
        .group_by(Sale.market_id, SaleLine.variant_id)
    )
    found: dict[int, dict[int, int]] = {number: {} for number in numbers}
    for market, variant, quantity in rows:
        found[market][variant] = int(quantity)
    return found


def begun_tills(session: Session, market: Market) -> list[str]:
    """The browsers that have begun a sale of a market and not finished it."""
    query = select(Sale.till).where(Sale.market_id == market.id, Sale.paid_at.is_(None))
    return list(session.scalars(query))


def sold_of(sales: Iterable[Sale]) -> dict[int, int]:
    """How many of each variant, by its id."""
    found: dict[int, int] = {}
    for sale in sales:
        for line in sale.lines:
            found[line.variant_id] = found.get(line.variant_id, 0) + line.quantity
    return found


def stall_sheet(session: Session, market: Market, till: str) -> StallSheet:
    """The sheet as a browser sees it: what was packed for the market, and what was sold besides."""
    sales, begun = paid_sales(session, market), begun_sale(session, market, till)
    paid, strokes = sold_of(sales), sold_of([begun] if begun else [])
    lines = listed(session, market)
    taken = {line.variant_id: line for line in lines}
    variants = {line.variant_id: line.variant for line in lines}
    for sale in (*sales, *([begun] if begun else [])):
        variants |= {line.variant_id: line.variant for line in sale.lines}
    here = stock.holdings(session)
    rows = []
    for number, variant in sorted(variants.items(), key=lambda pair: pair[1].full_name):
        held = here.get(stock.item_key(variant))
        on_shelf = held.quantity if held else 0
        packed = on_shelf
        if number in taken:
            packed = (taken[number].packed or taken[number].take) - paid.get(number, 0)
        left = max(min(packed, on_shelf) - strokes.get(number, 0), 0)
        price = price_at(market, variant)
        rows.append(StallRow(variant, price, paid.get(number, 0), strokes.get(number, 0), left))
    total = sum((sale.total for sale in sales), Decimal(0))
    last = _last_of(sales, till)
    pieces = sum(sale.pieces for sale in sales if sale.how not in FOR_NOTHING)
    return StallSheet(tuple(rows), begun, last, pieces, total)


def _last_of(sales: Sequence[Sale], till: str) -> Sale | None:
    return next((sale for sale in reversed(sales) if sale.till == till), None)


def price_at(market: Market, variant: Variant) -> Decimal | None:
    """What a variant is sold for at a market; None where nobody said."""
    return variant.asked_in(market.channel_id)


def _open(market: Market) -> None:
    if market.closed_on is not None:
        raise DomainError(say("This market is closed: open it again to write down a sale."))


def make_stroke(session: Session, market: Market, variant: Variant, till: str) -> Sale:
    """One more of a journal, at the price it has here."""
    _open(market)
    price = price_at(market, variant)
    if price is None:
        raise DomainError(
            say(
                "{journal} has no price here: set one on its page first.", journal=variant.full_name
            )
        )
    sale = begun_sale(session, market, till)
    if sale is None:
        sale = Sale(market=market, till=till)
        session.add(sale)
    line = next((one for one in sale.lines if one.variant_id == variant.id), None)
    wanted = (line.quantity if line else 0) + 1
    if wanted > min(stock.on_hand(session, variant), MOST_STROKES):
        raise DomainError(
            say(
                "By the books there is no other {journal} on the shelf. If there is one, "
                "count it in the stockroom first.",
                journal=variant.full_name,
            )
        )
    if line is None:
        sale.lines.append(SaleLine(variant=variant, quantity=1, unit_price=price))
    else:
        line.quantity = wanted
    session.flush()
    return sale


def rub_out(session: Session, market: Market, variant: Variant, till: str) -> None:
    """One stroke less of a journal that is not paid yet."""
    sale = begun_sale(session, market, till)
    line = next((one for one in sale.lines if one.variant_id == variant.id), None) if sale else None
    if sale is None or line is None:
        raise DomainError(say("There is no stroke to rub out."))
    if line.quantity > 1:
        line.quantity -= 1
    else:
        sale.lines.remove(line)
        if not sale.lines:
            session.delete(sale)
    session.flush()


def ask_other_prices(
    session: Session, market: Market, till: str, prices: Mapping[int, Decimal]
) -> Sale:
    """Let lines of the sale that is begun go for another price each, by their ids."""
    sale = begun_sale(session, market, till)
    if sale is None:
        raise DomainError(say("No sale is begun."))
    for line in sale.lines:
        line.unit_price = prices.get(line.id, line.unit_price)
    session.flush()
    return sale


@dataclass(frozen=True)
class Paid:
    """A sale that was paid; ``back`` is the change to give."""

    sale: Sale
    back: Decimal | None


def take_money(
    session: Session,
    market: Market,
    till: str,
    how: PaidHow,
    at: datetime,
    given: Decimal | None = None,
) -> Paid:
    """Write the begun sale down as paid: it takes its number, and its journals leave the shelf.

    ``given`` is what was handed over. What is given away or swapped goes for nothing.
    """
    _open(market)
    sale = begun_sale(session, market, till)
    if sale is None or not sale.lines:
        raise DomainError(say("No sale is begun: touch what is sold first."))
    if how in FOR_NOTHING:
        for line in sale.lines:
            line.unit_price = Decimal(0)
    if given is not None and given < sale.total:
        money = currency(the_shop(session).currency)
        raise DomainError(
            say(
                "{given} is less than {asked}.",
                given=money.show(given),
                asked=money.show(sale.total),
            ),
            "given",
        )
    sale.number, sale.paid_at, sale.how = next_number(session, "sale"), at, how
    sale.tax_rate = the_shop(session).tax
    session.flush()
    on = min(max(at.astimezone().date(), market.day), market.ends)
    for line in sale.lines:
        _leave_the_shelf(session, market, sale, line, on)
    return Paid(sale, None if given is None else given - sale.total)


def _leave_the_shelf(
    session: Session, market: Market, sale: Sale, line: SaleLine, on: date
) -> None:
    """A sale written down before the market or after it is of its first or last day."""
    taken = stock.take_to_market(
        session, line.variant, line.quantity, MovementKind.SOLD, market.id, on,
        say("Sale {number}, {market}", number=sale.number, market=market.name),
    )  # fmt: skip
    session.add_all(SaleDraw(sale_line_id=line.id, movement_id=one.id) for one in taken)
    session.flush()


def undo_last(session: Session, market: Market, till: str, at: datetime) -> Sale:
    """Undo the newest sale of this browser: its journals are on the shelf again."""
    _open(market)
    sale = _last_of(paid_sales(session, market), till)
    if sale is None:
        raise DomainError(say("There is no sale to undo."))
    draws = (
        select(Movement)
        .join(SaleDraw, SaleDraw.movement_id == Movement.id)
        .join(SaleLine, SaleLine.id == SaleDraw.sale_line_id)
        .where(SaleLine.sale_id == sale.id)
    )
    note = say("Sale {number} undone", number=sale.number)
    for movement in list(session.scalars(draws)):
        stock.reverse(session, movement, note, together=True)
    sale.undone_at = at
    session.flush()
    return sale
