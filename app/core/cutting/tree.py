"""One sheet cut into pieces: where they lie and the tree of straight cuts that frees them.

Every cut runs from edge to edge of the part it divides. A cut ``across`` is a level line that
leaves parts above one another; a cut ``down`` is an upright line that leaves parts side by
side. Positions are nanometres from the top left corner of the untrimmed sheet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Placed:
    """A piece where it lies, its width and height as they lie."""

    name: str
    x_nm: int
    y_nm: int
    width_nm: int
    height_nm: int
    turned: bool


@dataclass(frozen=True)
class Part:
    """A rectangle of the sheet: cut further into ``parts``, or a piece, or what is left over."""

    x_nm: int
    y_nm: int
    width_nm: int
    height_nm: int
    cut: str | None = None
    parts: tuple[Part, ...] = ()
    piece: Placed | None = None

    def leaves(self) -> Iterator[Part]:
        """The parts that are cut no further, in the order they come free."""
        if not self.parts:
            yield self
        for part in self.parts:
            yield from part.leaves()

    @property
    def filled(self) -> bool:
        """Whether the parts reach its end; a last strip thinner than the blade is lost."""
        last = self.parts[-1]
        if self.cut == "down":
            return last.x_nm + last.width_nm == self.x_nm + self.width_nm
        return last.y_nm + last.height_nm == self.y_nm + self.height_nm

    def cuts(self) -> int:
        """How many cuts it takes."""
        if not self.parts:
            return 0
        own = len(self.parts) - 1 if self.filled else len(self.parts)
        return own + sum(part.cuts() for part in self.parts)


@dataclass(frozen=True)
class Layout:
    """A sheet with the tree of its cuts."""

    width_nm: int
    height_nm: int
    trim_nm: int
    tree: Part

    @property
    def pieces(self) -> tuple[Placed, ...]:
        """The pieces, in the order they come free."""
        return tuple(leaf.piece for leaf in self.tree.leaves() if leaf.piece)

    @property
    def offcuts(self) -> tuple[Part, ...]:
        """What is left over."""
        return tuple(leaf for leaf in self.tree.leaves() if not leaf.piece)

    @property
    def cuts(self) -> int:
        """Cuts in the tree, and the four that trim the edges where they are trimmed."""
        return self.tree.cuts() + (4 if self.trim_nm else 0)

    def offcuts_worth_keeping(self, least: tuple[int, int] | None) -> tuple[Part, ...]:
        """Leftovers at least as large as ``least`` one way or the other; none without it."""
        if least is None:
            return ()
        short, long = sorted(least)
        return tuple(
            part
            for part in self.offcuts
            if min(part.width_nm, part.height_nm) >= short
            and max(part.width_nm, part.height_nm) >= long
        )


def with_parts(part: Part, parts: Sequence[Part]) -> Part:
    """The same rectangle, cut the same way into other parts."""
    return Part(
        part.x_nm, part.y_nm, part.width_nm, part.height_nm, part.cut, tuple(parts), part.piece
    )


def is_whole(layout: Layout, kerf_nm: int) -> bool:
    """Whether the parts fill the sheet: each cut's parts a kerf apart and as long as the cut.

    Then pieces, leftovers and what the blade takes add up to the sheet.
    """
    trim, tree = layout.trim_nm, layout.tree
    within = (trim, trim, layout.width_nm - 2 * trim, layout.height_nm - 2 * trim)
    here = (tree.x_nm, tree.y_nm, tree.width_nm, tree.height_nm)
    return here == within and _is_filled(tree, kerf_nm)


def _is_filled(part: Part, kerf: int) -> bool:
    if min(part.width_nm, part.height_nm) <= 0:
        return False
    if not part.parts:
        size = (part.piece.width_nm, part.piece.height_nm) if part.piece else None
        return size in (None, (part.width_nm, part.height_nm))
    down = part.cut == "down"
    at = part.x_nm if down else part.y_nm
    for inner in part.parts:
        place = (at, part.y_nm) if down else (part.x_nm, at)
        across = inner.height_nm == part.height_nm if down else inner.width_nm == part.width_nm
        if (inner.x_nm, inner.y_nm) != place or not across or not _is_filled(inner, kerf):
            return False
        at += (inner.width_nm if down else inner.height_nm) + kerf
    end = part.x_nm + part.width_nm if down else part.y_nm + part.height_nm
    # A last strip thinner than the blade is lost in the cut.
    return end <= at <= end + kerf


def joined(part: Part) -> Part:
    """The same cuts with neighbouring cuts of one direction listed in one part."""
    if not part.parts:
        return part
    parts: list[Part] = []
    for inner in map(joined, part.parts):
        same = inner.parts and inner.cut == part.cut and inner.filled
        parts.extend(inner.parts if same else (inner,))
    return with_parts(part, parts)
