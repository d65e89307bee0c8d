"""How the sheets of a batch are cut: its layouts as they were planned when it began."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy.orm import Session

from app.core.cutting.cutter import Cutter
from app.core.cutting.many_sheets.warm_start import KnownLayout, from_data
from app.core.cutting.tree import Layout, Part
from app.core.paper import Piece
from app.models import Batch, Paper, StockSheet
from app.services.planning.cut_plans import kept_cutter
from app.services.stock.offcuts import offcuts_of_batch


@dataclass(frozen=True)
class CutPaper:
    """A paper of a batch with the layouts it was cut by, and the kinds of pieces by their keys."""

    paper: Paper
    layouts: tuple[KnownLayout, ...]
    cutter: Cutter
    pieces: Mapping[str, Piece]
    kept: frozenset[tuple[int, int]]
    """Sizes of the offcuts that were put in the stock, width and height as they lie."""

    def offcuts(self, layout: Layout) -> tuple[Part, ...]:
        """What to keep of each sheet of a layout: just what was put in the stock."""
        return tuple(part for part in layout.offcuts if self.size(layout, part) in self.kept)

    def size(self, layout: Layout, part: Part) -> tuple[int, int]:
        """How large an offcut of a layout is kept."""
        size = (layout.width_nm, layout.height_nm)
        of = next((s for s in self.paper.sheets if (s.width_nm, s.height_nm) == size), None)
        return kept_size(part, of)

    def what(self, layout: Layout) -> str:
        """What is cut by this: a sheet, a length off a roll, a hide, an offcut."""
        size = (layout.width_nm, layout.height_nm)
        kinds = {(s.width_nm, s.height_nm): s.kind for s in self.paper.sheets}
        if size in kinds:
            return kinds[size].value
        wide = {s.width_nm for s in self.paper.sheets if s.by_length}
        return "length" if layout.width_nm in wide else "offcut"

    def grain(self, layout: Layout) -> str | None:
        """The side of a sheet of this size along which its grain runs, where that is known."""
        size = (layout.width_nm, layout.height_nm)
        off_a_roll = self.what(layout) == "length"
        known = {
            s.grain
            for s in self.paper.sheets
            if (s.width_nm, s.height_nm) == size or (s.by_length and off_a_roll)
        }
        return known.pop() if len(known) == 1 else None


def kept_size(part: Part, sheet: StockSheet | None) -> tuple[int, int]:
    """An offcut's sides as it lies; of a hide none is longer than its largest piece."""
    reach = sheet.reach_nm if sheet is not None else None
    return part.width_nm, min(part.height_nm, reach or part.height_nm)


def cut_papers(session: Session, batch: Batch) -> list[CutPaper]:
    """How the sheets of a batch are cut; nothing for one that was begun before plans were kept."""
    kept = offcuts_of_batch(session, batch.id)
    found = []
    for paper_id, data in (batch.cut_plan or {}).items():
        paper = session.get(Paper, int(paper_id))
        if paper is not None:
            pieces = {key: Piece(*row) for key, row in data["pieces"].items()}
            sizes = frozenset(kept.get(paper.id, ()))
            layouts = from_data(data["layouts"])
            found.append(CutPaper(paper, layouts, kept_cutter(data), pieces, sizes))
    return sorted(found, key=lambda row: row.paper.name)
