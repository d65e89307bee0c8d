"""Strips folded to and fro, with pockets and with signatures sewn in, worked out by hand.

Checked against a strip of 12 in for two pages of 5 1/2 in and a tab (a craft page); all else is
common practice, no source, or geometry.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from app.core.errors import DomainError
from app.core.length import INCH, MM, show_length
from app.core.structures import structure
from app.core.structures.base import Build, PaperFacts
from app.documents.templates import templates

CALIPERS = {"leaves": 100_000, "boards": 2 * MM, "strip": 200_000, "backing": 500_000}


def built(key: str, *, calipers: dict[str, int] | None = None, **dims: Any) -> Build:
    made = structure(key)
    known = CALIPERS | (calipers or {})
    papers = {
        r.key: PaperFacts(r.key, known.get(r.key, 300_000), Fraction(100)) for r in made.roles
    }
    return made.build(made.checked(made.defaults() | dims), papers)


def show(nm: int) -> str:
    return show_length(nm, "mm")


def said(made: Build) -> list[str]:
    return [a.say(show) for a in made.advice]


def steps(made: Build) -> str:
    return " ".join(s.say(show) for s in made.steps)


def sizes(made: Build) -> dict[str, tuple[float, float, int]]:
    return {f.key: (f.width_nm / MM, f.height_nm / MM, f.count) for f in made.flats}


def test_a_published_strip() -> None:
    # A strip of 12 in has two pages of 5 1/2 in and a tab of 1 in.
    page = 11 * INCH // 2
    made = built("concertina", panels=6, panels_each=2, leaf_width=page, tab=INCH)
    assert made.flat("strip") is not None
    assert sizes(made)["strip"][0] == pytest.approx(12 * 25.4)
    # n panels of w in k strips: n·w + (k − 1)·tab.
    total = sum(f.count * f.width_nm for f in made.flats if f.key in ("strip", "last"))
    assert total == 6 * page + 2 * INCH


def test_a_concertina_with_pockets_by_hand() -> None:
    made, plain = built("concertina", pocket=40 * MM), built("concertina")
    assert sizes(made)["strip"] == (492, 200, 2)
    assert sizes(made)["last"] == (480, 200, 1)
    assert sizes(made)["board"] == sizes(plain)["board"]
    strip = made.flat("strip")
    assert strip is not None
    # The tab ends where the pocket begins.
    assert strip.folds[-1] == (0, 160 * MM, 480 * MM, 160 * MM)
    assert [(x / MM, y / MM) for x, y in strip.outline] == [
        (0, 0), (492, 0), (492, 160), (480, 160), (480, 200), (0, 200),
    ]  # fmt: skip
    last = made.flat("last")
    assert last is not None
    assert last.outline == ()
    assert len(strip.folds) == 5
    # Every layer lies twice, and each of the three lengths has a fold more.
    assert made.thickness_nm - plain.thickness_nm == 14 * 100_000
    assert made.operations["concertina_fold"] == 11 + 3
    # Both ends of each of three lengths, 5 wide and 40 high.
    assert made.amounts["paste"] - plain.amounts["paste"] == 6 * 5 * 40 // 10
    assert made.operations["glue"] == plain.operations["glue"] + 6
    assert "Glue the pocket down along both ends of every length, 5 mm wide" in steps(made)
    assert "Score 40 mm from the tail of every length" in steps(made)
    assert "pockets" not in steps(plain)
    assert made.advice == ()
    assert "A pocket of 19.99 mm hardly holds" in said(built("concertina", pocket=19_990_000))[0]
    assert built("concertina", pocket=20 * MM).advice == ()
    with pytest.raises(DomainError, match="lower than its panel") as caught:
        built("concertina", pocket=160 * MM)
    assert caught.value.field == "pocket"
    assert built("concertina", pocket=159 * MM).pieces


def test_signatures_in_a_concertina_by_hand() -> None:
    made = built("concertina_sewn")
    # Panels 3 past the leaf: 123 × 166; four on a length with a tab of 12, the last without.
    assert sizes(made) == {
        "board": (129, 172, 2), "covering": (159, 202, 2), "strip": (504, 166, 2),
        "last": (492, 166, 1), "folio": (240, 160, 18),
    }  # fmt: skip
    strip, last = made.flat("strip"), made.flat("last")
    assert strip is not None
    assert last is not None
    # A row in every second fold; stations 25, 80 and 135 of the leaf, 3 below the panel's head.
    places = [(h.x_nm / MM, h.y_nm / MM, h.row) for h in strip.holes]
    assert places == [(x, y, row) for row, x in enumerate((123, 369)) for y in (28, 83, 138)]
    assert [h.x_nm for h in last.holes] == [h.x_nm for h in strip.holes]
    assert made.operations == {
        "cut": 18 + 3 + 2 + 2, "fold": 18, "concertina_fold": 11, "punch": 36, "sew": 18,
        "glue": 6, "finish": 1,
    }  # fmt: skip
    # 2 × 110, four passes through three folios and the strip, and tails of 60.
    assert made.lengths["thread"] == 6 * (340 * MM + 4 * (3 * 100_000 + 200_000))
    # Leaves, fourteen layers of strip, boards, four of covering.
    assert made.thickness_nm == 36 * 100_000 + 14 * 200_000 + 4 * MM + 4 * 300_000
    assert (made.closed_width_nm, made.closed_height_nm) == (129 * MM, 172 * MM)
    glued = 2 * 159 * 202 + 2 * 123 * 166 + 2 * 12 * 166
    assert made.amounts["paste"] == glued // 10
    assert made.advice == ()
    text = steps(made)
    order = [
        "punch 3 stations", "Cut 2 lengths 504", "Fold to and fro every 123", "Punch each of the 6",
        "Glue each tab", "Sew each signature into its own", "Cut two boards", "glue the outward face",
    ]  # fmt: skip
    assert [text.index(words) for words in order] == sorted(text.index(words) for words in order)
    assert "valley, 3 mm from the head of the strip" in text
    guides = [t.flat.stations_nm for t in templates(made) if t.key.endswith("-guide")]
    assert sorted(guides) == [tuple(y * MM for y in at) for at in ((25, 80, 135), (28, 83, 138))]


def test_one_signature_in_a_concertina_and_bare_boards() -> None:
    made = built("concertina_sewn", signatures=1, turn_in=0)
    assert "strip" in sizes(made)
    assert "last" not in sizes(made)
    assert "covering" not in sizes(made)
    assert sizes(made)["strip"] == (246, 166, 1)
    assert made.operations["glue"] == 2
    assert made.operations["cut"] == 3 + 1 + 2
    assert made.amounts["paste"] == 2 * 123 * 166 // 10
    assert "Punch the valley," in steps(made)
    assert "Sew the signature into its valley" in steps(made)


def test_what_does_not_go_well_in_a_concertina_is_told() -> None:
    assert said(built("concertina_sewn", strip_grain="free")) == [
        "The grain of the strip may run either way: a fold across the grain cracks and will not lie "
        "flat. Choose “along the fold” where the paper has a grain."
    ]
    assert built("concertina_sewn", strip_past=200_000).advice == ()
    [creeping] = built("concertina_sewn", strip_past=199_999).advice
    assert creeping.field == "strip_past"
    assert "creeps 0.2 mm" in creeping.say(show)
    assert "Let them stand 2 mm past it." in creeping.say(show)
    [loose] = built("concertina_sewn", tab=6 * MM - 1).advice
    assert (loose.field, loose.grave) == ("tab", True)
    assert built("concertina_sewn", tab=6 * MM).advice == ()
    # Ten panels of 150 on a length.
    assert built("concertina_sewn", signatures=5, on_each=5, leaf_width=147 * MM).advice == ()
    [long] = built("concertina_sewn", signatures=5, on_each=5, leaf_width=148 * MM).advice
    assert long.field == "on_each"
    assert [a.field for a in built("concertina", panels=12, panels_each=12,
                                   leaf_width=126 * MM).advice] == ["panels_each"]  # fmt: skip
