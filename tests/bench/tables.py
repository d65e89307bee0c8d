"""Tables taken in: how long 5,000 rows take, how long others wait, and workbooks made to harm."""

from __future__ import annotations

import io
import itertools
import resource
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

from app.config import settings_for
from app.core.errors import DomainError
from app.db import make_engine, session_maker, transaction
from app.documents.tables import MOST_ROWS, Table, read_table
from app.schema import migrate
from app.services.exchange.importing import KINDS, matched, read_rows, take_in
from app.services.exchange.known import known_names
from app.services.shop.settings import prepare_shop

MB = 1_000_000


def rows_of(kind: str) -> Table:
    """As many rows as a table may have."""
    many = range(MOST_ROWS)
    heads, rows = {
        "materials": (("Material", "Measure", "Waste", "Note"),
                      [(f"Thread {n}", "length", "5", "waxed") for n in many]),
        "papers": (("Paper", "g/m²", "Thickness", "Width", "Height", "Grain"),
                   [(f"Paper {n // 2}", "120", "0.15 mm", f"{640 + n % 2}", "900", "height")
                    for n in many]),
        "offers": (("Thing", "Supplier", "Pack", "Pack price", "From packs", "Days"),
                   [(f"Thread {n}", f"Supplier {n % 20}", "50 m", "5.40", "1", "6")
                    for n in many]),
        "stock": (("Thing", "Quantity", "Cost"),
                  [(f"Thread {n}", "31.5 m", "3.30") for n in many]),
    }[kind]  # fmt: skip
    return Table("table", heads, tuple(rows))


def imports() -> None:
    """Seconds to read 5,000 rows while others write, and to keep them while they wait."""
    sys.stdout.write(f"{'5,000 rows of':<20}{'read s':>8}{'kept s':>8}{'refused':>9}\n")
    with tempfile.TemporaryDirectory() as folder:
        engine = make_engine(settings_for(Path(folder)).database_url)
        migrate(engine)
        sessions = session_maker(engine)
        with transaction(sessions) as session:
            prepare_shop(session)
        for name in ("materials", "papers", "offers", "stock"):
            kind, table = KINDS[name], rows_of(name)
            match = matched(kind, table.heads)
            start = time.perf_counter()
            with sessions() as session:
                read = read_rows(known_names(session), kind, table, match, date.today())
            then = time.perf_counter()
            with transaction(sessions) as session:
                take_in(session, kind, table, match, date.today(), before=read)
            done = time.perf_counter()
            sys.stdout.write(
                f"{name:<20}{then - start:>8.2f}{done - then:>8.2f}{len(read.refused):>9}\n"
            )
        engine.dispose()


HEAD = '<?xml version="1.0"?>'
MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
CELL = '<c t="inlineStr"><is><t>{}</t></is></c>'


def _book(sheet: Iterator[str], strings: Iterator[str] | None = None) -> bytes:
    """A workbook with this first sheet and these shared strings, as small as it packs."""
    relations = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006"
    media = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("[Content_Types].xml", (
            f'{HEAD}<Types xmlns="{package}/content-types"><Default Extension="rels" '
            f'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{media}.sheet.main+xml"/>'
            f'<Override PartName="/xl/sharedStrings.xml" ContentType="{media}.sharedStrings+xml"/>'
            f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{media}.worksheet+xml"/>'
            "</Types>"
        ))  # fmt: skip
        packed.writestr("_rels/.rels", (
            f'{HEAD}<Relationships xmlns="{package}/relationships"><Relationship Id="r1" '
            f'Type="{relations}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
        ))  # fmt: skip
        packed.writestr("xl/workbook.xml", (
            f'{HEAD}<workbook {MAIN} xmlns:r="{relations}"><sheets>'
            '<sheet name="a" sheetId="1" r:id="r1"/></sheets></workbook>'
        ))  # fmt: skip
        packed.writestr("xl/_rels/workbook.xml.rels", (
            f'{HEAD}<Relationships xmlns="{package}/relationships">'
            f'<Relationship Id="r1" Type="{relations}/worksheet" Target="worksheets/sheet1.xml"/>'
            f'<Relationship Id="r2" Type="{relations}/sharedStrings" Target="sharedStrings.xml"/>'
            "</Relationships>"
        ))  # fmt: skip
        for name, parts in (
            ("xl/worksheets/sheet1.xml", sheet),
            ("xl/sharedStrings.xml", strings or _strings(0)),
        ):
            with packed.open(name, "w") as stream:
                for part in parts:
                    stream.write(part.encode())
    return out.getvalue()


