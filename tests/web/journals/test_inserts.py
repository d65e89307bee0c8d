"""Something laid into a journal, from its page to the buy list."""

from __future__ import annotations

from flask import Flask

from tests.web.journals.buttons import press_button
from tests.web.journals.test_gathering import rough
from tests.web.journals.test_parts import worked_out
from tests.web.visitor import Page, Visitor


def another(visitor: Visitor, page: Page, typed: dict[str, str]) -> Page:
    """Press “Something to lay in”, which saves nothing."""
    return press_button(visitor, page, "another_insert", typed)


def test_a_map_is_asked_for_priced_kept_and_needed(stocked: Visitor, empty_app: Flask) -> None:
    number = rough(empty_app)
    page = another(stocked, stocked.get("/journals/1"), {"leaf_height": "158 mm"})
    assert page.value("leaf_height") == "158 mm"
    assert page.value("insert1_count") == "1"
    assert "Paper of insert 1: none chosen yet." in page.words
    typed = {"role_insert1": number, "insert1_per": "signature", "insert1_width": "100 mm"}
    live = worked_out(stocked, page, typed)
    assert live["errors"] == {}
    assert "Tip-ins, Rough 300" in str(live["html"])
    holds: dict[str, str] = live["holds"]  # type: ignore[assignment]
    assert holds["Laid in"] == "1 insert"
    page = stocked.send(page, "leaf_height", typed | {"+keep": "1"})
    assert "Saved as design" in page.said
    assert page.value("insert1_width") == "100 mm"
    assert "Cut 3 tip-ins of Rough 300, 100 mm wide" in (
        stocked.get("/journals/1/variants/1/steps").words
    )
    assert "Insert 1: it istipped in by an edge" in stocked.get("/journals/compare?with=1").words
    page = stocked.send(page, "leaf_height", {"insert1_count": "0", "+keep": "1"})
    assert "insert1_count" not in page.text
    assert stocked.get("/journals/1").text.count("leaves tipped in, a pocket, an envelope") == 1


def test_what_is_wrong_stands_at_its_field(stocked: Visitor, empty_app: Flask) -> None:
    number = rough(empty_app)
    page = another(stocked, stocked.get("/journals/1"), {})
    for field, typed, message in (
        ("insert1_height", "300 mm", "stand out of the leaf, 160 mm"),
        ("insert1_width", "5 mm", "between 20 mm"), ("insert1_count", "41", "between 0 and 40"),
        ("insert1_how", "glued", "choice"),
    ):  # fmt: skip
        wrong = {"role_insert1": number, field: typed, "+keep": "1"}
        refused = stocked.send(page, "leaf_height", wrong, 422)
        assert message in refused.words.lower(), field
    assert "insert1" not in stocked.get("/journals/1").text


def test_there_is_an_end_to_what_is_laid_in(stocked: Visitor) -> None:
    page = stocked.get("/journals/new?structure=concertina")
    for number in range(1, 7):
        page = another(stocked, page, {})
        assert page.value(f"insert{number}_count") == "1"
    assert "These are as many as a journal can have." in page.words
    assert "insert7" not in another(stocked, page, {}).text
    assert "another_insert" not in stocked.get("/journals/new?structure=folded_card").text


def test_another_window_is_told_of_what_was_laid_in(stocked: Visitor, empty_app: Flask) -> None:
    number = rough(empty_app)
    first = another(stocked, stocked.get("/journals/1"), {})
    second = stocked.get("/journals/1")
    stocked.send(first, "leaf_height", {"role_insert1": number, "+keep": "1"})
    told = stocked.send(second, "leaf_height", {"price_1": "77", "+keep": "1"}, 422)
    assert "Saved now: 160 mm; insert 1: 1 of Rough 300" in told.words
