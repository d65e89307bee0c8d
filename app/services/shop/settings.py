"""The shop's settings, channels and times; numbers without gaps; deeds done once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from app.core.costing import ChannelTerms, Rates, overhead_rate
from app.core.errors import DomainError
from app.core.money import currency, to_minor
from app.core.structures import all_operations
from app.language import say, speaking, to_say
from app.models import (
    Channel,
    Deed,
    Lot,
    Market,
    NumberSeries,
    Offer,
    OperationTime,
    Order,
    PostageBand,
    Price,
    Purchase,
    Shop,
)
from app.services.shop.beginnings import usual_settings
from app.services.shop.names import other_named

FIRST_SETTINGS: dict[str, Any] = {
    "name": to_say("My workshop"),
    "currency": "EUR",
    "unit": "mm",
    "pay_per_hour": Decimal("15"),
    "overhead_a_year": Decimal(0),
    "bench_hours_a_year": 500,
    "allowance": Decimal("0.1"),
    "spoilage": Decimal("0.03"),
    "tax": Decimal(0),
}
FIRST_CHANNELS = (
    {"name": to_say("Direct order"), "fee_rate": Decimal(0), "margin": Decimal("0.35"),
     "position": 1},
    {"name": to_say("Market stall"), "fee_rate": Decimal("0.017"), "margin": Decimal("0.35"),
     "price_point": "whole", "position": 2},
    {"name": to_say("Shops, wholesale"), "fee_rate": Decimal(0), "margin": Decimal("0.15"),
     "wholesale": True, "position": 3},
)  # fmt: skip


CHANGED = to_say(
    "This was changed in another window after you opened it. What you typed is still below, and "
    "beside it what is saved now; compare them, then save again."
)


class StaleError(DomainError):
    """Somebody else changed the same thing since the form was opened."""


class AlreadyDoneError(Exception):
    """The deed of this form was done before; ``led_to`` is where it led."""

    def __init__(self, led_to: str) -> None:
        super().__init__(led_to)
        self.led_to = led_to


def prepare_shop(session: Session) -> None:
    """Give a new database its settings, channels and bench week; do nothing to an old one."""
    if session.get(Shop, 1):
        return
    week = dict.fromkeys(("monday", "tuesday", "wednesday", "thursday", "friday"), 120)
    usual = usual_settings()
    with speaking(usual["language"]):
        named = {"name": say(FIRST_SETTINGS["name"])}
        session.add(Shop(id=1, **{**FIRST_SETTINGS, **usual, **named, **week}))
        for row in FIRST_CHANNELS:
            named = {"name": say(str(row["name"]))}
            session.add(Channel(**{"fixed_fee": Decimal(0), "price_point": "any", **row, **named}))
    session.flush()


def the_shop(session: Session) -> Shop:
    """The settings."""
    shop = session.get(Shop, 1)
    if shop is None:
        raise DomainError(say("This database has no shop yet: run “tallyfold upgrade” once."))
    return shop


def check_version(record: Any, version: int | None) -> None:
    """Refuse to save over what changed after the form was opened; a new record has no version."""
    if record is not None and version is not None and record.version != version:
        raise StaleError(say(CHANGED))


def change_settings(session: Session, values: Mapping[str, Any], version: int | None) -> Shop:
    """Keep new settings; amounts already agreed keep theirs."""
    shop = the_shop(session)
    check_version(shop, version)
    new, old = currency(values["currency"]), currency(shop.currency)
    where = _amounts_on_record(session) if new != old else ""
    if where:
        raise DomainError(
            say(
                "{where}: in {new} the same figures would mean other money. Leave the currency at "
                "{old}, or start a new shop for {new}.",
                where=say(where, currency=old.code),
                new=new.code,
                old=old.code,
            ),
            "currency",
        )
    if shop.valuation == "average" and values["valuation"] != "average":
        shop.averaged_up_to = session.scalar(select(func.max(Lot.id)))
    for key, value in values.items():
        setattr(shop, key, value)
    session.flush()
    return shop


def _amounts_on_record(session: Session) -> str:
    """Where money is written down already, in words to be said; empty where nowhere."""
    for table, words in _WITH_AMOUNTS.items():
        if session.scalar(select(table.id).limit(1)) is not None:
            return words
    return _FEES if session.scalar(_WITH_FEE) is not None else ""


_WITH_AMOUNTS: dict[Any, str] = {
    Order: to_say("Orders are on record in {currency} already"),
    Lot: to_say("Stock is on record in {currency} already"),
    Price: to_say("Prices are on record in {currency} already"),
    Offer: to_say("Offers are on record in {currency} already"),
    Market: to_say("Markets are on record in {currency} already"),
    PostageBand: to_say("Postage is on record in {currency} already"),
    Purchase: to_say("Purchases are on record in {currency} already"),
}
_FEES = to_say("Fees are on record in {currency} already")
_WITH_FEE = select(Channel.id).where(Channel.fixed_fee != 0).limit(1)


def rates(shop: Shop) -> Rates:
    """What an hour costs, as the costing core wants it."""
    return Rates(
        pay_per_hour=Fraction(shop.pay_per_hour),
        overhead_per_hour=overhead_rate(shop.overhead_a_year, shop.bench_hours_a_year),
        allowance=Fraction(shop.allowance),
        spoilage=Fraction(shop.spoilage),
    )


def hour_reckoned(shop: Shop) -> Decimal:
    """What an hour is to bring by the settings: the maker's pay and the overhead."""
    hour = rates(shop)
    return to_minor(hour.pay_per_hour + hour.overhead_per_hour, currency(shop.currency))


