"""What every structure has in common: the values it is described by and the values it makes.

A structure is one module holding a ``STRUCTURE`` value. From dimensions (whole nanometres and
counts) and the facts of the papers chosen it builds a :class:`Build`: pieces, lengths, counts,
operations, layouts, the thread's path, thickness and warnings. Drawings, costs and steps are
all made from that one value, so they cannot disagree.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import INCH, MM, Show
from app.core.paper import Piece, weight_mg
from app.core.structures.thread import ThreadPath
from app.core.structures.words import each, in_words, of_number, one, said_when_read
from app.language import say

Dims = Mapping[str, int | str]


@said_when_read(label=one, group=of_number, choices=in_words, help=one)
@dataclass(frozen=True)
class Dimension:
    """One thing a maker chooses about a structure.

    ``kind`` is ``length`` (nanometres), ``count``, ``percent`` (whole per cent) or ``choice``
    (one of ``choices``, value and words). ``least`` and ``most`` bound what makes any sense;
    what is merely unwise becomes a warning instead.
    """

    key: str
    label: str
    group: str
    kind: str
    default: int | str
    least: int = 0
    most: int = 0
    choices: tuple[tuple[str, str], ...] = ()
    help: str = ""
    inch_default: str = ""
    """The choice a shop that works in inches starts from, where it is another."""
    optional: bool = False
    """Asked for since later: designs kept before have what is offered first."""
    number: int = 0
    """Which of several alike it belongs to."""


@said_when_read(label=of_number)
@dataclass(frozen=True)
class Role:
    """A place in the structure that a paper or a material fills; ``measure`` as materials have.

    ``measure`` is ``sheet``, ``length``, ``count``, ``mass`` or ``volume``.
    """

    key: str
    label: str
    measure: str
    number: int = 0
    """Which of several alike it is."""


@said_when_read(label=one)
@dataclass(frozen=True)
class Operation:
    """A step of the work whose time follows a count: ``driver`` says what is counted.

    The minutes are where a shop starts from; each shop keeps its own. ``waiting_hours`` pass after
    it, pressing or drying, and cost no pay.
    """

    key: str
    label: str
    driver: str
    setup_minutes: Fraction
    minutes_each: Fraction
    waiting_hours: Fraction = Fraction(0)


@dataclass(frozen=True)
class PaperFacts:
    """What a structure must know of a paper: thickness in nanometres, grams a square metre."""

    name: str
    caliper_nm: int
    grammage: Fraction


@dataclass(frozen=True)
class Advice:
    """A warning with its figures: ``text`` has a place for each of ``lengths``.

    ``grave`` ones make an object that will not work; ``field`` is the dimension to change.
    """

    text: str
    lengths: Mapping[str, int] = field(default_factory=dict)
    field: str | None = None
    grave: bool = False

    def say(self, show: Show) -> str:
        """The warning in words, its lengths in the shop's units."""
        return self.text.format(**{name: show(nm) for name, nm in self.lengths.items()})


@dataclass(frozen=True)
class Hole:
    """A hole at (x, y) from the top left; ``row`` and ``station`` count from 0."""

    x_nm: int
    y_nm: int
    row: int
    station: int


@dataclass(frozen=True)
class Panel:
    """A stretch of the cover between two folds, from its left edge; ``key`` is its marked name."""

    key: str
    x_nm: int
    width_nm: int

    @property
    def name(self) -> str:
        """What it is called."""
        return say(self.key)


Line = tuple[int, int, int, int]
"""From x, y to x, y in nanometres."""


