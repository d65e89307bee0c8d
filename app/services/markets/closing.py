"""Closing a market: what came home, what the cash box says, and what the day earned.

Every figure is a sum of rows that are shown: sales, movements, and what the maker typed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.invoicing import tax_within
from app.core.money import currency, half_up, to_minor
from app.core.states import FOR_NOTHING, MovementKind, PaidHow
from app.dates import whole_day
from app.db import as_kept
from app.language import say
from app.models import Batch, Lot, Market, Movement, Sale, SaleLine, Variant
from app.services.markets.stall import begun_tills, listed, paid_sales, sold_at
from app.services.shop.settings import check_version, the_shop
from app.services.stock import ledger as stock

WHOLE = Decimal(1)


@dataclass(frozen=True)
class Counted:
    """What the maker says at the end of the day; None where it was not said."""

    home: Mapping[int, int]
    float_cash: Decimal = Decimal(0)
    cash: Decimal | None = None
    card_fees: Decimal | None = None
    stall_minutes: Decimal = Decimal(0)
    travel_minutes: Decimal = Decimal(0)


@dataclass(frozen=True)
class Home:
    """A journal after the day: packed, sold, given away, expected home, counted, lost."""

    variant: Variant
    packed: int
    sold: int
    expected: int
    home: int | None

    @property
    def lost(self) -> int:
        """How many are missing."""
        return 0 if self.home is None else max(self.expected - self.home, 0)


def coming_home(session: Session, market: Market) -> list[Home]:
    """Each journal of the list with what should be in the boxes still."""
    sold = sold_at(session, [market])[market.id]
    here, lost = stock.holdings(session), lost_at(session, market)
    rows = []
    for line in listed(session, market):
        number = sold.get(line.variant_id, 0)
        held = here.get(stock.item_key(line.variant))
        gone = lost.get(line.variant_id, 0)
        if line.home is not None:
            # What was there then, whatever has become of it since.
            packed = line.home + gone + number
        else:
            # No more was packed than was there.
            there = (held.quantity if held else 0) + gone + number
            packed = min(line.packed or line.take, there)
        rows.append(Home(line.variant, packed, number, max(packed - number, 0), line.home))
    return rows


def lost_at(session: Session, market: Market) -> dict[int, int]:
    """How many of each variant were written off as lost at a market, by its id."""
    rows = session.execute(
        select(Lot.variant_id, func.sum(-Movement.quantity))
        .join(Movement.lot)
        .where(
            Movement.market_id == market.id, Movement.kind == MovementKind.COUNTED,
            stock.still_stands(),
        )
        .group_by(Lot.variant_id)
    )  # fmt: skip
    return {variant or 0: int(quantity) for variant, quantity in rows}


def close_market(
    session: Session, market: Market, counted: Counted, on: date, version: int | None = None
) -> None:
    """Write down what came home and what the day took; what is missing leaves the shelf."""
    check_version(market, version)
    if market.closed_on is not None:
        raise DomainError(say("This market is closed already."))
    if on < market.ends:
        raise DomainError(say("This market goes on until {day}.", day=whole_day(market.ends)))
    if begun_tills(session, market):
        raise DomainError(
            say("A sale is begun and not paid: finish it at the stall, or rub it out.")
        )
    rows = {row.variant.id: row for row in coming_home(session, market)}
    for line in market.lines:
        row, home = rows[line.variant_id], counted.home.get(line.variant_id)
        if home is None:
            continue
        if not 0 <= home <= row.expected:
            raise DomainError(
                say(
                    "Between 0 and {most} can have come home, by what was packed and sold.",
                    most=row.expected,
                ),
                f"home-{line.variant_id}",
            )
        line.home = home
        if row.expected - home:
            stock.take_to_market(
                session, line.variant, row.expected - home, MovementKind.COUNTED, market.id,
                market.ends, say("Lost at {market}", market=market.name),
            )  # fmt: skip
    market.closed_on = on
    market.fee_rate, market.fixed_fee = market.channel.fee_rate, market.channel.fixed_fee
    market.float_cash, market.cash_counted = counted.float_cash, counted.cash
    market.card_fees = counted.card_fees
    market.stall_minutes, market.travel_minutes = counted.stall_minutes, counted.travel_minutes
    session.flush()


def open_again(session: Session, market: Market, version: int | None = None) -> None:
    """Undo the closing: what was lost is on the shelf again, and sales can be written down."""
    check_version(market, version)
    if market.closed_on is None:
        raise DomainError(say("This market is open."))
    lost = select(Movement).where(
        Movement.market_id == market.id, Movement.kind == MovementKind.COUNTED, stock.still_stands()
    )
    note = say("{market} opened again", market=market.name)
    for movement in list(session.scalars(lost)):
        stock.reverse(session, movement, note, together=True)
    for line in market.lines:
        line.home = None
    market.closed_on = market.fee_rate = market.fixed_fee = None
    session.flush()


@dataclass(frozen=True)
class Earned:
    """What a market came to, line by line; money to the minor unit, hours as minutes."""

    taken: Decimal
    by_how: Mapping[PaidHow, Decimal]
    tax: Decimal
    fees: Decimal
    fees_billed: bool
    materials: Decimal
    lost: Decimal
    share: Decimal
    """What the organiser takes of the takings."""
    cash_off: Decimal
    """How much more than it should hold the cash box had; below nothing, less."""
    day: Decimal
    bench_minutes: Decimal
    stall_minutes: Decimal
    travel_minutes: Decimal
    pieces: int
    for_nothing: int
    """Given away or swapped."""

    @property
    def over(self) -> Decimal:
        """What is left for the hours: takings less tax, fees, materials, losses and the day."""
        return (
            self.taken + self.cash_off - self.tax - self.fees - self.materials - self.lost
            - self.share - self.day
        )  # fmt: skip

    @property
    def minutes(self) -> Decimal:
        """All hours behind it: at the bench, at the stall, on the way."""
        return self.bench_minutes + self.stall_minutes + self.travel_minutes

    def per_hour(self, digits: int) -> Decimal | None:
        """What an hour of the maker's earned; None where no hours are known."""
        if not self.minutes:
            return None
        exact = Fraction(self.over) * 60 / Fraction(self.minutes)
        return half_up(exact, Decimal(1).scaleb(-digits))


