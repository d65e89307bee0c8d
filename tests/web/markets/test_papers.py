"""What is printed for a stall, asked for on its page; the list and the boxes before it."""

from __future__ import annotations

from datetime import date, timedelta
from io import BytesIO

import pdfplumber
import pytest

from app.core.selling.labels import SHEETS
from tests.web.visitor import Visitor

AT = "/markets/1/papers"


@pytest.fixture
def seller(stocked: Visitor) -> Visitor:
    """A market in three weeks with three of a journal on its list, three on the shelf, priced."""
    item = stocked.get("/stockroom/items/variant-1")
    stocked.send(item, "counted", {"counted": "3", "why": "found again"})
    stocked.send(
        stocked.get("/markets/new"), "name",
        {"name": "Quay fair", "day": (date.today() + timedelta(days=21)).isoformat(),
         "stall_fee": "20", "travel": "4", "fee_share": "10%", "open_hours": "6"},
    )  # fmt: skip
    stocked.send(stocked.get("/markets/1"), "take-1", {"take-1": "3"})
    return stocked


def pdf(seller: Visitor, path: str) -> list[str]:
    answer = seller.client.get(path)
    assert answer.mimetype == "application/pdf", answer.text[:300]
    with pdfplumber.open(BytesIO(answer.data)) as found:
        return [page.extract_text() or "" for page in found.pages]


def test_labels_say_what_was_typed(seller: Visitor) -> None:
    page = seller.get(AT)
    typed = {"origin": "Made by hand in Upper Staithe", "small_parts": "Not for children under 3"}
    form = page.form("origin")
    page = seller.post(form.action, [*form.filled(typed), ("says_made_of", "y")])
    assert "Made by hand in Upper Staithe" in page.words
    [text] = pdf(seller, AT + "/labels.pdf?start=4")
    for words in ("Plain journal", "Made by hand", "Not for children under 3", "Laid 120"):
        assert text.count(words) == 3


def test_as_many_labels_as_are_packed(seller: Visitor) -> None:
    page = seller.get(AT + "/labels.pdf?for=packed")
    assert "Nothing is packed yet." in page.words
    page = seller.send(seller.get("/markets/1/packing"), "packed-1", {"packed-1": "2"})
    assert "2 of 3 journals are packed." in page.words
    [text] = pdf(seller, AT + "/labels.pdf?for=packed")
    assert text.count("Plain journal") == 2
    form = seller.get("/markets/1/packing").form("packed-1")
    page = seller.post(form.action, [*form.filled({}), ("do", "all")])
    assert "3 of 3 journals are packed." in page.words
    assert "3 of 3 packed" in seller.get("/markets/1").words


@pytest.mark.parametrize("start", ["0", "22", "99"])
def test_a_label_that_is_not_there_is_said(seller: Visitor, start: str) -> None:
    page = seller.get(AT + f"/labels.pdf?start={start}")
    assert "labels 1 to 21" in page.words


def test_too_much_for_a_small_label_is_said(seller: Visitor) -> None:
    small = next(name for name in SHEETS if "65" in name)
    seller.send(seller.get(AT), "origin", {"sheet": small, "more": "word " * 58})
    page = seller.get(AT + "/labels.pdf")
    assert "has room for: say less" in page.words


def test_a_sheet_that_is_none_is_refused(seller: Visitor) -> None:
    page = seller.send(seller.get(AT), "origin", {"sheet": "A9"}, 422)
    assert "Not a valid choice" in page.words or "no such sheet" in page.words


def test_price_list_and_tally_sheet(seller: Visitor) -> None:
    [prices] = pdf(seller, AT + "/prices.pdf")
    [tally] = pdf(seller, AT + "/tally.pdf")
    assert "Quay fair" in tally
    assert "Plain journal" in tally
    assert "Prices" in prices


def test_guesses_make_a_proposal(seller: Visitor) -> None:
    page = seller.get("/markets/1")
    assert "Say how many may be asked for." in page.words
    page = seller.send(page, "take-1", {"likely-1": "4"}, 422)
    assert "Say all three: low, likely and high." in page.words
    page = seller.send(page, "take-1", {"low-1": "9", "likely-1": "4", "high-1": "9"}, 422)
    assert "must rise" in page.words
    form = page.form("take-1")
    page = seller.post(
        form.action,
        [*form.filled({"low-1": "2", "likely-1": "4", "high-1": "9"}), ("do", "proposed")],
    )
    assert "What is proposed is on the list now." in page.words
    assert page.value("low-1") == "2"
    assert int(page.value("take-1")) > 0


def test_the_effect_of_other_numbers_is_told_at_once(seller: Visitor) -> None:
    form = seller.get("/markets/1").form("take-1")
    values = dict(form.filled({"low-1": "2", "likely-1": "4", "high-1": "9", "take-1": "7"}))
    told = seller.client.post("/markets/1/effect", data=values).get_json()
    assert "chance of" in told["html"] or "nobody said" in told["html"] or told["html"]
    assert set(told["rows"]) == {"odds-1", "proposed-1"}
    assert seller.get("/markets/1").value("take-1") == "3"
    values["take-1"] = "many"
    assert seller.client.post("/markets/1/effect", data=values).get_json()["html"] is None
    values |= {"take-1": "3", "low-1": ""}
    assert seller.client.post("/markets/1/effect", data=values).get_json()["html"] is None


def test_a_market_of_days_and_hours_is_kept(seller: Visitor) -> None:
    page = seller.get("/markets/1/change")
    first = date.today() + timedelta(days=21)
    last = (first + timedelta(days=1)).isoformat()
    page = seller.send(page, "name", {"last_day": last})
    assert " to " in page.words
    assert "10% of what you take" in page.words
    page = seller.get("/markets/1/change")
    assert (page.value("open_hours"), page.value("last_day")) == ("6", last)
    page = seller.send(page, "name", {"last_day": first.isoformat().replace("20", "19", 1)}, 422)
    seller.send(
        seller.get("/markets/new"), "name",
        {"name": "Next", "day": first.isoformat(), "stall_fee": "1", "travel": "0", "like": "1"},
    )  # fmt: skip
    assert "Like" in seller.get("/markets/2/change").words
