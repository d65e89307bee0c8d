"""The station of the bench on screen: the next step first, from a proposal to the shelf."""

from __future__ import annotations

from tests.web.orders.test_ready import press
from tests.web.visitor import Visitor


def test_an_empty_shop_says_what_goes_here(visitor: Visitor) -> None:
    page = visitor.get("/bench")
    assert "Nothing waits for the bench." in page.words
    assert "Each bar is the work at its latest" in page.words
    assert "No batch is in progress." in page.words
    assert "Nothing is left to make." in page.words


def test_from_a_proposal_to_the_order(stocked: Visitor) -> None:
    press(stocked, stocked.get("/orders/1"), "Accept")
    page = stocked.get("/bench")
    assert "Next: begin 4 Plain journal, Plain" in page.words
    assert "Order 1, Ada" in page.words
    for item, much in (("sheet-1", "99"), ("sheet-2", "40"), ("material-1", "90 m"),
                       ("material-2", "90 m"), ("material-3", "200")):  # fmt: skip
        stocked.send(stocked.get(f"/stockroom/items/{item}"), "quantity",
                     {"quantity": much, "cost": "9"})  # fmt: skip
    [address] = [a.get("href") for a in page.all("a") if "make_1=4" in (a.get("href") or "")][:1]
    assert address is not None
    form = stocked.get(address)
    assert form.value("make_1") == "4"
    batch = stocked.send(form, "make_1", {})
    assert "for order 1" in batch.words
    page = stocked.get("/bench")
    assert "Next: finish batch 1" in page.words
    assert "Nothing is left to make." in page.words
    stocked.send(batch, "minutes", {"minutes": "100"})
    assert "Nothing waits for the bench." in stocked.get("/bench").words


def test_the_demo_has_weeks_proposals_and_the_station(guest: Visitor) -> None:
    page = guest.get("/bench")
    assert page.text.count('class="load') >= 8
    assert "To make next" in page.words
    assert "of one paper" in page.words
    assert 'aria-current="page"><span class="knot"></span>Bench' in page.text
    for path in ("/stockroom/batches", "/stockroom/batches/new"):
        assert 'aria-current="page"><span class="knot"></span>Bench' in guest.get(path).text


def test_addresses_with_nonsense_are_taken_for_none(guest: Visitor) -> None:
    for asked in ("order=x", "orders=1,2,x,99999999999", "make_1=-3", "make_1=99999999999&orders="):
        guest.get(f"/stockroom/batches/new?{asked}")