def _sheet(rows: int, cells: int, text: str = "x") -> Iterator[str]:
    yield f"{HEAD}<worksheet {MAIN}><sheetData>"
    row = f"<row>{CELL.format(text) * cells}</row>"
    for _ in range(rows):
        yield row
    yield "</sheetData></worksheet>"


def _strings(many: int, text: str = "x") -> Iterator[str]:
    yield f"{HEAD}<sst {MAIN}>"
    for _ in range(many // 1000):
        yield f"<si><t>{text}</t></si>" * 1000
    yield "</sst>"


def _laughs() -> Iterator[str]:
    names = "abcdefghij"
    yield f'{HEAD}<!DOCTYPE w [<!ENTITY a "{"ha" * 50}">'
    for before, name in itertools.pairwise(names):
        yield f'<!ENTITY {name} "{f"&{before};" * 10}">'
    yield f"]><worksheet {MAIN}><sheetData><row>{CELL.format('&j;')}</row></sheetData></worksheet>"


def _lying(data: bytes) -> bytes:
    """The same workbook, its parts said to be a thousand bytes long."""
    out = bytearray(data)
    at = 0
    while (at := out.find(b"PK\x01\x02", at)) >= 0:
        out[at + 24 : at + 28] = (1000).to_bytes(4, "little")
        at += 4
    return bytes(out)


BOMBS: dict[str, Callable[[], bytes]] = {
    "one long sheet": lambda: _book(_sheet(2_000_000, 10)),
    "7 MB of rows": lambda: _book(_sheet(11_000, 12)),
    "7 MB in wide rows": lambda: _book(_sheet(10, 13_200)),
    "one row of 7 MB": lambda: _book(_sheet(1, 132_000)),
    "13 MB of empty rows": lambda: _book(_sheet(390_000, 0)),
    "one cell of 29 MB": lambda: _book(_sheet(1, 1, "x" * 29 * MB)),
    "as many strings as may be": lambda: _book(_sheet(1, 1), _strings(199_000)),
    "49 MB of strings": lambda: _book(_sheet(1, 1), _strings(2_500_000)),
    "entities in entities": lambda: _book(_laughs()),
    "sizes that lie": lambda: _lying(_book(_sheet(400_000, 12))),
    "a table as large as may be": lambda: _book(_sheet(MOST_ROWS, 26, "y" * 20)),
}


def bombs() -> None:
    """Each in a fresh process: what is said of it, how long it took, the memory at most."""
    sys.stdout.write(f"\n{'workbook':<28}{'kB':>7}{'s':>7}{'MB':>6}  said\n")
    for name in BOMBS:
        command = [sys.executable, "-m", "tests.bench.tables", name]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        sys.stdout.write(done.stdout or f"{name:<28} died: {done.stderr[-300:]}\n")
        sys.stdout.flush()


def one_bomb(name: str) -> None:
    """Read one workbook; memory is what reading it takes besides the program."""
    data = BOMBS[name]()
    sys.stdout.flush()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.perf_counter()
    try:
        said = f"{len(read_table('t.xlsx', data).rows)} rows"
    except DomainError as error:
        said = error.message
    taken = time.perf_counter() - start
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1000
    sys.stdout.write(f"{name:<28}{len(data) / 1000:>7.0f}{taken:>7.2f}{grown:>6.0f}  {said}\n")


if __name__ == "__main__":
    one_bomb(sys.argv[1])
