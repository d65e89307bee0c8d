"""What is laid into a journal: by hand, and on every structure with leaves."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.length import MM, show_length
from app.core.structures import all_operations, structure_for, structures
from app.core.structures.base import Build, PaperFacts
from app.core.structures.insert_kinds import (
    HOW,
    MOST_INSERTS,
    insert_dimensions,
    insert_role,
    inserts_in,
    takes_inserts,
)
from app.documents.templates import templates

TAKING = sorted(key for key, made in structures().items() if takes_inserts(made))


def insert(number: int, **chosen: Any) -> dict[str, int | str]:
    first = {d.key: d.default for d in insert_dimensions(number, several=True)}
    return first | {f"insert{number}_{what}": value for what, value in chosen.items()}


def build(key: str = "wrap_cover", *inserts: dict[str, int | str], **dims: Any) -> Build:
    typed = dict(dims) | {k: v for one in inserts for k, v in one.items()}
    made = structure_for(key, typed)
    papers = {r.key: PaperFacts("Text", 150_000, Fraction(100)) for r in made.roles}
    papers |= {insert_role(n): PaperFacts("Map", 100_000, Fraction(80)) for n in inserts_in(typed)}
    typed = {k: v for k, v in typed.items() if k in {d.key for d in made.dimensions}}
    return made.build(made.checked(made.defaults() | typed), papers)


def says(made: Build) -> str:
    return " ".join(s.say(lambda nm: show_length(nm, "mm")) for s in made.steps)


def warns(made: Build) -> str:
    return " ".join(a.say(lambda nm: show_length(nm, "mm")) for a in made.advice)


def test_what_takes_inserts() -> None:
    assert TAKING == ["case_bound", "chain_stitch", "concertina", "concertina_sewn",
                      "long_stitch", "pamphlet", "pamphlet_rows", "side_sewn", "wire_bound",
                      "wrap_cover"]  # fmt: skip
    made = structure_for("folded_card", insert(1))
    assert "insert1_count" not in made.defaults()
    for op in ("tip", "mount", "pocket"):
        assert op in all_operations()


def test_maps_tipped_in_by_hand() -> None:
    """Two maps tipped into every one of three signatures."""
    plain, made = build(), build("wrap_cover", insert(1, count=2, per="signature"))
    [piece] = made.pieces["insert1"]
    assert (piece.name, piece.count, piece.grain) == ("tip-in", 6, "height")
    assert (piece.width_nm, piece.height_nm) == (90 * MM, 130 * MM)
    # Six single leaves more, of twelve pages.
    assert (made.leaves, made.pages) == (plain.leaves + 6, plain.pages + 12)
    assert made.operations["cut"] == plain.operations["cut"] + 6
    assert made.operations["tip"] == 6
    # 24 leaves of 0.15 and two covers are 3.9, six maps of 0.1 make 4.5; the spine is 9 all the same.
    assert (made.edge_nm, made.thickness_nm) == (4_500_000, plain.thickness_nm)
    facts = {r: PaperFacts("x", 0, Fraction(0)) for r in made.pieces}
    facts["insert1"] = PaperFacts("Map", 100_000, Fraction(80))
    # 6 × 0.09 × 0.13 m² of 80 g.
    assert made.paper_weight_mg(facts) == 5_616
    text = says(made)
    assert "Cut 6 tip-ins of Map, 90 mm wide and 130 mm high, the grain along the height." in text
    assert "Tip each in where it belongs, 3 mm of paste along the inner edge" in text
    assert text.index("Tip each in") < text.index("Cut the cover")
    assert made.advice == ()


@pytest.mark.parametrize(
    ("how", "operation", "layers", "name", "said"),
    [
        ("paste", "mount", 1, "paste-down", "Paste the paste-down of Map inside the cover"),
        ("pocket", "pocket", 3, "pocket", "Cut the pocket of Map to shape by the template"),
        ("loose", None, 1, "loose piece", "Lay in the loose piece of Map."),
    ],
)
def test_what_is_no_leaf_by_hand(
    how: str, operation: str | None, layers: int, name: str, said: str
) -> None:
    plain, made = build("pamphlet"), build("pamphlet", insert(1, how=how))
    assert made.leaves == plain.leaves
    assert made.pieces["insert1"][0].name == name
    assert made.thickness_nm == plain.thickness_nm + layers * 100_000
    new = {k: n for k, n in made.operations.items() if k not in plain.operations}
    assert new == ({operation: 1} if operation else {})
    text = says(made)
    # After the press, before it is wrapped up; with paste a caution before.
    assert text.index("Press it overnight") < text.index(said) < text.index("wrap it up")
    assert ("Air the room" in text) == (how != "loose")
    if how != "loose":
        assert text.index("Air the room") < text.index(said)


@pytest.mark.parametrize(
    ("how", "width", "height", "words"),
    [
        # A leaf of 120 by 160, in a cover that stands 6 past it at the fore edge, 5 above and below.
        ("tip", 120, 160, "stand out of the leaf"), ("loose", 120, 160, "stand out of the leaf"),
        ("paste", 126, 170, "stand out of the cover"), ("pocket", 240, 320, "folds to more than"),
    ],
)  # fmt: skip
def test_what_would_stand_out_is_refused_at_its_field(
    how: str, width: int, height: int, words: str
) -> None:
    assert build("wrap_cover", insert(1, how=how, width=width * MM, height=height * MM)).pieces
    for what, most in (("width", width), ("height", height)):
        with pytest.raises(DomainError, match=f"{words}|{most} mm") as caught:
            build("wrap_cover", insert(2, how=how, **{what: most * MM + 1}))
        assert caught.value.field == f"insert2_{what}"
        assert words in caught.value.message
    assert "insert2" not in build("pamphlet", insert(2, count=0, width=900 * MM)).pieces


def test_spine_and_flap_make_room_for_what_is_laid_in() -> None:
    """Twenty loose pieces of 0.5 mm in a block of 3.6: the cover is made for both."""
    typed = insert(1, count=20, how="loose")
    dims: dict[str, Any] = {"closing": "button", **typed}
    made = structure_for("wrap_cover", dims)
    papers = {r.key: PaperFacts("Text", 150_000, Fraction(100)) for r in made.roles}
    papers["insert1"] = PaperFacts("Board", 500_000, Fraction(400))
    found = made.build(made.checked(made.defaults() | dims), papers)
    assert found.cover is not None
    panels = {panel.name: panel.width_nm for panel in found.cover.panels}
    # 3.6 and 10, and the cover of 0.15: 13.75, to 0.5 mm 14. Round the fore edge 13.6 and 0.3.
    assert (panels["spine"], panels["fore edge"]) == (14 * MM, 14 * MM)
    assert panels["flap"] == 36 * MM
    assert found.advice == ()
    # The front's button lies 30 from that of the flap when it is folded over.
    (flap_x, _), (front_x, _) = found.cover.eyelets
    assert front_x - (flap_x - found.cover.panels[-1].x_nm) == 30 * MM
    # A spine that is typed too narrow is told once, by what it needs.
    narrow = made.build(made.checked(made.defaults() | dims | {"spine": 5 * MM}), papers)
    assert [a.field for a in narrow.advice if a.grave] == ["spine", "spine"]


def test_single_leaves_and_strips_are_tipped_into_once_they_are_bound() -> None:
    for key, before in (("side_sewn", "sew in the order drawn"), ("concertina", "Fold to and fro")):
        said = says(build(key, insert(1)))
        assert said.index(before) < said.index("Cut 1 tip-in") < said.index("wrap it up")
        assert "by the fold" not in said


@settings(max_examples=120, deadline=None)
@given(
    st.sampled_from(TAKING), st.integers(0, 5), st.sampled_from([how for how, _ in HOW]),
    st.sampled_from(["journal", "signature"]), st.integers(1, MOST_INSERTS),
    st.sampled_from(["none", "ties"]),
)  # fmt: skip
def test_pieces_leaves_work_and_steps_agree(
    key: str, count: int, how: str, per: str, number: int, closing: str
) -> None:
    plain = build(key, closing=closing)
    made = build(key, insert(number, count=count, how=how, per=per), closing=closing)
    several = "signatures" in structure_for(key, {}).defaults()
    signatures = int(structure_for(key, {}).defaults().get("signatures", 1))
    total = count * (signatures if per == "signature" and several else 1)
    pieces = made.pieces.get(insert_role(number), ())
    assert sum(piece.count for piece in pieces) == total
    # What goes round a thicker block may be wider, and that alone.
    wider = {"case_bound": {"spine_piece", "covering", "lining"}, "pamphlet_rows": {"cover"}}
    own = {insert_role(number), *wider.get(key, ())}
    assert {k: v for k, v in made.pieces.items() if k not in own} == {
        k: v for k, v in plain.pieces.items() if k not in own
    }
    assert made.leaves - plain.leaves == (total if how == "tip" else 0)
    assert made.operations["cut"] - plain.operations["cut"] == total
    assert made.thickness_nm >= plain.thickness_nm
    assert [s for s in made.steps if s in plain.steps][-1] == plain.steps[-1]
    assert (f"Cut {total} " in says(made)) or not total
    for step in made.steps:
        assert step.shows in ("", "thread", *(f.key for f in made.flats))
    assert made.lengths.keys() == plain.lengths.keys()
    if not total:
        assert (made.steps, made.operations) == (plain.steps, plain.operations)


@pytest.mark.parametrize(
    ("key", "dims", "width", "height"),
    [
        # Covers no larger than the leaf, and boards that stand back from it.
        ("side_sewn", {}, 120, 160), ("pamphlet", {}, 122, 160), ("chain_stitch", {}, 123, 166),
        ("concertina", {"foreedge_square": -5 * MM, "square": -4 * MM}, 120, 160),
    ],
)  # fmt: skip
def test_what_is_pasted_down_fits_the_cover(
    key: str, dims: dict[str, Any], width: int, height: int
) -> None:
    fits = insert(1, how="paste", width=width * MM, height=height * MM)
    assert build(key, fits, **dims).pieces
    for what, most in (("width", width), ("height", height)):
        with pytest.raises(DomainError, match=f"stand out of the cover, {most} mm") as caught:
            build(key, fits | {f"insert1_{what}": most * MM + 1}, **dims)
        assert caught.value.field == f"insert1_{what}"


def test_its_paper_stands_behind_that_of_the_leaves() -> None:
    made = structure_for("wrap_cover", insert(1) | insert(3))
    assert [r.key for r in made.roles][:4] == ["leaves", "insert1", "insert3", "cover"]
    assert "insert1_per" in made.defaults()
    assert "insert1_per" not in structure_for("pamphlet", insert(1)).defaults()
    # Nothing that is for each signature is multiplied where there is one.
    assert build("pamphlet", insert(1, count=3)).pieces["insert1"][0].count == 3
    assert build("chain_stitch", insert(1, count=2, per="signature")).operations["tip"] == 12


def test_a_pocket_is_drawn_with_its_flaps() -> None:
    made = build("pamphlet", insert(1, how="pocket", width=100 * MM, height=140 * MM, count=2))
    flat = made.flat("insert1")
    assert flat is not None
    # Flaps of 12 on the lower half, which folds up over the upper one.
    assert [(x / MM, y / MM) for x, y in flat.outline] == [
        (12, 0), (88, 0), (88, 70), (100, 70), (100, 140), (0, 140), (0, 70), (12, 70),
    ]  # fmt: skip
    assert [tuple(v / MM for v in fold) for fold in flat.folds] == [
        (12, 70, 88, 70), (12, 70, 12, 140), (88, 70, 88, 140),
    ]  # fmt: skip
    assert "12 mm wide, round behind the upper half, and paste them down there: each is 76 mm" in (
        says(made)
    )
    assert "insert1" in {template.key for template in templates(made)}
    loose = build("pamphlet", insert(1, how="loose")).flat("insert1")
    assert loose is not None
    assert loose.outline == loose.folds == ()


@pytest.mark.parametrize(
    ("key", "typed", "silent", "warned", "text"),
    [
        # Sewn 12 in and hinged at 16: of 120 a tip-in may take 104; on wire 6 and 5 more.
        ("side_sewn", {"how": "tip"}, 104, 105, "105 mm wide reaches into the sewn margin, 16 mm"),
        ("wire_bound", {"how": "tip"}, 103, 104, "margin, 17 mm from the spine, and does not open"),
        ("pamphlet", {"how": "pocket"}, 144, 145, "145 mm wide is 121 mm wide between its flaps"),
        ("pamphlet", {"how": "pocket"}, 48, 47, "47 mm wide is 23 mm wide between its flaps; the"),
    ],
)  # fmt: skip
def test_what_does_not_open_or_close_is_told(
    key: str, typed: dict[str, Any], silent: int, warned: int, text: str
) -> None:
    assert build(key, insert(1, width=silent * MM, **typed)).advice == ()
    [advice] = build(key, insert(1, width=warned * MM, **typed)).advice
    assert text in advice.say(lambda nm: show_length(nm, "mm"))
    assert (advice.field, advice.grave) == ("insert1_width", True)


def test_more_than_there_is_room_for_inside_the_cover_is_told() -> None:
    assert build("chain_stitch", insert(1, how="paste", count=4)).advice == ()
    [many] = build("chain_stitch", insert(1, how="pocket", count=5)).advice
    assert many.text.startswith("5 are pasted inside the cover, which has two sides")
    assert (many.field, many.grave) == ("insert1_count", False)
    assert build("chain_stitch", insert(1, how="loose", count=9)).advice == ()


def test_what_is_pasted_takes_paste_where_the_journal_has_some() -> None:
    plain = build("chain_stitch").amounts["paste"]
    # A tenth of a milligram a square millimetre: 90 by 130 all over, half of it, a line of 3.
    for how, milligrams in (("paste", 1170), ("pocket", 585), ("tip", 39), ("loose", 0)):
        made = build("chain_stitch", insert(1, how=how, width=90 * MM, height=130 * MM))
        assert made.amounts["paste"] - plain == milligrams
    assert "paste" not in build("pamphlet", insert(1, how="paste")).amounts


def test_wire_has_to_take_what_is_laid_in_as_well() -> None:
    # 74 leaves of 0.15 and two covers are 11.4; six tip-ins of 0.1 make it 12, a seventh too much.
    typed = {"leaves": 74, "held": "wire3"}
    assert build("wire_bound", insert(1, count=6, width=90 * MM), **typed).advice == ()
    [full] = build("wire_bound", insert(1, count=7, width=90 * MM), **typed).advice
    assert (full.field, full.grave) == ("leaves", True)
    assert "Hang them on 18 loops of wire, 15 mm wide inside" in says(
        build("wire_bound", insert(1, count=6, width=90 * MM), **typed)
    )
