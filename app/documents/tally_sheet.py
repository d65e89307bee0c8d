"""The stall's sheet on paper: a line a journal, room for strokes, for a day without a phone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from app.documents.labels import wrapped
from app.documents.letters import BOLD, PLAIN, letters
from app.language import say

PAGES = {"A4": A4, "Letter": LETTER}
INK, SOFT, RULE = (HexColor(c) for c in ("#21303b", "#5d6a72", "#b5ad9c"))
EDGE, ROW, HEAD = 15 * mm, 15 * mm, 26 * mm
FOOT = 40 * mm
NAME_WIDE, PRICE_WIDE, SUM_WIDE = 58 * mm, 20 * mm, 16 * mm


@dataclass(frozen=True)
class TallyRow:
    """A journal, its price in words, and how many are packed."""

    name: str
    price: str
    packed: int


def tally_pdf(title: str, rows: Sequence[TallyRow], page: str = "A4") -> bytes:
    """As many pages as it takes; at the foot of the last what to count at the end of the day."""
    letters()
    out = BytesIO()
    wide, high = PAGES[page]
    canvas = Canvas(out, pagesize=(wide, high), invariant=1)
    canvas.setTitle(title)
    most = int((high - EDGE - HEAD - FOOT) // ROW)
    parts = [rows[n : n + most] for n in range(0, len(rows), most)] or [[]]
    for number, part in enumerate(parts):
        _head(canvas, title, wide, high)
        y = high - EDGE - HEAD
        for row in part:
            _row(canvas, row, wide, y)
            y -= ROW
        if number == len(parts) - 1:
            _foot(canvas, wide)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _head(canvas: Canvas, title: str, wide: float, high: float) -> None:
    canvas.setFillColor(INK)
    canvas.setFont(BOLD, 14)
    canvas.drawString(EDGE, high - EDGE - 10, wrapped(title, BOLD, 14, wide - 2 * EDGE)[0])
    canvas.setFont(PLAIN, 8)
    canvas.setFillColor(SOFT)
    said = say(
        "A stroke a journal, the fifth across four. Circle what was paid by card; write another "
        "price beside it."
    )
    for n, line in enumerate(wrapped(said, PLAIN, 8, wide - 2 * EDGE)):
        canvas.drawString(EDGE, high - EDGE - 24 - n * 11, line)
    y = high - EDGE - HEAD + 4
    canvas.drawString(EDGE, y, say("Journal"))
    canvas.drawRightString(EDGE + NAME_WIDE + PRICE_WIDE - 4, y, say("Price"))
    canvas.drawString(EDGE + NAME_WIDE + PRICE_WIDE + 4, y, say("Sold"))
    canvas.drawRightString(wide - EDGE - SUM_WIDE - 4, y, say("Packed"))
    canvas.drawRightString(wide - EDGE, y, say("Home"))
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(1)
    canvas.line(EDGE, high - EDGE - HEAD, wide - EDGE, high - EDGE - HEAD)


def _row(canvas: Canvas, row: TallyRow, wide: float, y: float) -> None:
    canvas.setFillColor(INK)
    canvas.setFont(PLAIN, 10)
    for n, line in enumerate(wrapped(row.name, PLAIN, 10, NAME_WIDE - 6)[:2]):
        canvas.drawString(EDGE, y - 14 - n * 12, line)
    canvas.setFont(BOLD, 11)
    canvas.drawRightString(EDGE + NAME_WIDE + PRICE_WIDE - 4, y - 15, row.price)
    canvas.setFont(PLAIN, 10)
    canvas.drawRightString(wide - EDGE - SUM_WIDE - 4, y - 15, str(row.packed))
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.5)
    canvas.line(EDGE, y - ROW, wide - EDGE, y - ROW)
    for x in (EDGE + NAME_WIDE + PRICE_WIDE, wide - EDGE - SUM_WIDE):
        canvas.line(x, y, x, y - ROW)


def _foot(canvas: Canvas, wide: float) -> None:
    canvas.setFillColor(INK)
    canvas.setFont(PLAIN, 9)
    words = (
        say("Cash in the box at first"), say("Cash counted at the end"), say("Hours at the stall"),
        say("Hours on the way"), say("Given away or swapped"),
    )  # fmt: skip
    for n, text in enumerate(words):
        x = EDGE + (n % 2) * (wide / 2 - EDGE / 2)
        y = FOOT - 10 - (n // 2) * 9 * mm
        canvas.drawString(x, y, text)
        after = x + stringWidth(text, PLAIN, 9) + 4
        canvas.line(after, y - 2, x + wide / 2 - 2 * EDGE, y - 2)