@dataclass(frozen=True)
class MarketMoney:
    """What customers paid at a market, the tax in it, what the channel and the organiser take, and
    how much more or less than it should hold was in the cash box."""

    by_how: Mapping[PaidHow, Decimal]
    tax: Decimal
    fees: Decimal
    share: Decimal
    cash_off: Decimal

    @property
    def taken(self) -> Decimal:
        """All that customers paid."""
        return sum(self.by_how.values(), Decimal(0))


def money_of(session: Session, markets: Iterable[Market]) -> dict[int, MarketMoney]:
    """The money of some markets, by their ids."""
    shop = the_shop(session)
    money = currency(shop.currency)
    every = {market.id: market for market in markets}
    taken: dict[int, dict[PaidHow, Decimal]] = {
        n: dict.fromkeys(PaidHow, Decimal(0)) for n in every
    }
    tax, with_fee = dict.fromkeys(every, Decimal(0)), dict.fromkeys(every, 0)
    for market_id, how, rate, total in _sale_totals(session, every):
        taken[market_id][how] += total
        tax[market_id] += tax_within(total, shop.tax if rate is None else rate, money)
        with_fee[market_id] += 1 if total and how == PaidHow.CARD else 0
    found = {}
    for number, market in every.items():
        all_of_it = sum(taken[number].values(), Decimal(0))
        fees = market.card_fees
        if fees is None:
            rate, each = market.fee_rate, market.fixed_fee
            if rate is None or each is None:
                rate, each = market.channel.fee_rate, market.channel.fixed_fee
            # Nobody takes a share of cash.
            by_card = taken[number][PaidHow.CARD]
            fees = to_minor(by_card * rate + with_fee[number] * each, money)
        share = to_minor(all_of_it * market.fee_share, money)
        off = Decimal(0)
        if market.cash_counted is not None:
            off = market.cash_counted - market.float_cash - taken[number][PaidHow.CASH]
        found[number] = MarketMoney(taken[number], tax[number], fees, share, off)
    return found


