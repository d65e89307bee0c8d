"""``check`` finds every kind of damage, says what to do, and changes nothing."""

from __future__ import annotations

import random
import re
import shutil
import sqlite3
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from sqlalchemy import text

from app.config import Settings, settings_for
from app.core.errors import DomainError
from app.db import make_engine
from app.schema import migrate
from app.services.upkeep.backups import back_up, restore
from app.services.upkeep.looking_through import look_through
from app.services.upkeep.opening import open_shop
from tests.conftest import settings_on
from tests.postgres import Cluster

PAGE = 4096


def sql(*statements: str) -> Callable[[Path, random.Random], None]:
    """Damage done by another tool, which asks nobody."""

    def do(path: Path, chance: random.Random) -> None:
        connection = sqlite3.connect(path)
        connection.execute("PRAGMA foreign_keys=OFF")
        for statement in statements:
            connection.execute(statement)
        connection.commit()
        connection.close()

    return do


def first_pages(path: Path, name: str) -> int:
    """Where the pages of a table or an index begin in the file."""
    connection = sqlite3.connect(path)
    [(page,)] = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = ?", (name,))
    connection.close()
    return (int(page) - 1) * PAGE


def flip(name: str) -> Callable[[Path, random.Random], None]:
    """Bytes of an index or a table that a disk has lost."""

    def do(path: Path, chance: random.Random) -> None:
        data, at = bytearray(path.read_bytes()), first_pages(path, name)
        for _ in range(60):
            data[at + chance.randrange(PAGE)] ^= 1 + chance.randrange(255)
        path.write_bytes(data)

    return do


def zeroed(path: Path, chance: random.Random) -> None:
    data, at = bytearray(path.read_bytes()), first_pages(path, "movement")
    data[at : at + PAGE] = bytes(PAGE)
    path.write_bytes(data)


def cut_short(path: Path, chance: random.Random) -> None:
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size - PAGE * chance.randrange(3, 40))


NO_TRIGGERS = ("DROP TRIGGER movement_no_update", "DROP TRIGGER movement_no_delete")
DAMAGED: dict[str, tuple[Callable[[Path, random.Random], None], str]] = {
    "an index flipped": (flip("ix_payment_order_id"), "file: "),
    "a number's index flipped": (flip("sqlite_autoindex_payment_1"), "file: "),
    "a table flipped": (flip("payment"), "file: "),
    "a page zeroed": (zeroed, "file: "),
    "cut short": (cut_short, "file: "),
    "an index without a row": (
        sql("PRAGMA writable_schema=ON",
            "UPDATE sqlite_schema SET sql = 'CREATE INDEX ix_payment_order_id ON payment (amount)' "
            "WHERE name = 'ix_payment_order_id'"), "file: "),
    "a price": (sql("UPDATE order_line SET unit_price = unit_price + 1 WHERE id = 3"),
                "books: order .* is not what it was"),
    "a rate": (sql("UPDATE customer_order SET tax_rate = 1 WHERE id = 5"), "books: order 5 is not what"),
    "a payment's amount": (sql("UPDATE payment SET amount = amount * 10 WHERE id = 2"),
                           "books: receipt 2 is not what it was"),
    "a payment's day": (sql("UPDATE payment SET paid_on = '2001-01-01' WHERE id = 2"), "receipt 2 is not"),
    "a payment gone": (sql("DELETE FROM payment WHERE id = (SELECT max(id) FROM payment)"),
                       "books: payment .* was sealed and is gone"),
    "a payment made up": (
        sql("INSERT INTO payment (id, order_id, receipt_number, amount, paid_on, how) "
            "VALUES (999, 1, 999, 10000, '2027-01-01', 'cash')"), "receipt 999 has no seal"),
    "a seal gone": (sql("DELETE FROM seal WHERE number = 4"), "seal 4 is gone"),
    "a seal changed": (sql("UPDATE seal SET digest = 'x' WHERE number = 4"), "seal 4 does not follow"),
    "a trigger gone": (sql("DROP TRIGGER movement_no_update"), "the trigger movement_no_update is gone"),
    "a movement changed": (sql(*NO_TRIGGERS, "UPDATE movement SET quantity = quantity + 1 WHERE id = 1"),
                           "books: lot .* are said to be left"),
    "a movement gone": (sql(*NO_TRIGGERS, "DELETE FROM movement WHERE id = 1"), "books: lot"),
    "what is left": (sql("UPDATE lot SET left_quantity = left_quantity + 1 WHERE id = 1"), "books: lot 1"),
    "a row that names nothing": (sql("UPDATE customer_order SET customer_id = 9999 WHERE id = 1"),
                                 "database: row 1 of customer_order names a row of customer"),
    "a number twice over": (sql("UPDATE number_series SET next_number = 1 WHERE name = 'order'"),
                            "books: order numbers"),
}  # fmt: skip


DEEPER = {"an index without a row"}
"""What is seen by looking through all of it alone: not at the start, but at the day's backup."""


