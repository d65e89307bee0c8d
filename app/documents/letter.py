"""A page of the shop's own paper as PDF: its head, whom it is for, a table, sums, and words below.

Quotes, invoices, credit notes, receipts and packing slips are all laid out by it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from io import BytesIO
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    Flowable,
    Image,
    KeepTogether,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from app.documents.letters import BOLD, PLAIN, letters
from app.language import language, say, speaking

PAGES = {"A4": A4, "Letter": LETTER}
INK, SOFT, RULE, THREAD = (HexColor(c) for c in ("#21303b", "#5d6a72", "#ddd5c5", "#a23b2c"))
EDGE, FOOT = 20 * mm, 24 * mm
PAD = 6
"""What the library keeps free within a margin."""
LOGO_WIDE, LOGO_HIGH = 45 * mm, 25 * mm
PICTURE = 18 * mm


def _style(size: float, **more: Any) -> ParagraphStyle:
    row = {"fontName": PLAIN, "fontSize": size, "leading": size * 1.4, "textColor": INK}
    return ParagraphStyle(f"s{size}{sorted(more)}", **row | more)


TEXT, SMALL = _style(9.5), _style(8, textColor=SOFT)
NAME, TITLE = _style(13, fontName=BOLD), _style(18, fontName=BOLD)
HEAD, FIGURE = _style(8, fontName=BOLD), _style(9.5, alignment=TA_RIGHT)
HEAD_FIGURE = _style(8, fontName=BOLD, alignment=TA_RIGHT)
STRONG, STRONG_FIGURE = _style(10.5, fontName=BOLD), _style(10.5, fontName=BOLD, alignment=TA_RIGHT)


@dataclass(frozen=True)
class Letter:
    """What stands on a page, in words; ``figures`` are the columns that hold figures.

    Of ``rows`` the first cell may have a second line, in small. A sum is a label, an amount and
    whether it stands out. ``foot`` stands at the foot of every page.
    """

    title: str
    sender: tuple[str, ...]
    recipient: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[str | tuple[str, str], ...], ...]
    figures: frozenset[int]
    sums: tuple[tuple[str, str, bool], ...]
    below: tuple[tuple[str, tuple[str, ...]], ...]
    """Paragraphs under their headings; a heading may be empty."""
    foot: tuple[str, ...]
    logo: bytes | None = None
    pictures: tuple[bytes | None, ...] = ()
    """JPEGs beside the first cells of as many rows."""
    spoken: str = field(default_factory=language.get)
    """The language it is written in."""


def letter_pdf(letter: Letter, page: str = "A4") -> bytes:
    """The letter on as many pages as it takes, its table's head on each."""
    letters()
    out = BytesIO()
    size = PAGES[page]
    wide = size[0] - 2 * EDGE
    made = SimpleDocTemplate(
        out, pagesize=size, leftMargin=EDGE - PAD, rightMargin=EDGE - PAD, topMargin=18 * mm,
        bottomMargin=FOOT, title=letter.title, author=letter.sender[0] if letter.sender else "",
        invariant=1, initialFontName=PLAIN,
    )  # fmt: skip
    story: list[Flowable] = [
        _head(letter, wide), Spacer(1, 8 * mm), _to_whom(letter, wide), Spacer(1, 8 * mm)
    ]  # fmt: skip
    if letter.rows:
        story.append(_table(letter, wide))
    if letter.sums:
        story += [Spacer(1, 2 * mm), KeepTogether([_sums(letter, wide)])]
    for heading, paragraphs in letter.below:
        block: list[Flowable] = [Spacer(1, 5 * mm)]
        if heading:
            block.append(Paragraph(escape(heading), HEAD))
        block += [Paragraph(_lines(text), TEXT) for text in paragraphs]
        story.append(KeepTogether(block))
    made.build(story, canvasmaker=_numbered(letter))
    return out.getvalue()


def _lines(text: str) -> str:
    return escape(text).replace("\n", "<br/>")


