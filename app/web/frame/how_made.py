"""How one journal is made, drawn: for the page of its steps and for the ticket of a batch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from app.core.structures.base import BenchStep, Build
from app.core.structures.thread import ThreadPath
from app.documents.drawings import flat_drawing
from app.documents.sewing import spoken, thread_drawing
from app.documents.templates import Template, templates
from app.language import say
from app.models import Variant
from app.services.designs.estimating import Estimate
from app.web.frame.filters import bare_length, cut_length, length
from app.web.frame.session import shop


@dataclass(frozen=True)
class HowMade:
    """A variant worked out, its steps, and a drawing for each part and each way of the thread."""

    variant: Variant
    worked: Estimate
    steps: tuple[tuple[BenchStep, str], ...]
    """Each with its words."""
    flats: Mapping[str, str]
    paths: tuple[tuple[ThreadPath, str, list[str]], ...]
    templates: tuple[Template, ...]


def how_made(variant: Variant, worked: Estimate, mark: str = "") -> HowMade:
    """Everything to make one; ``mark`` tells its drawings from those of others on a page."""
    build = worked.build
    flats = {f.key: flat_drawing(f, bare_length, f"{mark}flat-{f.key}") for f in build.flats}
    paths: list[tuple[ThreadPath, str, list[str]]] = []
    for number, path in enumerate(build.thread):
        # Rows sewn alike are drawn once.
        way = [point.station for point in path.points]
        if all(way != [p.station for p in other.points] for other in build.thread[:number]):
            drawing = thread_drawing(path, length, f"{mark}thread-{number}", cut_length)
            paths.append((path, drawing, spoken(path, length)))
    steps = tuple((step, step.say(length, cut_length)) for step in worked.steps(shop().unit))
    return HowMade(variant, worked, steps, flats, tuple(paths), tuple(templates(build)))


@dataclass(frozen=True)
class HoleRow:
    """Holes of a part at the same distances from its head, in one row or several alike."""

    part: str
    across: tuple[int, ...]
    down: tuple[int, ...]


def hole_rows(build: Build) -> list[HoleRow]:
    """Where every hole of one journal goes: across from the left edge, down from the head."""
    found = []
    for flat in build.flats:
        holes = {(hole.x_nm, hole.y_nm) for hole in flat.holes} | set(flat.eyelets)
        crosses = {(across, down) for across, down, words in flat.labels if words == "+"}
        found += [*_rows(flat.name, holes), *_rows(say("{part}: crosses", part=flat.name), crosses)]
    return found


def _rows(part: str, places: set[tuple[int, int]]) -> list[HoleRow]:
    """Places by their distances from the left, together where those from the head are the same."""
    rows: dict[int, list[int]] = {}
    for across, down in sorted(places):
        rows.setdefault(across, []).append(down)
    alike: dict[tuple[int, ...], list[int]] = {}
    for across, downs in rows.items():
        alike.setdefault(tuple(downs), []).append(across)
    return [HoleRow(part, tuple(x), downs) for downs, x in alike.items()]
