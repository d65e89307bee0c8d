"""Price labels and swing tags on sheets that are bought, each where its label lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO

from reportlab.lib.colors import HexColor
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from app.core.errors import DomainError
from app.core.length import INCH, MM
from app.core.selling.labels import PAGES, LabelSheet
from app.documents.letters import BOLD, PLAIN, letters
from app.language import say

INK = HexColor("#21303b")
POINT_NM = INCH / 72
PAD_NM = 5 * MM // 2
"""Kept free within a label's edge: printers and sheets are not true to less."""
NAME, PRICE, TEXT = 10.0, 14.0, 7.5
SMALLEST = 0.62
"""Letters are made smaller down to this share before it is said that there is too much."""
LEADING = 1.22
HOLE_NM = 5 * MM
PICTURE_SHARE = 0.35
"""Of a label's width at most."""


@dataclass(frozen=True)
class Label:
    """What stands on a label: the name, the price in words, lines in small, and a picture."""

    name: str
    price: str
    lines: tuple[str, ...] = ()
    picture: bytes | None = None
    """A JPEG."""


@dataclass(frozen=True)
class _Set:
    """A label set at one size: rows of font, size and text."""

    rows: tuple[tuple[str, float, str], ...]

    @property
    def height(self) -> float:
        return sum(size * LEADING for _, size, _ in self.rows)


def labels_pdf(
    sheet: LabelSheet, labels: Sequence[Label], start: int = 1, *, outlined: bool = False
) -> bytes:
    """The labels from label ``start`` of the first sheet on.

    ``outlined`` draws the edges too: for a try on plain paper, and for tags to cut out. Raises
    where one holds more than its label.
    """
    letters()
    out = BytesIO()
    width, height = (side / POINT_NM for side in PAGES[sheet.page])
    canvas = Canvas(out, pagesize=(width, height), invariant=1)
    canvas.setTitle(say("Labels"))
    on_page = 0
    for (page, left_nm, top_nm), label in zip(
        sheet.places(len(labels), start), labels, strict=True
    ):
        while on_page < page:
            canvas.showPage()
            on_page += 1
        _draw(canvas, sheet, label, left_nm / POINT_NM, height - top_nm / POINT_NM,
              outlined=outlined)  # fmt: skip
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw(
    canvas: Canvas, sheet: LabelSheet, label: Label, left: float, top: float, *, outlined: bool
) -> None:
    wide, high = sheet.width_nm / POINT_NM, sheet.height_nm / POINT_NM
    if outlined:
        canvas.setLineWidth(0.4)
        canvas.setStrokeColor(INK)
        canvas.rect(left, top - high, wide, high)
    pad = PAD_NM / POINT_NM
    hung = "tag" in sheet.name
    # A tag hangs on a cord: its head is free for the hole.
    head = (HOLE_NM * 2 if hung else PAD_NM) / POINT_NM
    if hung and outlined:
        canvas.circle(left + wide / 2, top - HOLE_NM / POINT_NM, HOLE_NM / 4 / POINT_NM)
    beside = _picture(
        canvas, label, left + wide - pad, top - head, wide - 2 * pad, high - pad - head
    )
    found = fitted(label, wide - 2 * pad - beside, high - pad - head, sheet.name)
    canvas.setFillColor(INK)
    y = top - head
    for font, size, text in found.rows:
        y -= size * LEADING
        canvas.setFont(font, size)
        canvas.drawString(left + pad, y + size * (LEADING - 1), text)


def _picture(
    canvas: Canvas, label: Label, right: float, top: float, wide: float, high: float
) -> float:
    """Draw the picture at the label's right, and say how much of its width that takes."""
    if label.picture is None:
        return 0
    picture = ImageReader(BytesIO(label.picture))
    pixels = picture.getSize()
    share = min(wide * PICTURE_SHARE / pixels[0], high / pixels[1])
    across, down = float(pixels[0] * share), float(pixels[1] * share)
    canvas.drawImage(picture, right - across, top - down, across, down)
    return across + float(PAD_NM / POINT_NM)


@lru_cache(maxsize=512)
def fitted(label: Label, wide: float, high: float, where: str) -> _Set:
    """A label set as large as it fits, in points; refused where it would be too small to read."""
    price = (label.price,) if label.price else ()
    parts = ((BOLD, NAME, (label.name,)), (BOLD, PRICE, price), (PLAIN, TEXT, label.lines))
    scale = 1.0
    while scale >= SMALLEST:
        found = _Set(
            tuple(
                (font, size * scale, line)
                for font, size, texts in parts
                for text in texts
                for line in wrapped(text, font, size * scale, wide)
            )
        )
        if found.height <= high:
            return found
        scale -= 0.04
    raise DomainError(
        say(
            "{name} holds more than a label of “{sheet}” has room for: say less, or choose larger "
            "labels.",
            name=label.name,
            sheet=say(where),
        ),
        "sheet",
    )


def wrapped(text: str, font: str, size: float, wide: float) -> list[str]:
    """A text in lines no wider than there is room; a word that is wider is broken."""
    found: list[str] = []
    for paragraph in text.splitlines():
        line = ""
        for word in paragraph.split():
            rest = word
            while rest:
                longer = f"{line} {rest}" if line else rest
                if stringWidth(longer, font, size) <= wide:
                    line, rest = longer, ""
                elif line:
                    found.append(line)
                    line = ""
                else:
                    fits = _fitting(rest, font, size, wide)
                    found.append(rest[:fits])
                    rest = rest[fits:]
        if line:
            found.append(line)
    return found


def _fitting(word: str, font: str, size: float, wide: float) -> int:
    """How many letters of a word there is room for; one at least."""
    low, high = 1, len(word)
    while low < high:
        middle = (low + high + 1) // 2
        if stringWidth(word[:middle], font, size) <= wide:
            low = middle
        else:
            high = middle - 1
    return low