def everything_in(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


BESIDES: dict[str, tuple[Callable[[Path, random.Random], None], str]] = {
    "the settings gone": (sql("DELETE FROM shop"), "settings are gone"),
    "a trigger that does nothing": (
        sql("DROP TRIGGER movement_no_update",
            "CREATE TRIGGER movement_no_update BEFORE UPDATE ON movement BEGIN SELECT 1; END"),
        "trigger movement_no_update is not what it was"),
    "another's trigger": (
        sql("CREATE TRIGGER evil AFTER INSERT ON number_series BEGIN DELETE FROM document; END"),
        "trigger evil is none of this program"),
    "no indexes": (sql("DROP INDEX ix_payment_order_id"), "index ix_payment_order_id is gone"),
    "a word of no enumeration": (sql("UPDATE customer_order SET state = 'flying' WHERE id = 1"),
                                 "cannot be read"),
    "a plan that is no JSON": (sql("UPDATE batch SET cut_plan = '{not json'"), "cannot be read"),
}  # fmt: skip


@pytest.mark.parametrize("kind", BESIDES)
def test_what_another_tool_did_to_it_is_found(
    demo_template: Path, tmp_path: Path, kind: str
) -> None:
    settings = settings_on(demo_template, tmp_path / "shop")
    spoil, says = BESIDES[kind]
    spoil(settings.folder / "shop.sqlite3", random.Random(1))
    found = look_through(settings)
    assert any(re.search(says, one.says) for one in found), found


@pytest.mark.parametrize("name", ["s?1", "h#x", "p%41x", "a b'c", "ü;&@x:y"])
def test_any_name_of_a_folder_will_do(demo_template: Path, tmp_path: Path, name: str) -> None:
    settings = settings_on(demo_template, tmp_path / name)
    open_shop(settings, make=False)
    assert look_through(settings) == []
    engine = make_engine(settings.database_url)
    made = back_up(settings, engine, datetime(2027, 3, 1, 9))
    engine.dispose()
    other = settings_for(tmp_path / f"{name} other")
    restore(other, made.file, datetime(2027, 3, 1, 10))
    assert look_through(other) == []
    assert {p.name for p in tmp_path.iterdir()} == {name, f"{name} other"}
    assert str(settings.folder / "shop.sqlite3") == settings.says_where


@pytest.mark.parametrize("seed", range(20))
def test_twenty_damaged_shops_are_found_and_made_no_worse(
    demo_template: Path, tmp_path: Path, seed: int
) -> None:
    spoil, says = list(DAMAGED.values())[seed]
    settings = settings_on(demo_template, tmp_path / "shop")
    spoil(settings.folder / "shop.sqlite3", random.Random(seed))
    before = everything_in(settings.folder)
    found = look_through(settings)
    lines = [f"{one.where}: {one.says}" for one in found]
    assert any(re.search(says, line) for line in lines), lines
    assert all("restore" in one.do for one in found)
    assert everything_in(settings.folder) == before
    # Opened to serve, a file that is damaged is refused, and one whose books are off is not touched.
    if found[0].where == "file" and list(DAMAGED)[seed] not in DEEPER:
        with pytest.raises(DomainError, match="is damaged"):
            open_shop(settings, make=True)
    else:
        open_shop(settings, make=True)
        assert [f"{one.where}: {one.says}" for one in look_through(settings)] == lines
    if found[0].where == "file":
        assert everything_in(settings.folder) == before


def test_a_sound_shop_has_nothing_to_find(demo_settings: Settings) -> None:
    assert look_through(demo_settings) == []


def test_a_log_left_by_a_crash_is_read_and_left(demo_settings: Settings, tmp_path: Path) -> None:
    file = demo_settings.folder / "shop.sqlite3"
    connection = sqlite3.connect(file)
    connection.execute("UPDATE payment SET amount = amount + 1 WHERE id = 3")
    connection.commit()
    crashed = settings_for(tmp_path / "crashed")
    for end in ("", "-wal"):
        shutil.copy(f"{file}{end}", crashed.folder / f"shop.sqlite3{end}")
    connection.close()
    before = everything_in(crashed.folder)
    assert any("receipt 3 is not what it was" in one.says for one in look_through(crashed))
    assert everything_in(crashed.folder) == before


def test_an_older_schema_is_not_looked_through(empty_settings: Settings) -> None:
    engine = make_engine(empty_settings.database_url)
    migrate(engine, "0029")
    engine.dispose()
    with pytest.raises(DomainError, match="run “tallyfold upgrade” first"):
        look_through(empty_settings)


@pytest.mark.postgresql
def test_in_postgresql_books_and_triggers_are_looked_through(
    postgres: Cluster, tmp_path: Path
) -> None:
    settings = settings_for(tmp_path, postgres.empty())
    with pytest.raises(DomainError, match="no shop in this database"):
        look_through(settings)
    open_shop(settings, make=True)
    assert look_through(settings) == []
    engine = make_engine(settings.database_url)
    with engine.begin() as connection:
        connection.execute(text("ALTER TABLE movement DISABLE TRIGGER movement_no_change"))
        connection.execute(text("UPDATE number_series SET next_number = 5 WHERE name = 'order'"))
    engine.dispose()
    says = " ".join(one.says for one in look_through(settings))
    assert "movement_no_change is gone" in says