def channels(session: Session, *, retired: bool = False) -> list[Channel]:
    """Channels in use, in their order; with ``retired`` those no longer used as well, last."""
    query = select(Channel).order_by(Channel.retired, Channel.position, Channel.id)
    if not retired:
        query = query.where(~Channel.retired)
    return list(session.scalars(query))


def terms(channel: Channel, tax: Decimal) -> ChannelTerms:
    """A channel's terms as the costing core wants them; wholesale prices are before tax."""
    return ChannelTerms(
        fee_rate=Fraction(channel.fee_rate),
        fixed_fee=Fraction(channel.fixed_fee),
        tax=Fraction(0) if channel.wholesale else Fraction(tax),
        margin=Fraction(channel.margin),
        point=channel.price_point,
    )


def save_channel(
    session: Session, channel: Channel | None, values: Mapping[str, Any], version: int | None = None
) -> Channel:
    """Add a channel or change one; two cannot share a name."""
    check_version(channel, version)
    same = other_named(session, Channel, values["name"], channel)
    if same is not None:
        raise DomainError(
            say("There is a channel called “{name}” already.", name=same.name), "name"
        )
    if channel is None:
        channel = Channel(position=len(channels(session)) + 1)
        session.add(channel)
    for key, value in values.items():
        setattr(channel, key, value)
    session.flush()
    return channel


@dataclass(frozen=True)
class TimeOf:
    """An operation with the shop's own minutes."""

    key: str
    label: str
    driver: str
    setup_minutes: Decimal
    minutes_each: Decimal
    waiting_hours: Decimal
    own: bool


def operation_times(session: Session) -> dict[str, TimeOf]:
    """Minutes of every operation: the shop's own, else those first offered."""
    own = {row.operation: row for row in session.scalars(select(OperationTime))}
    found: dict[str, TimeOf] = {}
    for key, op in all_operations().items():
        row = own.get(key)
        setup, each, waiting = (
            (row.setup_minutes, row.minutes_each, row.waiting_hours)
            if row
            else map(_decimal, (op.setup_minutes, op.minutes_each, op.waiting_hours))
        )
        found[key] = TimeOf(key, op.label, op.driver, setup, each, waiting, row is not None)
    return found


def own_time(session: Session, key: str) -> OperationTime | None:
    """The shop's own minutes of an operation, where it has said any."""
    return session.scalar(select(OperationTime).where(OperationTime.operation == key))


def set_operation_time(
    session: Session,
    key: str,
    setup: Decimal,
    each: Decimal,
    waiting_hours: Decimal,
    version: int | None = None,
) -> None:
    """Save the shop's own minutes for an operation, and the hours that pass after it."""
    if key not in all_operations():
        raise DomainError(say("There is no operation “{key}”.", key=key))
    known = own_time(session, key)
    if known is not None:
        check_version(known, version)
    elif version:
        raise StaleError(say(CHANGED))
    row = known or OperationTime(operation=key)
    row.setup_minutes, row.minutes_each, row.waiting_hours = setup, each, waiting_hours
    session.add(row)
    session.flush()


def _decimal(value: Fraction) -> Decimal:
    return Decimal(value.numerator) / Decimal(value.denominator)


def next_number(session: Session, series: str) -> int:
    """The next number of a series; taken back with the transaction, so no gap is left."""
    taken = session.execute(
        update(NumberSeries)
        .where(NumberSeries.name == series)
        .values(next_number=NumberSeries.next_number + 1)
        .returning(NumberSeries.next_number)
    ).scalar()
    if taken is None:
        session.add(NumberSeries(name=series, next_number=2))
        session.flush()
        return 1
    return int(taken) - 1


def do_once(session: Session, key: str | None, led_to: str) -> None:
    """Remember a deed by its form's key, at the end of doing it."""
    if key:
        session.add(Deed(key=key[:64], at=datetime.now(UTC), led_to=led_to))
        session.flush()


def check_not_done(session: Session, key: str | None) -> None:
    """Raise :class:`AlreadyDoneError` where the deed of this form was done before.

    The same form sent twice at one moment waits here until the first one is kept: SQLite has one
    writer anyway, PostgreSQL locks the form's key until the transaction ends.
    """
    if key:
        if session.get_bind().dialect.name == "postgresql":
            session.execute(select(func.pg_advisory_xact_lock(func.hashtext(key[:64]))))
        deed = session.get(Deed, key[:64])
        if deed:
            raise AlreadyDoneError(deed.led_to)
