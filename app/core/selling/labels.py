"""Sheets of labels: where each label lies, in whole nanometres.

Labels lie in the middle of their sheet, so its margins follow from the labels and the gaps.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.errors import DomainError
from app.core.length import INCH, MM
from app.language import say, to_say

PAGES = {"A4": (210 * MM, 297 * MM), "Letter": (17 * INCH // 2, 11 * INCH)}
"""Width and height (ISO 216; ANSI Y14.1 A, portrait)."""


@dataclass(frozen=True)
class LabelSheet:
    """A sheet of ``across`` × ``down`` labels of one size, with gaps between them."""

    name: str
    page: str
    across: int
    down: int
    width_nm: int
    height_nm: int
    gap_across_nm: int = 0
    gap_down_nm: int = 0

    def __post_init__(self) -> None:
        if self.left_nm < 0 or self.top_nm < 0:
            raise DomainError(say("So many labels of this size do not fit on the sheet."))

    @property
    def pitch_nm(self) -> tuple[int, int]:
        """From one label to the next, across and down."""
        return self.width_nm + self.gap_across_nm, self.height_nm + self.gap_down_nm

    @property
    def left_nm(self) -> int:
        """The margin at either side."""
        filled = self.across * self.pitch_nm[0] - self.gap_across_nm
        return (PAGES[self.page][0] - filled) // 2

    @property
    def top_nm(self) -> int:
        """The margin above and below."""
        filled = self.down * self.pitch_nm[1] - self.gap_down_nm
        return (PAGES[self.page][1] - filled) // 2

    @property
    def labels(self) -> int:
        """How many are on a sheet."""
        return self.across * self.down

    def places(self, number: int, start: int = 1) -> Iterator[tuple[int, int, int]]:
        """Sheet, left and top of each of so many labels, from label ``start`` of the first sheet.

        Counted from one, row by row; a sheet that is used up goes on with the next.
        """
        if not 1 <= start <= self.labels:
            raise DomainError(
                say("A sheet of these has labels 1 to {last}.", last=self.labels), "start"
            )
        for n in range(start - 1, start - 1 + number):
            sheet, place = divmod(n, self.labels)
            row, column = divmod(place, self.across)
            yield (
                sheet, self.left_nm + column * self.pitch_nm[0],
                self.top_nm + row * self.pitch_nm[1],
            )  # fmt: skip


TENTH, EIGHTH = MM // 10, INCH // 8
SHEETS = {
    sheet.name: sheet
    for sheet in (
        LabelSheet(to_say("A4, 21 labels"), "A4", 3, 7, 635 * TENTH, 381 * TENTH, 5 * MM // 2),
        LabelSheet(to_say("A4, 14 labels"), "A4", 2, 7, 991 * TENTH, 381 * TENTH, 5 * MM // 2),
        LabelSheet(to_say("A4, 24 labels"), "A4", 3, 8, 635 * TENTH, 339 * TENTH, 5 * MM // 2),
        LabelSheet(to_say("A4, 65 labels"), "A4", 5, 13, 381 * TENTH, 212 * TENTH, 5 * MM // 2),
        LabelSheet(to_say("A4, 8 swing tags"), "A4", 4, 2, 45 * MM, 90 * MM, 5 * MM, 10 * MM),
        LabelSheet(to_say("Letter, 30 labels"), "Letter", 3, 10, 21 * EIGHTH, INCH, EIGHTH),
        LabelSheet(
            to_say("Letter, 10 labels"), "Letter", 2, 5, 4 * INCH, 2 * INCH, 3 * EIGHTH // 2
        ),
        LabelSheet(
            to_say("Letter, 8 swing tags"), "Letter", 4, 2, 14 * EIGHTH, 7 * INCH // 2, EIGHTH,
            INCH // 2,
        ),
    )
}  # fmt: skip
"""Common sheets; sizes are common practice, no source, where no test names one."""
