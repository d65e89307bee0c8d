"""The cutting problem's JSON: read strictly, answered in the same terms."""

from __future__ import annotations

import contextlib
import json
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.cutting.json_answer import MOST_VALUE, answer
from app.core.cutting.json_problem import read_problem
from app.core.errors import DomainError
from app.units import parse_length
from tests.core.checker import check_answer


def problem(**changes: Any) -> dict[str, Any]:
    base = {
        "unit": "mm",
        "goal": "cover",
        "sheets": [
            {"name": "half", "width": 560, "height": 760, "grain": "height", "price": "4.60",
             "pack": 10, "on_hand": 3, "limit": None, "trim": 0},
        ],
        "pieces": [
            {"name": "folio", "width": 240, "height": 160, "count": 96, "grain": "height",
             "turn": True},
        ],
        "kerf": 0, "longest_cut": None, "stages": None, "smallest_offcut": [100, 100],
        "effort": "normal",
    }  # fmt: skip
    return base | changes


def solve(data: Any) -> dict[str, Any]:
    return answer(read_problem(json.dumps(data), parse_length))


def test_an_answer_has_everything() -> None:
    found = solve(problem())
    assert found["status"] == "optimal"
    assert found["spend"] == found["bound"] == "46.00"
    assert found["buy"] == [{"sheet": "half", "sheets": 10, "packs": 1, "cost": "46.00"}]
    assert found["used"] == [{"sheet": "half", "sheets": 12}]
    [layout] = found["layouts"]
    assert layout["repeats"] == 12
    assert len(layout["pieces"]) == 8
    assert layout["offcuts"] == [{"x": 0, "y": 640, "width": 560, "height": 120}]
    assert set(layout["tree"]) == {"x", "y", "width", "height", "cut", "parts"}


def test_lengths_may_be_words_and_inches_come_back_as_numbers() -> None:
    data = problem(
        unit="in",
        sheets=[{"name": "imperial", "width": 22, "height": "30 in", "price": "6"}],
        pieces=[{"name": "leaf", "width": "7 in", "height": 4.5, "count": 19, "turn": True}],
        smallest_offcut=None,
    )
    found = solve(data)
    assert len(found["layouts"][0]["pieces"]) == 19
    assert found["spend"] == "6"
    heights = {piece["height"] for piece in found["layouts"][0]["pieces"]}
    assert heights <= {4.5, 7}


def test_several_kinds_say_how_far_from_the_best() -> None:
    pieces = problem()["pieces"]
    pieces.append({"name": "cover", "width": 314, "height": 170, "count": 8, "grain": "height"})
    found = solve(problem(pieces=pieces))
    assert 0 < float(found["bound"]) <= float(found["spend"])
    assert (found["status"] == "optimal") == (found["bound"] == found["spend"])
    names = [{p["name"] for p in layout["pieces"]} for layout in found["layouts"]]
    assert {"folio", "cover"} <= set().union(*names)


def test_fill_puts_the_most_on_one_sheet() -> None:
    piece = {"name": "leaf", "width": 7, "height": 15, "count": None, "value": 1, "turn": True}
    sheet = {"name": "s", "width": 25, "height": 38, "price": "1"}
    found = solve({"unit": "in", "goal": "fill", "sheets": [sheet], "pieces": [piece]})
    assert (found["status"], found["value"]) == ("optimal", 7)
    piece["value"] = 2.5
    found = solve({"unit": "in", "goal": "fill", "sheets": [sheet], "pieces": [piece]})
    assert found["value"] == 17.5


def test_fill_keeps_limits_and_mixes_kinds() -> None:
    sheet = {"name": "s", "width": 10, "height": 10, "price": "1"}
    pieces = [
        {"name": "a", "width": 6, "height": 10, "count": 2, "value": 60},
        {"name": "b", "width": 4, "height": 5, "count": 1, "value": 25},
        {"name": "c", "width": 4, "height": 4, "count": 9, "value": 10},
    ]
    found = solve({"unit": "mm", "goal": "fill", "sheets": [sheet], "pieces": pieces})
    assert (found["status"], found["value"]) == ("optimal", 95)
    assert sorted(p["name"] for p in found["layouts"][0]["pieces"]) == ["a", "b", "c"]


def test_limits_that_cannot_be_met_are_an_answer() -> None:
    sheets = problem()["sheets"]
    sheets[0]["limit"] = 5
    assert solve(problem(sheets=sheets))["status"] == "infeasible"


