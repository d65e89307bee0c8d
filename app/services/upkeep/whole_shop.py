"""A whole shop as plain open files, out and in: a ZIP of CSV tables, their description, pictures.

``shop.json`` describes every table and column; ``tables/<name>.csv`` has the rows (UTF-8, a first
row of names, RFC 4180); ``photos/`` the pictures. Taken in again it is equal to the last row.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from dataclasses import asdict
from importlib.metadata import version
from pathlib import Path
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZipFile

from sqlalchemy import Engine, inspect
from sqlalchemy.exc import DatabaseError

from app.core.errors import DomainError
from app.folder import write_private
from app.language import say, to_say
from app.schema import known_revision, migrate, revision_of
from app.services.upkeep.rows_of_all import (
    Column,
    Summed,
    Summing,
    TableOf,
    as_cells,
    from_cells,
    go_on_counting,
    put_rows,
    rows_of,
    summed,
    tables_now,
)

FORM = "tallyfold whole shop, 1"
DESCRIBED = "shop.json"
PHOTOS = "photos/"
LARGEST_DESCRIPTION = 4_000_000
SCHEMA = re.compile(r"\d{4}")
JPEG = b"\xff\xd8\xff"
PICTURE = re.compile(r"[0-9a-f]{64}\.jpg")
LARGEST_PICTURE = 20_000_000
LARGEST_OF_ALL = 8_000_000_000
"""Bytes that all files of a ZIP may come to once unpacked."""
HOW_TO_READ = to_say(
    "Every table is a CSV file in UTF-8 with a first row of names. An empty cell is nothing. "
    "An apostrophe before a text is no part of it: it stands where the text is empty or a "
    "spreadsheet would take it for a formula. Names ending in _nm are lengths in nanometres; "
    "quantities are whole base units: sheets, nanometres, ones, milligrams or microlitres; "
    "decimals have a point; moments are in UTC; days are YYYY-MM-DD."
)


def take_out(engine: Engine, photos: Path, out: IO[bytes]) -> dict[str, Summed]:
    """Write the whole shop into a ZIP as it is at one moment."""
    with engine.connect() as connection, ZipFile(out, "w", ZIP_DEFLATED) as archive:
        connection = connection.execution_options(reads_only=True)
        if connection.dialect.name == "postgresql":
            connection = connection.execution_options(isolation_level="REPEATABLE READ")
        tables, sums = tables_now(), {}
        for one in tables:
            summing = Summing()
            with archive.open(f"tables/{one.name}.csv", "w", force_zip64=True) as file:
                words = io.TextIOWrapper(file, encoding="utf-8", newline="")
                rows = csv.writer(words)
                rows.writerow([c.name for c in one.columns])
                for row in rows_of(connection, one):
                    cells = as_cells(one, row)
                    summing.add(cells)
                    rows.writerow(cells)
                words.flush()
                words.detach()
            sums[one.name] = summing.sum
        archive.writestr(DESCRIBED, json.dumps(_description(engine, tables, sums), indent=1))
        add_photos(archive, photos)
    return sums


def add_photos(archive: ZipFile, photos: Path) -> None:
    """Put the pictures into a ZIP as they are."""
    for picture in sorted(photos.iterdir()) if photos.is_dir() else []:
        if PICTURE.fullmatch(picture.name):
            archive.write(picture, PHOTOS + picture.name, compress_type=0)


def _description(engine: Engine, tables: list[TableOf], sums: dict[str, Summed]) -> dict[str, Any]:
    return {
        "form": FORM,
        "program": version("tallyfold"),
        "schema": revision_of(engine),
        "how_to_read": say(HOW_TO_READ),
        "tables": [
            {**asdict(one), "rows": sums[one.name].rows, "sha256_of_rows": sums[one.name].digest}
            for one in tables
        ],
    }


def take_in(file: Path, engine: Engine, photos: Path) -> int:
    """Put a whole shop into an empty database and a folder for its pictures; how many rows.

    All of it is compared with what the file says of itself; the database is upgraded after.
    """
    if revision_of(engine) is not None:
        raise DomainError(say("There is a shop in that place already: nothing was changed."))
    try:
        with ZipFile(file) as archive:
            described = description(archive)
            refuse_unbounded(archive)
            if not SCHEMA.fullmatch(described["schema"]):
                raise DomainError(say("The description of the shop names no schema."))
            known_revision(described["schema"])
            migrate(engine, described["schema"])
            tables = [_table_from(row) for row in described["tables"]]
            _all_there(engine, tables)
            with engine.connect() as connection, connection.begin():
                for one in tables:
                    put_rows(connection, one, _rows_in(archive, one))
                go_on_counting(connection, tables)
                found = summed(connection, tables)
            wanted = {row["name"]: row["sha256_of_rows"] for row in described["tables"]}
            other = [name for name, one in found.items() if one.digest != wanted[name]]
            if other:
                raise DomainError(
                    say(
                        "{file}: the table {table} was changed or is damaged.",
                        file=file.name,
                        table=other[0],
                    )
                )
            unpack_photos(archive, photos)
    except DomainError:
        raise
    except DatabaseError as error:
        raise DomainError(
            say("{file} does not fit together ({why}).", file=file.name, why=error.orig)
        ) from None
    except Exception as error:
        raise DomainError(
            say(
                "{file} is damaged, or no whole shop of Tallyfold ({why}).",
                file=file.name,
                why=type(error).__name__,
            )
        ) from None
    migrate(engine)
    return sum(one.rows for one in found.values())


def description(archive: ZipFile) -> dict[str, Any]:
    """What a ZIP says of itself; refused where it is no whole shop."""
    try:
        size = archive.getinfo(DESCRIBED).file_size
        if size > LARGEST_DESCRIPTION:
            raise DomainError(say("The description of the shop is too large to be one."))
        found: dict[str, Any] = json.loads(archive.read(DESCRIBED))
    except (KeyError, ValueError):
        raise DomainError(
            say(
                "This is no whole shop of Tallyfold: shop.json is not in it. A backup is put "
                "back by “tallyfold restore”."
            )
        ) from None
    if not isinstance(found, dict) or found.get("form") != FORM:
        raise DomainError(say("This is no whole shop that this version of Tallyfold can read."))
    return found


def refuse_unbounded(archive: ZipFile) -> None:
    """Refuse what would unpack to more than any shop: before anything of it is unpacked."""
    if sum(one.file_size for one in archive.infolist()) > LARGEST_OF_ALL:
        raise DomainError(say("Unpacked this would be larger than any shop."))


def _all_there(engine: Engine, tables: list[TableOf]) -> None:
    """Every table of that schema, and none besides."""
    wanted = set(inspect(engine).get_table_names()) - {"alembic_version"}
    if [one.name for one in tables if one.name not in wanted] or len(tables) != len(wanted):
        raise DomainError(say("The description of the shop does not have the tables of a shop."))


def _table_from(row: dict[str, Any]) -> TableOf:
    columns = tuple(Column(**one) for one in row["columns"])
    names = [row["name"], *(c.name for c in columns)]
    if not all(isinstance(name, str) and name.isidentifier() for name in names):
        raise DomainError(say("The description of the shop names a table that cannot be one."))
    return TableOf(row["name"], row["about"], columns)


def _rows_in(archive: ZipFile, one: TableOf) -> Iterator[dict[str, Any]]:
    csv.field_size_limit(200_000_000)
    with archive.open(f"tables/{one.name}.csv") as file:
        rows = csv.reader(io.TextIOWrapper(file, encoding="utf-8", newline=""), strict=True)
        head = next(rows, [])
        if head != [c.name for c in one.columns]:
            raise DomainError(
                say("{table}: its columns are not those that shop.json describes.", table=one.name)
            )
        for cells in rows:
            yield from_cells(one, cells)


def unpack_photos(archive: ZipFile, photos: Path) -> None:
    """Take the pictures out of a ZIP; a name that leads elsewhere is no picture of a shop."""
    names = [name for name in archive.namelist() if name.startswith(PHOTOS)]
    if names:
        photos.mkdir(mode=0o700, exist_ok=True)
    for name in names:
        plain = name.removeprefix(PHOTOS)
        if not PICTURE.fullmatch(plain) or archive.getinfo(name).file_size > LARGEST_PICTURE:
            raise DomainError(say("“{name}” is no picture of a shop.", name=name[:60]))
        data = archive.read(name)
        if not data.startswith(JPEG):
            raise DomainError(say("“{name}” is no picture of a shop.", name=name[:60]))
        write_private(photos / plain, data)
