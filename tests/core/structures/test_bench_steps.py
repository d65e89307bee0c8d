"""The bookbinder's part read literally: the order of the steps, grain, trims, glue, spine and rows."""

from __future__ import annotations

import itertools
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.length import INCH, MM, measured_up, show_length
from app.core.structures import structure, structures
from app.core.structures.base import Build, PaperFacts
from app.core.structures.boards import LINING_MARGIN_NM
from app.core.structures.common import AWLS, BEADS, BLADES, PASTES
from app.core.structures.wire_bound import PUNCHING

PAPERS = {r.key for made in structures().values() for r in made.roles if r.measure == "sheet"}
SEWN = (
    "case_bound", "chain_stitch", "concertina_sewn", "long_stitch", "pamphlet", "pamphlet_rows",
    "wrap_cover",
)  # fmt: skip
WRAPPED = ("long_stitch", "wrap_cover")
GLUED = ("chain_stitch", "concertina", "folded_card")
KEYS = [key for key in sorted(structures()) if key != "parts_list"]
SIZES: tuple[dict[str, int], ...] = (
    {"leaf_height": 105 * MM, "leaf_width": 74 * MM},
    {},
    {"leaf_height": 297 * MM, "leaf_width": 210 * MM},
)
"""Small, as first offered, large; the flap of an envelope follows its card."""


def facts(caliper: int = 150_000, cover: int = 300_000) -> dict[str, PaperFacts]:
    return {
        role: PaperFacts(role, caliper if role == "leaves" else cover, Fraction(120))
        for role in PAPERS
    }


def build(key: str, papers: dict[str, PaperFacts] | None = None, **dims: Any) -> Build:
    made = structure(key)
    return made.build(made.checked(made.defaults() | dims), papers or facts())


def steps(made: Build) -> list[str]:
    return [s.say(lambda nm: show_length(nm, "mm")) for s in made.steps]


def at(said: list[str], words: str) -> int:
    """Which step says these words."""
    found = [n for n, text in enumerate(said) if words in text]
    assert found, f"no step says {words!r}: {said}"
    return found[0]


def advice(made: Build) -> str:
    return " ".join(a.say(lambda nm: show_length(nm, "mm")) for a in made.advice)


# --- steps in an order that can be followed


@pytest.mark.parametrize("size", SIZES)
def test_a_wrap_cover_is_pressed_before_beads_and_cord_are_on(size: dict[str, int]) -> None:
    said = steps(build("wrap_cover", **size))
    assert at(said, "Sew each") < at(said, "Press it overnight") < at(said, "of cord")
    assert at(said, BEADS) < at(said, "of cord")
    assert "Press" not in " ".join(said[at(said, "of cord") :])
    # The eyelet while the cover lies flat, before it is scored and folded.
    assert at(said, "punch the eyelet of the flap by the template") < at(said, "Score the")


def test_without_wraps_no_step_speaks_of_cord_or_beads() -> None:
    said = " ".join(steps(build("wrap_cover", wraps=0)))
    assert "cord" not in said
    assert "Beads" not in said
    assert "knot each end" in " ".join(steps(build("wrap_cover", beads_each_end=0)))
    assert "1 bead on each end" in " ".join(steps(build("wrap_cover", beads_each_end=1)))
    assert "round once" in " ".join(steps(build("wrap_cover", wraps=1)))
    assert "round 3 times" in " ".join(steps(build("wrap_cover", wraps=3)))


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("size", SIZES)
def test_a_caution_stands_before_the_step_it_is_about(key: str, size: dict[str, int]) -> None:
    said = steps(build(key, **_sized(key, size)))
    assert said[0] == BLADES
    for caution, verbs in (
        (PUNCHING if key == "wire_bound" else AWLS, ("punch", "Pierce", "Punch")),
        (PASTES, ("Glue", "glue", "Paste")),
    ):
        doing = [n for n, text in enumerate(said) if text not in (AWLS, PASTES, BEADS, BLADES, PUNCHING)
                 and any(verb in text for verb in verbs)]  # fmt: skip
        if doing:
            assert at(said, caution) < doing[0], (caution, said[doing[0]])


