"""What is asked about one paper: pieces wanted by which day, the sheets to be had, how to cut.

The whole question in plain values, so that it has a digest: what is asked again in the same words
has the same answer, wherever it is asked from. :mod:`paper_answer` answers it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from importlib.metadata import version
from typing import Any

from app.core.cutting.cutter import Cutter
from app.core.cutting.effort import Effort
from app.core.cutting.many_sheets.warm_start import KnownLayout, as_data
from app.core.cutting.model import SheetOffer, Wanted
from app.core.planning.requirements import Demand

EDITION = 5
"""Raised whenever the planner may answer an old question otherwise; a test sees that it is."""
IN_STOCK, ON_ITS_WAY, DRAFTED, TO_BUY = "in stock", "on its way", "drafted", "to buy"


@dataclass(frozen=True)
class SheetSource:
    """Sheets of one size from one place: in stock, on their way, drafted or to buy.

    ``days`` pass until they are here, -1 for what is here already. ``label`` says whose they are
    and ``what`` one is called.

    One ``by_length`` is off a roll: its sheet is a nanometre high, and so many of them on hand are
    one length. :mod:`roll_lengths` says how long a piece of it the question takes: its sheet is
    as high as that then, ``takes`` so many nanometres of the roll and so many ``packs``. ``unit``
    is the one such a length is said in.
    """

    offer: SheetOffer
    state: str
    days: int
    label: str = ""
    what: str = "sheet"
    by_length: bool = False
    unit: str = "mm"
    takes: int = 1
    packs: int = 1

    @property
    def here(self) -> bool:
        """Whether its sheets are here already."""
        return self.state == IN_STOCK


@dataclass(frozen=True)
class Dated:
    """A demand for pieces, and the days until the bench begins with it at the latest."""

    days: int
    demand: Demand


@dataclass(frozen=True)
class PaperProblem:
    """One paper's question; ``demands`` are in the order in which the bench begins with them.

    ``apart`` keeps every kind of piece on sheets of its own; ``start`` are layouts by which
    sheets were bought before, for the same cutter.
    """

    wanted: tuple[Wanted, ...]
    sources: tuple[SheetSource, ...]
    demands: tuple[Dated, ...]
    cutter: Cutter
    effort: Effort
    apart: bool = False
    start: tuple[KnownLayout, ...] = ()

    @property
    def offers(self) -> tuple[SheetOffer, ...]:
        """The sheets to be had, as the planner wants them."""
        return tuple(source.offer for source in self.sources)

    @cached_property
    def by_key(self) -> Mapping[str, SheetSource]:
        """Each source by the key of its offer."""
        return {source.offer.key: source for source in self.sources}

    @cached_property
    def digest(self) -> str:
        """The same question has the same digest, as long as the planner answers alike."""
        text = json.dumps(self._as_data(), sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()

    def _as_data(self) -> dict[str, Any]:
        """All that decides the answer; whose a sheet is and why a piece is wanted do not."""
        return {
            "edition": [EDITION, version("highspy"), version("numpy")],
            "wanted": [
                [w.key, p.width_nm, p.height_nm, p.grain, p.may_turn, w.count]
                for w in self.wanted
                for p in (w.piece,)
            ],
            "sources": [_source_data(source) for source in self.sources],
            "demands": [
                [d.days, d.demand.thing, d.demand.quantity, d.demand.by.isoformat(), d.demand.link]
                for d in self.demands
            ],
            "cutter": [self.cutter.kerf_nm, self.cutter.longest_nm, self.cutter.stages],
            "effort": self.effort.value,
            "apart": self.apart,
            "start": as_data(self.start),
        }


def _source_data(source: SheetSource) -> list[Any]:
    """What it is decides too; a plain sheet's question reads as it always did."""
    sheet = source.offer.sheet
    besides: list[Any] = ["off a roll"] if source.by_length else []
    besides += ["reach", sheet.reach_nm] if sheet.reach_nm is not None else []
    return [*_offer_data(source.offer), source.state, source.days, *besides]


def _offer_data(offer: SheetOffer) -> list[Any]:
    sheet = offer.sheet
    return [
        offer.key, sheet.name, sheet.width_nm, sheet.height_nm, sheet.grain, sheet.pattern_up,
        sheet.trim_nm, offer.pack, [[b.from_packs, b.price] for b in offer.breaks], offer.on_hand,
        offer.limit, str(offer.value),
    ]  # fmt: skip
