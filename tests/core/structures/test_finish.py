"""Corners, edges and stamping: by hand, against the circle, and on every sewn structure."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.length import INCH, MM, show_length
from app.core.structures import all_operations, structure, structure_for, structures
from app.core.structures.base import Build, Flat, PaperFacts
from app.core.structures.finish import outline
from app.core.structures.folio_kinds import gathers, kind_dimensions
from app.documents.templates import templates

SEWN = sorted(key for key, made in structures().items() if gathers(made))


def build(key: str, **dims: Any) -> Build:
    made = structure_for(key, dims)
    papers = {r.key: PaperFacts(r.key, 150_000, Fraction(100)) for r in made.roles}
    return made.build(made.checked(made.defaults() | dims), papers)


def says(made: Build) -> str:
    return " ".join(s.say(lambda nm: show_length(nm, "mm")) for s in made.steps)


def warns(made: Build) -> str:
    return " ".join(a.say(lambda nm: show_length(nm, "mm")) for a in made.advice)


def test_only_sewn_journals_are_finished() -> None:
    for key, made in structures().items():
        assert any(d.key == "corners" for d in made.dimensions) == (key in SEWN)
    for op in ("corner", "edge", "stamp", "emboss"):
        assert op in all_operations()


@pytest.mark.parametrize("key", SEWN)
def test_a_design_kept_before_a_finish_was_asked_for_is_built_as_it_was(key: str) -> None:
    made = structure(key)
    own = ("corners", "corner_size", "corners_of", "edges", "stamped", "embossed", "closing")
    before = {k: v for k, v in made.defaults().items() if k not in own}
    papers = {r.key: PaperFacts(r.key, 150_000, Fraction(100)) for r in made.roles}
    assert made.problems(before) == {}
    assert made.checked(before) == made.defaults()
    assert made.build(before, papers) == made.build(made.defaults(), papers)


def area(points: tuple[tuple[int, int], ...]) -> Fraction:
    """Of a polygon, by the shoelace formula."""
    pairs = zip(points, (*points[1:], points[0]), strict=True)
    return Fraction(abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)), 2)


@given(st.integers(1, 60), st.integers(120, 400), st.integers(120, 400))
def test_a_rounded_outline_follows_the_circle(radius: int, width: int, height: int) -> None:
    flat = Flat("cover", "", "card", width * MM, height * MM)
    points = outline(flat, radius * MM, rounded=True)
    # Less than the sheet by (4 − π) r², and by no more than the straight stretches take.
    lost = float(width * height * MM * MM - area(points)) / MM**2
    assert (4 - math.pi) * radius**2 <= lost + 1e-6
    assert lost - (4 - math.pi) * radius**2 < 0.05 * 2 * math.pi * radius
    for x, y in points:
        middle_x = radius * MM if x < width * MM // 2 else (width - radius) * MM
        middle_y = radius * MM if y < height * MM // 2 else (height - radius) * MM
        assert abs(math.hypot(x - middle_x, y - middle_y) - radius * MM) <= 1
    # Between two points the chord leaves the arc by less than a twentieth of a millimetre.
    for (ax, ay), (bx, by) in itertools.pairwise(points):
        chord = math.hypot(ax - bx, ay - by)
        if chord < 2 * radius * MM and ax != bx and ay != by:
            gap = radius * MM - math.sqrt((radius * MM) ** 2 - chord**2 / 4)
            assert gap < 0.05 * MM


@pytest.mark.parametrize(("eighths", "lost"), [(1, 2.163), (2, 8.653), (3, 19.470), (4, 34.613)])
def test_a_rounded_corner_loses_what_the_formula_says(eighths: int, lost: float) -> None:
    # A print finisher's radii of 1/8, 1/4, 3/8 and 1/2 in: (1 − π/4) r² each, in mm².
    radius = eighths * INCH // 8
    flat = Flat("cover", "", "card", 100 * MM, 80 * MM)
    each = float(100 * 80 * MM * MM - area(outline(flat, radius, rounded=True))) / MM**2 / 4
    assert each == pytest.approx(lost, abs=0.05 * math.pi / 2 * radius / MM)


def test_a_clipped_outline_by_hand() -> None:
    flat = Flat("cover", "", "card", 100, 60)
    assert outline(flat, 10, rounded=False) == (
        (0, 10), (10, 0), (90, 0), (100, 10), (100, 50), (90, 60), (10, 60), (0, 50),
    )  # fmt: skip
    assert area(outline(flat, 10, rounded=False)) == 100 * 60 - 4 * 50


@pytest.mark.parametrize(
    ("of", "corners", "shaped"),
    [("both", 10, {"cover", "folio"}), ("leaves", 6, {"folio"}), ("cover", 4, {"cover"})],
)
def test_corners_by_hand(of: str, corners: int, shaped: set[str]) -> None:
    # Two fore-edge corners of each of three signatures, and four of the cover.
    made = build("wrap_cover", corners="rounded", corners_of=of)
    assert made.operations["corner"] == corners
    assert {f.key for f in made.flats if f.outline} == shaped
    each = "round the two fore-edge corners of each signature, one signature at a time to a radius"
    assert (each in says(made)) == ("folio" in shaped)
    cover = "round the four corners of the cover, by the template, to a radius of 6 mm."
    assert (cover in says(made)) == ("cover" in shaped)
    keys = {t.key for t in templates(made)}
    assert keys == {"cover", "folio-guide"} | ({"folio"} & shaped)


def test_a_lower_folio_keeps_its_corners() -> None:
    low = {d.key: d.default for d in kind_dimensions(2, several=True)} | {"folio2_height": 130 * MM}
    made = build("wrap_cover", corners="clipped", corner_size=4 * MM, **low)
    assert {f.key for f in made.flats if f.outline} == {"cover", "folio"}
    assert (
        "Clip the two fore-edge corners of each signature, one signature at a time, 4 mm along both"
        in (says(made))
    )


def test_boards_keep_their_corners_and_leaves_do_not() -> None:
    made = build("chain_stitch", corners="rounded")
    assert made.operations["corner"] == 12
    assert {f.key for f in made.flats if f.outline if f.stock == "leaf"} == {"folio"}
    assert "corners of the cover" not in says(made)
    assert "corners_of" not in structure_for("chain_stitch", {}).defaults()
    alone = build("pamphlet", corners="rounded", corners_of="leaves")
    assert alone.operations["corner"] == 2
    assert "round the two fore-edge corners of the signature to a radius of 6 mm." in says(alone)


@pytest.mark.parametrize(
    ("corners", "size", "square", "foreedge", "shows"),
    [
        # Rounded 6 with squares of 1: (6 − 1)² + (6 − 1)² = 50 is more than 36.
        ("rounded", 6, 1, 1, True), ("rounded", 6, 2, 2, False), ("rounded", 6, 6, 0, False),
        ("rounded", 6, 0, 6, False), ("rounded", 6, 0, 1, True),
        # Clipped 6: 2 and 3 are less than 6, 3 and 3 are not.
        ("clipped", 6, 2, 3, True), ("clipped", 6, 3, 3, False),
    ],
)  # fmt: skip
def test_square_leaves_may_show_at_the_corners(
    corners: str, size: int, square: int, foreedge: int, shows: bool
) -> None:
    dims = {"corner_size": size * MM, "square": square * MM, "foreedge_square": foreedge * MM}
    made = build("wrap_cover", corners=corners, corners_of="cover", **dims)
    assert ("the corners of the leaves show" in warns(made)) == shows
    both = build("wrap_cover", corners=corners, **dims)
    assert "the corners of the leaves show" not in warns(both)


def test_corners_past_the_score_of_the_flap_are_told() -> None:
    made = build("wrap_cover", corners="rounded", corner_size=31 * MM, flap=30 * MM)
    assert "Corners of 31 mm reach past the score of a flap of 30 mm." in warns(made)
    assert build("wrap_cover", corners="rounded", corner_size=30 * MM, flap=30 * MM).advice == ()
    plain = build("wrap_cover", corners="rounded", corner_size=31 * MM, corners_of="leaves",
                  flap=30 * MM)  # fmt: skip
    assert plain.advice == ()


def test_edges_stamping_and_embossing_by_hand() -> None:
    made = build("long_stitch", edges="all", stamped=2, embossed=1)
    assert {k: made.operations[k] for k in ("edge", "stamp", "emboss")} == {
        "edge": 3, "stamp": 2, "emboss": 1,
    }  # fmt: skip
    assert "corner" not in made.operations
    steps = [s.say(lambda nm: show_length(nm, "mm")) for s in made.steps]
    colour = next(i for i, s in enumerate(steps) if "colour head, tail and fore edge" in s)
    stamp = next(i for i, s in enumerate(steps) if s.startswith("Stamp the cover 2 times"))
    emboss = next(i for i, s in enumerate(steps) if s.startswith("Emboss the cover once"))
    sew = next(i for i, s in enumerate(made.steps) if s.shows == "thread")
    # Leaves before the cover, embossing before stamping, all before it is sewn; cautions before.
    cut_cover = next(i for i, s in enumerate(made.steps) if s.shows == "cover")
    assert colour < cut_cover < emboss < stamp < sew
    assert made.steps[colour - 1].caution
    assert made.steps[emboss - 1].caution
    assert build("long_stitch", edges="one").operations["edge"] == 1
    for asked, burns, colours in (
        ({}, 0, 0), ({"stamped": 0, "edges": "plain"}, 0, 0), ({"stamped": 1}, 1, 0),
        ({"embossed": "2"}, 1, 0), ({"edges": "one"}, 0, 1),
    ):  # fmt: skip
        cautions = " ".join(structure_for("long_stitch", asked).cautions)
        assert (cautions.count("burns"), cautions.count("keep colours off")) == (burns, colours)


def test_too_large_a_corner_is_refused_at_its_field() -> None:
    with pytest.raises(DomainError, match="half the shorter side") as caught:
        build("wrap_cover", corners="rounded", corner_size=60 * MM, leaf_width=119 * MM)
    assert caught.value.field == "corner_size"
    assert build("wrap_cover", corners="rounded", corner_size=60 * MM, flap=80 * MM).advice == ()
    # Square ones may say anything.
    assert build("wrap_cover", corner_size=60 * MM, leaf_width=50 * MM).leaves == 24


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(SEWN), st.sampled_from(["square", "clipped", "rounded"]), st.integers(1, 60),
    st.sampled_from(["plain", "one", "all"]), st.integers(0, 3), st.integers(0, 3),
)  # fmt: skip
def test_a_finish_changes_neither_paper_nor_thread(
    key: str, corners: str, size: int, edges: str, stamped: int, embossed: int
) -> None:
    plain = build(key)
    made = build(key, corners=corners, corner_size=size * MM, edges=edges, stamped=stamped,
                 embossed=embossed)  # fmt: skip
    assert (made.pieces, made.lengths, made.thread) == (plain.pieces, plain.lengths, plain.thread)
    more = {k: n for k, n in made.operations.items() if k not in plain.operations}
    assert {k: n for k, n in made.operations.items() if k in plain.operations} == plain.operations
    assert bool(more) == (corners != "square" or edges != "plain" or bool(stamped + embossed))
    assert all(more.values())
    said = [s for s in made.steps if s not in plain.steps]
    assert bool(said) == bool(more)
    for step in made.steps:
        assert step.shows in ("", "thread", *(f.key for f in made.flats))


def test_edges_and_impressions_each_say_what_they_are() -> None:
    one = says(build("pamphlet", edges="one"))
    assert "Clamp the signature between boards and colour the fore edge, thinly" in one
    every = says(build("wrap_cover", edges="all"))
    assert "Clamp the signatures, folds and heads flush, between boards and colour head," in every
    for key in ("stamped", "embossed"):
        alone = build("wrap_cover", **{key: 1})
        assert "A heated type or die burns" in says(alone)
        assert ("Stamp the cover once" in says(alone)) == (key == "stamped")
