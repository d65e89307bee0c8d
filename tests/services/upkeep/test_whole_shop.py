"""A whole shop as open files, and from one database into another: equal to the last row."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from datetime import UTC, date
from decimal import Decimal
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import inspect, select

from app.config import Settings, settings_for
from app.core.errors import DomainError
from app.db import make_engine, session_maker, transaction
from app.models import Customer, Seal
from app.schema import migrate, newest_revision, revision_of
from app.services.upkeep import whole_shop
from app.services.upkeep.checking import check_books
from app.services.upkeep.moving import import_shop, move_shop
from app.services.upkeep.opening import open_shop
from app.services.upkeep.rows_of_all import (
    Column,
    Summed,
    TableOf,
    as_cells,
    from_cells,
    summed,
    tables_now,
)
from app.services.upkeep.whole_shop import take_out
from tests.postgres import Cluster

PICTURE = "ab" * 32 + ".jpg"
ODD = ("=1+1", "+44 1", "-", "@x", "'quoted", "", "a\r\nb", '"', "ß; ,\t", "\t")


def sums_of(url: str) -> dict[str, Summed]:
    engine = make_engine(url, reads_only=True)
    with engine.connect() as connection:
        found = summed(connection, tables_now())
    engine.dispose()
    return found


def odd_shop(settings: Settings) -> Settings:
    """The demo with customers whose names a spreadsheet would run, and one of every empty thing."""
    engine = make_engine(settings.database_url)
    with transaction(session_maker(engine)) as session:
        session.add_all(Customer(name="x", note=note) for note in ODD)
    engine.dispose()
    return settings


def taken_out(settings: Settings, file: Path) -> Path:
    engine = make_engine(settings.database_url, reads_only=True)
    with file.open("wb") as out:
        take_out(engine, settings.photos, out)
    engine.dispose()
    return file


def test_out_and_in_is_equal(demo_settings: Settings, tmp_path: Path) -> None:
    odd_shop(demo_settings).photos.mkdir()
    (demo_settings.photos / PICTURE).write_bytes(b"\xff\xd8\xffpicture")
    file = taken_out(demo_settings, tmp_path / "all.zip")
    other = settings_for(tmp_path / "other")
    rows = import_shop(other, file)
    sums = sums_of(demo_settings.database_url)
    assert sums_of(other.database_url) == sums
    assert rows == sum(one.rows for one in sums.values()) > 600
    assert (other.photos / PICTURE).read_bytes() == b"\xff\xd8\xffpicture"
    engine = make_engine(other.database_url)
    with session_maker(engine)() as session:
        assert check_books(session) == []
    engine.dispose()
    with pytest.raises(DomainError, match="already: nothing was changed"):
        import_shop(other, file)


def test_no_cell_is_one_that_a_spreadsheet_would_run(
    demo_settings: Settings, tmp_path: Path
) -> None:
    with ZipFile(taken_out(odd_shop(demo_settings), tmp_path / "all.zip")) as archive:
        described = json.loads(archive.read("shop.json"))
        for table in described["tables"]:
            words = archive.read(f"tables/{table['name']}.csv").decode()
            rows = list(csv.reader(io.StringIO(words, newline="")))
            assert rows[0] == [c["name"] for c in table["columns"]]
            assert len(rows) - 1 == table["rows"]
            kinds = [c["kind"] for c in table["columns"]]
            for row in rows[1:]:
                for kind, cell in zip(kinds, row, strict=True):
                    assert kind != "text" or not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
        assert described["schema"] == newest_revision()
        assert all(table["about"] for table in described["tables"])


def changed(file: Path, name: str, change: Any) -> Path:
    """The same ZIP with one of its files changed."""
    out = file.with_name("changed.zip")
    with ZipFile(file) as source, ZipFile(out, "w") as target:
        for one in source.namelist():
            data = source.read(one)
            target.writestr(one, change(data) if one == name else data)
    return out


def without(data: bytes, table: str) -> bytes:
    """The description without one of its tables."""
    described = json.loads(data)
    described["tables"] = [one for one in described["tables"] if one["name"] != table]
    return json.dumps(described).encode()


@pytest.mark.parametrize(
    ("name", "change", "says"),
    [
        ("tables/payment.csv", lambda d: d.replace(b"44.0000", b"44.0001"), "payment was changed"),
        ("tables/payment.csv", lambda d: d.replace(b"44.0000", b"a lot"), "“a lot” is no decimal"),
        ("tables/payment.csv", lambda d: d + b"1,2\r\n", "a row has 2 cells"),
        ("tables/payment.csv", lambda d: d[d.index(b"\n") + 1 :], "not those that shop.json"),
        ("tables/payment.csv", lambda d: d + d.splitlines(keepends=True)[-1], "not fit together"),
        ("shop.json", lambda d: b"[]", "no whole shop"),
        ("shop.json", lambda d: b"{", "shop.json is not in it"),
        ("shop.json", lambda d: d.replace(b'"payment"', b'"pay; DROP"'), "cannot be one"),
        ("shop.json", lambda d: d.replace(b'"schema": "0', b'"schema": "9'), "newer one"),
        ("shop.json", lambda d: re.sub(rb'"schema": "....', b'"schema": "head', d), "names no schema"),
        ("shop.json", lambda d: without(d, "choice"), "does not have the tables of a shop"),
        ("shop.json", lambda d: d.replace(b"decimal, 4 places", b"decimal"), "no whole shop"),
        ("shop.json", lambda d: b"[" * 90_000, "no whole shop"),
        ("tables/payment.csv", lambda d: d.replace(b",44.0000,", b",NaN,"), "no whole shop"),
        ("tables/payment.csv", lambda d: d.replace(b",44.0000,", b",1E+999999,"), "no whole shop"),
        ("tables/payment.csv", lambda d: b"\xff\xfe" + d, "no whole shop"),
    ],
)  # fmt: skip
def test_files_that_were_changed_are_refused_whole(
    demo_settings: Settings, tmp_path: Path, name: str, change: Any, says: str
) -> None:
    file = changed(taken_out(demo_settings, tmp_path / "all.zip"), name, change)
    other = settings_for(tmp_path / "other")
    with pytest.raises(DomainError, match=says):
        import_shop(other, file)
    assert [p.name for p in other.folder.iterdir()] == ["form.key"]


def test_of_an_older_schema_it_is_brought_up_to_date(
    demo_settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine = make_engine(demo_settings.database_url)
    migrate(engine, "0029")
    there = inspect(engine)
    older = [
        replace(one, columns=tuple(c for c in one.columns if c.name in names))
        for one in tables_now()
        if one.name in there.get_table_names()
        for names in [{c["name"] for c in there.get_columns(one.name)}]
    ]
    engine.dispose()
    # As the program of then wrote it.
    monkeypatch.setattr(whole_shop, "tables_now", lambda: older)
    file = taken_out(demo_settings, tmp_path / "older.zip")
    monkeypatch.undo()
    with ZipFile(file) as archive:
        assert json.loads(archive.read("shop.json"))["schema"] == "0029"
    other = settings_for(tmp_path / "other")
    import_shop(other, file)
    engine = make_engine(other.database_url)
    assert revision_of(engine) == newest_revision()
    with session_maker(engine)() as session:
        assert check_books(session) == []
        assert len(list(session.scalars(select(Seal)))) > 20
    engine.dispose()


@pytest.mark.postgresql
def test_to_postgresql_and_back_is_equal(
    demo_settings: Settings, postgres: Cluster, tmp_path: Path
) -> None:
    there = postgres.empty()
    sums = sums_of(odd_shop(demo_settings).database_url)
    assert move_shop(demo_settings, there) == sums
    with pytest.raises(DomainError, match="already: nothing was changed"):
        move_shop(demo_settings, there)
    # It goes on where it was: new rows take new numbers.
    engine = make_engine(there)
    with transaction(session_maker(engine)) as session:
        assert check_books(session) == []
        new = Customer(name="New")
        session.add(new)
        session.flush()
        assert new.id > max(1, sums["customer"].rows)
        session.delete(new)
    engine.dispose()
    back = tmp_path / "back" / "shop.sqlite3"
    back.parent.mkdir()
    assert move_shop(settings_for(tmp_path / "pg", there), f"sqlite:///{back}") == sums
    assert back.stat().st_mode & 0o777 == 0o600
    assert sums_of(f"sqlite:///{back}") == sums
    with pytest.raises(DomainError, match="already: nothing was changed"):
        move_shop(demo_settings, f"sqlite:///{back}")


@pytest.mark.postgresql
def test_open_files_go_into_postgresql_too(
    demo_settings: Settings, postgres: Cluster, tmp_path: Path
) -> None:
    file = taken_out(odd_shop(demo_settings), tmp_path / "all.zip")
    settings = settings_for(tmp_path / "pg", postgres.empty())
    import_shop(settings, file)
    assert sums_of(settings.database_url) == sums_of(demo_settings.database_url)
    again = taken_out(settings, tmp_path / "again.zip")
    import_shop(settings_for(tmp_path / "third"), again)


def test_a_move_from_an_older_schema_is_refused(empty_settings: Settings, tmp_path: Path) -> None:
    engine = make_engine(empty_settings.database_url)
    migrate(engine, "0029")
    engine.dispose()
    with pytest.raises(DomainError, match="upgrade"):
        move_shop(empty_settings, f"sqlite:///{tmp_path / 'new.sqlite3'}")
    assert not (tmp_path / "new.sqlite3").exists()
    open_shop(empty_settings, make=False)
    move_shop(empty_settings, f"sqlite:///{tmp_path / 'new.sqlite3'}")


KINDS: dict[str, st.SearchStrategy[Any]] = {
    "text": st.text(st.characters(codec="utf-8", exclude_characters="\x00")),
    "whole number": st.integers(-(2**60), 2**60),
    "decimal, 4 places": st.integers(-(10**12), 10**12).map(lambda n: Decimal(n).scaleb(-4)),
    "yes or no": st.booleans(),
    "day": st.dates(date(1900, 1, 1), date(2200, 1, 1)),
    "moment": st.datetimes(timezones=st.just(UTC)),
    "bytes, base64": st.binary(min_size=1),
    "JSON": st.dictionaries(st.text(), st.integers() | st.text() | st.lists(st.integers()), min_size=1),
}  # fmt: skip
ONE = TableOf(
    "t",
    "",
    tuple(
        Column(k.split(",")[0].replace(" ", "_"), k, empty=True, key=False, refers_to=None)
        for k in KINDS
    ),
)


@given(st.tuples(*(st.none() | kind for kind in KINDS.values())))
def test_any_row_as_text_is_the_same_row(row: tuple[Any, ...]) -> None:
    out = io.StringIO(newline="")
    csv.writer(out).writerow(as_cells(ONE, row))
    [cells] = csv.reader(io.StringIO(out.getvalue(), newline=""), strict=True)
    found = from_cells(ONE, cells)
    assert tuple(found.values()) == row
    assert all(type(a) is type(b) for a, b in zip(found.values(), row, strict=True))
