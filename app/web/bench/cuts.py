"""How a batch is cut, drawn for its page and its ticket."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from string import ascii_lowercase

from app.core.cutting.cut_sequence import CutStep, cut_steps
from app.core.cutting.tree import Layout
from app.documents.drawings import layout_drawing
from app.models import Batch
from app.services.bench.cut_papers import CutPaper, cut_papers
from app.web.frame.filters import bare_length, piece_names
from app.web.frame.session import db, shop


@dataclass(frozen=True)
class CutPiece:
    """So many of a kind of piece on a sheet, its letter in the drawing, its sides as cut."""

    letter: str
    name: str
    count: int
    width_nm: int
    height_nm: int


@dataclass(frozen=True)
class CutSheet:
    """A layout of a batch: how often it is cut, its cuts by number, and its drawing."""

    layout: Layout
    repeats: int
    steps: tuple[CutStep, ...]
    drawing: str
    pieces: tuple[CutPiece, ...]
    lettered: frozenset[str]
    """Letters that stand in the drawing, where there is no room for a name."""
    kept: tuple[tuple[int, int], ...]
    what: str


def cuts_of(batch: Batch) -> list[tuple[str, list[CutSheet]]]:
    """How the sheets of each paper are cut."""
    return [
        (cut.paper.name, [_drawn(cut, number) for number in range(len(cut.layouts))])
        for cut in cut_papers(db(), batch)
    ]


def _drawn(cut: CutPaper, number: int) -> CutSheet:
    row = cut.layouts[number]
    layout, letters = row.layout, dict(zip(cut.pieces, ascii_lowercase, strict=False))
    steps = tuple(cut_steps(layout, row.repeats, replace(cut.cutter, lift=shop().cutter.lift)))
    kept = cut.offcuts(layout)
    sizes = tuple(cut.size(layout, part) for part in kept)
    # Of a hide an offcut is kept no longer than its largest piece: drawn as it is kept.
    shown = [
        replace(part, width_nm=w, height_nm=h) for part, (w, h) in zip(kept, sizes, strict=True)
    ]
    picture = layout_drawing(
        layout, steps, piece_names(cut.pieces), bare_length, f"cut-{cut.paper.id}-{number}",
        cut.grain(layout), shown, letters=letters,
    )  # fmt: skip
    counts = Counter(placed.name for placed in layout.pieces)
    pieces = tuple(
        CutPiece(letters.get(key, ""), piece.named(many), many, piece.width_nm, piece.height_nm)
        for key, piece in cut.pieces.items()
        if (many := counts[key])
    )
    lettered = frozenset(letter for letter in letters.values() if f">{letter}</text>" in picture)
    return CutSheet(layout, row.repeats, steps, picture, pieces, lettered, sizes, cut.what(layout))
