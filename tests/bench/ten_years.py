"""The shop after ten years: a seeded generator, and how long its pages take.

Run by ``python -m tests.bench years``. The demo, and on top of it 5,000 customers, 500 journals (60
of them on sale), 100,000 orders with 300,000 lines and their payments, and 1,000,000 movements in
lots that were used up; what is open at the end is what a busy month has open.
"""

from __future__ import annotations

import random
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import event, func, insert, select

from app.config import settings_for
from app.db import make_engine, session_maker, transaction
from app.models import NumberSeries, Seal, Variant
from app.schema import migrate
from app.services.designs.journals import begin_journal, draft_of, put_away, sellable
from app.services.orders.sealing import sealed_now
from app.services.shop.seals import FIRST, chained, digest_of
from app.services.shop.settings import prepare_shop
from app.services.upkeep.checking import check_books
from app.web.frame.session import settle
from seed_demo import load_demo
from tests.door import open_app

CUSTOMERS, JOURNALS, ON_SALE, ORDERS, LINES_EACH = 5_000, 500, 60, 100_000, 3
LOTS, DRAWS = 100_000, 9
VIEWS = 40
"""So many lots, each received once and used up in so many movements."""
PURCHASES, OPEN = 5_000, 40
SCALE = 10_000
"""Money is kept in ten-thousandths."""


def fill(path: Path, on: date, share: float = 1.0, on_sale: int = ON_SALE) -> None:
    """The shop's file, or a share of it, made from nothing."""
    engine = make_engine(f"sqlite:///{path}")
    migrate(engine)
    with transaction(session_maker(engine)) as session:
        prepare_shop(session)
        load_demo(session, on)
        likes = [v for v in sellable(session) if not v.design.one_off]
        for number in range(round(JOURNALS * share)):
            draft = draft_of(likes[number % len(likes)])
            made = begin_journal(session, f"Journal {number:03}", draft, "Plain")
            put_away(session, made, away=number >= on_sale)
        session.flush()
        variants = list(session.scalars(select(Variant.id).order_by(Variant.id)))
    engine.dispose()
    connection = sqlite3.connect(path)
    _history(connection, variants, on, share)
    connection.commit()
    _seal(path)
    connection.execute("ANALYZE")
    connection.close()


def _seal(path: Path) -> None:
    """Seal what was written past the services, which seal each thing as they write it."""
    engine = make_engine(f"sqlite:///{path}")
    with transaction(session_maker(engine)) as session:
        before = session.scalar(select(Seal.chained).order_by(Seal.number.desc()).limit(1)) or FIRST
        number = session.scalar(select(func.count(Seal.number))) or 0
        done = {tuple(row) for row in session.execute(select(Seal.what, Seal.of_id))}
        rows = []
        for (what, of_id), (_, facts) in sealed_now(session).items():
            if (what, of_id) in done:
                continue
            number, digest = number + 1, digest_of(facts)
            before = chained(before, what, of_id, digest)
            rows.append(
                {
                    "number": number,
                    "what": what,
                    "of_id": of_id,
                    "digest": digest,
                    "chained": before,
                }
            )
        session.execute(insert(Seal), rows)
        session.get_one(NumberSeries, "seal").next_number = number + 1
    engine.dispose()