def _head(letter: Letter, wide: float) -> Table:
    name, *rest = letter.sender or ("",)
    words = [Paragraph(escape(name), NAME), *(Paragraph(escape(line), SMALL) for line in rest)]
    logo: Any = ""
    if letter.logo:
        logo = Image(
            BytesIO(letter.logo), *_fitting(letter.logo, LOGO_WIDE, LOGO_HIGH), hAlign="RIGHT"
        )
    table = Table([[words, logo]], colWidths=[wide - LOGO_WIDE, LOGO_WIDE])
    table.setStyle(
        TableStyle(
            [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
             ("RIGHTPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
             ("LINEBELOW", (0, 0), (-1, -1), 1, THREAD, None, (3, 2))]
        )
    )  # fmt: skip
    return table


def _fitting(picture: bytes, most_wide: float, most_high: float) -> tuple[float, float]:
    """A picture's sides, as large as its place allows."""
    wide, high = ImageReader(BytesIO(picture)).getSize()
    share = min(most_wide / wide, most_high / high)
    return wide * share, high * share


def _to_whom(letter: Letter, wide: float) -> Table:
    who = [Paragraph(escape(line), TEXT) for line in letter.recipient]
    facts = [
        [Paragraph(escape(label), SMALL), Paragraph(escape(value), FIGURE)]
        for label, value in letter.facts
    ]
    right: Any = Table(facts, colWidths=[wide * 0.17, wide * 0.25]) if facts else ""
    if facts:
        right.setStyle(TableStyle([("TOPPADDING", (0, 0), (-1, -1), 1),
                                   ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
                                   ("RIGHTPADDING", (0, 0), (-1, -1), 0)]))  # fmt: skip
    table = Table([[[Paragraph(escape(letter.title), TITLE), Spacer(1, 4 * mm), *who], right]],
                  colWidths=[wide * 0.58, wide * 0.42])  # fmt: skip
    table.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"),
                               ("LEFTPADDING", (0, 0), (-1, -1), 0),
                               ("RIGHTPADDING", (0, 0), (-1, -1), 0)]))  # fmt: skip
    return table


def _table(letter: Letter, wide: float) -> Table:
    heads = [Paragraph(escape(head), HEAD_FIGURE if n in letter.figures else HEAD)
             for n, head in enumerate(letter.heads)]  # fmt: skip
    narrow = wide * 0.17
    first = wide - narrow * (len(letter.heads) - 1)
    rows: list[list[Any]] = [
        [_cell(cell, figure=n in letter.figures) for n, cell in enumerate(row)]
        for row in letter.rows
    ]
    for row, picture in zip(rows, letter.pictures, strict=False):
        if picture is not None:
            row[0] = _beside(picture, row[0], first - PAD)
    table = Table([heads, *rows], colWidths=[first, *[narrow] * (len(letter.heads) - 1)],
                  repeatRows=1)  # fmt: skip
    table.setStyle(
        TableStyle(
            [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, -1), 0),
             ("RIGHTPADDING", (-1, 0), (-1, -1), 0), ("LINEBELOW", (0, 0), (-1, 0), 1, INK),
             ("LINEBELOW", (0, 1), (-1, -1), 0.5, RULE)]
        )
    )  # fmt: skip
    return table


def _cell(cell: str | tuple[str, str], *, figure: bool) -> list[Flowable]:
    first, second = cell if isinstance(cell, tuple) else (cell, "")
    words: list[Flowable] = [Paragraph(escape(first), FIGURE if figure else TEXT)]
    if second:
        words.append(Paragraph(escape(second), SMALL))
    return words


def _beside(picture: bytes, words: list[Flowable], wide: float) -> Table:
    """A picture with the words of its row at its right."""
    image = Image(BytesIO(picture), *_fitting(picture, PICTURE, PICTURE), hAlign="LEFT")
    table = Table([[image, words]], colWidths=[PICTURE + 3 * mm, wide - PICTURE - 3 * mm])
    table.setStyle(
        TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
                    ("RIGHTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 0),
                    ("BOTTOMPADDING", (0, 0), (-1, -1), 0)])
    )  # fmt: skip
    return table


def _sums(letter: Letter, wide: float) -> Table:
    rows = [
        [Paragraph(escape(label), STRONG if strong else TEXT),
         Paragraph(escape(amount), STRONG_FIGURE if strong else FIGURE)]
        for label, amount, strong in letter.sums
    ]  # fmt: skip
    table = Table(rows, colWidths=[wide * 0.3, wide * 0.32], hAlign="RIGHT")
    lines = [("LINEABOVE", (0, n), (-1, n), 1, INK)
             for n, (_, _, strong) in enumerate(letter.sums) if strong]  # fmt: skip
    table.setStyle(
        TableStyle([("RIGHTPADDING", (-1, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 2),
                    ("BOTTOMPADDING", (0, 0), (-1, -1), 2), *lines])
    )  # fmt: skip
    return table


def _numbered(letter: Letter) -> type[Canvas]:
    """A canvas that writes the foot on every page, and which of how many it is."""

    class Numbered(Canvas):
        def __init__(self, *given: Any, **more: Any) -> None:
            super().__init__(*given, **more)
            self.seen: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - reportlab's own name
            self.seen.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, state in enumerate(self.seen, start=1):
                self.__dict__.update(state)
                self._foot(number)
                super().showPage()
            super().save()

        def _foot(self, number: int) -> None:
            self.setFont(PLAIN, 7.5)
            self.setFillColor(SOFT)
            wide = self._pagesize[0]
            for n, line in enumerate(letter.foot):
                self.drawString(EDGE, FOOT - 10 - n * 10, line)
            if len(self.seen) > 1:
                with speaking(letter.spoken):
                    page = say("page {number} of {pages}", number=number, pages=len(self.seen))
                self.drawRightString(wide - EDGE, FOOT - 10, f"{letter.title}, {page}")

    return Numbered
