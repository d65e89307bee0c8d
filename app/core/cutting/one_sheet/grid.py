"""The plain grid: columns and rows of one piece, cut into strips and the strips into pieces."""

from __future__ import annotations

from dataclasses import dataclass

from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.unlimited import Lying
from app.core.cutting.tree import Part, Placed


@dataclass(frozen=True)
class Grid:
    """So many columns and rows of a piece, cut into strips ``first`` across or down."""

    way: Lying
    columns: int
    rows: int
    first: str
    kerf: int

    @classmethod
    def of(cls, way: Lying, width: int, height: int, cutter: Cutter) -> Grid:
        """The grid that fits; without a change of direction it is a single row or column."""
        kerf = cutter.kerf_nm
        columns = (width + kerf) // (way.width_nm + kerf)
        rows = (height + kerf) // (way.height_nm + kerf)
        first = "across" if cutter.reaches(width) else "down"
        if cutter.stages == 0:
            columns, rows = (columns, 1) if columns >= rows else (1, rows)
            first = "across" if rows == 1 else "down"
            if not (cutter.reaches(width) and cutter.reaches(height)):
                columns = 0
        return cls(way, columns, rows, first, kerf)

    @property
    def count(self) -> int:
        """Pieces in it."""
        return self.columns * self.rows

    def cuts(self, width: int, height: int) -> int:
        """Cuts that free all of it, without making its tree."""
        beside = width > self.columns * (self.way.width_nm + self.kerf) - self.kerf
        below = height > self.rows * (self.way.height_nm + self.kerf) - self.kerf
        of_strips, of_pieces = self.rows - 1 + below, self.columns - 1 + beside
        if self.first == "across":
            return of_strips + self.rows * of_pieces
        return of_pieces + self.columns * of_strips

    def tree(self, origin: tuple[int, int], width: int, height: int) -> Part:
        """Strips right across the sheet, each then cut into pieces."""
        way, (x, y) = self.way, origin
        pieces = [
            [
                self._piece(x + column * (way.width_nm + self.kerf),
                            y + row * (way.height_nm + self.kerf))
                for column in range(self.columns)
            ]
            for row in range(self.rows)
        ]  # fmt: skip
        if self.first == "across":
            strips = [self._row("down", parts, width, way.height_nm) for parts in pieces]
        else:
            strips = [
                self._row("across", list(parts), way.width_nm, height)
                for parts in zip(*pieces, strict=True)
            ]
        return self._row(self.first, strips, width, height)

    def _piece(self, x: int, y: int) -> Part:
        way = self.way
        placed = Placed(way.name, x, y, way.width_nm, way.height_nm, way.turned)
        return Part(x, y, way.width_nm, way.height_nm, piece=placed)

    def _row(self, cut: str, parts: list[Part], width: int, height: int) -> Part:
        """Parts side by side or one above another, and what is left at the end."""
        first, last = parts[0], parts[-1]
        if cut == "down":
            at = last.x_nm + last.width_nm
            left = first.x_nm + width - at - self.kerf
            rest = Part(at + self.kerf, first.y_nm, left, height)
            whole = at == first.x_nm + width
        else:
            at = last.y_nm + last.height_nm
            left = first.y_nm + height - at - self.kerf
            rest = Part(first.x_nm, at + self.kerf, width, left)
            whole = at == first.y_nm + height
        if whole and len(parts) == 1:
            return first
        return Part(
            first.x_nm, first.y_nm, width, height, cut,
            tuple([*parts, rest] if left > 0 else parts),
        )  # fmt: skip
