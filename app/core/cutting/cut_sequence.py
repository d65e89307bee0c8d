"""A layout as a person cuts it: tidied, its cuts numbered, and every bit of its area accounted for.

Cuts right across the sheet come first, then those of the strips, and so on inwards. Parts that
are cut alike are cut together, and cuts at one setting of the gauge follow one another.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from app.core.cutting.cutter import Cutter
from app.core.cutting.tree import Layout, Part, Placed, joined, with_parts

Signature = tuple[object, ...]
CutLine = tuple[int, int, int, int]
"""Where a cut runs: from x, y to x, y, nanometres from the corner of the untrimmed sheet."""


def signature(part: Part) -> Signature:
    """What a part is, wherever it lies: equal for parts that are cut alike."""
    piece = part.piece.name if part.piece else None
    return (
        part.width_nm, part.height_nm, part.cut or "", piece or "", piece is None,
        tuple(signature(inner) for inner in part.parts),
    )  # fmt: skip


def tidied(part: Part, kerf_nm: int = 0) -> Part:
    """The same pieces with every strip as narrow as they allow and equal strips side by side.

    What is left over lies at the end of each row in one part, so remainders are as large as
    these cuts can make them.
    """
    return joined(_tidied(part, kerf_nm))


def _tidied(part: Part, kerf: int) -> Part:
    if not part.parts:
        return part
    down = part.cut == "down"
    useful = []
    for inner in (_tidied(p, kerf) for p in part.parts):
        width, height = used(inner)
        if width and height:
            size = (width, inner.height_nm) if down else (inner.width_nm, height)
            useful.append(clipped(inner, *size))
    useful.sort(key=lambda p: (-p.width_nm * p.height_nm, repr(signature(p))))
    at = part.x_nm if down else part.y_nm
    placed = []
    for p in useful:
        x, y = (at, part.y_nm) if down else (part.x_nm, at)
        placed.append(moved(p, x - p.x_nm, y - p.y_nm))
        at += (p.width_nm if down else p.height_nm) + kerf
    end = part.x_nm + part.width_nm if down else part.y_nm + part.height_nm
    if end > at and placed:
        x, y = (at, part.y_nm) if down else (part.x_nm, at)
        size = (end - at, part.height_nm) if down else (part.width_nm, end - at)
        placed.append(Part(x, y, *size))
    if len(placed) == 1 and end == at - kerf:
        return placed[0]
    if not placed:
        return Part(part.x_nm, part.y_nm, part.width_nm, part.height_nm)
    return with_parts(part, placed)


def used(part: Part) -> tuple[int, int]:
    """How far the pieces of a part reach from its corner; zero without any."""
    pieces = [leaf for leaf in part.leaves() if leaf.piece]
    return (
        max((p.x_nm + p.width_nm - part.x_nm for p in pieces), default=0),
        max((p.y_nm + p.height_nm - part.y_nm for p in pieces), default=0),
    )


def clipped(part: Part, width: int, height: int) -> Part:
    """A part made smaller, which takes nothing away from its pieces."""
    if part.piece or (part.width_nm, part.height_nm) == (width, height):
        return part
    whole = Part(part.x_nm, part.y_nm, width, height, part.cut)
    if not part.parts:
        return whole
    parts = []
    for inner in part.parts:
        left = part.x_nm + width - inner.x_nm if part.cut == "down" else width
        below = part.y_nm + height - inner.y_nm if part.cut == "across" else height
        if left > 0 and below > 0:
            parts.append(clipped(inner, min(inner.width_nm, left), min(inner.height_nm, below)))
    only = parts[0]
    if len(parts) == 1 and (only.width_nm, only.height_nm) == (width, height):
        return only
    return with_parts(whole, parts)


def moved(part: Part, across_nm: int, down_nm: int) -> Part:
    """The same part elsewhere."""
    if not across_nm and not down_nm:
        return part
    p = part.piece
    piece = p and Placed(
        p.name, p.x_nm + across_nm, p.y_nm + down_nm, p.width_nm, p.height_nm, p.turned
    )
    return Part(
        part.x_nm + across_nm, part.y_nm + down_nm, part.width_nm, part.height_nm, part.cut,
        tuple(moved(p, across_nm, down_nm) for p in part.parts), piece,
    )  # fmt: skip


@dataclass(frozen=True)
class CutStep:
    """Cuts at one setting of the gauge: ``cuts`` in each of ``parts`` equal parts of a sheet.

    ``strokes`` are the cuts made in all, a lift of sheets at a time.
    """

    number: int
    cut: str
    setting_nm: int
    length_nm: int
    cuts: int
    parts: int
    strokes: int
    lines: tuple[CutLine, ...]


def cut_steps(layout: Layout, repeats: int, cutter: Cutter) -> list[CutStep]:
    """The numbered cuts of so many sheets of one layout; trimming the edges is not among them."""
    found: list[CutStep] = []
    level = [layout.tree]
    while level:
        groups: dict[Signature, list[Part]] = {}
        for part in level:
            if part.parts:
                groups.setdefault(signature(part), []).append(part)
        steps = [step for parts in groups.values() for step in _settings(parts, repeats, cutter)]
        steps.sort(key=lambda s: (s.cut != layout.tree.cut, -s.setting_nm, -s.length_nm))
        found += steps
        level = [inner for part in level for inner in part.parts]
    return [replace(step, number=n) for n, step in enumerate(found, 1)]


def _settings(parts: list[Part], repeats: int, cutter: Cutter) -> Iterator[CutStep]:
    """Equal parts are stacked and cut together, one setting after the other."""
    model = parts[0]
    down = model.cut == "down"
    inner = model.parts[:-1] if model.filled else model.parts
    sizes = [p.width_nm if down else p.height_nm for p in inner]
    lifts = -(-len(parts) * repeats // cutter.lift)
    for setting in dict.fromkeys(sizes):
        cuts = sizes.count(setting)
        lines = tuple(
            _line(p, part, down=down)
            for part in parts
            for p, size in zip(part.parts, sizes, strict=False)
            if size == setting
        )
        length = model.height_nm if down else model.width_nm
        yield CutStep(0, model.cut or "", setting, length, cuts, len(parts), cuts * lifts, lines)


def _line(freed: Part, whole: Part, *, down: bool) -> CutLine:
    if down:
        x = freed.x_nm + freed.width_nm
        return x, whole.y_nm, x, whole.y_nm + whole.height_nm
    y = freed.y_nm + freed.height_nm
    return whole.x_nm, y, whole.x_nm + whole.width_nm, y


@dataclass(frozen=True)
class Account:
    """Where the area of a sheet goes, in square nanometres: pieces, offcuts kept, and waste."""

    pieces: int
    offcuts: int
    whole: int

    @property
    def waste(self) -> int:
        """Everything else: trimmings, what the blade takes, and remainders too small to keep."""
        return self.whole - self.pieces - self.offcuts

    def __add__(self, other: Account) -> Account:
        return Account(
            self.pieces + other.pieces, self.offcuts + other.offcuts, self.whole + other.whole
        )

    def times(self, sheets: int) -> Account:
        """The same for so many sheets."""
        return Account(self.pieces * sheets, self.offcuts * sheets, self.whole * sheets)


def account(layout: Layout, smallest_offcut: tuple[int, int] | None) -> Account:
    """The area account of one sheet."""
    pieces = sum(p.width_nm * p.height_nm for p in layout.pieces)
    kept = layout.offcuts_worth_keeping(smallest_offcut)
    offcuts = sum(p.width_nm * p.height_nm for p in kept)
    return Account(pieces, offcuts, layout.width_nm * layout.height_nm)
