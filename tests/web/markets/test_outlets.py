"""A shop that sells on commission, from adding it to its payment, without scripts."""

from __future__ import annotations

from datetime import date

import pytest

from tests.web.visitor import Visitor

AT = "/markets/shops/1"


@pytest.fixture
def owner(stocked: Visitor) -> Visitor:
    """Five journals on the shelf, and a shop that keeps 40%."""
    item = stocked.get("/stockroom/items/variant-1")
    stocked.send(item, "counted", {"counted": "5", "why": "found again"})
    assert "None yet." in stocked.get("/markets/shops").words
    stocked.send(
        stocked.get("/markets/shops/new"), "name", {"name": "Corner gallery", "commission": "40%"}
    )
    return stocked


def test_from_the_shelf_to_the_payment(owner: Visitor) -> None:
    page = owner.send(owner.get(AT + "/send"), "send-1", {"send-1": "9"}, 422)
    assert "5 are on the shelf." in page.words
    page = owner.send(page, "send-1", {"send-1": "4"})
    assert "At Corner gallery now, yours still, and off your shelf: 4." in page.words
    assert "Nothing of yours" not in page.words
    page = owner.send(owner.get(AT + "/sold"), "sold-1", {"sold-1": "3", "price-1": ""}, 422)
    assert "Say what one went for." in page.words
    page = owner.send(page, "sold-1", {"sold-1": "5", "price-1": "50"}, 422)
    assert "4 were there on that day by your books." in page.words
    page = owner.send(page, "sold-1", {"sold-1": "3", "price-1": "50", "costs": "2.50"})
    assert "It owes €87.50." in page.words
    page = owner.send(owner.get(AT + "/home"), "home-1", {"home-1": "1"})
    assert "On your shelf again: 1." in page.words
    page = owner.get(AT + "/paid")
    assert page.value("amount") == "87.50"
    page = owner.send(page, "amount", {})
    assert "It owes nothing." in page.words
    takings = owner.get("/takings?by=channel").words
    assert "150.00" in takings
    assert "Corner gallery" in owner.get("/takings/sales?by=market&key=0").words
    assert "It owes" in owner.get("/markets/shops").words


def test_mistakes_are_put_right(owner: Visitor) -> None:
    owner.send(owner.get(AT + "/send"), "send-1", {"send-1": "4"})
    owner.send(owner.get(AT + "/sold"), "sold-1", {"sold-1": "3", "price-1": "50"})
    owner.send(owner.get(AT + "/paid"), "amount", {"amount": "90"})
    page = owner.get(AT)
    form = page.form("once")
    page = owner.post(AT + "/statements/1/take-back", form.filled({}))
    assert "its journals are there again" in page.words
    assert "It has paid €90.00 ahead." in page.words
    page = owner.post(AT + "/payments/1/answer", owner.get(AT).form("once").filled({}))
    assert "It owes nothing." in page.words


def test_bad_input_is_told(owner: Visitor) -> None:
    page = owner.get("/markets/shops/new")
    page = owner.send(page, "name", {"name": "corner gallery", "commission": "10"}, 422)
    assert "of that name already" in page.words
    page = owner.send(page, "name", {"name": "B", "commission": "100%"}, 422)
    assert "less than all of it" in page.words
    page = owner.send(owner.get(AT + "/send"), "send-1", {"send-1": ""}, 422)
    assert "Say how many of what." in page.words
    page = owner.send(owner.get(AT + "/send"), "send-1", {"send-1": "1", "on": "2099-01-01"}, 422)
    assert "has not come yet" in page.words
    page = owner.send(owner.get(AT + "/paid"), "amount", {"amount": "0"}, 422)
    assert "more than nothing" in page.words
    page = owner.get(AT + "/change")
    assert page.value("commission") == "40%"
    page = owner.send(page, "name", {"name": "Corner gallery, upstairs"})
    assert "Corner gallery, upstairs" in page.words
    assert "Nothing of yours is there." in owner.get(AT + "/home").words
    assert date.today().isoformat() == owner.get(AT + "/paid").value("on")