def _sale_totals(
    session: Session, numbers: Collection[int]
) -> Iterator[tuple[int, PaidHow, Decimal | None, Decimal]]:
    """Market, how paid, tax rate and total of every sale that stands."""
    rows = session.execute(
        select(
            Sale.market_id, Sale.how, Sale.tax_rate,
            func.sum(SaleLine.quantity * as_kept(SaleLine.unit_price)),
        )
        .join(SaleLine, SaleLine.sale_id == Sale.id)
        .where(
            Sale.market_id.in_(numbers), Sale.paid_at.is_not(None), Sale.undone_at.is_(None)
        )
        .group_by(Sale.id, Sale.market_id, Sale.how, Sale.tax_rate)
        .order_by(Sale.id)
    )  # fmt: skip
    for market_id, how, rate, total in rows:
        yield market_id, how or PaidHow.OTHER, rate, Decimal(int(total)).scaleb(-4)


def earned(session: Session, market: Market) -> Earned:
    """What a market came to so far."""
    money = currency(the_shop(session).currency)
    took = money_of(session, [market])[market.id]
    sales = paid_sales(session, market)
    sold = _left(session, market, MovementKind.SOLD)
    lost = _left(session, market, MovementKind.COUNTED)
    return Earned(
        taken=took.taken, by_how=took.by_how, tax=took.tax, fees=took.fees,
        fees_billed=market.card_fees is not None,
        materials=to_minor(sold.cost - sold.work, money), lost=to_minor(lost.cost, money),
        share=took.share, day=market.stall_fee + market.travel, bench_minutes=sold.minutes,
        stall_minutes=market.stall_minutes, travel_minutes=market.travel_minutes,
        pieces=sum(sale.pieces for sale in sales if sale.how not in FOR_NOTHING),
        for_nothing=sum(sale.pieces for sale in sales if sale.how in FOR_NOTHING),
        cash_off=took.cash_off,
    )  # fmt: skip


@dataclass(frozen=True)
class _Left:
    """What left the shelf at a market: its cost, the work in it, and the minutes behind that."""

    cost: Decimal
    work: Decimal
    minutes: Decimal


def _left(session: Session, market: Market, kind: MovementKind) -> _Left:
    """Work and minutes are those of the batch that each came out of, by its share of the cost."""
    rows = session.execute(
        select(Movement.cost, Lot.batch_id)
        .join(Movement.lot)
        .where(Movement.market_id == market.id, Movement.kind == kind, stock.still_stands())
    ).all()
    shares = work_in(session, {number for _, number in rows if number is not None})
    cost, work, minutes = Decimal(0), Fraction(0), Fraction(0)
    for amount, number in rows:
        cost -= amount
        if number is not None:
            part, worked = shares[number]
            work += Fraction(-amount) * part
            minutes += Fraction(-amount) * worked
    return _Left(cost, half_up(work, stock.STEP), half_up(minutes, WHOLE))


def work_in(session: Session, numbers: Collection[int]) -> dict[int, tuple[Fraction, Fraction]]:
    """Of each unit of cost that came out of some batches: how much was work, and its minutes."""
    came_out = session.execute(
        select(Movement.batch_id, func.sum(Movement.cost))
        .where(Movement.batch_id.in_(numbers), Movement.kind == MovementKind.MADE)
        .group_by(Movement.batch_id)
    )
    good = {number or 0: cost for number, cost in came_out}
    found: dict[int, tuple[Fraction, Fraction]] = {}
    for batch in session.scalars(select(Batch).where(Batch.id.in_(numbers))):
        whole = Fraction(good.get(batch.id, Decimal(0)) + (batch.spoiled_cost or Decimal(0)))
        work, minutes = Fraction(batch.work_cost or 0), Fraction(batch.minutes or 0)
        found[batch.id] = (work / whole, minutes / whole) if whole else (Fraction(0), Fraction(0))
    return found