def _sized(key: str, size: dict[str, int]) -> dict[str, int]:
    if key == "folded_card" and size:
        return size | {"flap": size["leaf_height"] * 2 // 5}
    return size


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("size", SIZES)
def test_every_cut_says_its_grain_and_only_what_is_so(key: str, size: dict[str, int]) -> None:
    for free in (False, True):
        dims = _sized(key, size)
        if free:
            dims = dims | {
                d.key: "free" for d in structure(key).dimensions if d.key.endswith("_grain")
            }
        made = build(key, **dims)
        for flat in made.flats:
            words = f"the grain along the {flat.grain}" if flat.grain else "the grain either way"
            cutting = [
                s for s in made.steps
                if s.text.startswith("Cut ") and "{width}" in s.text
                and s.lengths.get("width") == flat.width_nm
            ]  # fmt: skip
            assert any(words in s.text for s in cutting), (flat.key, words)


@pytest.mark.parametrize("key", SEWN)
def test_creep_that_is_advised_to_be_trimmed_is_trimmed_by_a_step(key: str) -> None:
    thick = facts(caliper=400_000)
    creeping, even = build(key, thick, folios=5), build(key, thick, folios=3)
    assert "Trim the fore edge as the steps say" in advice(creeping)
    said = steps(creeping)
    assert at(said, "Nest them") < at(said, "Trim the fore edge of") < at(said, "Lay the punching")
    assert "1.6 mm past" in said[at(said, "Trim the fore edge of")]
    assert "Trim the fore edge" not in " ".join(steps(even))
    # Trimming is work: a cut a signature.
    per = {k: b.operations["cut"] for k, b in (("creeping", creeping), ("even", even))}
    signatures = 1 if key == "pamphlet" else int(structure(key).defaults()["signatures"])
    assert per["creeping"] - per["even"] == signatures * 2 + signatures


@pytest.mark.parametrize(
    ("signatures", "words"),
    [(2, "side by side: tie them together"), (3, "head of the first row, one at the tail of the"),
     (4, "at the head, of the first and of the last row"), (5, "one at the tail of the last")],
)  # fmt: skip
def test_long_stitch_says_where_its_tails_end(signatures: int, words: str) -> None:
    made = build("long_stitch", signatures=signatures)
    said = steps(made)
    assert words in said[at(said, "ail")] or words in " ".join(said)
    [path] = made.thread
    ends = (path.points[0], path.points[-1])
    assert [end.row for end in ends] == [0, signatures - 1]
    assert ends[0].station == 0
    assert ends[1].station == (0 if signatures % 2 == 0 else 3)
    assert at(said, words) < at(said, "Press it overnight")


# --- the concertina


def folded_up(panels: int) -> tuple[str, str]:
    """The faces that lie outside on top and below when a strip is folded to and fro."""
    # Every fold turns the face over: panel n lies with face A up where n is even, counted from 0.
    up = ["A" if n % 2 == 0 else "B" for n in range(panels)]
    down = ["B" if face == "A" else "A" for face in up]
    return up[0], down[-1]


@pytest.mark.parametrize("panels", [2, 3, 8, 9, 12, 13])
def test_the_boards_go_on_the_outward_faces(panels: int) -> None:
    said = steps(build("concertina", panels=panels))
    same = len(set(folded_up(panels))) == 1
    assert ("They are the same face of the strip" in " ".join(said)) == same
    assert ("opposite faces of the strip" in " ".join(said)) == (not same)


def test_lengths_with_odd_panels_are_told_to_begin_the_other_way_before_they_are_folded() -> None:
    said = steps(build("concertina", panels=9, panels_each=3))
    fold = at(said, "Fold to and fro")
    assert "begin every second length with a mountain" in said[fold]
    assert fold < at(said, "Glue each tab")
    assert "second length" not in " ".join(steps(build("concertina", panels=8, panels_each=4)))
    assert "second length" not in " ".join(steps(build("concertina", panels=3, panels_each=3)))


@pytest.mark.parametrize(
    ("panels", "each", "last"), [(10, 4, 2), (12, 4, 4), (9, 4, 1), (13, 12, 1)]
)
def test_the_last_length_is_cut_as_long_as_it_is_needed(panels: int, each: int, last: int) -> None:
    made = build("concertina", panels=panels, panels_each=each, tab=12 * MM)
    whole, rest = made.pieces["leaves"]
    assert rest.width_nm == last * 120 * MM
    assert whole.width_nm == (each * 120 + 12) * MM
    said = steps(made)
    many = "" if last == 1 else "s"
    assert f"{last * 120} mm wide" in said[at(said, "Cut one more, the last")].replace(
        show_length(last * 120 * MM, "mm"), f"{last * 120} mm"
    )
    assert f"{last} panel{many} and no tab" in said[at(said, "Cut one more, the last")]


def test_a_shorter_last_length_is_weighed_as_it_is() -> None:
    papers = facts()
    whole, short = (build("concertina", papers, panels=n, panels_each=4) for n in (8, 5))
    # Eight panels and a tab against five and a tab, 120 × 160 mm at 120 g/m².
    less = whole.paper_weight_mg(papers) - short.paper_weight_mg(papers)
    assert less == Fraction(3 * 120 * 160 * 120, 1000)


# --- boards


@pytest.mark.parametrize("size", SIZES)
def test_covered_boards_of_a_chain_stitch_are_lined(size: dict[str, int]) -> None:
    made = build("chain_stitch", **size)
    board, covering, lining = made.flat("board"), made.flat("covering"), made.flat("lining")
    assert board is not None
    assert covering is not None
    assert lining is not None
    assert lining.width_nm == board.width_nm - 2 * LINING_MARGIN_NM
    assert lining.height_nm == board.height_nm - 2 * LINING_MARGIN_NM
    assert [(p.name, p.count) for p in made.pieces["covering"]] == [
        ("covering paper", 2), ("lining", 2),
    ]  # fmt: skip
    # Four glued sides, and paste for all of them at 100 g to the square metre.
    assert made.operations["glue"] == 4
    area = 2 * (covering.width_nm * covering.height_nm + lining.width_nm * lining.height_nm)
    assert made.amounts["paste"] == area // (10 * MM * MM)
    said = steps(made)
    assert (
        at(said, "turn the edges in") < at(said, "Cut two linings") < at(said, "Sew in the order")
    )
    assert "warps" in said[at(said, "Cut two linings")]


def test_bare_boards_need_no_lining() -> None:
    made = build("chain_stitch", turn_in=0)
    assert made.flat("lining") is None
    assert "covering" not in made.pieces
    assert made.operations["glue"] == 0
    assert made.operations["cut"] == build("chain_stitch").operations["cut"] - 4


@pytest.mark.parametrize("board", [1_500_000, 2 * MM, 3 * MM])
def test_a_turn_in_that_leaves_the_corner_bare_is_warned_of(board: int) -> None:
    # Cut off at 45°, a turn-in t reaches t/√8 past the corner: one and a half boards are wanted
    # (common practice, no source), so t ≥ 4.243 boards.
    enough = -(-board * 4243 // 1000)
    papers = facts(cover=board)
    bare, round_it = (
        build("chain_stitch", papers, turn_in=turn) for turn in (enough - 10_000, enough + 10_000)
    )
    assert "leaves the corners" in advice(bare)
    assert any(a.grave and a.field == "turn_in" for a in bare.advice)
    assert "corners of a board" not in advice(round_it)
    mend = next(a for a in bare.advice if a.field == "turn_in").lengths["mend"]
    assert "corners of a board" not in advice(build("chain_stitch", papers, turn_in=mend))


# --- rows and spine


@pytest.mark.parametrize("key", WRAPPED)
@given(
    signatures=st.integers(2, 8), folios=st.integers(1, 10), caliper=st.integers(50, 400),
    cover=st.integers(100, 900), swell=st.integers(0, 40),
    step=st.sampled_from(["half", "sixteenth"]),
)  # fmt: skip
def test_rows_worked_out_meet_the_signatures_and_the_spine_holds_block_and_cover(
    key: str, signatures: int, folios: int, caliper: int, cover: int, swell: int, step: str
) -> None:
    papers = facts(caliper * 1000, cover * 1000)
    made = build(key, papers, signatures=signatures, folios=folios, swell=swell, spine_step=step)
    assert made.cover is not None
    each = 2 * folios * caliper * 1000 * (100 + swell) // 100
    rows = sorted({hole.x_nm for hole in made.cover.holes})
    unit = INCH // 16 if step == "sixteenth" else MM // 2
    pitches = {b - a for a, b in itertools.pairwise(rows)}
    pitch = max(pitches)
    assert max(pitches) - min(pitches) <= 1
    wanted = max(each, 3 * MM)
    assert wanted - 1 <= pitch < wanted + unit + 1
    spine = next(panel for panel in made.cover.panels if panel.name == "spine").width_nm
    block = 2 * signatures * folios * caliper * 1000
    least = max(block + block * swell // 100 + cover * 1000, signatures * pitch)
    assert least - signatures <= spine < least + unit + signatures
    assert spine % unit == 0
    assert "Rows" not in advice(made)
    assert "spine is" not in advice(made)


@pytest.mark.parametrize("key", WRAPPED)
def test_rows_3_175_mm_apart_crowd_signatures_of_4_5_mm(key: str) -> None:
    thick = facts(caliper=300_000)
    # 2 × 7.5 sheets do not exist: 15 leaves of 0.3 mm are 4.5 mm.
    crowded = build(key, facts(caliper=375_000), folios=6, row_pitch=3_175_000)
    assert "3.18 mm apart crowd signatures that are 4.5 mm thick" in advice(crowded)
    assert "Rows" not in advice(build(key, facts(caliper=375_000), folios=6, row_pitch=4_500_000))
    assert "crowd" in advice(build(key, thick, folios=8, row_pitch=4_799_999))


@pytest.mark.parametrize("key", WRAPPED)
def test_rows_8_mm_apart_are_far_for_signatures_of_1_4_mm(key: str) -> None:
    thin = facts(caliper=175_000)
    far = build(key, thin, folios=4, row_pitch=8 * MM)
    assert "8 mm apart lie far from one another for signatures 1.4 mm thick" in advice(far)
    assert "Leave 3 mm" in advice(far)
    # An eighth of an inch is common practice, no source, and never too far.
    assert "far" not in advice(build(key, thin, folios=4, row_pitch=3_175_000))
    assert "far" not in advice(build(key, thin, signatures=2, folios=4, row_pitch=3_400_000))
    assert "far" in advice(build(key, thin, signatures=2, folios=4, row_pitch=3_400_001))
    if key == "wrap_cover":
        assert "far" not in advice(build(key, thin, signatures=1, row_pitch=8 * MM))


def test_a_spine_without_room_for_the_cover_itself_is_warned_of() -> None:
    papers = facts(caliper=200_000, cover=800_000)
    # 3 signatures of 6 folios: a block of 7.2 mm, and 0.8 mm of cover.
    tight, right = (
        build("wrap_cover", papers, folios=6, row_pitch=2_400_000, spine=s) for s in
        (7_900_000, 8 * MM)
    )  # fmt: skip
    assert "The spine is 7.9 mm; block and cover are 8 mm thick there" in advice(tight)
    assert any(a.grave and a.field == "spine" for a in tight.advice)
    assert "will not close" not in advice(right)


@pytest.mark.parametrize(
    ("folios", "names"),
    [(4, ["front", "spine", "back", "flap"]),
     (8, ["front", "spine", "back", "fore edge", "flap"])],
)  # fmt: skip
def test_a_flap_over_a_thick_block_is_scored_twice(folios: int, names: list[str]) -> None:
    papers = facts(caliper=150_000, cover=300_000)
    made = build("wrap_cover", papers, folios=folios)
    assert made.cover is not None
    assert [panel.name for panel in made.cover.panels] == names
    panels = {panel.name: panel.width_nm for panel in made.cover.panels}
    assert panels["flap"] + panels.get("fore edge", 0) == 50 * MM
    assert made.cover.width_nm == sum(panels.values())
    assert made.operations["score"] == len(names) - 1 == len(made.cover.scores)
    if folios == 8:
        # 3 × 8 × 2 × 0.15 mm and two covers: 7.8 mm, up to 8.
        assert panels["fore edge"] == 8 * MM
        assert f"Score the {len(names) - 1} fold lines" in " ".join(steps(made))
    assert len(build("wrap_cover", papers, folios=8, flap=19 * MM).cover.panels) == 4  # type: ignore[union-attr]
    assert len(build("wrap_cover", papers, folios=8, flap=20 * MM).cover.panels) == 5  # type: ignore[union-attr]


def test_the_eyelet_keeps_clear_of_the_second_score() -> None:
    for flap in range(20, 60):
        cover = build(
            "wrap_cover", facts(caliper=150_000, cover=300_000), folios=8, flap=flap * MM
        ).cover
        assert cover is not None
        ((eyelet, _),) = cover.eyelets
        assert cover.scores[-1] + 6 * MM <= eyelet <= cover.width_nm - 6 * MM


def test_rows_wider_than_their_block_are_told_and_reckoned() -> None:
    papers = facts(caliper=150_000, cover=300_000)
    wide = build("long_stitch", papers, signatures=12, folios=2)
    assert any("gapes" in one.text for one in wide.advice)
    assert wide.thickness_nm == wide.cover.panels[1].width_nm == 36 * MM  # type: ignore[union-attr]
    for key in ("long_stitch", "wrap_cover"):
        assert not any("gapes" in one.text for one in build(key, papers).advice)


def test_tails_are_tied_where_there_is_a_stitch_to_tie_them_to() -> None:
    # Both rows' outer stretches begin at the second station: at the end only a crossing is near. Rows
    # cross at the tail first, then at the head, and so on.
    for rows, words in (
        (2, "side by side: tie them together and trim them."),
        (3, "tail of the last: knot the first round the stitch between rows 2 and 3, the other round "
            "that between rows 1 and 2, and trim both."),
        (4, "of the last row: knot the first round the stitch between rows 2 and 3, and the last "
            "round it as well, and trim both."),
        (5, "the other round that between rows 3 and 4, and trim both."),
        (6, "rows 2 and 3, the last round that between rows 4 and 5, and trim both."),
    ):  # fmt: skip
        assert words in " ".join(steps(build("long_stitch", facts(), signatures=rows)))
    three = steps(build("long_stitch", facts(), signatures=3))
    assert any("outside at the head of the first row, one at the" in text for text in three)
    for key in ("wrap_cover", "pamphlet"):
        assert "one on each side of the long stitch over the middle" in " ".join(
            steps(build(key, facts()))
        )
    side = " ".join(steps(build("side_sewn", facts())))
    assert side.index("take the clamp off") < side.index("sew in the order drawn")


def test_an_envelope_dries_before_the_card_goes_in_and_its_sides_fit() -> None:
    made = build("folded_card", facts())
    said = steps(made)
    dry = next(i for i, words in enumerate(said) if "until it is dry" in words)
    assert dry < next(i for i, words in enumerate(said) if "Slide the card in" in words)
    assert {words for flat in made.flats for _, _, words in flat.labels} == {
        "flap",
        "front",
        "back",
        "side",
    }
    over = build("folded_card", facts(), leaf_width=74 * MM, leaf_height=105 * MM, side=45 * MM)
    past = build("folded_card", facts(), leaf_width=74 * MM, leaf_height=105 * MM, side=100 * MM)
    assert [one.grave for one in over.advice if one.field == "side"] == [False]
    assert [one.grave for one in past.advice if one.field == "side"] == [True]


def test_a_shop_in_inches_works_a_spine_out_to_sixteenths() -> None:
    assert structure("wrap_cover").defaults("in")["spine_step"] == "sixteenth"
    assert structure("wrap_cover").defaults("mm")["spine_step"] == "half"
    made = build("wrap_cover", facts(caliper=130_000), folios=6, spine_step="sixteenth")
    assert made.cover is not None
    spine = made.cover.panels[1].width_nm
    assert spine % (INCH // 16) == 0
    assert show_length(spine, "in") == "3/8 in"


# --- lengths said for doing


@pytest.mark.parametrize(
    ("nm", "unit", "shown"),
    [(479_920_000, "mm", "480 mm"), (480 * MM, "mm", "480 mm"), (480 * MM + 1, "mm", "485 mm"),
     (9 * INCH + 1, "in", "9 1/4 in"), (37 * INCH // 4, "in", "9 1/4 in"), (0, "mm", "0 mm")],
)  # fmt: skip
def test_lengths_to_cut_are_rounded_up_to_what_a_person_measures(
    nm: int, unit: str, shown: str
) -> None:
    assert show_length(measured_up(nm, unit), unit) == shown


def test_a_step_says_thread_and_cord_as_measured_and_the_rest_exactly() -> None:
    made = build("wrap_cover", facts(caliper=110_000))
    said = [
        s.say(lambda nm: show_length(nm, "mm"), lambda nm: show_length(measured_up(nm, "mm"), "mm"))
        for s in made.steps
    ]
    thread, cord = made.thread[0].length_nm, made.lengths["cord"]
    assert thread % (5 * MM)
    for nm in (thread, cord):
        assert show_length(measured_up(nm, "mm"), "mm") in " ".join(said)
    assert show_length(thread, "mm") not in " ".join(said)
    # The reckoning stays exact.
    assert made.lengths["thread"] == sum(path.length_nm for path in made.thread)


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("size", SIZES)
def test_no_step_has_a_place_left_empty_or_a_doubled_word(key: str, size: dict[str, int]) -> None:
    for text in steps(build(key, **_sized(key, size))):
        assert "{" not in text
        words = text.replace(",", "").split()
        assert all(a != b for a, b in itertools.pairwise(words)), text
        assert text.endswith((".", "!"))
        assert "leafs" not in text


def test_an_impossible_fold_is_refused_by_name() -> None:
    with pytest.raises(DomainError):
        build("wrap_cover", square=-90 * MM)
