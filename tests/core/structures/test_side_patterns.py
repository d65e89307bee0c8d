"""Patterns of side sewing: holes by published counts and places, the thread by what it must cover.

Checked against: holes from the spine and the ends, and six heights of thread, of the Japanese side
stitch (Wikibooks); four holes as usual, six for fine books, three or five (an encyclopedia on
Chinese bookbinding); twelve holes in tortoise-shell, their lines 1/2 and 1/4 in from the spine (a
bookbinder's notes). Where the extra holes of noble and hemp-leaf lie, and the nine of the latter,
are from memory.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import pairwise
from math import dist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.length import INCH, MM, show_length
from app.core.structures import structure
from app.core.structures.base import Build, PaperFacts
from app.core.structures.side_patterns import PATTERNS, SideSewing, side_pattern
from app.core.structures.thread import ThreadPath, over

FACTS = {role: PaperFacts(role, 100_000, Fraction(100)) for role in ("leaves", "cover")}
NAMES = [name for name, _ in PATTERNS]


def built(**dims: int | str) -> Build:
    made = structure("side_sewn")
    return made.build(made.checked(made.defaults() | dims), FACTS)


def said(made: Build) -> list[str]:
    return [a.say(lambda nm: show_length(nm, "mm")) for a in made.advice]


def test_a_published_plain_line() -> None:
    # Wikibooks: 8 in high, line 1/4 in from the spine, ends 1/4 in, the rest in thirds.
    made = built(leaf_height=8 * INCH, margin=INCH // 4, end_distance=INCH // 4, leaves=20, tails=0)
    assert made.cover is not None
    assert made.cover.stations_nm == tuple(
        int(Fraction(n) * INCH) for n in ("1/4", "11/4", "21/4", "31/4")
    )
    [path] = made.thread
    # There: cut six times the height. Ours: lines on both sides 15 in, six turns of 1/2 in, and
    # through a block 2.2 mm thick 18 times and there and back from between the leaves.
    assert path.length_nm == 15 * INCH + 6 * INCH // 2 + 18 * 2_200_000
    assert path.length_nm < 6 * 8 * INCH


@pytest.mark.parametrize(
    ("pattern", "holes", "count"),
    [("line", 4, 4), ("line", 6, 6), ("line", 3, 3), ("line", 5, 5),
     ("noble", 4, 6), ("tortoise", 4, 12), ("hemp", 4, 9)],
)  # fmt: skip
def test_published_counts_of_holes(pattern: str, holes: int, count: int) -> None:
    made = built(pattern=pattern, holes=holes)
    assert made.cover is not None
    assert len(made.cover.holes) == made.operations["punch"] == count
    assert made.operations["sew"] == 2 * count
    assert said(made) == []


def test_tortoise_shell_in_its_published_lines() -> None:
    made = built(leaf_height=8 * INCH, pattern="tortoise", margin=INCH // 2, end_distance=INCH // 2)
    assert made.cover is not None
    across = Counter(hole.x_nm for hole in made.cover.holes)
    assert across == {INCH // 2: 4, INCH // 4: 8}
    # A sixth of the distance between two holes on each side, no further out than half the end.
    beside = [hole.y_nm for hole in made.cover.holes if hole.row]
    spacing = 7 * INCH // 3
    assert beside[:2] == [INCH // 4, INCH // 2 + INCH // 4]
    assert spacing // 6 > INCH // 4


def test_where_noble_and_hemp_leaf_have_their_holes() -> None:
    noble = side_pattern("noble", (15, 55, 95, 135), 150, 12, 15)
    assert [(h.x_nm, h.y_nm) for h in noble.of_row(1)] == [(6, 7), (6, 143)]
    assert noble.joined == ((0, 1), (1, 2), (2, 3), (0, 4), (3, 5))
    hemp = side_pattern("hemp", (15, 55, 95, 135), 150, 12, 15)
    assert [h.y_nm for h in hemp.of_row(1)] == [7, 35, 75, 115, 143]
    assert hemp.joined[3:] == ((0, 4), (0, 5), (1, 5), (1, 6), (2, 6), (2, 7), (3, 7), (3, 8))
    assert hemp.turns[4:] == (
        (4, "spine"), (4, "head"), (5, "spine"), (6, "spine"), (7, "spine"), (8, "spine"),
        (8, "tail"), (0, "head"), (3, "tail"),
    )  # fmt: skip


def test_tortoise_shell_lies_a_sixth_beside() -> None:
    made = side_pattern("tortoise", (20, 80), 100, 12, 20)
    assert [h.y_nm for h in made.of_row(1)] == [10, 30, 70, 90]
    assert made.joined == ((0, 1), (0, 2), (0, 3), (1, 4), (1, 5))


def _stretches(path: ThreadPath) -> tuple[Counter[object], Counter[object], int]:
    """Stretches along a side, turns round an edge, and passes through a hole, as the path has them."""
    along: Counter[object] = Counter()
    turns: Counter[object] = Counter()
    through = 0
    for (a, p), (b, q) in pairwise(zip(path.points, path.places, strict=True)):
        if a.over and a.over == b.over:
            turns[(a.row, a.station, a.over)] += 1
            assert a.inside != b.inside
        elif not a.over and not b.over and (a.row, a.station) != (b.row, b.station):
            assert a.inside == b.inside
            ends = frozenset({(a.row, a.station), (b.row, b.station)})
            along[(ends, a.inside)] += 1
        elif not a.over and not b.over:
            assert a.inside != b.inside
            assert p[:2] == q[:2]
            through += 1
    return along, turns, through


@given(
    st.sampled_from(NAMES), st.integers(2, 12), st.integers(100, 400), st.integers(8, 30),
    st.integers(8, 20), st.integers(1, 12),
)  # fmt: skip
def test_every_stretch_on_both_sides_and_every_turn_once(
    name: str, holes: int, height: int, margin: int, end: int, thick: int
) -> None:
    at = tuple(end + (height - 2 * end) * i // (holes - 1) for i in range(holes))
    pattern = side_pattern(name, at, height, margin, end)
    path = SideSewing(pattern, height, thick, 100).path
    place = [(h.row, h.station) for h in pattern.holes]
    along, turns, through = _stretches(path)
    both = [
        (frozenset({place[a], place[b]}), side) for a, b in pattern.joined for side in (True, False)
    ]
    assert along == Counter(both)
    assert turns == Counter((*place[hole], edge) for hole, edge in pattern.turns)
    # It changes sides at every hole it comes to; the last time half way, the first time too.
    assert through == len(both) + len(pattern.turns) - 1
    assert path.points[0] == path.points[-1]
    # The length by what it covers, in whatever order.
    xy = [(h.x_nm, h.y_nm) for h in pattern.holes]
    edge = {"spine": lambda x, y: x, "head": lambda x, y: y, "tail": lambda x, y: height - y}
    straight = sum(
        2 * over(abs(xy[a][0] - xy[b][0]), abs(xy[a][1] - xy[b][1])) for a, b in pattern.joined
    )
    round_ = sum(2 * edge[e](*xy[h]) + thick for h, e in pattern.turns)
    between = thick // 2 + thick - thick // 2
    assert path.length_nm == straight + round_ + through * thick + between + 200


@given(st.integers(0, 10**9), st.integers(0, 10**9))
def test_straight_over_the_face_is_never_short(across: int, along: int) -> None:
    # Against the standard library's distance.
    exact = dist((0, 0), (across, along))
    assert exact - 1 <= over(across, along) <= exact + 1
    assert over(across, along) ** 2 >= across**2 + along**2


def test_the_same_way_every_time_and_the_plain_one_as_it_was() -> None:
    [path] = built().thread
    main = [p.station + 1 for p in path.points if not p.over]
    # 2, through, round the spine; on to 3 and 4, back past 3 and 2 to 1, and home.
    assert main == [2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 4, 4, 3, 3, 2, 2, 1, 1, 1, 1, 1, 1, 2]


def test_what_tears_is_told() -> None:
    near = said(built(pattern="noble", margin=10 * MM, end_distance=10 * MM))
    assert near == [
        "The extra holes of the pattern lie 5 mm from the spine; the paper tears closer than 6 mm. "
        "Move the line of stitches in, or sew a plain line.",
        "The extra holes of the pattern lie 5 mm from head and tail; the paper tears closer than "
        "6 mm. Move the line of stitches in, or sew a plain line.",
    ]
    assert said(built(pattern="noble", margin=12 * MM, end_distance=12 * MM)) == []
    # A sixth of an eleventh of 130 mm along, and half of 4 across: 2.8 mm; of 5 across 3.18.
    close = built(pattern="tortoise", holes=12, margin=4 * MM)
    assert [a.field for a in close.advice if a.grave] == ["margin", "holes"]
    assert "Holes of the pattern lie 2.81 mm from one another" in " ".join(said(close))
    apart = built(pattern="tortoise", holes=12, margin=5 * MM)
    assert not any("Holes of" in text for text in said(apart))
    crowded = built(holes=12, leaf_height=80 * MM)
    assert [a.field for a in crowded.advice if a.grave] == ["end_distance"]
    assert "leave the 12 too close" in " ".join(said(crowded))


def test_the_steps_say_the_pattern() -> None:
    steps = [s.say(lambda nm: show_length(nm, "mm")) for s in built(pattern="hemp").steps]
    [pierce] = [s for s in steps if "pierce" in s]
    assert pierce.startswith(
        "Lay the template on and pierce 4 holes 12 mm from the spine, the outer ones 15 mm from "
        "head and tail and the 5 of the pattern 6 mm from the spine. Then"
    )
    [plain] = [s.say(lambda nm: show_length(nm, "mm")) for s in built().steps if "pierce" in s.text]
    assert "the outer ones 15 mm from head and tail. Then" in plain
