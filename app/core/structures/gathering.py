"""Signatures as they are gathered: folios of several papers and sizes, one inside another.

Creep: the folios outside push a folio out past the outermost by their thickness (an arithmetic of
the fold; common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from app.core.structures.base import Dims, Flat, Hole, PaperFacts, length_of, upright_folds
from app.core.structures.folio_kinds import PLAIN, key_of, kinds_in, lies_instead, role_of, rows_of
from app.core.structures.insert_kinds import inserts_of
from app.core.structures.sewing import even_stations
from app.language import say

DEPTHS = range(41)
"""How many plain folios a kind may lie inside."""


@dataclass(frozen=True)
class FolioKind:
    """Folios of one paper and size; sides are those of one leaf, ``head_nm`` from that of others.

    ``rows`` are the signatures it goes into, counted from 0, ``count`` into each.
    """

    number: int
    paper: PaperFacts
    count: int
    width_nm: int
    height_nm: int
    head_nm: int
    inside: int
    rows: tuple[int, ...]
    grain: str | None
    alone: bool = True
    """Whether no other kind is of its paper."""

    @property
    def plain(self) -> bool:
        """Whether it is of the paper of the leaves."""
        return self.number == PLAIN

    @property
    def total(self) -> int:
        """How many go into one journal."""
        return self.count * len(self.rows)

    @property
    def shown(self) -> str:
        """What it is of; with its number where the paper does not tell."""
        if self.plain or self.alone:
            return self.paper.name
        return say("{paper} (kind {number})", paper=self.paper.name, number=self.number)

    @property
    def name(self) -> str:
        """What it is of, fit for a text with places for lengths."""
        return in_braces(self.shown)

    def holds(self, y_nm: int) -> bool:
        """Whether there is paper of it at a distance from the head of the leaf."""
        return self.head_nm < y_nm < self.head_nm + self.height_nm


@dataclass(frozen=True)
class Gathering:
    """All signatures of a journal: of each the folios, from the outermost inwards."""

    kinds: tuple[FolioKind, ...]
    signatures: tuple[tuple[FolioKind, ...], ...]
    swell: int
    laid_in_nm: int
    """What lies between the leaves besides."""
    leaf_width_nm: int
    leaf_height_nm: int
    at: tuple[int, ...]
    """Stations, from the head of the leaf."""

    @property
    def folios(self) -> int:
        """Of all kinds, in one journal."""
        return sum(map(len, self.signatures))

    @property
    def leaves(self) -> int:
        """Two to a folio, whatever its size."""
        return 2 * self.folios

    @property
    def plain(self) -> bool:
        """Whether all folios are of one kind."""
        return len(self.kinds) == 1

    @property
    def alike(self) -> bool:
        """Whether all signatures are made of the same folios."""
        return len(set(self.signatures)) == 1

    def fold_nm(self, row: int) -> int:
        """How thick the folios of a signature lie in its fold, each once."""
        return sum(folio.paper.caliper_nm for folio in self.signatures[row])

    def through(self, row: int) -> tuple[int, ...]:
        """What thread goes through at each station; a low folio may not reach them all."""
        return tuple(
            sum(folio.paper.caliper_nm for folio in self.signatures[row] if folio.holds(y))
            for y in self.at
        )

    def _swollen(self, leaves_nm: int) -> int:
        return leaves_nm + leaves_nm * self.swell // 100

    def thickness_nm(self, row: int) -> int:
        """One signature at the spine, its share of the swell with it."""
        return self._swollen(2 * self.fold_nm(row))

    @cached_property
    def thickest_nm(self) -> int:
        """The thickest signature at the spine."""
        return max(map(self.thickness_nm, range(len(self.signatures))))

    @property
    def leaves_nm(self) -> int:
        """Leaves on one another with what is laid in, away from the spine."""
        return 2 * sum(map(self.fold_nm, range(len(self.signatures)))) + self.laid_in_nm

    @cached_property
    def block_nm(self) -> int:
        """Leaves on one another, and the swell."""
        return self._swollen(self.leaves_nm)

    def creep_of(self, row: int) -> int:
        """How far a folio of a signature stands past the width of a leaf, from the fold."""
        outside, most = 0, 0
        for folio in self.signatures[row]:
            most = max(most, outside + folio.width_nm - self.leaf_width_nm)
            outside += folio.paper.caliper_nm
        return most

    @cached_property
    def creep_nm(self) -> int:
        """The most that any folio creeps."""
        return max(map(self.creep_of, range(len(self.signatures))))

    def creeping(self, most_nm: int) -> int:
        """How many signatures creep more than so much."""
        return sum(self.creep_of(row) > most_nm for row in range(len(self.signatures)))

    @cached_property
    def flats(self) -> tuple[Flat, ...]:
        """One folio of each kind laid flat, with the stations that it reaches."""
        return tuple(map(self._flat, self.kinds))

    def _flat(self, kind: FolioKind) -> Flat:
        fold, height = kind.width_nm, kind.height_nm
        name = (
            say("One folio laid flat")
            if kind.plain
            else say("One folio of {paper} laid flat", paper=kind.shown)
        )
        return Flat(
            key="folio" if kind.plain else role_of(kind.number), name=name, stock="leaf",
            width_nm=2 * fold, height_nm=height, folds=upright_folds([fold], height),
            holes=tuple(
                Hole(fold, y - kind.head_nm, 0, station)
                for station, y in enumerate(self.at)
                if kind.holds(y)
            ),
            grain=kind.grain, count=kind.total,
        )  # fmt: skip

    @property
    def folio(self) -> Flat:
        """A plain folio laid flat."""
        return self.flats[0]


def gather(
    dims: Dims,
    n: Mapping[str, int],
    papers: Mapping[str, PaperFacts],
    at: tuple[int, ...] | None = None,
) -> Gathering:
    """The signatures that dimensions speak of; ``n`` has their lengths and counts.

    ``papers`` has that of each kind by its role. Stations lie evenly unless they are given. See
    :func:`gathered` for what is refused.
    """
    if at is None:
        at = even_stations(n["leaf_height"], n["stations"], n["end_distance"])
    more = [
        _kind(dims, n, papers[role_of(number)], number)
        for number in kinds_in(dims)
        if dims[key_of(number, "count")]
    ]
    names = [papers["leaves"].name, *(kind.paper.name for kind in more)]
    more = [replace(kind, alone=names.count(kind.paper.name) == 1) for kind in more]
    replaced = {row for kind in more for row in kind.rows if lies_instead(dims, kind.number)}
    rows = tuple(row for row in range(n["signatures"]) if row not in replaced)
    plain = FolioKind(
        PLAIN, papers["leaves"], n["folios"], n["leaf_width"], n["leaf_height"], 0, 0, rows,
        runs_along_the_fold(dims, "leaf_grain"),
    )  # fmt: skip
    return Gathering(
        kinds=(plain, *more),
        signatures=tuple(_nested(plain, more, row) for row in range(n["signatures"])),
        swell=n.get("swell", 0),
        laid_in_nm=sum(insert.bulk_nm for insert in inserts_of(dims, papers)),
        leaf_width_nm=n["leaf_width"],
        leaf_height_nm=n["leaf_height"],
        at=at,
    )


def _kind(dims: Dims, n: Mapping[str, int], paper: PaperFacts, number: int) -> FolioKind:
    def chosen(what: str) -> int:
        return length_of(dims, key_of(number, what))

    width, height = chosen("width") or n["leaf_width"], chosen("height") or n["leaf_height"]
    lower = n["leaf_height"] - height
    at = {"head": 0, "middle": lower // 2, "tail": lower}[str(dims[key_of(number, "at")])]
    return FolioKind(
        number, paper, chosen("count"), width, height, at, chosen("inside"),
        rows_of(dims, number, n["signatures"]), runs_along_the_fold(dims, key_of(number, "grain")),
    )  # fmt: skip


def _nested(plain: FolioKind, more: Sequence[FolioKind], row: int) -> tuple[FolioKind, ...]:
    """The folios of one signature; kinds that lie inside as many lie in their order."""
    plain_ones = plain.count if row in plain.rows else 0
    nest: list[FolioKind] = []
    for outside in DEPTHS:
        if 0 < outside <= plain_ones:
            nest.append(plain)
        for kind in more:
            if kind.inside == outside and row in kind.rows:
                nest += [kind] * kind.count
    return tuple(nest)


def runs_along_the_fold(dims: Dims, key: str) -> str | None:
    """The side of a piece with upright folds that its grain must run along."""
    return "height" if dims[key] == "fold" else None


def in_braces(text: str) -> str:
    """A name fit for a text with places for lengths."""
    return text.replace("{", "{{").replace("}", "}}")