def _history(connection: sqlite3.Connection, variants: list[int], on: date, share: float) -> None:
    chance = random.Random(2026)
    first = {
        table: connection.execute(f"SELECT coalesce(max(id), 0) + 1 FROM {table}").fetchone()[0]  # noqa: S608
        for table in ("customer", "customer_order", "order_line", "payment", "lot", "movement")
    }
    customers = round(CUSTOMERS * share)
    connection.executemany(
        "INSERT INTO customer (id, name, email, phone, version) VALUES (?, ?, ?, '', 1)",
        (
            (first["customer"] + i, f"Customer {i:04}", f"c{i}@example.org")
            for i in range(customers)
        ),
    )
    number = connection.execute("SELECT max(number) FROM customer_order").fetchone()[0]
    receipt = connection.execute("SELECT max(receipt_number) FROM payment").fetchone()[0]
    [(channel, tax)] = connection.execute(
        "SELECT channel_id, tax_rate FROM customer_order ORDER BY id LIMIT 1"
    )
    orders = round(ORDERS * share)
    insert_orders = (
        "INSERT INTO customer_order (id, number, customer_id, channel_id, state, logged_on, "
        "wanted_by, agreed_at, tax_rate, version) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, 1)"
    )
    connection.executemany(
        insert_orders, _orders(chance, first, number, channel, tax, orders, customers, on)
    )
    connection.executemany(
        "INSERT INTO order_line (id, order_id, variant_id, quantity, unit_price, unit_cost) "
        "VALUES (?, ?, ?, ?, ?, ?)",
        (
            (
                first["order_line"] + i, first["customer_order"] + i // LINES_EACH,
                chance.choice(variants), chance.randint(1, 3), 24 * SCALE, 11 * SCALE,
            )
            for i in range(orders * LINES_EACH)
        ),
    )  # fmt: skip
    connection.executemany(
        "INSERT INTO payment (id, order_id, receipt_number, amount, paid_on, how) "
        "VALUES (?, ?, ?, ?, ?, 'cash')",
        (
            (
                first["payment"] + i, first["customer_order"] + i, receipt + 1 + i, 48 * SCALE,
                _day(on, i, orders).isoformat(),
            )
            for i in range(orders - OPEN)
        ),
    )  # fmt: skip
    series = {"order": number + orders, "receipt": receipt + orders - OPEN}
    for name, last in series.items():
        connection.execute(
            "UPDATE number_series SET next_number = ? WHERE name = ?", (last + 1, name)
        )
    things = [
        *(("stock_sheet_id", row[0]) for row in connection.execute("SELECT id FROM stock_sheet")),
        *(("material_id", row[0]) for row in connection.execute("SELECT id FROM material")),
        *(("variant_id", row) for row in variants[:200]),
    ]
    lots = round(LOTS * share)
    for column in ("stock_sheet_id", "material_id", "variant_id"):
        rows = [
            (first["lot"] + i, thing, _day(on, i, lots).isoformat(), 90 * SCALE)
            for i, (kind, thing) in ((i, things[i % len(things)]) for i in range(lots))
            if kind == column
        ]
        connection.executemany(
            f"INSERT INTO lot (id, {column}, came_on, cost) VALUES (?, ?, ?, ?)",  # noqa: S608
            rows,
        )
    bought = [
        (i, *things[i % len(things)])
        for i in range(0, lots, max(lots // PURCHASES, 1))
        if things[i % len(things)][0] != "variant_id"
    ]
    _purchases(connection, first, bought, on, lots)
    lines = _lines_in_turn(first, orders)
    sold = [n for n in range(lots) if things[n % len(things)][0] == "variant_id"]
    draws = [(n, draw) for n in sold for draw in range(1, DRAWS + 1)]
    # Spread over all the years, so that the last one has its share of what was sold.
    gone = {draws[i * len(draws) // len(lines)]: line for i, line in enumerate(lines)}
    connection.executemany(
        "INSERT INTO movement (id, lot_id, kind, quantity, cost, at, order_id) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        _movements(first, lots, on, gone),
    )
    _delivered(connection, first, on, lots, gone)


def _purchases(
    connection: sqlite3.Connection, first: dict[str, int], bought: list[tuple[int, str, int]],
    on: date, lots: int,
) -> None:  # fmt: skip
    """A purchase for each of some lots, sent and received whole."""
    [(supplier,)] = connection.execute("SELECT min(id) FROM supplier")
    [(number, purchase, line, receipt, came)] = connection.execute(
        "SELECT (SELECT coalesce(max(number), 0) FROM purchase), "
        "(SELECT coalesce(max(id), 0) FROM purchase), "
        "(SELECT coalesce(max(id), 0) FROM purchase_line), "
        "(SELECT coalesce(max(id), 0) FROM receipt), "
        "(SELECT coalesce(max(id), 0) FROM receipt_line)"
    )
    for at, (lot, column, thing) in enumerate(bought, 1):
        day = _day(on, lot, lots).isoformat()
        connection.execute(
            "INSERT INTO purchase (id, number, supplier_id, state, sent_on, expected_on, version) "
            "VALUES (?, ?, ?, 'received', ?, ?, 1)",
            (purchase + at, number + at, supplier, day, day),
        )
        connection.execute(
            f"INSERT INTO purchase_line (id, purchase_id, {column}, packs, pack_quantity, "  # noqa: S608
            "pack_price) VALUES (?, ?, ?, 1, ?, ?)",
            (line + at, purchase + at, thing, 10 * DRAWS, 90 * SCALE),
        )
        connection.execute(
            "INSERT INTO receipt (id, purchase_id, came_on, carriage) VALUES (?, ?, ?, 0)",
            (receipt + at, purchase + at, day),
        )
        connection.execute(
            "INSERT INTO receipt_line (id, receipt_id, purchase_line_id, lot_id, packs) "
            "VALUES (?, ?, ?, ?, 1)",
            (came + at, receipt + at, line + at, first["lot"] + lot),
        )
    connection.execute(
        "INSERT OR REPLACE INTO number_series (name, next_number) VALUES ('purchase', ?)",
        (number + len(bought) + 1,),
    )


def _orders(
    chance: random.Random, first: dict[str, int], number: int, channel: int, tax: int, orders: int,
    customers: int, on: date,
) -> Iterator[tuple[object, ...]]:  # fmt: skip
    for i in range(orders):
        is_open = i >= orders - OPEN
        day = on - timedelta(days=chance.randint(1, 20)) if is_open else _day(on, i, orders)
        wanted = on + timedelta(days=chance.randint(5, 60)) if is_open else day + timedelta(21)
        yield (
            first["customer_order"] + i, number + 1 + i,
            first["customer"] + chance.randrange(customers), channel,
            "accepted" if is_open else "delivered", day.isoformat(), wanted.isoformat(),
            f"{day.isoformat()} 12:00:00.000000", tax,
        )  # fmt: skip


def _lines_in_turn(first: dict[str, int], orders: int) -> list[tuple[int, int]]:
    """Order and line of everything that was delivered, in the order it was asked for."""
    return [
        (first["customer_order"] + i // LINES_EACH, first["order_line"] + i)
        for i in range((orders - OPEN) * LINES_EACH)
    ]


Gone = dict[tuple[int, int], tuple[int, int]]
"""By lot and draw: the order and its line that a journal left for."""


def _movements(
    first: dict[str, int], lots: int, on: date, gone: Gone
) -> Iterator[tuple[object, ...]]:
    number = first["movement"]
    for i in range(lots):
        at = f"{_day(on, i, lots).isoformat()} 12:00:00.000000"
        yield number, first["lot"] + i, "received", 10 * DRAWS, 90 * SCALE, at, None
        for draw in range(1, DRAWS + 1):
            order, _ = gone.get((i, draw), (None, None))
            kind = "sold" if order else "issued"
            yield number + draw, first["lot"] + i, kind, -10, -10 * SCALE, at, order
        number += DRAWS + 1


def _delivered(
    connection: sqlite3.Connection, first: dict[str, int], on: date, lots: int, gone: Gone
) -> None:
    """A delivery for every order, a line of it for every journal that left."""
    [(delivery, line)] = connection.execute(
        "SELECT (SELECT coalesce(max(id), 0) FROM delivery), "
        "(SELECT coalesce(max(id), 0) FROM delivery_line)"
    )
    seen: dict[int, int] = {}
    rows = []
    for n, ((lot, draw), (order, of)) in enumerate(gone.items(), start=1):
        if order not in seen:
            seen[order] = delivery + len(seen) + 1
            connection.execute(
                "INSERT INTO delivery (id, order_id, delivered_on) VALUES (?, ?, ?)",
                (seen[order], order, _day(on, lot, lots).isoformat()),
            )
        movement = first["movement"] + lot * (DRAWS + 1) + draw
        rows.append((line + n, seen[order], of, movement))
    connection.executemany(
        "INSERT INTO delivery_line (id, delivery_id, order_line_id, movement_id) "
        "VALUES (?, ?, ?, ?)",
        rows,
    )


def _day(on: date, at: int, of: int) -> date:
    """The day of the ``at``-th of so many things spread evenly over ten years before today."""
    return on - timedelta(days=3650 - at * 3640 // of)


def _raw(app: Flask, client: FlaskClient, path: str, folder: Path) -> float:
    """Milliseconds that the statements of a page take by themselves, their rows fetched."""
    asked: list[tuple[str, Any]] = []

    def note(_: Any, __: Any, statement: str, parameters: Any, *___: Any) -> None:
        if statement.lstrip().upper().startswith(("SELECT", "WITH")):
            asked.append((statement, parameters))

    engine = app.extensions["engine"]
    event.listen(engine, "before_cursor_execute", note)
    client.get(path)
    event.remove(engine, "before_cursor_execute", note)
    connection = sqlite3.connect(folder / "shop.sqlite3")
    taken = []
    for _ in range(5):
        start = time.perf_counter()
        for statement, parameters in asked:
            connection.execute(statement, parameters).fetchall()
        taken.append((time.perf_counter() - start) * 1000)
    connection.close()
    return statistics.median(taken)


PAGES = (
    "/", "/orders", "/orders?state=&q=Customer+0042", "/orders?state=delivered",
    "/orders?state=delivered&page=1500", "/orders/customers", "/orders/customers?q=Customer+0042",
    "/orders/50000", "/journals", "/journals/1", "/stockroom", "/stockroom/items/sheet-1",
    "/stockroom/items/material-1", "/stockroom/items/variant-1", "/stockroom/batches",
    "/stockroom/stocktake", "/buying", "/buying/purchases", "/buying/purchases/reorder", "/markets",
    "/markets/1", "/shop", "/takings", "/takings?by=customer", "/takings?by=month", "/takings/what-if",
    "/takings/sales?by=journal&key=7", "/takings/sales?by=market&key=0", "/takings/year",
    "/takings/stock", "/takings/stock?shelf=papers", "/takings/costs",
)  # fmt: skip


def years(share: float) -> None:
    """Fill it, check it, and time every page: the first view, then the median and the 95th of a hundred."""
    with tempfile.TemporaryDirectory() as folder:
        settings = settings_for(Path(folder))
        start = time.perf_counter()
        fill(Path(folder) / "shop.sqlite3", date.today(), share)
        sys.stdout.write(f"filled in {time.perf_counter() - start:.1f} s\n")
        app = open_app(settings)
        start = time.perf_counter()
        with app.extensions["sessions"]() as session:
            found = check_books(session)
        sys.stdout.write(
            f"checked in {time.perf_counter() - start:.1f} s: {len(found)} faults {found[:3]}\n"
        )
        settle(app)
        client = app.test_client()
        sys.stdout.write(
            f"{'page':<46}{'first':>8}{'median':>8}{'p95':>8}{'raw SQL':>9}  ms{'times':>7}{'kB':>8}\n"
        )
        for path in PAGES:
            taken = []
            for _ in range(VIEWS + 1):
                start = time.perf_counter()
                answer = client.get(path)
                taken.append((time.perf_counter() - start) * 1000)
            first, later = taken[0], sorted(taken[1:])
            median, raw = statistics.median(later), _raw(app, client, path, Path(folder))
            sys.stdout.write(
                f"{path:<46}{first:>8.0f}{median:>8.0f}"
                f"{later[round(VIEWS * 0.95) - 1]:>8.0f}{raw:>9.1f}{median / raw:>11.1f}"
                f"{len(answer.data) / 1000:>8.0f}  {answer.status_code}\n"
            )
            sys.stdout.flush()
        app.extensions["engine"].dispose()
