"""The best layout where the direction of cutting may change only so often.

Stages of Gilmore and Gomory (Oper. Res. 13, 1965): cuts of one direction make strips, cuts of
the other divide the strips, and so on. For each number of changes there are two tables over
the normal points, one for rectangles first cut down, one for those first cut across; a table
follows from the other one with a change less. Nothing is trimmed for free: a piece lower than
its strip needs one more cut the other way. Only the trims that come before everything else
do not count, so the best is looked for in every rectangle the sheet can be trimmed to.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from app.core.cutting.one_sheet.trims import in_a_row, trimmed_free, trims_reach
from app.core.cutting.one_sheet.unlimited import Best, Ints, Places, place_to_cut, take_best
from app.core.cutting.tree import Part, Placed, joined

Tables = dict[str, Ints]
"""Values by the direction of the first cut; the one across lies turned, heights first."""


class StagedTable:
    """Tables for zero, one, two … changes, until another change brings nothing more."""

    def __init__(self, places: Places, worth: Sequence[int], stages: int) -> None:
        self.places, self.worth, self.kerf = places, worth, places.kerf
        self.xs, self.ys = places.xs, places.ys
        self.uncut = np.zeros((len(self.xs), len(self.ys)), dtype=np.int64)
        for (width, height), value in zip(places.cells, worth, strict=True):
            cell = int(np.searchsorted(self.xs, width)), int(np.searchsorted(self.ys, height))
            self.uncut[cell] = max(self.uncut[cell], value)
        self.levels: list[Tables] = []
        for _ in range(stages + 1):
            self.levels.append(self._next_level())
            if len(self.levels) > 1 and all(
                np.array_equal(self.levels[-1][cut], self.levels[-2][cut])
                for cut in ("down", "across")
            ):
                self.levels.pop()
                break

    def _next_level(self) -> Tables:
        """With one change more: strips are as good as the other direction makes them."""
        below = self.levels[-1] if self.levels else None
        downs = below["across"].T.copy() if below else self.uncut.copy()
        acrosses = below["down"].T.copy() if below else self.uncut.T.copy()
        heights, widths = self.places.within(self.ys), self.places.within(self.xs)
        for table, splits, within in (
            (downs, self.places.downs, heights),
            (acrosses, self.places.acrosses, widths),
        ):
            for row in range(1, len(table)):
                line = table[row, :within]
                np.maximum(line, table[row - 1, :within], out=line)
                take_best(table, row, *splits[row], within)
        return {"down": downs, "across": acrosses}

    def best_from(self, origin: tuple[int, int]) -> Best:
        """The best of all rectangles the sheet can be trimmed to, as a tree of cuts."""
        top = self.levels[-1]
        reached = self._can_be_trimmed_to()
        found = []
        for cut, values in (("down", top["down"]), ("across", top["across"].T)):
            values = np.where(reached, values, 0)
            i, j = divmod(int(values.argmax()), values.shape[1])
            found.append((int(values[i, j]), cut, (i, j)))
        value, cut, at = max(found, key=lambda way: way[0])
        whole = (self.places.width, self.places.height)
        if not value:
            return Best(0, Part(*origin, whole[0] - self.kerf, whole[1] - self.kerf))
        used = int(self.xs[at[0]]), int(self.ys[at[1]])
        part = self._cut(cut, len(self.levels) - 1, origin, used)
        tree = trimmed_free(part, whole, self.kerf, self.places.longest)
        return Best(value, joined(tree))

    def _can_be_trimmed_to(self) -> npt.NDArray[np.bool_]:
        """Which rectangles in its corner the sheet can be trimmed to within the cutter's reach."""
        longest = self.places.longest or self.places.width + self.places.height
        widths, heights = self.xs[:, None], self.ys[None, :]
        return trims_reach(widths, heights, self.places.width, self.places.height, longest)

    def _cut(self, cut: str, level: int, at: tuple[int, int], size: tuple[int, int]) -> Part:
        """A rectangle whose first cuts have this direction; sizes enlarged by the kerf."""
        along, across = (size[0], size[1]) if cut == "down" else (size[1], size[0])
        points, others = (self.xs, self.ys) if cut == "down" else (self.ys, self.xs)
        row = int(np.searchsorted(points, along, side="right")) - 1
        column = int(np.searchsorted(others, across))
        x, y = at
        parts = []
        for strip in self._strips(cut, level, row, column):
            length = int(points[strip])
            inner = (length, across) if cut == "down" else (across, length)
            parts.append(self._below(cut, level, (x, y), inner))
            x, y = (x + length, y) if cut == "down" else (x, y + length)
        return in_a_row(cut, *at, *size, parts, self.kerf)

    def _strips(self, cut: str, level: int, row: int, column: int) -> list[int]:
        """The strips a rectangle is cut into, as places along its length; empty ones left out."""
        values, points = self.levels[level][cut][:, column], self.xs if cut == "down" else self.ys
        uncut = self._strip_values(cut, level)[:, column]
        todo, strips = [row], []
        while todo:
            at = todo.pop()
            value = int(values[at])
            if not value:
                continue
            if uncut[at] == value:
                strips.append(at)
                continue
            if values[at - 1] == value:
                todo.append(at - 1)
                continue
            first = place_to_cut(values, points, at, value)
            if first is None:
                raise AssertionError("a value comes from a piece or from a cut")
            split = int(np.searchsorted(points, first))
            rest = int(np.searchsorted(points, points[at] - first, side="right")) - 1
            todo += [rest, split]
        return sorted(strips, reverse=True)

    def _strip_values(self, cut: str, level: int) -> Ints:
        """What a strip is worth that is not divided the same way again."""
        if level:
            return self.levels[level - 1]["across" if cut == "down" else "down"].T
        return self.uncut if cut == "down" else self.uncut.T

    def _below(self, cut: str, level: int, at: tuple[int, int], size: tuple[int, int]) -> Part:
        """A strip: a piece just as large, or cut the other way with a change less."""
        i, j = int(np.searchsorted(self.xs, size[0])), int(np.searchsorted(self.ys, size[1]))
        values = self._strip_values(cut, level)
        value = int(values[i, j] if cut == "down" else values[j, i])
        if self.uncut[i, j] == value:
            return self._piece(at, size, value)
        return self._cut("across" if cut == "down" else "down", level - 1, at, size)

    def _piece(self, at: tuple[int, int], size: tuple[int, int], value: int) -> Part:
        for cell, piece, worth in zip(
            self.places.cells, self.places.lying, self.worth, strict=True
        ):
            if cell == size and worth == value:
                width, height = piece.width_nm, piece.height_nm
                return Part(
                    *at, size[0] - self.kerf, size[1] - self.kerf,
                    piece=Placed(piece.name, *at, width, height, piece.turned),
                )  # fmt: skip
        raise AssertionError("an uncut rectangle is a piece")
