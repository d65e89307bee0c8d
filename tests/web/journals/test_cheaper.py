"""From a journal to what would make it cheaper, and to the design page with it tried."""

from __future__ import annotations

import html
import re

from tests.web.visitor import Visitor


def test_each_change_tried_costs_what_the_list_says(guest: Visitor) -> None:
    page = guest.get("/journals/1/variants/1")
    assert "/journals/1/variants/1/cheaper" in page.text
    page = guest.get("/journals/1/variants/1/cheaper")
    rows = re.findall(
        r'class="saves">£([\d.]+)<.*?then £([\d.]+),.*?href="([^"]+)"', page.text, re.DOTALL
    )
    assert len(rows) > 4
    [now] = re.findall(r"one costs £([\d.]+)", page.words)
    for saves, then, address in rows[:6]:
        assert round(float(now) - float(saves), 2) == float(then)
        tried = guest.get(html.unescape(address))
        assert "A change is tried here and not saved" in tried.words
        assert f"£{then} suggested" in tried.words
    # Nothing was saved by looking.
    saved = guest.get("/journals/1/variants/1")
    assert f"£{now} suggested" in saved.words
    assert "A change is tried" not in saved.words


def test_what_is_tried_is_only_what_a_design_has(guest: Visitor) -> None:
    saved = guest.get("/journals/1/variants/1").words
    for tried in ("version~7", "name~1", "signatures~x", "signatures~-1", "shelf_level~9",
                  "nothing~1", "signatures", "signatures~" + "9" * 30, "leaf_grain~1"):  # fmt: skip
        page = guest.get(f"/journals/1/variants/1?try={tried}").words
        assert (
            page.replace(
                "A change is tried here and not saved: the figures are with it. As it is saved ", ""
            )
            == saved
        )


def test_out_of_bounds_it_is_said_at_its_field(guest: Visitor) -> None:
    page = guest.get("/journals/1/variants/1?try=square~10000000000")
    assert "A change is tried here" in page.words
    assert "in a batch of" not in page.words


def test_a_journal_that_is_not_there_and_one_without_prices(stocked: Visitor) -> None:
    assert stocked.get("/journals/999/variants/1/cheaper", 404)
