"""How a batch is cut, drawn for its page and its ticket."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.core.cutting.cut_sequence import CutStep, cut_steps
from app.core.cutting.tree import Layout
from app.documents.drawings import layout_drawing
from app.models import Batch
from app.services.bench.cut_papers import cut_papers
from app.web.frame.filters import bare_length, piece_names
from app.web.frame.session import db, shop


@dataclass(frozen=True)
class CutSheet:
    """A layout of a batch: how often it is cut, its cuts by number, and its drawing."""

    layout: Layout
    repeats: int
    steps: tuple[CutStep, ...]
    drawing: str
    kept: tuple[tuple[int, int], ...]
    what: str


def cuts_of(batch: Batch) -> list[tuple[str, list[CutSheet]]]:
    """How the sheets of each paper are cut."""
    found = []
    for cut in cut_papers(db(), batch):
        names, cutter = piece_names(cut.pieces), replace(cut.cutter, lift=shop().cutter.lift)
        drawn = []
        for number, row in enumerate(cut.layouts):
            steps = tuple(cut_steps(row.layout, row.repeats, cutter))
            kept = cut.offcuts(row.layout)
            picture = layout_drawing(
                row.layout, steps, names, bare_length, f"cut-{cut.paper.id}-{number}",
                cut.grain(row.layout), kept,
            )  # fmt: skip
            sizes = tuple(cut.size(row.layout, part) for part in kept)
            what = cut.what(row.layout)
            drawn.append(CutSheet(row.layout, row.repeats, steps, picture, sizes, what))
        found.append((cut.paper.name, drawn))
    return found