def changed(path: str, value: Any) -> dict[str, Any]:
    data: Any = problem()
    *way, last = [int(p) if p.isdecimal() else p for p in path.split("/")]
    target = data
    for step in way:
        target = target[step]
    target[last] = value
    return data  # type: ignore[no-any-return]


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        ("colour", "red", "the file: there is no “colour”"),
        ("unit", "ell", "unit"),
        ("goal", "win", "goal"),
        ("sheets", [], "sheets"),
        ("sheets", {}, "sheets"),
        ("sheets/0/width", -5, "sheets[0].width"),
        ("sheets/0/width", "wide", "sheets[0].width"),
        ("sheets/0/width", 10**12, "sheets[0].width"),
        ("sheets/0/width", True, "sheets[0].width"),
        ("sheets/0/price", 4.6, "sheets[0].price"),
        ("sheets/0/price", "-1", "sheets[0].price"),
        ("sheets/0/price", "1.23456", "sheets: a price"),
        ("sheets/0/pack", 0, "sheets[0].pack"),
        ("sheets/0/pack", 1.5, "sheets[0].pack"),
        ("sheets/0/grain", "up", "sheets[0].grain"),
        ("sheets/0/trim", 300, "sheets[0].trim"),
        ("sheets/0/name", "", "sheets[0].name"),
        ("sheets/0/thickness", 1, "sheets[0]: there is no “thickness”"),
        ("pieces/0/width", 900, "pieces[0]: “folio” fits on no sheet"),
        ("pieces/0/count", -1, "pieces[0].count"),
        ("pieces/0/count", 10**7, "pieces[0].count"),
        ("pieces/0/count", None, "pieces[0].count"),
        ("pieces/0/turn", "yes", "pieces[0].turn"),
        ("pieces/0/value", 3, "pieces[0]: there is no “value”"),
        ("pieces/0", 7, "pieces[0]"),
        ("kerf", -1, "kerf"),
        ("stages", -1, "stages"),
        ("stages", 1.5, "stages"),
        ("longest_cut", 0, "longest_cut"),
        ("longest_cut", 100, "pieces[0]: “folio” fits on no sheet"),
        ("smallest_offcut", [1], "smallest_offcut"),
        ("seconds", 0, "seconds"),
        ("effort", "endless", "effort"),
        ("effort", 3, "effort"),
        ("sheets/0/width", 1e-300, "sheets[0].width"),
    ],
)
def test_every_refusal_names_its_place(path: str, value: Any, place: str) -> None:
    with pytest.raises(DomainError) as caught:
        solve(changed(path, value))
    assert caught.value.message.startswith(place)


def test_missing_and_doubled_names_are_refused() -> None:
    data = problem()
    del data["pieces"][0]["count"]
    with pytest.raises(DomainError, match="“count” is missing"):
        solve(data)
    data = problem()
    data["pieces"].append(dict(data["pieces"][0]))
    with pytest.raises(DomainError, match="same name"):
        solve(data)


@pytest.mark.parametrize(
    "text", ['{"unit": ' + "9" * 5000 + "}", "", "{", "[]", "null", '{"unit": NaN}', "[" * 100_000]
)
def test_what_is_no_problem_at_all(text: str) -> None:
    with pytest.raises(DomainError):
        read_problem(text, parse_length)


anything = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)  # fmt: skip
places = st.sampled_from(
    ["unit", "goal", "sheets", "sheets/0", "sheets/0/width", "sheets/0/price", "sheets/0/pack",
     "sheets/0/limit", "pieces", "pieces/0", "pieces/0/height", "pieces/0/count", "kerf",
     "smallest_offcut", "effort", "seconds", "longest_cut", "stages"]
)  # fmt: skip


@given(places, anything)
def test_hostile_files_are_refused_in_words(path: str, value: Any) -> None:
    with contextlib.suppress(DomainError):
        assert solve(changed(path, value))["status"] in ("optimal", "feasible", "infeasible")


def many(kinds: int, count: int, sides: tuple[int, int], **more: Any) -> list[dict[str, Any]]:
    """Kinds of odd sizes between two sides, in steps too fine for any grid."""
    low, high = sides
    return [
        {"name": f"p{i}", "width": round(low + (high - low) * (i * 7919 % 1000) / 1000 + i / 997, 6),
         "height": round(low + (high - low) * (i * 104729 % 1000) / 1000 + i / 991, 6),
         "count": count, "turn": True, **more}
        for i in range(kinds)
    ]  # fmt: skip


