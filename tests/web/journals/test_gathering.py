"""Kinds of folio on the design page: asked for, typed, priced while typed, kept, left out."""

from __future__ import annotations

from flask import Flask

from app.db import transaction
from app.models import Paper
from tests.factories import offer, paper, sheet
from tests.web.conftest import sessions_of
from tests.web.journals.buttons import press_button
from tests.web.journals.test_closings import update
from tests.web.journals.test_parts import worked_out
from tests.web.visitor import Page, Visitor


def rough(app: Flask) -> str:
    """A heavy paper on offer; its number as the page has it."""
    with transaction(sessions_of(app)) as session:
        made: Paper = paper(session, "Rough 300", caliper_nm=400_000)
        offer(session, sheet(session, made, 500, 700), "30", 10)
        return str(made.id)


def another(visitor: Visitor, page: Page, typed: dict[str, str]) -> Page:
    """Press “Folios of another paper or size”, which saves nothing."""
    return press_button(visitor, page, "another_folio", typed)


def test_a_kind_is_asked_for_priced_and_kept(stocked: Visitor, empty_app: Flask) -> None:
    number = rough(empty_app)
    page = stocked.get("/journals/1")
    assert "folio2_count" not in page.text
    page = another(stocked, page, {"leaf_height": "158 mm"})
    # What was typed is still there, the new kind begins sound, and nothing was saved.
    assert page.value("leaf_height") == "158 mm"
    assert page.value("folio2_count") == "1"
    assert "Not saved yet" not in page.words
    assert "Paper of folios, kind 2: none chosen yet." in page.words
    typed = {"role_folio2": number, "folio2_height": "120 mm", "folio2_where": "outer"}
    live = worked_out(stocked, page, typed)
    assert live["errors"] == {}
    assert "Kind 2 folios, Rough 300" in str(live["html"])
    assert "One folio of Rough 300 laid flat, 2 of them: 240 × 120 mm" in str(live["html"])
    page = stocked.send(page, "leaf_height", typed | {"+keep": "1"})
    assert "Saved as design" in page.said
    assert page.value("folio2_height") == "120 mm"
    assert page.value("role_folio2") == number
    steps = stocked.get("/journals/1/variants/1/steps")
    assert (
        "Nest signatures 1 and 3, from the outside in: 1 plain, then 1 of Rough 300" in steps.words
    )
    low = stocked.client.get("/journals/1/variants/1/templates/folio2-guide.svg")
    assert low.status_code == 200
    # 120 mm, a margin of 1 above and below, and 20 for the words.
    assert b'height="142mm"' in low.data
    assert "Folios, kind 2: height120 mm" in stocked.get("/journals/compare?with=1").words
    # None of them leaves the kind out.
    page = stocked.send(
        stocked.get("/journals/1"), "leaf_height", {"folio2_count": "0", "+keep": "1"}
    )
    assert "Saved as design" in page.said
    assert "folio2_count" not in page.text


def test_what_is_wrong_stands_at_its_field_and_opens_its_group(
    stocked: Visitor, empty_app: Flask
) -> None:
    number = rough(empty_app)
    page = another(stocked, stocked.get("/journals/1"), {})
    for field, typed, message in (
        ("folio2_height", "300 mm", "no higher than the leaf, 160 mm"),
        ("folio2_height", "19 mm", "at least 20 mm, or 0"),
        ("folio2_width", "2 mm", "at least 20 mm, or 0"),
        ("folio2_width", "0.3 m", "no wider than the leaf, 120 mm"),
        ("folio2_inside", "9", "only 4 plain to lie inside"),
        ("folio2_count", "41", "between 0 and 40"),
        ("folio2_count", "many", "whole number"),
        ("folio2_beside", "instead", "give the leaves this paper instead"),
        ("folio2_where", "third", "choice"),
    ):
        wrong = {"role_folio2": number, field: typed}
        live = worked_out(stocked, page, wrong)
        assert message.lower() in str(dict(live["errors"])[field]).lower(), field  # type: ignore[call-overload]
        refused = stocked.send(page, "leaf_height", wrong | {"+keep": "1"}, 422)
        assert message.lower() in refused.words.lower(), field
        assert refused.value(field) == typed or field == "folio2_where"
    assert "folio2" not in stocked.get("/journals/1").text


