"""What templates need to say lengths, money, dates and references in the shop's own way."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import uuid4

from flask import Flask, url_for
from markupsafe import Markup

from app import dates
from app.core.costing import show_minutes
from app.core.length import measured_up, plain_decimal, show_length, show_size, type_length
from app.core.money import currency, to_minor
from app.core.numbers import styled
from app.core.paper import Piece
from app.core.states import SheetKind
from app.core.structures.drivers import many_of
from app.language import say, say_many
from app.models import Lot, Market, Material, StockSheet, Variant
from app.services.stock.ledger import item_key, thing_of
from app.services.stock.materials import sheet_said
from app.units import show_quantity
from app.web.frame import session

PAGES = {
    "order": ("orders.one", "order_id"),
    "market": ("markets.one", "market_id"),
    "journal": ("journals.one", "journal_id"),
    "purchase": ("purchases.one", "purchase_id"),
    "batch": ("batches.one", "batch_id"),
}


CUT_FROM: dict[str, Callable[[int], str]] = {
    SheetKind.SHEET: lambda n: say_many(n, "{n} sheet", "{n} sheets"),
    SheetKind.ROLL: lambda n: say_many(n, "{n} roll", "{n} rolls"),
    SheetKind.HIDE: lambda n: say_many(n, "{n} hide", "{n} hides"),
    "length": lambda n: say_many(n, "{n} length", "{n} lengths"),
    "offcut": lambda n: say_many(n, "{n} offcut", "{n} offcuts"),
}


def length(nm: int) -> str:
    """A length in the shop's unit."""
    return show_length(nm, session.shop().unit)


def cut_length(nm: int) -> str:
    """A length of thread or cord as a person measures it, in the shop's unit."""
    unit = session.shop().unit
    return show_length(measured_up(nm, unit), unit)


def typed_length(nm: int) -> str:
    """A length as it would be typed, exact."""
    return type_length(nm, session.shop().unit)


def bare_length(nm: int) -> str:
    """A length for a drawing, where the unit is said beside it."""
    return length(nm).removesuffix(" mm").removesuffix(" in")


def size(width_nm: int, height_nm: int) -> str:
    """Width × height in the shop's unit."""
    return show_size(width_nm, height_nm, session.shop().unit)


def money(amount: Decimal) -> str:
    """An amount with its sign."""
    return currency(session.shop().currency).show(amount)


def minutes_said(minutes: Fraction) -> str:
    """More or fewer minutes, to the tenth, in a sentence."""
    tenths = round(minutes * 10)
    if not tenths:
        return say("as many minutes")
    whole, part = divmod(abs(tenths), 10)
    much = f"{whole}" + (f".{part}" if part else "")
    if tenths < 0:
        return say("{much} min less", much=much)
    return say("{much} min more", much=much)


def pages_said(pages: int) -> str:
    """More or fewer pages, in a sentence."""
    if not pages:
        return say("as many pages")
    if pages < 0:
        return say_many(-pages, "{n} page fewer", "{n} pages fewer")
    return say_many(pages, "{n} page more", "{n} pages more")


def signed_money(amount: Decimal) -> str:
    """An amount with its sign of more or less."""
    shown = money(abs(amount))
    return f"{'+' if amount > 0 else '−' if amount < 0 else '±'}{shown}"


def figure(amount: Decimal) -> str:
    """An amount for a column that names the currency at its head."""
    return currency(session.shop().currency).figure(amount)


def rounded(amount: Decimal | Fraction) -> str:
    """An exact amount for a column, rounded once to the minor unit."""
    money_of = currency(session.shop().currency)
    return money_of.figure(to_minor(amount, money_of))


def hundredths(number: Fraction) -> str:
    """A number to two decimals at the most, in the shop's style."""
    return styled(plain_decimal(number, 2))


def rounded_money(amount: Decimal | Fraction) -> str:
    """An exact amount with its sign, rounded once to the minor unit."""
    money_of = currency(session.shop().currency)
    return money_of.show(to_minor(amount, money_of))


def yearly(amount: float) -> str:
    """A reckoning of money in a year, which no document carries, to the minor unit."""
    return rounded_money(Fraction(amount))


def plain(value: Decimal) -> str:
    """A plain number without trailing zeros."""
    return styled(plain_decimal(value, 4))


def tenth(value: Decimal) -> str:
    """A plain number to a tenth."""
    return styled(plain_decimal(value, 1))


def day(value: date, today: date | None = None) -> str:
    """``Thu 3 Dec``, with the year where it is not this one."""
    now = today or session.today()
    return dates.weekday_and_day(value, year=value.year != now.year)


def moment(value: datetime) -> str:
    """An instant in the maker's own time."""
    local = value.astimezone()
    return f"{day(local.date())} {local:%H:%M}"


