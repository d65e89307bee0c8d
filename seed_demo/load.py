"""Loads the demo shop, once, into an empty database."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import partial
from operator import itemgetter

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.length import MM
from app.core.states import MovementKind, PaidHow
from app.core.structures import structure_for
from app.core.structures.parts import PartPer
from app.models import Channel, Journal, Material, Paper, StockSheet, Supplier, Variant
from app.services.bench import batches, finishing
from app.services.designs import journals
from app.services.designs import postage as posting
from app.services.designs.take_off import PartUse
from app.services.markets import closing, markets, stall
from app.services.orders import customers, documents, orders
from app.services.orders.shelf import book_in_for
from app.services.shop import settings as shop
from app.services.shop.letterhead import save_letterhead
from app.services.stock import ledger as stock
from app.services.stock.materials import (
    make_offer,
    save_material,
    save_paper,
    save_stock_sheet,
    save_supplier,
)
from app.services.stock.recipes import Taken, save_recipe
from seed_demo import data

DEMO_TILL = "0"


def load_demo(session: Session, today: date) -> None:
    """Fill an empty shop; leave one that has journals already as it is."""
    if session.scalar(select(Journal.id).limit(1)):
        return
    _settings(session)
    suppliers = {
        name: save_supplier(session, None, {"name": name, "reach": reach, "note": note})
        for name, reach, note in data.SUPPLIERS
    }
    papers, sheets = _papers(session)
    goods = _materials(session)
    _offers(session, suppliers, sheets, goods, today)
    _recipes(session, papers, sheets, goods)
    variants = _journals(session, papers, goods)
    things: dict[str, stock.Item] = {**sheets, **goods}
    _stock(session, things, today, data.EARLIER)
    _markets(session, variants, today)
    _past_year(session, variants, today)
    _likenesses(session)
    for key, counted in data.COUNTED:
        on = today - timedelta(days=data.COUNTED_ON)
        stock.count(session, things[key], counted, on, "miscounted before")
    _stock(session, things, today, data.STOCK)
    # Finished journals come last, or the orders of the past year would have taken them.
    _stock(session, variants, today, data.SHELF)


def _channels(session: Session) -> dict[str, Channel]:
    return {channel.name: channel for channel in shop.channels(session)}


def _settings(session: Session) -> None:
    shop.change_settings(session, data.SETTINGS, None)
    save_letterhead(session, data.LETTERHEAD, None)
    for band in data.POSTAGE:
        posting.save_band(session, None, band)
    # A new shop names its channels in the computer's language; the demo has names of its own.
    for channel, (name, values) in zip(shop.channels(session), data.CHANNELS.items(), strict=True):
        shop.save_channel(session, channel, {"name": name, **values})


def _papers(session: Session) -> tuple[dict[str, Paper], dict[str, StockSheet]]:
    papers: dict[str, Paper] = {}
    sheets: dict[str, StockSheet] = {}
    for key, row, sizes in data.PAPERS:
        papers[key] = save_paper(session, None, row)
        for sheet_key, width, height, grain, pattern_up in sizes:
            values = {
                "width_nm": width * MM,
                "height_nm": height * MM,
                "grain": grain,
                "pattern_up": pattern_up,
                "trim_nm": 0,
            }
            sheets[sheet_key] = save_stock_sheet(session, papers[key], None, values)
    return papers, sheets


def _materials(session: Session) -> dict[str, Material]:
    return {key: save_material(session, None, row) for key, row in data.MATERIALS}


def _offers(
    session: Session,
    suppliers: dict[str, Supplier],
    sheets: dict[str, StockSheet],
    goods: dict[str, Material],
    today: date,
) -> None:
    for supplier, item, pack, breaks, lead, days_ago in data.OFFERS:
        make_offer(
            session,
            suppliers[supplier],
            sheets.get(item) or goods[item],
            pack_quantity=pack,
            breaks={least: Decimal(price) for least, price in breaks.items()},
            lead_days=lead,
            valid_from=today - timedelta(days=days_ago),
        )


def _recipes(
    session: Session, papers: dict[str, Paper], sheets: dict[str, StockSheet],
    goods: dict[str, Material],
) -> None:  # fmt: skip
    for row in data.RECIPES:
        parts = [Taken(papers[key], 1, w * MM, h * MM, "height") for key, w, h in row.pieces]
        parts += [Taken(goods[key], amount) for key, amount in row.goods]
        save_recipe(
            session, sheets.get(row.makes) or goods[row.makes], parts, makes=row.at_a_time,
            setup_minutes=Decimal(row.setup), minutes=Decimal(row.minutes), days=row.days,
            loss=Decimal(row.loss),
        )  # fmt: skip


def _journals(
    session: Session, papers: dict[str, Paper], goods: dict[str, Material]
) -> dict[str, Variant]:
    channels = _channels(session)
    variants: dict[str, Variant] = {}
    for row in data.JOURNALS:
        dims = structure_for("wrap_cover", row.dimensions).defaults() | row.dimensions
        draft = journals.Draft(
            structure="wrap_cover",
            dimensions=dims,
            choices={role: papers.get(key) or goods[key] for role, key in row.choices.items()},
            prices={
                channels[name].id: Decimal(price)
                for name, price in zip(data.CHANNELS, row.prices, strict=True)
            },
            shelf_level=row.shelf_level,
            parts=tuple(
                PartUse(name, goods[key], amount, PartPer(per), Decimal(minutes))
                for name, key, amount, per, minutes in row.parts
            ),
        )
        journal = journals.begin_journal(session, row.name, draft, row.variants[0], row.note)
        first = journal.current.variants[0]
        variants[f"{row.key}/{row.variants[0]}"] = first
        for name in row.variants[1:]:
            added = journals.add_variant(session, journal.current, name, first)
            variants[f"{row.key}/{name}"] = added
    return variants


def _stock(
    session: Session,
    things: Mapping[str, stock.Item],
    today: date,
    rows: Sequence[tuple[str, int, str, int]],
) -> None:
    for key, quantity, cost, days_ago in rows:
        thing = things[key]
        kind = MovementKind.MADE if isinstance(thing, Variant) else MovementKind.RECEIVED
        on = today - timedelta(days=days_ago)
        stock.receive(session, thing, quantity, Decimal(cost), on, kind=kind)


def _past_year(session: Session, variants: dict[str, Variant], today: date) -> None:
    """Batches and orders day by day, so that an order takes what had been made by then."""
    happened: list[tuple[int, Callable[[], None]]] = [
        (-days, partial(_batch, session, variants, today - timedelta(days=days), made, minutes))
        for days, made, minutes in data.BATCHES
    ]
    channels = _channels(session)
    happened += [
        (row.logged, partial(_order, session, row, variants, channels, today))
        for row in data.ORDERS
    ]
    happened += [
        (-row.days_ago, partial(_past_market, session, row, variants, today))
        for row in data.PAST_MARKETS
    ]
    for _, happen in sorted(happened, key=itemgetter(0)):
        happen()


def _batch(
    session: Session, variants: dict[str, Variant], on: date, made: Mapping[str, int], minutes: str
) -> None:
    batch = batches.begin_batch(session, {variants[key]: n for key, n in made.items()}, on)
    finishing.finish_batch(session, batch, {}, Decimal(minutes), on)


def _order(
    session: Session,
    row: data.OrderRow,
    variants: dict[str, Variant],
    channels: dict[str, Channel],
    today: date,
) -> None:
    """An order, walked through state by state to what became of it."""
    logged = today + timedelta(days=row.logged)
    known = customers.customers_named(session, row.customer)
    order = orders.log_order(
        session,
        customer_name=row.customer,
        channel=channels[row.channel],
        lines=[
            orders.LineAsked(variants[key], quantity, Decimal(price), wish)
            for key, quantity, price, wish in row.lines
        ],
        wanted_by=today + timedelta(days=row.wanted),
        logged_on=logged,
        reach=row.reach,
        who=known[0].id if known else None,
    )
    for state in data.WAY_TO[row.state]:
        if state == "ready":
            # Long ago they were made before there were batches on record.
            book_in_for(session, order, logged)
        orders.move_order(session, order, state, logged, None)
    if row.paid:
        part = order.total if row.paid == "all" else Decimal(row.paid)
        orders.take_payment(session, order, part, logged, row.how)
    if row.state == "enquiry":
        documents.write_quote(session, order, today, today + timedelta(days=30))


def _past_market(
    session: Session, row: data.PastMarket, variants: dict[str, Variant], today: date
) -> None:
    """A market as it went: packed, sold one by one, closed."""
    on = today - timedelta(days=row.days_ago)
    market = markets.save_market(
        session, None,
        {"name": row.name, "place": row.place, "day": on, "note": "",
         "channel": _channels(session)["Market stall"], "stall_fee": Decimal(row.stall_fee),
         "travel": Decimal(row.travel), "open_minutes": Decimal(60 * row.hours)},
    )  # fmt: skip
    before = {key: stock.on_hand(session, variants[key]) for key in row.took}
    for key, (number, _, _) in row.took.items():
        cost = number * Decimal(data.MADE_FOR[key])
        made_on = on - timedelta(days=2)
        stock.receive(session, variants[key], number, cost, made_on, kind=MovementKind.MADE)
    packed = {variants[key].id: number for key, (number, _, _) in row.took.items()}
    markets.set_take_list(session, market, packed)
    markets.pack(session, market, packed)
    at = datetime.combine(on, time(10), UTC)
    sold = [key for key, (_, number, _) in row.took.items() for _ in range(number)]
    given = [key for key, (_, _, number) in row.took.items() for _ in range(number)]
    # The journals take turns, as customers do.
    order = sorted(range(len(sold)), key=lambda n: (n * 7 % len(sold), n))
    for turn, place in enumerate(order):
        stall.make_stroke(session, market, variants[sold[place]], DEMO_TILL)
        how = PaidHow.CARD if turn < row.by_card else PaidHow.CASH
        stall.take_money(session, market, DEMO_TILL, how, at + timedelta(minutes=9 * turn))
    for key in given:
        stall.make_stroke(session, market, variants[key], DEMO_TILL)
        stall.take_money(session, market, DEMO_TILL, PaidHow.GIVEN, at + timedelta(hours=5))
    home = {row.variant.id: row.expected for row in closing.coming_home(session, market)}
    closing.close_market(
        session, market,
        closing.Counted(
            home, Decimal(row.float_cash), Decimal(row.cash_counted), Decimal(row.card_fees),
            Decimal(60 * row.stall_hours), Decimal(row.travel_minutes),
        ),
        on,
    )  # fmt: skip
    # What came home went to friends and neighbours in the week after.
    for key, number in before.items():
        stock.count(session, variants[key], number, on + timedelta(days=5), "sold")


def _likenesses(session: Session) -> None:
    """Which market is like which, so that the next one learns from those that were."""
    by_name = {market.name: market for market in markets.markets(session)}
    first, second = data.LIKE
    by_name[data.MARKETS[0][0]].like_id = by_name[first].id
    by_name[first].like_id = by_name[second].id
    session.flush()


def _markets(session: Session, variants: dict[str, Variant], today: date) -> None:
    channel = _channels(session)["Market stall"]
    for name, place, days, fee, travel, takes in data.MARKETS:
        market = markets.save_market(
            session,
            None,
            {
                "name": name,
                "place": place,
                "day": today + timedelta(days=days),
                "channel": channel,
                "stall_fee": Decimal(fee),
                "travel": Decimal(travel),
                "open_minutes": Decimal(360),
                "note": "",
            },
        )
        markets.set_take_list(
            session, market, {variants[key].id: take for key, take in takes.items()}
        )