@dataclass(frozen=True)
class Flat:
    """A part laid flat as it is cut: outline, folds, holes, named panels from left to right.

    ``stock`` is ``leaf``, ``card`` or ``board``; ``count`` of them go into one journal; ``grain``
    is the side the fibres must run along. ``outline`` is given where it is no rectangle,
    ``labels`` name parts that do not lie in a row, ``cuts`` are slits within it.
    """

    key: str
    name: str
    stock: str
    width_nm: int
    height_nm: int
    folds: tuple[Line, ...] = ()
    holes: tuple[Hole, ...] = ()
    panels: tuple[Panel, ...] = ()
    eyelets: tuple[tuple[int, int], ...] = ()
    outline: tuple[tuple[int, int], ...] = ()
    grain: str | None = None
    count: int = 1
    labels: tuple[tuple[int, int, str], ...] = ()
    cuts: tuple[Line, ...] = ()

    def panel(self, key: str) -> Panel | None:
        """A panel by its key."""
        return next((panel for panel in self.panels if panel.key == key), None)

    @property
    def scores(self) -> tuple[int, ...]:
        """Distances from the left edge of the folds that run from head to tail."""
        whole = [f for f in self.folds if f[0] == f[2] and abs(f[1] - f[3]) == self.height_nm]
        return tuple(sorted(f[0] for f in whole))

    @property
    def stations_nm(self) -> tuple[int, ...]:
        """Distances of the holes from the head, each once."""
        return tuple(sorted({hole.y_nm for hole in self.holes}))

    @property
    def closing_hole(self) -> tuple[int, int] | None:
        """The hole for cord or ribbon, if there is one."""
        return self.eyelets[0] if self.eyelets else None


def upright_folds(places: Iterable[int], height_nm: int) -> tuple[Line, ...]:
    """Folds from head to tail at these distances from the left edge."""
    return tuple((x, 0, x, height_nm) for x in places)


@dataclass(frozen=True)
class BenchStep:
    """One step of the work for somebody who never made it; ``text`` as in :class:`Advice`.

    ``shows`` is the key of the flat that shows it, or ``thread`` for the thread's way. ``to_cut``
    are lengths cut off a reel, which are said as a person measures them. ``stage`` is one of
    :mod:`stages`, where it matters.
    """

    text: str
    lengths: Mapping[str, int] = field(default_factory=dict)
    shows: str = ""
    caution: bool = False
    to_cut: Mapping[str, int] = field(default_factory=dict)
    stage: str = ""

    def say(self, show: Show, show_cut: Show | None = None) -> str:
        """The step in words, its lengths in the shop's units, those to cut by ``show_cut``."""
        said = {name: show(nm) for name, nm in self.lengths.items()}
        said |= {name: (show_cut or show)(nm) for name, nm in self.to_cut.items()}
        return self.text.format(**said)


@dataclass(frozen=True)
class Build:
    """Everything that follows from a structure's dimensions, for one finished piece.

    Its texts are in the language it was made in.

    ``pieces``, ``lengths``, ``counts`` and ``amounts`` are by role: the kinds of piece cut of a
    paper, nanometres, numbers, and base units of whatever measure the material has. ``made_of``
    says in words what it is.
    """

    structure: str
    made_of: str
    leaves: int
    pieces: Mapping[str, tuple[Piece, ...]]
    lengths: Mapping[str, int]
    counts: Mapping[str, int]
    operations: Mapping[str, int]
    flats: tuple[Flat, ...]
    thread: tuple[ThreadPath, ...]
    thickness_nm: int
    closed_width_nm: int
    closed_height_nm: int
    advice: tuple[Advice, ...]
    steps: tuple[BenchStep, ...]
    creep_nm: int = 0
    flap_nm: int = 0
    fore_edge_nm: int = 0
    """Leaves and both covers at the fore edge, where that is less than the thickness."""
    closing_lines: tuple[Line, ...] = ()
    closing_dots: tuple[tuple[int, int], ...] = ()
    """What keeps it closed, drawn on its front from the head of the spine."""
    amounts: Mapping[str, int] = field(default_factory=dict)

    @property
    def pages(self) -> int:
        """Two to a leaf."""
        return 2 * self.leaves

    def flat(self, key: str) -> Flat | None:
        """A flat by its key."""
        return next((flat for flat in self.flats if flat.key == key), None)

    @property
    def cover(self) -> Flat | None:
        """The cover laid flat."""
        return self.flat("cover")

    @property
    def folio(self) -> Flat | None:
        """One folio laid flat."""
        return self.flat("folio")

    @property
    def edge_nm(self) -> int:
        """How thick it is at the fore edge."""
        return self.fore_edge_nm or self.thickness_nm

    @property
    def flap_reach_nm(self) -> int:
        """How far the flap reaches over the front, from its fore edge.

        Where it has no second score, going round the fore edge takes the thickness of it.
        """
        flap = self.cover.panel("flap") if self.cover else None
        if self.cover is None or flap is None:
            return 0
        return max(flap.width_nm - (0 if self.cover.panel("fore edge") else self.edge_nm), 0)

    def amount(self, role: str) -> int:
        """What a role takes of a material, in base units."""
        return self.lengths.get(role, self.counts.get(role, self.amounts.get(role, 0)))

    def paper_weight_mg(self, papers: Mapping[str, PaperFacts]) -> Fraction:
        """Milligrams of all pieces of paper."""
        return sum(
            (
                piece.count * weight_mg(piece.width_nm, piece.height_nm, papers[role].grammage)
                for role, pieces in self.pieces.items()
                for piece in pieces
            ),
            Fraction(0),
        )


