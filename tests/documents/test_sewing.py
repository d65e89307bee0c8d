"""The thread drawn: every step numbered where its number can be read."""

from __future__ import annotations

import itertools
import re
from fractions import Fraction
from xml.etree import ElementTree

import pytest

from app.core.length import MM, measured_up, show_length
from app.core.structures import structure, structures
from app.core.structures.base import Build, PaperFacts
from app.documents.sewing import FIGURE_HIGH, FIGURE_WIDE, thread_drawing

PAPERS = {r.key for made in structures().values() for r in made.roles if r.measure == "sheet"}
FACTS = {role: PaperFacts(role, 150_000, Fraction(120)) for role in PAPERS}
SPACE = "{http://www.w3.org/2000/svg}"


def build(key: str, **dims: int | str) -> Build:
    made = structure(key)
    return made.build(made.checked(made.defaults() | dims), FACTS)


SEWN = [key for key in sorted(structures()) if build(key).thread]


def sizes(key: str) -> list[dict[str, int | str]]:
    """As first offered, the fewest and the most stations, and more signatures."""
    dims = {d.key: d for d in structure(key).dimensions}
    found: list[dict[str, int | str]] = [{}]
    if "stations" in dims:
        counts = [value for value, _ in dims["stations"].choices]
        found += [{"stations": counts[0]}, {"stations": counts[-1]}]
    if "signatures" in dims:
        found.append({"signatures": 9})
    return found


def show(nm: int) -> str:
    return show_length(nm, "mm")


@pytest.mark.parametrize(("key", "dims"), [(k, d) for k in SEWN for d in sizes(k)])
def test_no_number_of_a_step_lies_on_another(key: str, dims: dict[str, int | str]) -> None:
    for path in build(key, **dims).thread:
        picture = ElementTree.fromstring(
            thread_drawing(path, show, "t").replace("<svg ", f'<svg xmlns="{SPACE[1:-1]}" ', 1)
        )
        _, _, width, height = map(float, picture.attrib["viewBox"].split())
        boxes = []
        numbers = []
        for text in picture.iter(f"{SPACE}text"):
            words, x, y = text.text or "", float(text.attrib["x"]), float(text.attrib["y"])
            half = FIGURE_WIDE * len(words) / 2
            boxes.append((x - half, y - FIGURE_HIGH + 2, x + half, y + 2, words))
            if "step-number" in text.attrib["class"]:
                numbers.append(int(words))
            assert x - half >= 0
            assert x + half <= width
            assert y - FIGURE_HIGH + 2 >= 0
            assert y + 2 <= height
        assert numbers == list(range(1, len(path.points)))
        for a, b in itertools.combinations(boxes, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, f"{a[4]} lies on {b[4]}"


def test_the_drawing_says_the_thread_as_it_is_measured_off_the_reel() -> None:
    [path] = build("pamphlet", leaf_height=161 * MM).thread
    said = thread_drawing(path, show, "t", lambda nm: show(measured_up(nm, "mm")))
    assert path.length_nm % (5 * MM)
    assert f"{show(measured_up(path.length_nm, 'mm'))} of thread" in said
    assert f"{show(path.length_nm)} of thread" not in said


def test_rows_are_drawn_as_they_lie_across_the_spine() -> None:
    def names(key: str, **dims: int | str) -> list[str]:
        [path] = build(key, **dims).thread[:1]
        picture = thread_drawing(path, lambda nm: show_length(nm, "mm"), "t")
        heads = re.findall(r'<text class="figure" x="([\d.]+)" y="12">([^<]+)<', picture)
        return [name for _, name in sorted(heads, key=lambda h: float(h[0]))]

    # The extra holes of a pattern lie nearer the spine, which is at the left.
    assert names("side_sewn", pattern="noble") == ["the extra ones", "the line"]
    assert names("chain_stitch", signatures=2) == [
        "front board", "signature 1", "signature 2", "back board",
    ]  # fmt: skip
    assert names("case_bound", signatures=2) == ["signature 1", "signature 2"]
