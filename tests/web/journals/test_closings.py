"""A closing chosen on the design page: its own measures, its findings, its steps and cautions."""

from __future__ import annotations

import re

import pytest
from flask import Flask

from app.core.structures.closings import all_closings
from app.db import transaction
from app.services.stock import materials
from tests.factories import offer
from tests.web.conftest import sessions_of
from tests.web.journals.buttons import press_button
from tests.web.journals.test_parts import worked_out
from tests.web.visitor import Page, Visitor


def band(app: Flask) -> str:
    """Elastic on offer; its number as the page has it."""
    with transaction(sessions_of(app)) as session:
        made = materials.save_material(session, None, {"name": "Flat elastic", "measure": "length"})
        offer(session, made, "4", 10_000_000_000)
        return str(made.id)


def update(visitor: Visitor, page: Page, typed: dict[str, str]) -> Page:
    """What choosing a closing does: the page is made anew, and nothing is saved."""
    return press_button(visitor, page, "update", typed)


def test_another_closing_asks_for_its_own_measures(stocked: Visitor, empty_app: Flask) -> None:
    number = band(empty_app)
    page = stocked.get("/journals/1")
    assert (page.value("closing"), page.value("wraps")) == ("cord", "2")
    # While it is chosen the figures follow at once, at the measures first offered.
    live = worked_out(stocked, page, {"closing": "elastic"})
    assert live["errors"] == {}
    assert "Elastic: none chosen yet." in str(live["html"])
    page = update(stocked, page, {"closing": "elastic", "leaf_height": "158 mm"})
    assert page.value("leaf_height") == "158 mm"
    assert page.value("elastic_stretch") == "12"
    assert "wraps" not in page.text
    assert re.search(r'<details class="group" open[^>]*><summary><h2>Closing</h2>', page.text)
    page = stocked.send(page, "leaf_height", {"role_elastic": number, "+keep": "1"})
    assert "Saved as design" in page.said
    assert (page.value("closing"), page.value("role_elastic")) == ("elastic", number)
    words = stocked.get("/journals/1/variants/1/steps").words
    assert "of elastic, draw its ends in through the holes" in words
    assert "bead" not in words.lower()
    # Back to the cord: its paper and findings have to be chosen anew, and nothing is left behind.
    page = update(stocked, page, {"closing": "cord"})
    assert (page.value("wraps"), page.value("role_cord")) == ("2", "0")
    assert "role_elastic" not in page.text


@pytest.mark.parametrize("key", [*sorted(all_closings()), "none"])
def test_every_closing_is_kept_and_made(stocked: Visitor, key: str) -> None:
    page = update(stocked, stocked.get("/journals/1"), {"closing": key})
    page = stocked.send(page, "leaf_height", {"+keep": "1"})
    assert "Saved as design" in page.said
    assert page.value("closing") == key
    steps = stocked.get("/journals/1/variants/1/steps").words
    for caution in all_closings()[key].cautions if key != "none" else ():
        assert caution.split(":")[0] in steps
    assert stocked.client.get("/journals/1/variants/1/templates.pdf").status_code == 200
    assert "Closing: closed with" in stocked.get("/journals/compare?with=1").words
    assert stocked.get("/journals").words.count("Plain journal")


def test_what_is_wrong_stands_at_its_field(stocked: Visitor) -> None:
    page = update(stocked, stocked.get("/journals/1"), {"closing": "ties"})
    for field, typed, message in (
        ("tie_pairs", "9", "between 1 and 4"), ("tie_pairs", "two", "whole number"),
        ("tie_length", "2 m", "between"), ("tie_length", "long", "not a length"),
        ("closing", "glue", "choice"),
    ):  # fmt: skip
        refused = stocked.send(page, "leaf_height", {field: typed, "+keep": "1"}, 422)
        assert message in refused.words.lower(), field
    assert stocked.get("/journals/1").value("closing") == "cord"


def test_a_closing_that_needs_a_flap_warns_where_there_is_none(stocked: Visitor) -> None:
    page = update(stocked, stocked.get("/journals/1"), {"closing": "magnet"})
    live = worked_out(stocked, page, {"flap": "0"})
    assert "There is no flap for the magnets." in str(live["html"])
    assert "Will not work:" in str(live["html"])


def test_measures_that_nobody_saw_are_not_saved(stocked: Visitor) -> None:
    """Without scripts a closing is chosen and its own measures are not on the page yet."""
    page = stocked.get("/journals/1")
    shown = stocked.send(page, "leaf_height", {"closing": "ties", "+keep": "1"}, 422)
    assert "Look at its measures here, then save." in shown.words
    assert shown.value("tie_pairs") == "1"
    assert stocked.get("/journals/1").value("closing") == "cord"
    page = stocked.send(shown, "leaf_height", {"tie_pairs": "2", "+keep": "1"})
    assert (page.value("closing"), page.value("tie_pairs")) == ("ties", "2")