def test_huge_problems_end_with_a_plan() -> None:
    for pieces in (many(5, 10**6, (70, 380)), many(300, 9, (70, 380)), many(30, 500, (12, 40))):
        found = solve(problem(pieces=pieces, effort="live"))
        check_answer(problem(pieces=pieces), found)


def test_a_sheet_with_too_many_places_to_cut_is_filled_nearly_best() -> None:
    for count in (None, 3):
        pieces = many(60, count, (30, 300), value=5)  # type: ignore[arg-type]
        data = problem(goal="fill", pieces=pieces, effort="live")
        found = solve(data)
        check_answer(data, found)
        assert found["status"] == "feasible"
        assert 0 < found["value"] <= found["bound"]


def test_ten_thousand_kinds_are_refused() -> None:
    with pytest.raises(DomainError, match="pieces: more than 1000 kinds"):
        solve(problem(pieces=many(10_000, 1, (70, 380))))


def filled(sides: tuple[float, float], rows: list[tuple[Any, ...]], **more: Any) -> dict[str, Any]:
    """A sheet to fill with pieces given as width, height, count, value."""
    return {
        "unit": "mm", "goal": "fill",
        "sheets": [{"name": "s", "width": sides[0], "height": sides[1], "price": "1"}],
        "pieces": [
            {"name": f"p{i}", "width": w, "height": h, "count": n, "value": v}
            for i, (w, h, n, v) in enumerate(rows)
        ],
    } | more  # fmt: skip


def test_values_that_cannot_be_added_exactly_are_refused() -> None:
    for count in (None, 300):
        data = filled((300, 200), [(10, 10, count, 10**12), (7, 7, None, 0.000001)])
        with pytest.raises(DomainError, match="too many digits"):
            solve(data)


@pytest.mark.parametrize(
    ("data", "least"),
    [
        (filled((4000, 3000), [(500, 400, 3, 1), (700, 300, 2, 1)]), 5),
        (filled((700, 1000), [(5.05, 5.03, 1000, 1), (7.03, 7.1, 10, 2)]), 900),
        (
            filled((700, 1000), [(20.5, 21.3, None, 1), (31.7, 23.1, None, 5)], stages=2),
            1,
        ),
        (filled((600, 600), [(6.05, 6.03, None, 1), (7, 7.1, None, 2)], effort="live"), 9000),
    ],
)
def test_large_sheets_and_many_small_pieces_are_filled(data: dict[str, Any], least: int) -> None:
    found = solve(data)
    check_answer(data, found)
    assert least <= found["value"] <= found["bound"]


def test_what_was_not_found_is_not_called_impossible() -> None:
    # Cut from this very sheet with straight cuts, so there is a plan.
    sizes = [(103, 80), (58, 72), (103, 36), (45, 72), (89, 36), (58, 51), (31, 80), (58, 29),
             (66, 44), (37, 44)]  # fmt: skip
    data = {
        "unit": "mm", "goal": "cover", "effort": "live",
        "sheets": [{"name": "s", "width": 295, "height": 116, "price": "1", "on_hand": 1, "limit": 0}],
        "pieces": [{"name": f"p{i}", "width": w, "height": h, "count": 1}
                   for i, (w, h) in enumerate(sizes)],
    }  # fmt: skip
    try:
        found = solve(data)
    except DomainError as error:
        assert error.message.startswith("effort: too little")  # noqa: PT017
    else:
        check_answer(data, found)
        assert found["status"] != "infeasible"


def test_prices_have_up_to_four_decimals() -> None:
    base = problem()["sheets"][0]
    found = solve(problem(sheets=[base | {"price": "4.6001", "pack": 10}]))
    assert found["spend"] == "46.0010"
    with pytest.raises(DomainError, match="more than four decimals"):
        solve(problem(sheets=[base | {"price": "4.60001"}]))


def test_what_may_be_nothing_may_be_nothing() -> None:
    """No limit left to buy, no turn of the cutter, nothing trimmed: each is an answer."""
    base = problem()["sheets"][0]
    found = solve(problem(sheets=[base | {"limit": 0, "on_hand": 12}], stages=None))
    assert (found["spend"], found["used"]) == ("0.00", [{"sheet": "half", "sheets": 12}])
    rows = solve(problem(stages=0, pieces=[problem()["pieces"][0] | {"turn": False, "count": 1}]))
    assert rows["status"] == "optimal"


