"""Parts of a journal on its page: typed, priced while typed, kept, told beside what is saved."""

from __future__ import annotations

from flask import Flask

from app.db import transaction
from app.models import Material
from app.services.stock import materials
from tests.factories import offer
from tests.web.conftest import sessions_of
from tests.web.journals.buttons import press_button
from tests.web.visitor import Page, Visitor

LABEL = {
    "parts-0-name": "Label inside", "parts-0-amount": "2", "parts-0-minutes": "1.5",
    "parts-0-per": "signature",
}  # fmt: skip


def label_of(app: Flask) -> str:
    """A material for labels, on offer; its number as the page has it."""
    with transaction(sessions_of(app)) as session:
        made: Material = materials.save_material(
            session, None, {"name": "Printed label", "measure": "count"}
        )
        offer(session, made, "5", 100)
        return str(made.id)


def another(visitor: Visitor, page: Page, typed: dict[str, str]) -> Page:
    """Press “Another part”, which saves nothing."""
    return press_button(visitor, page, "another_part", typed)


def worked_out(visitor: Visitor, page: Page, typed: dict[str, str]) -> dict[str, object]:
    """What the live page answers to what is typed."""
    data = dict(page.form("leaf_height").filled(typed))
    answer = visitor.client.post("/journals/worked-out?structure=wrap_cover", data=data)
    found: dict[str, object] = answer.get_json()
    return found


def test_a_part_is_priced_while_typed_and_kept(stocked: Visitor, empty_app: Flask) -> None:
    number = label_of(empty_app)
    page = stocked.get("/journals/1")
    typed = LABEL | {"parts-0-material": number}
    live = worked_out(stocked, page, typed)
    assert live["errors"] == {}
    # Two in each of three signatures at five for a hundred.
    assert "Printed label" in str(live["html"])
    assert "0.10" in str(live["html"])
    page = stocked.send(page, "leaf_height", typed | {"+keep": "1"})
    assert "Saved as design" in page.said
    assert page.value("parts-0-name") == "Label inside"
    assert page.value("parts-0-amount") == "2"
    assert page.value("parts-0-per") == "signature"
    assert page.value("parts-0-minutes") == "1.5"
    steps = stocked.get("/journals/1/variants/1/steps")
    assert "Label inside, each signature" in steps.words
    assert "Label inside: 2 of Printed label for each of the 3 signatures." in steps.words
    # Emptied, it is gone; what is left moves up.
    page = another(stocked, page, {})
    more = {"parts-1-name": "Second", "parts-1-material": number, "parts-1-amount": "1"}
    page = stocked.send(page, "leaf_height", more | {"+keep": "1"})
    assert page.value("parts-1-name") == "Second"
    empty = {
        "parts-0-name": "",
        "parts-0-material": "0",
        "parts-0-amount": "",
        "parts-0-minutes": "",
    }
    page = stocked.send(page, "leaf_height", empty | {"+keep": "1"})
    assert page.value("parts-0-name") == "Second"
    assert "parts-1-name" not in page.text


def test_another_row_keeps_what_is_typed_and_saves_nothing(
    stocked: Visitor, empty_app: Flask
) -> None:
    number = label_of(empty_app)
    page = stocked.get("/journals/1")
    page = another(stocked, page, {"parts-0-name": "Half typed"})
    assert page.value("parts-0-name") == "Half typed"
    assert page.value("parts-1-name") == ""
    assert "Half typed" not in stocked.get("/journals/1").text
    for count in range(3, 13):
        page = another(stocked, page, {"parts-0-material": number, "parts-0-amount": "1"})
        assert page.errors() == {}
        assert f"parts-{count - 1}-name" in page.text
    page = another(stocked, page, {})
    assert "parts-12-name" not in page.text


def test_a_wrong_part_is_told_live_at_its_field(stocked: Visitor, empty_app: Flask) -> None:
    number = label_of(empty_app)
    page = stocked.get("/journals/1")
    wrong = LABEL | {"parts-0-material": number, "parts-0-amount": "a few"}
    live = worked_out(stocked, page, wrong)
    assert live["html"] is None
    assert set(live["errors"]) == {"parts-0-amount"}  # type: ignore[call-overload]


def test_parts_saved_meanwhile_stand_beside_what_was_typed(
    stocked: Visitor, empty_app: Flask
) -> None:
    number = label_of(empty_app)
    old = stocked.get("/journals/1")
    stocked.send(
        stocked.get("/journals/1"), "leaf_height",
        LABEL | {"parts-0-material": number, "+keep": "1"},
    )  # fmt: skip
    page = stocked.send(old, "leaf_height", {"leaf_height": "150", "+keep": "1"}, 422)
    assert "Saved now: Label inside: 2 of Printed label each signature, 1.5 min" in page.words


def test_the_cursor_goes_to_the_new_row_and_twelve_are_enough(stocked: Visitor) -> None:
    page = stocked.get("/journals/new")
    starts = [e.get("name") for e in page.all("input") if e.get("autofocus") is not None]
    assert starts == ["name"]
    for count in range(2, 13):
        assert "Another part" in page.words
        page = another(stocked, page, {"name": "J"})
        starts = [e.get("name") for e in page.all("input") if e.get("autofocus") is not None]
        assert starts == [f"parts-{count - 1}-name"]
    assert "Another part" not in page.words
    assert "as many as a journal can have" in page.words


def test_lengths_of_parts_are_said_as_typed_and_sums_open_to_their_result(
    stocked: Visitor,
) -> None:
    page = stocked.get("/journals/1")
    typed = {"parts-0-name": "Bookmark", "parts-0-material": "2", "parts-0-amount": "12.3 cm"}
    page = stocked.send(page, "leaf_height", typed | {"+keep": "1"})
    assert "0.123 m" in page.words
    steps = stocked.get("/journals/1/variants/1/steps")
    assert "Bookmark: 123 mm of" in steps.words
    compared = stocked.get("/journals/compare?with=1")
    assert "Bookmark: 0.123 m of" in compared.words
    assert "each journal" in compared.words