def when(value: date) -> str:
    """How far off a day is, in words."""
    days = (value - session.today()).days
    near = {0: say("today"), 1: say("tomorrow"), -1: say("yesterday")}
    if days in near:
        return near[days]
    far, weeks = abs(days), round(abs(days) / 7)
    if far < 14:
        coming = say_many(far, "in {n} day", "in {n} days")
        return coming if days > 0 else say_many(far, "{n} day ago", "{n} days ago")
    coming = say_many(weeks, "in {n} week", "in {n} weeks")
    return coming if days > 0 else say_many(weeks, "{n} week ago", "{n} weeks ago")


def percent(share: Fraction | Decimal | None, places: int = 0) -> str:
    """A share as per cent."""
    if share is None:
        return "–"
    hundredths = styled(plain_decimal(Fraction(share) * 100, places)).replace("-", "−")
    return say("{number}%", number=hundredths)


def sheets_of(number: int, what: str) -> str:
    """So many of what paper is cut from."""
    return CUT_FROM[what](number)


def quantity(amount: int, item: StockSheet | Material | Variant) -> str:
    """A quantity of a thing in stock, in its own unit."""
    if isinstance(item, StockSheet) and not item.by_length:
        return sheets_of(amount, item.kind)
    if isinstance(item, Variant):
        return f"{amount}"
    return show_quantity(amount, item.measure, session.shop().unit)


def lot_quantity(amount: int, lot: Lot) -> str:
    """A quantity of a lot: offcuts are counted, whatever they are of."""
    if lot.offcut_width_nm is not None:
        return sheets_of(amount, "offcut")
    return quantity(amount, thing_of(lot))


def rate(amount: float, item: StockSheet | Material) -> str:
    """A mean quantity of a thing in stock; what is counted is shown to a tenth."""
    tenths = styled(f"{amount:.1f}")
    if isinstance(item, StockSheet) and not item.by_length:
        if item.kind == SheetKind.HIDE:
            return say("{tenths} hides", tenths=tenths)
        return say("{tenths} sheets", tenths=tenths)
    if item.measure == "count":
        return tenths
    return quantity(round(amount), item)


def of_measure(amount: int, measure: str) -> str:
    """A quantity by its measure."""
    return show_quantity(amount, measure, session.shop().unit)


def item_name(item: StockSheet | Material | Variant) -> str:
    """The name of a thing in stock."""
    if isinstance(item, StockSheet):
        return f"{item.paper.name}, {sheet_size(item)}"
    return item.full_name if isinstance(item, Variant) else item.name


def sheet_size(sheet: StockSheet) -> str:
    """A size as it is bought: a sheet's sides, a roll's width, a hide."""
    return sheet_said(sheet, session.shop().unit)


def market_days(market: Market) -> str:
    """The day of a market, or its first and last one."""
    first = day(market.day)
    if not market.last_day:
        return first
    return say("{first} to {last}", first=first, last=day(market.ends))


def ref_url(link: str) -> str:
    """The page behind a reference such as ``order-12``."""
    kind, _, number = link.partition("-")
    if kind in ("sheet", "material"):
        return url_for("stockroom.item", key=link)
    endpoint, argument = PAGES[kind]
    values: dict[str, Any] = {argument: int(number)}
    return url_for(endpoint, **values)


def grams(weight_mg: Fraction) -> str:
    """A weight to the gram."""
    return f"{round(weight_mg / 1000)} g"


def piece_names(pieces: Mapping[str, Piece]) -> dict[str, str]:
    """What to call each kind of piece, by its key: by its size as well where two share a name."""
    names = [piece.name for piece in pieces.values()]
    return {
        key: piece.named(1) if names.count(piece.name) == 1 else _sized(piece)
        for key, piece in pieces.items()
    }


def _sized(piece: Piece) -> str:
    return f"{piece.named(1)} {bare_length(piece.width_nm)}×{bare_length(piece.height_nm)}"


def register(app: Flask) -> None:
    """Make them filters and globals."""
    for function in (
        size, money, minutes_said, pages_said, signed_money, figure, day, moment, when, percent,
        quantity, lot_quantity,
        rate, of_measure,
        item_name, sheet_size, ref_url, grams, item_key, bare_length, cut_length, typed_length,
        rounded, rounded_money, market_days, hundredths, plain, tenth, yearly, sheets_of, many_of,
        dates.whole_day, dates.short_day, dates.long_day, dates.day_of_year, dates.month,
    ):  # fmt: skip
        app.jinja_env.filters[function.__name__] = function
    # Not by its own name, which Jinja has given to counting.
    app.jinja_env.filters["measured"] = length
    app.jinja_env.filters["minutes"] = show_minutes
    app.jinja_env.filters["ident"] = id
    app.jinja_env.globals.update(
        fresh_key=lambda: uuid4().hex, today=session.today, shop=session.shop, size=size,
        Markup=Markup, currency_sign=lambda: currency(session.shop().currency).sign.strip(),
    )  # fmt: skip