def test_so_many_pairs_and_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.core.cutting.json_problem.MOST_PAIRS", 6)
    sheets = [problem()["sheets"][0] | {"name": name} for name in ("s", "t")]
    pieces = [problem()["pieces"][0] | {"name": name} for name in "abcd"]
    assert solve(problem(sheets=sheets, pieces=pieces[:3]))["status"] in ("optimal", "feasible")
    with pytest.raises(DomainError, match="4 kinds on 2 kinds of sheet"):
        solve(problem(sheets=sheets, pieces=pieces))


def squares(millionths: int, count: int, side: int = 10) -> dict[str, Any]:
    """A sheet that holds so many squares of 10 along each side, each of a value in millionths."""
    return problem(
        goal="fill",
        sheets=[{"name": "s", "width": 10 * side, "height": 10 * side, "price": "1"}],
        pieces=[{"name": "a", "width": 10, "height": 10, "count": count,
                 "value": millionths / 10**6}],
        smallest_offcut=None,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("value", "count", "taken"),
    [
        # No more of a piece count than the sheet's area holds, and one for good measure.
        (MOST_VALUE // 101, 10**6, True), (MOST_VALUE // 101 + 2, 10**6, False),
        (MOST_VALUE // 2 - 1, 2, True), (MOST_VALUE // 2 + 1, 2, False), (MOST_VALUE - 1, 1, True),
    ],
)  # fmt: skip
def test_values_are_taken_as_far_as_they_add_up_exactly(
    value: int, count: int, taken: bool
) -> None:
    if taken:
        found = solve(squares(value, count))
        assert found["value"] == float(Fraction(value * min(count, 100), 10**6))
        assert [row["repeats"] for row in found["layouts"]] == [1]
        assert found["used"] == [{"sheet": "s", "sheets": 1}]
    else:
        with pytest.raises(DomainError, match="too many digits"):
            solve(squares(value, count))


def test_values_that_add_up_to_just_too_much_are_refused() -> None:
    assert MOST_VALUE == 5**15 * 2**15
    with pytest.raises(DomainError, match="too many digits"):
        solve(squares(5**15, 2**15, side=200))


def test_seconds_are_told_to_a_thousandth(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter([7.0, 8.23456])
    monkeypatch.setattr("app.core.cutting.json_answer.time.perf_counter", lambda: next(clock))
    assert solve(problem())["seconds"] == 1.235


def test_the_bounds_of_numbers_at_the_very_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    sheet, piece = problem()["sheets"][0], problem()["pieces"][0]

    def refused(words: str, **changes: Any) -> None:
        with pytest.raises(DomainError, match=words):
            solve(problem(**changes))

    # Trimmed to a nanometre there is a sheet still, to nothing there is none.
    narrow = sheet | {"width": 10, "height": 900, "trim": 5}
    refused("trimming leaves nothing", sheets=[narrow])
    tiny = piece | {"width": 0.000001, "height": 160, "grain": None, "count": 1}
    thread = sheet | {"width": 10.000001, "height": 900, "trim": 5}
    found = solve(problem(sheets=[thread], pieces=[tiny], smallest_offcut=None))
    assert found["used"] == [{"sheet": "half", "sheets": 1}]
    # An offcut of no size is one; a price may be of whole units.
    whole = solve(problem(sheets=[sheet | {"price": "5"}], smallest_offcut=[0, 0]))
    assert whole["spend"] == "50"
    assert whole["layouts"][0]["offcuts"]
    refused("two lengths", smallest_offcut=[1])
    # As many kinds as may be, and one more.
    monkeypatch.setattr("app.core.cutting.json_problem.MOST_KINDS", 2)
    rows = [piece | {"name": name} for name in "abc"]
    assert solve(problem(pieces=rows[:2]))["status"] in ("optimal", "feasible")
    refused("pieces: more than 2 kinds", pieces=rows)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        ("1e30", "must lie between"), ("1e31", "out of all bounds"),
        ("1e-30", "must lie between 0"), ("1e-31", "out of all bounds"),
    ],
)  # fmt: skip
def test_numbers_of_up_to_thirty_digits_are_looked_at(number: str, words: str) -> None:
    text = json.dumps(problem()).replace('"kerf": 0', f'"kerf": {number}')
    if number == "1e-30":
        assert answer(read_problem(text, parse_length))["status"] == "optimal"
        return
    with pytest.raises(DomainError, match=words):
        read_problem(text, parse_length)
