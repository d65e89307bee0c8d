"""A case and the block sewn for it: published measures, an enumeration of the thread, warnings.

Checked against: stations for five tapes and turn-in (Vaughn, Modern Bookbinding, 1912), three
tapes for a back of 8 in and four for 12 (Bailey 1916, specifications 20-21), a teaching handout's
stations for three supports, squares and joints (Vaughn 1912; Bean and Brodhead 1918; Collins), a
round of a third of a circle (Zaehnsdorf 1890, ch. XI; Roberts and Etherington), what a ribbon is
longer than the diagonal (common practice, no source). Case rules for widths are arithmetic on them.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from math import pi, sqrt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.length import INCH, MM, show_length
from app.core.structures import structure
from app.core.structures.base import Build, PaperFacts
from app.core.structures.cases import arc_nm, rise_nm
from app.core.structures.tapes import tape_stations
from app.core.structures.thread import over
from app.documents.sewing import spoken, thread_drawing

CASE = structure("case_bound")
CALIPERS = {"leaves": 146_000, "endpapers": 100_000, "boards": 2 * MM, "spine_piece": 400_000,
            "covering": 300_000, "lining": 100_000}  # fmt: skip
A5: dict[str, Any] = {
    "leaf_width": 148 * MM, "leaf_height": 210 * MM, "signatures": 10, "folios": 5, "swell": 0,
    "turn_in": 16 * MM,
}  # fmt: skip
"""A block of 100 leaves of 0.146 mm and four of the endpapers of 0.1: 15 mm."""


def facts(**calipers: int) -> dict[str, PaperFacts]:
    return {k: PaperFacts(k, nm, Fraction(100)) for k, nm in (CALIPERS | calipers).items()}


def built(papers: dict[str, PaperFacts] | None = None, **dims: Any) -> Build:
    return CASE.build(CASE.checked(CASE.defaults() | A5 | dims), papers or facts())


def show(nm: int) -> str:
    return show_length(nm, "mm")


def said(made: Build) -> list[str]:
    return [a.say(show) for a in made.advice]


def steps(made: Build) -> list[str]:
    return [s.say(show) for s in made.steps]


def flat(made: Build, key: str) -> tuple[float, float, int]:
    found = made.flat(key)
    assert found is not None
    return found.width_nm / MM, found.height_nm / MM, found.count


def test_a_flat_back_by_the_case_rules() -> None:
    # Boards 145 × 216, spine 19 × 216, cloth 357 × 248 mm.
    made = built()
    assert flat(made, "board") == (145, 216, 2)
    assert flat(made, "spine_piece") == (19, 216, 1)
    assert flat(made, "covering") == (357, 248, 1)
    assert flat(made, "endpaper") == (296, 210, 2)
    # The lining 2 to 3 in wider than the back and slightly shorter.
    assert flat(made, "lining") == (15 + 63.5, 200, 1)
    covering = made.flat("covering")
    assert covering is not None
    assert [(p.name, p.width_nm / MM) for p in covering.panels] == [
        ("turn-in", 16), ("front", 145), ("joint", 8), ("spine", 19), ("joint", 8), ("back", 145),
        ("turn-in", 16),
    ]  # fmt: skip
    assert [p.x_nm / MM for p in covering.panels] == [0, 16, 161, 169, 188, 196, 341]
    assert covering.folds == (
        *((x * MM, 16 * MM, x * MM, 232 * MM) for x in (16, 161, 169, 188, 196, 341)),
        (16 * MM, 16 * MM, 341 * MM, 16 * MM), (16 * MM, 232 * MM, 341 * MM, 232 * MM),
    )  # fmt: skip
    corner = [(x / MM, y / MM) for x, y in covering.outline]
    assert corner == [(24, 0), (333, 0), (357, 24), (357, 224), (333, 248), (24, 248), (0, 224),
                      (0, 24)]  # fmt: skip
    assert {f.grain for f in made.flats} == {"height"}
    assert made.leaves == 100
    assert made.made_of == "10 signatures of 5 folios in a case"
    # Block, boards, cloth twice on either side; in width the square, spine piece and cloth.
    assert made.thickness_nm == 15 * MM + 4 * MM + 4 * 300_000
    assert made.edge_nm == made.thickness_nm
    # Of the joint of 8 the edge of the board takes 2; the board is 3 narrower: a square of 3.
    assert made.closed_width_nm == 148 * MM + 3 * MM + 400_000 + 300_000
    assert made.closed_height_nm == 216 * MM
    assert said(made) == ["One length of thread is 2.04 m long; more than 1500 mm tangles and "
                          "frays. Shorten the tails, or join a second length on the way."]  # fmt: skip


def test_work_goods_and_paste_by_hand() -> None:
    made = built(ribbons=2)
    assert made.operations == {
        "cut": 50 + 7, "fold": 52, "punch": 80, "sew": 80, "back": 1, "case": 1, "case_in": 1,
        "finish": 1,
    }  # fmt: skip
    # Three tapes over the back of 15 and 1 1/4 in past it on each side; two headbands.
    assert made.lengths["tape"] == 3 * (15 * MM + 2 * INCH * 5 // 4)
    assert made.lengths["headband"] == 30 * MM
    assert built(headbands=1).lengths["headband"] == 15 * MM
    # The diagonal of A5 is 256.91 mm; 50 to hold, 25 glued.
    assert made.lengths["ribbon"] / MM == pytest.approx(2 * (256.91 + 75), abs=0.01)
    a6 = built(leaf_width=105 * MM, leaf_height=148 * MM, ribbons=1)
    assert a6.lengths["ribbon"] / MM == pytest.approx(181.46 + 75, abs=0.01)
    assert built().lengths["ribbon"] == 0
    # A hundred g a square metre: half of two endpapers, the cloth, the back twice.
    # Lined over 78.5 by 200 once it is glued up.
    glued = 296 * 210 + 357 * 248 + 15 * 210 + 157 * 100
    assert made.amounts["paste"] == glued // 10
    assert built(sewn="link").lengths["tape"] == 0
    assert built(sewn="link_tapes").lengths["tape"] == made.lengths["tape"]
    assert built(back="rounded").operations["round_back"] == 1


@pytest.mark.parametrize(
    ("chord", "arc", "rise", "radius"),
    [("20", 24.1840, 5.7735, 11.5470), ("15", 18.1380, 4.3301, 8.6603)],
)
def test_a_rounded_back_is_the_arc_of_a_third_of_a_circle(
    chord: str, arc: float, rise: float, radius: float
) -> None:
    nm = int(chord) * MM
    assert arc_nm(nm) / MM == pytest.approx(arc, abs=5e-5)
    assert rise_nm(nm) / MM == pytest.approx(rise, abs=5e-5)
    # By the circle itself, in floating point: chord T, radius T/√3, a third of its round.
    assert arc_nm(nm) == pytest.approx(2 * pi / 3 * nm / sqrt(3), abs=1)
    assert rise_nm(nm) == pytest.approx(nm / sqrt(3) / 2, abs=1)
    assert nm / sqrt(3) / MM == pytest.approx(radius, abs=5e-5)


def test_a_rounded_case_by_hand() -> None:
    made = built(back="rounded")
    # 18.138 over a block of 15: a spine piece of 18.5 to the half millimetre, no boards in it.
    assert flat(made, "spine_piece") == (18.5, 216, 1)
    assert flat(made, "covering") == (2 * (16 + 145 + 8) + 18.5, 248, 1)
    assert flat(made, "lining")[0] == pytest.approx(18.138 + 63.5, abs=0.001)
    assert made.lengths["headband"] == 2 * arc_nm(15 * MM)
    # It stands out by 4.33.
    assert made.closed_width_nm == built().closed_width_nm + rise_nm(15 * MM)
    rounding = next(text for text in steps(made) if "hammer" in text)
    assert "18.14 mm over it from edge to edge, and 4.33 mm high" in rounding
    rod = next(i for i, text in enumerate(steps(made)) if "round a rod" in text)
    assert steps(made)[rod + 1].startswith("Try the block in the case")
    assert not any("hammer" in text or "rod" in text for text in steps(built()))
    sixteenth = built(spine_step="sixteenth")
    assert flat(sixteenth, "spine_piece")[0] == pytest.approx(12 * 25.4 / 16)


def test_a_back_that_was_measured_goes_before_one_that_is_reckoned() -> None:
    # A bulk of 13/16 in was 0.95 in rounded, 1.18 in rounded and backed: no formula, so it is typed.
    backed = int(Fraction("1.18") * INCH)
    made = built(back="rounded", back_measured=backed)
    assert flat(made, "spine_piece")[0] == 29.972
    assert made.lengths["headband"] == 2 * backed
    flat_one = built(back_measured=16 * MM)
    assert flat(flat_one, "spine_piece")[0] == 20
    # What the leaves alone are, pressed, without the swell that was guessed; at most 1.6 of it.
    swollen = {"swell": 20, "back": "rounded"}
    [low] = [a for a in built(back_measured=15 * MM - 1, **swollen).advice if a.grave]
    assert low.field == "back_measured"
    assert "leaves and endpapers alone are 15 mm thick" in low.say(show)
    assert not any(a.field == "back_measured" for a in built(back_measured=15 * MM).advice)
    assert not any(a.field == "back_measured" for a in built(back_measured=24 * MM).advice)
    [wide] = [a for a in built(back_measured=24 * MM + 1).advice if a.field == "back_measured"]
    assert "more than half a circle over a block 15 mm" in wide.say(show)
    assert not wide.grave
    # What is rounded is rounded to a third of a circle, whatever was measured before.
    rounding = next(t for t in steps(built(back="rounded", back_measured=20 * MM)) if "hammer" in t)
    assert "18.14 mm over it from edge to edge, and 4.33 mm high" in rounding


def test_what_is_too_thin_to_round_is_told() -> None:
    thin = {"back": "rounded", "signatures": 4, "folios": 6}
    # 48 leaves of 0.146 and four of 0.1: 7.408 mm; of 13 folios 52 leaves, 7.992; of 0.15 more.
    assert [a.field for a in built(**thin).advice if a.field != "tails"] == ["back"]
    assert not any(a.field == "back" for a in built(**(thin | {"back": "flat"})).advice)
    whole = facts(leaves=158_334)
    assert not any(a.field == "back" for a in built(whole, **thin).advice)
    nearly = facts(leaves=158_333)
    assert any(a.field == "back" for a in built(nearly, **thin).advice)


def test_only_what_is_tipped_in_makes_the_back_wider() -> None:
    from app.core.structures import structure_for

    def back_with(how: str) -> tuple[float, int]:
        dims: dict[str, Any] = {
            "insert1_count": 4, "insert1_how": how, "insert1_width": 100 * MM,
            "insert1_height": 150 * MM, "insert1_grain": "height", "insert1_per": "journal",
        }  # fmt: skip
        made = structure_for("case_bound", dims)
        papers = facts() | {"insert1": PaperFacts("Card", 500_000, Fraction(100))}
        found = made.build(made.checked(made.defaults() | A5 | dims), papers)
        return flat(found, "spine_piece")[0], found.thickness_nm

    plain = built().thickness_nm
    # Four of half a millimetre; folded to pockets they lie three deep.
    assert back_with("tip") == (21, plain + 2 * MM)
    for how, more in (("paste", 2), ("loose", 2), ("pocket", 6)):
        assert back_with(how) == (19, plain + more * MM)


def test_corners_of_endpapers_are_those_of_the_leaves() -> None:
    from app.core.structures import structure_for

    made = structure_for("case_bound", {})
    dims = made.defaults() | A5 | {"corners": "rounded", "corner_size": 8 * MM, "edges": "all"}
    found = made.build(made.checked(dims), facts())
    endpaper, leaf = found.flat("endpaper"), found.folio
    assert endpaper is not None
    assert leaf is not None
    assert endpaper.outline == leaf.outline != ()
    # Two of each of ten signatures, and of each of two endpapers.
    assert found.operations["corner"] == 24
    text = steps(found)
    cut = next(i for i, t in enumerate(text) if t.startswith("Cut two endpapers"))
    assert "the two fore-edge corners of each endpaper as well" in text[cut + 1]
    assert any("The endpapers come later and stay white." in t for t in text)


@pytest.mark.parametrize(
    ("head", "tail", "gap", "tapes", "width", "stations"),
    [
        # Vaughn: kettles 3/4 and 1 1/4 in from the ends, end tapes 1/4 in inside, the rest evenly.
        ("3/4", "5/4", "1/4", 5, "1/2",
         "3/4 1 3/2 9/4 11/4 7/2 4 19/4 21/4 6 13/2 27/4"),
        # A teaching handout: .5, 1, 1.5, 3.75, 4.25, 6.5, 7, 7.5.
        ("1/2", "1/2", "1/2", 3, "1/2", "1/2 1 3/2 15/4 17/4 13/2 7 15/2"),
        # One tape lies in the middle between the kettles.
        ("1", "2", "1/2", 1, "1", "1 3 4 6"),
    ],
)  # fmt: skip
def test_published_stations_on_a_back_of_eight_inches(
    head: str, tail: str, gap: str, tapes: int, width: str, stations: str
) -> None:
    def nm(inches: str) -> int:
        return int(Fraction(inches) * INCH)

    found = tape_stations({
        "leaf_height": 8 * INCH, "head_distance": nm(head), "tail_distance": nm(tail),
        "kettle_gap": nm(gap), "tapes": tapes, "tape_width": nm(width),
    })  # fmt: skip
    assert found == tuple(map(nm, stations.split()))


@given(st.integers(2, 12), st.integers(1, 6), st.sampled_from(["tapes", "link_tapes", "link"]),
       st.integers(1, 9))  # fmt: skip
def test_thread_on_tapes_is_spans_passes_climbs_kettles_and_links(
    signatures: int, tapes: int, sewn: str, folios: int
) -> None:
    made = built(signatures=signatures, tapes=tapes, sewn=sewn, folios=folios)
    [path] = made.thread
    fold = folios * 146_000
    between, stations, span = 2 * fold, 2 * tapes + 2, (210 - 35) * MM
    assert path.passes == signatures * stations
    along = signatures * span
    if sewn != "tapes":
        # Over a tape it goes by the stitch below, half a tape down and half a tape on.
        half = 6 * MM
        along += (signatures - 1) * tapes * (2 * over(between, half) - 2 * half)
    # A climb after each but the last; from the third on down to the one before first, and up again.
    climbs = signatures - 1
    kettles = max(signatures - 3, 0) * 2 + (1 if signatures > 2 else 0)
    expected = along + path.passes * fold + (climbs + kettles) * between + 200 * MM
    assert abs(path.length_nm - expected) <= 4 * signatures * tapes
    assert not path.points[0].inside
    assert not path.points[-1].inside
    links = Counter(p.over for p in path.points if p.over)
    assert links["kettle"] == max(signatures - 2, 0)
    assert links["below"] == (0 if sewn == "tapes" else (signatures - 1) * tapes)
    assert links["tie"] == 1
    assert links.total() == links["kettle"] + links["below"] + 1
    # Inside and outside by turns: it lies inside between tapes, outside over them.
    for number in range(0, stations, 2):
        first = [p for p in path.points if p.row == 0 and not p.over]
        assert [p.inside for p in first[2 * number : 2 * number + 4]] == [False, True, True, False]


def test_the_way_is_said_and_drawn() -> None:
    [path] = built(signatures=3, tapes=1, sewn="link_tapes").thread
    words = spoken(path, show)
    assert words[:6] == [
        "Begin outside at station 1 of signature 1, a tail of 100 mm left.",
        "In at station 1 of signature 1.",
        "Along the inside to station 2 of signature 1, 81.5 mm.",
        "Out at station 2 of signature 1.",
        "Along the outside to station 3 of signature 1, 12 mm.",
        "In at station 3 of signature 1.",
    ]
    assert "Link under the stitch below, that of signature 1." in words
    tie = words.index("Tie to the tail of signature 1.")
    assert words[tie + 1] == "Across on the outside to station 1 of signature 3."
    assert words[-2:] == ["Link under the thread that joins signature 1 and signature 2.",
                          "Leave a tail of 100 mm."]  # fmt: skip
    assert "Up again to station 2 of signature 2." in words or (
        "Up again to station 3 of signature 2." in words
    )
    picture = thread_drawing(path, show, "t")
    assert picture.count('class="thread-step') == len(path.points) - 1
    # Signatures lie a thickness apart, so they are columns of their own.
    assert {q[0] for q in path.places} == {0, 1_460_000, 2_920_000}


def test_steps_in_an_order_that_can_be_followed() -> None:
    text = steps(built(ribbons=1, back="rounded"))
    order = [
        "Cut 50 folios", "punch 8 stations", "Cut 3 tapes", "Sew in the order", "Knot the thread",
        "Take it off the bench", "Cut two endpapers", "press crushes", "Lay 3 mm of paste", "Knock the block up", "hammer", "Cut one ribbon, 331.91 mm",
        "Cut the lining of mull", "Cut two headbands", "Cut two boards", "Measure over the back",
        "Cut the spine piece", "Cut the covering", "Paste the covering", "a rod", "Try the block",
        "Lay the block on", "Work the joints in", "wrap it up",
    ]  # fmt: skip
    places = [next(i for i, t in enumerate(text) if words in t) for words in order]
    assert places == sorted(places)
    assert "Cut two headbands, 18.14 mm each, and glue to the back at head and tail" in " ".join(
        text
    )
    sewing = next(t for t in text if t.startswith("Sew in"))
    assert sewing.startswith(
        "Sew in the order drawn, along the fold inside and outside round every tape. At the end"
    )
    linked = next(t for t in steps(built(sewn="link")) if t.startswith("Sew in"))
    assert "outside from station to station. From the second signature on link it there" in linked
    assert "paste down tapes and lining and then" in " ".join(text)
    loose = " ".join(steps(built(sewn="link", headbands=0, signatures=2)))
    assert "paste down the lining and then" in loose
    assert "tape" not in loose
    assert "headband" not in loose
    assert "ribbon" not in loose
    assert "Trim both tails of that knot." in loose
    assert "Cut a headband, 15 mm, and glue to the back at the head," in " ".join(
        steps(built(headbands=1))
    )
    assert "Cut one tape," in " ".join(steps(built(tapes=1)))
    assert any(
        "Cut 2 ribbons, 335 mm each, glue 25 mm of each to the head" in text
        for text in (
            s.say(show, lambda nm: show(-(-nm // (5 * MM)) * 5 * MM))
            for s in built(ribbons=2).steps
        )
    )


def test_what_is_tied_inside_comes_before_and_what_is_pasted_on_it_after() -> None:
    from app.core.structures import structure_for

    dims: dict[str, Any] = {
        "closing": "ties", "insert1_count": 1, "insert1_how": "pocket",
        "insert1_width": 100 * MM, "insert1_height": 150 * MM, "insert1_grain": "height",
        "insert1_per": "journal",
    }  # fmt: skip
    made = structure_for("case_bound", dims)
    papers = facts() | {"insert1": PaperFacts("Pocket", 100_000, Fraction(100))}
    found = made.build(made.checked(made.defaults() | A5 | dims), papers)
    text = steps(found)
    knotted = next(
        i
        for i, t in enumerate(text)
        if "ribbon" in t.lower() or ("tie" in t.lower() and "hole" in t)
    )
    cased = next(i for i, t in enumerate(text) if t.startswith("Lay the block on the back board"))
    pocket = next(i for i, t in enumerate(text) if "paste it inside the cover" in t)
    assert knotted < cased < pocket


@pytest.mark.parametrize(
    ("silent", "warned", "field", "text", "grave"),
    [
        ({"square": 1}, {"square": 0}, "square",
         "The board is 210 mm high and the leaf 210 mm: it does not stand past the leaf. Make the "
         "square at least 3 mm.", False),
        ({"square": 1}, {"square": -1}, "square", "The board is 210 mm high and the leaf 210 mm: "
         "it does not stand past the leaf. Make the square at least 3 mm.", True),
        ({"joint": 4 * MM, "board_in": 0}, {"joint": 4 * MM - 1, "board_in": 0}, "joint",
         "A joint of 4 mm binds on boards 2 mm thick: the case does not open. Give it 8 mm or more.",
         True),
        ({"board_in": 6 * MM}, {"board_in": 6 * MM + 10_000}, "board_in",
         "The boards end 0.01 mm short of the fore edge: of the joint 2 mm go round the edge of a "
         "board, and the board is 6.01 mm narrower than the leaf. Make it 3 mm narrower, or the "
         "joint wider.", True),
        ({"board_in": -2 * MM}, {"board_in": -2 * MM - 10_000}, "board_in",
         "The boards stand 8.01 mm past the fore edge. Make them narrower by 5.01 mm, for 3 mm.",
         False),
        ({"joint": 7 * MM}, {"joint": 7 * MM - 10_000}, "joint",
         "The boards stand only 1.99 mm past the fore edge. Make the joint 8 mm, or the boards less "
         "narrow.", False),
        ({"head_distance": 6 * MM}, {"head_distance": 6 * MM - 10_000}, "head_distance",
         "The kettle station lies 5.99 mm from the head; the paper tears closer than 6 mm. Move it "
         "in to 6 mm or more.", True),
        ({"tail_distance": 6 * MM}, {"tail_distance": 6 * MM - 10_000}, "tail_distance",
         "The kettle station lies 5.99 mm from the tail; the paper tears closer than 6 mm. Move it "
         "in to 6 mm or more.", True),
        ({"kettle_gap": 4 * MM}, {"kettle_gap": 4 * MM - 1}, "kettle_gap",
         "3 tapes or links 12 mm wide do not fit between kettles 175 mm apart with 4 mm on either "
         "side of each. Take fewer or narrower ones, or move the kettles out.", True),
        # Between kettles 163 mm for eight of 16: seven spaces of 5; of 17 they are 3.86.
        ({"tapes": 8, "tape_width": 16 * MM}, {"tapes": 8, "tape_width": 17 * MM}, "tapes",
         "8 tapes or links 17 mm wide do not fit between kettles 175 mm apart with 4 mm on either "
         "side of each. Take fewer or narrower ones, or move the kettles out.", True),
        ({"leaf_height": 254 * MM - 1}, {"leaf_height": 254 * MM}, "tapes",
         "A leaf 254 mm high wants four tapes or links: three are for one of 203.2 mm.", False),
        ({"leaf_height": 254 * MM, "tapes": 4}, {"leaf_height": 254 * MM, "tapes": 3}, "tapes",
         "A leaf 254 mm high wants four tapes or links: three are for one of 203.2 mm.", False),
    ],
)  # fmt: skip
def test_a_warning_is_silent_at_its_bound_and_said_past_it(
    silent: dict[str, Any], warned: dict[str, Any], field: str, text: str, grave: bool
) -> None:
    found = [a for a in built(**warned).advice if a.say(show) == text]
    assert [(a.field, a.grave) for a in found] == [(field, grave)]
    assert text[:12] not in " ".join(said(built(**silent)))


def test_one_tape_too_wide_is_one_tape() -> None:
    made = built(tapes=1, tape_width=60 * MM, leaf_height=80 * MM)
    assert any(text.startswith("One tape or link 60 mm wide does not fit") for text in said(made))


def test_a_board_with_hardly_anything_left_is_refused_at_its_field() -> None:
    assert built(leaf_width=80 * MM, board_in=60 * MM).pieces
    with pytest.raises(DomainError) as caught:
        built(
            leaf_width=80 * MM, board_in=60 * MM + 0, joint=8 * MM, leaf_height=20 * MM, square=-MM
        )
    assert caught.value.field == "square"
    with pytest.raises(DomainError) as caught:
        built(leaf_width=79 * MM, board_in=60 * MM)
    assert caught.value.field == "board_in"


def test_thick_boards_want_more_turned_in() -> None:
    bare = built(facts(boards=4 * MM), joint=10 * MM)
    assert any("leaves the corners of a board 4 mm thick bare" in text for text in said(bare))
    assert not any("bare" in text for text in said(built(joint=10 * MM)))


def test_a_low_leaf_keeps_most_of_its_lining() -> None:
    made = built(leaf_height=30 * MM, tapes=1, head_distance=6 * MM, tail_distance=6 * MM,
                 kettle_gap=4 * MM, tape_width=4 * MM)  # fmt: skip
    # A quarter off at the most.
    assert flat(made, "lining")[1] == 22.5