def test_there_is_an_end_to_the_kinds(stocked: Visitor, empty_app: Flask) -> None:
    page = stocked.get("/journals/new")
    for kind in range(2, 9):
        page = another(stocked, page, {})
        assert page.value(f"folio{kind}_count") == "1"
    assert "These are as many as a journal can have." in page.words
    page = another(stocked, page, {})
    assert "folio9_count" not in page.text


def test_a_kind_left_out_makes_room_for_another(stocked: Visitor, empty_app: Flask) -> None:
    number = rough(empty_app)
    page = another(stocked, another(stocked, stocked.get("/journals/1"), {}), {})
    both = {"role_folio2": number, "role_folio3": number, "folio2_count": "0"}
    page = stocked.send(page, "leaf_height", both | {"+keep": "1"})
    assert "folio2_count" not in page.text
    assert page.value("folio3_count") == "1"
    page = another(stocked, page, {})
    assert page.value("folio2_count") == "1"


def test_another_window_is_told_of_a_kind_that_was_added(
    stocked: Visitor, empty_app: Flask
) -> None:
    number = rough(empty_app)
    first = another(stocked, stocked.get("/journals/1"), {})
    second = stocked.get("/journals/1")
    stocked.send(first, "leaf_height", {"role_folio2": number, "folio2_count": "3", "+keep": "1"})
    told = stocked.send(second, "leaf_height", {"price_1": "77", "+keep": "1"}, 422)
    assert "Saved now: 4; kind 2: 3 of Rough 300" in told.words
    # Saved once more it would leave the kind out: it is refused again, and nothing is lost.
    assert "open the design in a new tab and change it there" in told.words
    again = stocked.send(told, "leaf_height", {"+keep": "1"}, 422)
    assert again.value("price_1") == "77"
    assert stocked.get("/journals/1").value("folio2_count") == "3"


def test_another_window_is_told_of_a_kind_that_was_left_out(
    stocked: Visitor, empty_app: Flask
) -> None:
    number = rough(empty_app)
    page = another(stocked, stocked.get("/journals/1"), {})
    page = stocked.send(page, "leaf_height", {"role_folio2": number, "+keep": "1"})
    second = stocked.get("/journals/1")
    stocked.send(page, "leaf_height", {"folio2_count": "0", "+keep": "1"})
    told = stocked.send(second, "leaf_height", {"price_1": "77", "+keep": "1"}, 422)
    assert "Saved now: left out" in told.words


def test_a_form_that_says_nothing_of_its_closing_keeps_it(stocked: Visitor) -> None:
    page = update(stocked, stocked.get("/journals/1"), {"closing": "ties", "closing_shown": "ties"})
    page = stocked.send(page, "leaf_height", {"+keep": "1"})
    form = page.form("leaf_height")
    without = [(k, v) for k, v in form.filled({"price_1": "44"}) if k != "closing"]
    page = stocked.post(form.action, without, 200)
    assert page.value("closing") == "ties"


def test_what_the_live_page_says_follows_what_is_typed(stocked: Visitor, empty_app: Flask) -> None:
    number = rough(empty_app)
    page = another(stocked, stocked.get("/journals/1"), {})
    live = worked_out(stocked, page, {"role_folio2": number, "stamped": "2", "edges": "all"})
    holds: dict[str, str] = live["holds"]  # type: ignore[assignment]
    assert holds["Finish"] == "edges of the leaves all coloured · stamped impressions 2"
    assert holds["Signatures"].endswith("1 more kind")
    assert "A heated type or die burns" in str(live["care"])
    assert worked_out(stocked, page, {})["holds"]["Finish"] == "corners square"  # type: ignore[index]
    wrong = worked_out(stocked, page, {"folios": "99"})
    assert (wrong["html"], wrong["answer"], wrong["care"]) == (None, None, None)


def test_a_structure_without_signatures_offers_no_kinds(stocked: Visitor) -> None:
    assert "another_folio" in stocked.get("/journals/new?structure=pamphlet").text
    assert "another_folio" not in stocked.get("/journals/new?structure=folded_card").text
    assert "another_folio" not in stocked.get("/journals/new?structure=side_sewn").text
    data = {"folio2_count": "3", "role_folio2": "1"}
    answer = stocked.client.post("/journals/worked-out?structure=folded_card", data=data)
    assert answer.status_code in (200, 400)
