"""Lists to take away, as CSV and XLSX, and the same two read back.

A cell that a spreadsheet would run as a formula gets an apostrophe before it, in both forms.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from openpyxl import Workbook, load_workbook
from openpyxl.styles import Font

from app.core.errors import DomainError
from app.core.numbers import styled
from app.language import say

Cell = str | int | Decimal | date | None
DANGEROUS = ("=", "+", "-", "@", "＝", "＋", "－", "＠", "\t", "\r", "\n")
"""What a spreadsheet may take for a formula at the start of a cell, full-width forms too."""
MOST_ROWS, MOST_COLUMNS, MOST_CELL = 5_000, 60, 2_000
MOST_BYTES, MOST_TAGS, CHUNK = 30_000_000, 800_000, 1_000_000
MOST_ASIDE = 50_000
"""Of a workbook unpacked; a tag takes about a microsecond to read."""


@dataclass(frozen=True)
class Table:
    """A list with its heads; ``name`` is what the file is called.

    Heads lose the places where a narrow page may break them.
    """

    name: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def __post_init__(self) -> None:
        """Soft hyphens go."""
        heads = tuple(head.replace("\N{SOFT HYPHEN}", "") for head in self.heads)
        object.__setattr__(self, "heads", heads)


def safe(text: str) -> str:
    """Text that no spreadsheet takes for a formula."""
    return "'" + text if text.startswith(DANGEROUS) else text


def _plain(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return safe(cell)
    if isinstance(cell, Decimal):
        return f"{cell:f}"  # never as a power of ten
    return cell.isoformat() if isinstance(cell, date) else str(cell)


def as_csv(table: Table) -> bytes:
    """UTF-8 with a mark, so that spreadsheets read the letters right."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(table.heads)
    writer.writerows([_plain(cell) for cell in row] for row in table.rows)
    return out.getvalue().encode("utf-8-sig")


def as_xlsx(table: Table) -> bytes:
    """A workbook of one sheet; numbers stay numbers and days stay days."""
    book = Workbook(write_only=False)
    sheet = book.active
    sheet.title = table.name[:31]
    sheet.append(list(table.heads))
    for head in sheet[1]:
        head.font = Font(bold=True)
    for row in table.rows:
        sheet.append([safe(cell) if isinstance(cell, str) else cell for cell in row])
        for cell in sheet[sheet.max_row]:
            if isinstance(cell.value, str):
                cell.data_type = "s"
    sheet.freeze_panes = "A2"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def read_table(name: str, data: bytes) -> Table:
    """The first sheet of a CSV or XLSX file, every cell as text; refused in words."""
    if not data:
        raise DomainError(say("The file is empty."), "file")
    return _table_of(name, _xlsx_rows(data) if data.startswith(b"PK") else _csv_rows(data), "file")


def read_pasted(text: str) -> Table:
    """Cells copied from a spreadsheet, or the text of a CSV file; refused in words."""
    if len(text) > MOST_ROWS * MOST_CELL:
        raise DomainError(say("The table is too large."), "pasted")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").lstrip("\n")
    first = lines.split("\n", 1)[0]
    if "\t" in first or not any(mark in first for mark in ",;"):
        return _table_of("pasted", _pasted_rows(lines), "pasted")
    return _table_of("pasted", _csv_rows(lines.encode(errors="ignore"), "pasted"), "pasted")


CELL = re.compile(r'(?:"((?:[^"\t]|"")*)"|([^\t\n]*))(\t|\n|$)')


def _pasted_rows(text: str) -> list[list[str]]:
    """Cells with tabs between them, as a spreadsheet copies them.

    A quotation mark is the cell's own, an inch's say, but where one begins and ends a cell.
    """
    if "\0" in text:
        raise DomainError(say("This is no table of text."), "pasted")
    rows: list[list[str]] = [[]]
    for quoted, plain, end in CELL.findall(text):
        cell = quoted.replace('""', '"') if quoted else plain
        rows[-1].append(_bounded(cell, "pasted"))
        if end == "\n":
            rows.append([])
            if len(rows) > MOST_ROWS + 2:
                raise DomainError(say("More than {most} rows; split it.", most=MOST_ROWS), "pasted")
        elif not end:
            break
    return rows


def _table_of(name: str, rows: list[list[str]], field: str) -> Table:
    """Rows with their heads; a refusal stands at ``field``."""
    while rows and not any(cell.strip() for cell in rows[-1]):
        rows.pop()
    if not rows:
        raise DomainError(say("There is nothing in it."), field)
    # Blank rows stay where they are, so that a row's number is its line in the file.
    heads = [head.strip() for head in rows[0]]
    while heads and not heads[-1]:
        heads.pop()
    if not heads:
        raise DomainError(say("The first row must say what the columns are."), field)
    if len(heads) > MOST_COLUMNS:
        raise DomainError(say("More than {most} columns.", most=MOST_COLUMNS), field)
    width = len(heads)
    body = tuple(tuple((*row, *[""] * width)[:width]) for row in rows[1:])
    return Table(name[:120], tuple(heads), body)


def _csv_rows(data: bytes, field: str = "file") -> list[list[str]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    if "\0" in text:
        raise DomainError(say("This is neither a CSV nor an XLSX file."), field)
    first = text.split("\n", 1)[0]
    mark = max(",;\t", key=first.count)
    found = []
    try:
        for row in csv.reader(io.StringIO(text), delimiter=mark):
            found.append([_bounded(cell, field) for cell in row])
            if len(found) > MOST_ROWS + 1:
                raise DomainError(say("More than {most} rows; split it.", most=MOST_ROWS), field)
    except csv.Error as error:
        raise DomainError(say("It cannot be read as CSV: {why}.", why=error), field) from None
    return found


def _xlsx_rows(data: bytes) -> list[list[str]]:
    try:
        _check_unpacked(data)
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        found = []
        for row in sheet.iter_rows(values_only=True, max_col=MOST_COLUMNS + 1):
            found.append([_bounded(_as_text(value), "file") for value in row])
            if len(found) > MOST_ROWS + 1:
                raise DomainError(
                    say("More than {most} rows; split the file.", most=MOST_ROWS), "file"
                )
    except DomainError:
        raise
    except Exception:
        raise DomainError(say("The file cannot be read as an XLSX workbook."), "file") from None
    return found


def _check_unpacked(data: bytes) -> None:
    """Refuse a workbook that would take long or much memory to read, whatever it says of itself."""
    size = tags = aside = 0
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        for info in packed.infolist():
            with packed.open(info) as part:
                while piece := part.read(CHUNK):
                    size += len(piece)
                    found = piece.count(b"<")
                    tags += found
                    if not info.filename.startswith(("xl/worksheets/", "xl/sharedStrings")):
                        aside += found
                    if size > MOST_BYTES or tags > MOST_TAGS or aside > MOST_ASIDE:
                        raise DomainError(
                            say(
                                "The workbook is too large. Save the sheet as CSV and take that in."
                            ),
                            "file",
                        )


def _as_text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, float):
        # A number has no style of its own: it is written as this shop reads numbers, with the
        # fifteen figures that a spreadsheet counts in.
        return styled(f"{Decimal(f'{value:.15g}').normalize():f}")
    return str(value)


def _bounded(cell: str, field: str) -> str:
    if len(cell) > MOST_CELL:
        raise DomainError(say("A cell has more than {most} characters.", most=MOST_CELL), field)
    return cell.removeprefix("'") if cell[1:2] and cell[1] in DANGEROUS else cell
