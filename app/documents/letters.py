"""The letters of printed papers: embedded, so that every name prints as it is written.

DejaVu Sans 2.37 lies beside this module with its licence; it has Latin, Greek, Cyrillic and more.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from unicodedata import bidirectional

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

FOLDER = Path(__file__).parent / "fonts"
PLAIN, BOLD = "DejaVuSans", "DejaVuSans-Bold"


@cache
def letters() -> None:
    """Make the fonts known to whoever draws; done once."""
    for name in (PLAIN, BOLD):
        pdfmetrics.registerFont(TTFont(name, str(FOLDER / f"{name}.ttf")))


def not_printed(text: str) -> str:
    """The characters of a text that the letters here lack, or that would be printed backwards."""
    letters()
    known = pdfmetrics.getFont(PLAIN).face.charToGlyph
    return "".join(
        dict.fromkeys(
            c for c in text
            if not c.isspace() and (ord(c) not in known or bidirectional(c) in ("R", "AL"))
        )
    )  # fmt: skip
