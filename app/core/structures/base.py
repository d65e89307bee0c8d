"""What every structure has in common: the values it is described by and the values it makes.

A structure is one module holding a ``STRUCTURE`` value. From dimensions (whole nanometres and
counts) and the facts of the papers chosen it builds a :class:`Build`: pieces, lengths, counts,
operations, layouts, the thread's path, thickness and warnings. Drawings, costs and steps are
all made from that one value, so they cannot disagree.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import INCH, MM, Show
from app.core.paper import Piece, weight_mg

Dims = Mapping[str, int | str]


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


@dataclass(frozen=True)
class Role:
    """A place in the structure that a paper or a material fills; ``measure`` as materials have.

    ``measure`` is ``sheet``, ``length``, ``count``, ``mass`` or ``volume``.
    """

    key: str
    label: str
    measure: str


@dataclass(frozen=True)
class Operation:
    """A step of the work whose time follows a count: ``driver`` says what is counted.

    The minutes are where a shop starts from; each shop keeps its own.
    """

    key: str
    label: str
    driver: str
    setup_minutes: Fraction
    minutes_each: Fraction


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
    """A stretch of the cover between two folds, from its left edge."""

    name: str
    x_nm: int
    width_nm: int


@dataclass(frozen=True)
class CoverLayout:
    """The cover laid flat, inside up: panels from left to right, sewing holes, closing hole."""

    width_nm: int
    height_nm: int
    panels: tuple[Panel, ...]
    holes: tuple[Hole, ...]
    closing_hole: tuple[int, int] | None = None

    @property
    def scores(self) -> tuple[int, ...]:
        """Distances of the score lines from the left edge."""
        return tuple(panel.x_nm for panel in self.panels[1:])


@dataclass(frozen=True)
class FolioLayout:
    """One folio laid flat: its fold and the stations along it, from the head."""

    width_nm: int
    height_nm: int
    fold_nm: int
    stations_nm: tuple[int, ...]


@dataclass(frozen=True)
class Stitch:
    """Where the thread is: at a station of a row, on the inside or the outside of the fold."""

    row: int
    station: int
    inside: bool


@dataclass(frozen=True)
class ThreadPath:
    """The way one length of thread takes through one row, tails left over at both ends.

    A step between two points of the same station is a pass through the fold, ``pass_nm`` long;
    any other step runs along the fold. The length is the sum of the steps and two tails.
    """

    points: tuple[Stitch, ...]
    stations_nm: tuple[int, ...]
    pass_nm: int
    tail_nm: int

    @property
    def passes(self) -> int:
        """How often the thread goes through the fold."""
        pairs = zip(self.points, self.points[1:], strict=False)
        return sum(a.station == b.station for a, b in pairs)

    @property
    def run_nm(self) -> int:
        """Length along the fold alone."""
        at = self.stations_nm
        pairs = zip(self.points, self.points[1:], strict=False)
        return sum(abs(at[a.station] - at[b.station]) for a, b in pairs)

    @property
    def length_nm(self) -> int:
        """The whole length to cut."""
        return self.run_nm + self.passes * self.pass_nm + 2 * self.tail_nm


@dataclass(frozen=True)
class Build:
    """Everything that follows from a structure's dimensions, for one finished piece."""

    structure: str
    signatures: int
    folios: int
    pieces: Mapping[str, Piece]
    lengths: Mapping[str, int]
    counts: Mapping[str, int]
    operations: Mapping[str, int]
    cover: CoverLayout | None
    folio: FolioLayout | None
    thread: tuple[ThreadPath, ...]
    thickness_nm: int
    closed_width_nm: int
    closed_height_nm: int
    creep_nm: int
    advice: tuple[Advice, ...]

    @property
    def leaves(self) -> int:
        """Two to a folio."""
        return 2 * self.signatures * self.folios

    @property
    def pages(self) -> int:
        """Two to a leaf."""
        return 2 * self.leaves

    def paper_weight_mg(self, papers: Mapping[str, PaperFacts]) -> Fraction:
        """Milligrams of all pieces of paper."""
        return sum(
            (
                piece.count * weight_mg(piece.width_nm, piece.height_nm, papers[role].grammage)
                for role, piece in self.pieces.items()
            ),
            Fraction(0),
        )


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

    def defaults(self, unit: str = "mm") -> dict[str, int | str]:
        """The dimensions a new design starts from; lengths to the eighth in an inch shop."""
        eighth = INCH // 8
        return {
            d.key: (d.default + eighth // 2) // eighth * eighth
            if unit == "in" and d.kind == "length" and isinstance(d.default, int)
            else d.default
            for d in self.dimensions
        }

    def problems(self, dims: Dims) -> dict[str, str]:
        """What cannot be built at all, by dimension; empty where everything is in bounds."""
        found: dict[str, str] = {}
        for dimension in self.dimensions:
            if dimension.key not in dims:
                found[dimension.key] = f"{dimension.label} is missing."
                continue
            message = _out_of_bounds(dimension, dims[dimension.key])
            if message:
                found[dimension.key] = message
        return found

    def checked(self, dims: Dims) -> dict[str, int | str]:
        """The dimensions of this structure alone; the first bad one is refused by name."""
        for key, message in self.problems(dims).items():
            raise DomainError(message, key)
        return {d.key: dims[d.key] for d in self.dimensions}


def _out_of_bounds(dimension: Dimension, value: int | str) -> str | None:
    if dimension.kind == "choice":
        allowed = [key for key, _ in dimension.choices]
        return None if value in allowed else f"{dimension.label} is none of those offered."
    if isinstance(value, bool) or not isinstance(value, int):
        return f"{dimension.label} must be a whole number."
    if dimension.least <= value <= dimension.most:
        return None

    def say(limit: int) -> str:
        return f"{limit // MM} mm" if dimension.kind == "length" else str(limit)

    return f"{dimension.label} must lie between {say(dimension.least)} and {say(dimension.most)}."


def length_of(dims: Dims, key: str) -> int:
    """A length or a count by its key, as an integer."""
    value = dims[key]
    if not isinstance(value, int):
        raise DomainError(f"“{key}” must be a whole number.", key)
    return value