@said_when_read(name=one, says=one, cautions=each)
@dataclass(frozen=True)
class Structure:
    """A way of making something: what it asks for and how it is worked out."""

    key: str
    name: str
    says: str
    dimensions: tuple[Dimension, ...]
    roles: tuple[Role, ...]
    operations: tuple[Operation, ...]
    build: Callable[[Dims, Mapping[str, PaperFacts]], Build]
    cautions: tuple[str, ...] = ()
    stairs_keys: tuple[str, ...] = ()
    """Dimensions along which the number of pieces from a sheet is worth watching."""
    checks: tuple[Callable[[Dims], Mapping[str, str]], ...] = ()
    """Each says what of dimensions within their bounds does not go together, by dimension."""
    closing: str = "none"
    """What it is closed with until the maker chooses."""

    def defaults(self, unit: str = "mm") -> dict[str, int | str]:
        """The dimensions a new design starts from; lengths to the eighth in an inch shop."""
        eighth = INCH // 8
        return {
            d.key: (d.default + eighth // 2) // eighth * eighth
            if unit == "in" and d.kind == "length" and isinstance(d.default, int)
            else (unit == "in" and d.inch_default) or d.default
            for d in self.dimensions
        }

    def role_label(self, key: str) -> str:
        """What a role is called."""
        return next((role.label for role in self.roles if role.key == key), key)

    def complete(self, dims: Dims) -> dict[str, int | str]:
        """Dimensions with those that were not asked for yet when they were kept."""
        first = {d.key: d.default for d in self.dimensions if d.optional}
        return first | dict(dims)

    def problems(self, dims: Dims) -> dict[str, str]:
        """What cannot be built at all, by dimension; empty where everything is in bounds."""
        found: dict[str, str] = {}
        dims = self.complete(dims)
        for dimension in self.dimensions:
            if dimension.key not in dims:
                found[dimension.key] = say("{what} is missing.", what=dimension.label)
                continue
            message = _out_of_bounds(dimension, dims[dimension.key])
            if message:
                found[dimension.key] = message
        if not found:
            for check in self.checks:
                found.update(check(dims))
        return found

    def checked(self, dims: Dims) -> dict[str, int | str]:
        """The dimensions of this structure alone; the first bad one is refused by name."""
        for key, message in self.problems(dims).items():
            raise DomainError(message, key)
        dims = self.complete(dims)
        return {d.key: dims[d.key] for d in self.dimensions}


def _out_of_bounds(dimension: Dimension, value: int | str) -> str | None:
    if dimension.kind == "choice":
        allowed = [key for key, _ in dimension.choices]
        if value in allowed:
            return None
        return say("{what} is none of those offered.", what=dimension.label)
    if isinstance(value, bool) or not isinstance(value, int):
        return say("{what} must be a whole number.", what=dimension.label)
    if dimension.least <= value <= dimension.most:
        return None

    def shown(limit: int) -> str:
        return f"{limit // MM} mm" if dimension.kind == "length" else str(limit)

    return say(
        "{what} must lie between {least} and {most}.",
        what=dimension.label, least=shown(dimension.least), most=shown(dimension.most),
    )  # fmt: skip


def length_of(dims: Dims, key: str) -> int:
    """A length or a count by its key, as an integer."""
    value = dims[key]
    if not isinstance(value, int):
        raise DomainError(say("“{key}” must be a whole number.", key=key), key)
    return value
