"""An order on screen from the shelf to the customer and back, in parts; bad input at its field."""

from __future__ import annotations

import pytest

from tests.web.orders.test_ready import press
from tests.web.visitor import Visitor, read_form


def with_some_on_the_shelf(stocked: Visitor, number: int = 3) -> Visitor:
    stocked.send(stocked.get("/stockroom/items/variant-1"), "quantity",
                 {"quantity": str(number), "cost": "60"})  # fmt: skip
    press(stocked, stocked.get("/orders/1"), "Accept")
    return stocked


def test_part_is_set_aside_delivered_and_taken_back(stocked: Visitor) -> None:
    with_some_on_the_shelf(stocked)
    page = stocked.get("/orders/1")
    assert "3 of 4 Plain journal, Plain are on the shelf" in page.words
    page = press(stocked, page, "Set aside 3")
    assert "3 set aside for order 1." in page.said
    assert "0 here" in stocked.get("/stockroom/items/variant-1").words
    assert "set aside" in stocked.get("/stockroom/items/variant-1").words
    form = stocked.get("/orders/1/deliver")
    assert form.value("deliver_1") == "3"
    page = stocked.send(form, "delivered_on", {"deliver_1": "2", "note": "by post"})
    assert "2 delivered." in page.said
    assert "still to pay" in page.said
    assert "2 delivered" in page.words
    assert "by post" in page.words
    page = press(stocked, page, "Take the delivery back")
    assert "set aside again" in page.said
    page = press(stocked, page, "Put 3 back on the shelf")
    assert "3 back on the shelf." in page.said
    assert "3 here" in stocked.get("/stockroom/items/variant-1").words


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"deliver_1": "4"}, "deliver_1", "3 of 4 Plain journal, Plain are there"),
        ({"deliver_1": "9"}, "deliver_1", "4 of it are still to deliver"),
        ({"deliver_1": "some"}, "deliver_1", "some"),
        ({"deliver_1": "1", "delivered_on": "2099-01-01"}, "delivered_on", "not come yet"),
        ({"deliver_1": "0"}, "form", "Say how many"),
    ],
)
def test_what_cannot_be_delivered_is_told_at_its_field(
    stocked: Visitor, typed: dict[str, str], field: str, says: str
) -> None:
    with_some_on_the_shelf(stocked)
    refused = stocked.send(stocked.get("/orders/1/deliver"), "delivered_on", typed, 422)
    assert says in (refused.words if field == "form" else refused.error_at(field))


def test_delivered_twice_by_a_double_click_is_delivered_once(stocked: Visitor) -> None:
    with_some_on_the_shelf(stocked)
    form = stocked.get("/orders/1/deliver")
    stocked.send(form, "delivered_on", {"deliver_1": "1"})
    stocked.send(form, "delivered_on", {"deliver_1": "1"})
    assert "2 here" in stocked.get("/stockroom/items/variant-1").words


def test_something_comes_back(stocked: Visitor) -> None:
    with_some_on_the_shelf(stocked, 4)
    page = press(stocked, stocked.get("/orders/1"), "Mark as ready")
    page = press(stocked, page, "Mark as delivered")
    form = stocked.get("/orders/1/back")
    for typed, says in (
        ({"quantity": "5", "why": "torn"}, "The customer has 4 of it."),
        ({"quantity": "1", "why": ""}, "why"), ({"quantity": "0", "why": "torn"}, "1"),
    ):  # fmt: skip
        refused = stocked.send(form, "why", typed, 422)
        assert says.lower() in refused.words.lower()
    page = stocked.send(
        form, "why", {"quantity": "1", "why": "a page torn", "sound": "0", "replaced": "1"}
    )
    assert "1 taken back." in page.said
    assert "in progress" in page.words
    assert "came back" in page.words
    assert "a page torn" in page.words
    assert "Not ready yet: 0 of 1 Plain journal, Plain are on the shelf." in page.words
    page = press(stocked, page, "Close with what was delivered")
    assert "1 of it is wanted no more" in page.said
    assert "3 of 4" in page.words
    assert "3 × Plain" in stocked.get("/orders?state=").words
    assert ",3,40.0000,120.0000" in stocked.client.get("/lists/orders.csv").get_data(as_text=True)
    assert "Close with what was delivered" not in page.words


def test_a_batch_is_begun_for_an_order(stocked: Visitor) -> None:
    with_some_on_the_shelf(stocked, 1)
    page = stocked.get("/orders/1")
    form = stocked.get("/stockroom/batches/new?order=1")
    assert "Make 3 more" in page.words
    assert "Begin a batch for order 1" in form.words
    assert form.value("make_1") == "3"
    for item, much in (("sheet-1", "99"), ("sheet-2", "40"), ("material-1", "90 m"),
                       ("material-2", "90 m"), ("material-3", "200")):  # fmt: skip
        stocked.send(stocked.get(f"/stockroom/items/{item}"), "quantity",
                     {"quantity": much, "cost": "9"})  # fmt: skip
    page = stocked.send(form, "make_1", {"make_1": "5"})
    assert "for order 1" in page.words
    page = stocked.send(page, "minutes", {"minutes": "200"})
    assert "4 set aside for order 1." in page.said
    assert "1 on the shelf." in page.said
    assert "4 of them were set aside for order 1." in page.words
    page = stocked.get("/orders/1")
    assert "4 of 4 came out good of batch 1" in page.words
    assert "of its batch" in page.words
    assert "and 4 set aside for orders" in stocked.get("/stockroom/items/variant-1").words
    assert "and 4 set aside for orders" in stocked.get("/stockroom/stocktake").words
    assert "and 4 set aside" in stocked.get("/stockroom").words
    page = press(stocked, page, "Mark as ready")
    assert "is ready now" in page.said


def test_other_orders_pages_refuse_what_is_not_theirs(stocked: Visitor) -> None:
    with_some_on_the_shelf(stocked)
    assert stocked.get("/orders/99/deliver", 404).status == 404
    assert stocked.get("/orders/99/back", 404).status == 404
    assert "Nothing of it was delivered" in stocked.get("/orders/1/back").words
    page = stocked.send(stocked.get("/orders/1/deliver"), "delivered_on", {"deliver_1": "3"})
    [form] = [f for f in page.all("form") if "Take the delivery back" in "".join(f.itertext())]
    values = read_form(form, page.path).values
    assert stocked.post("/orders/1/deliveries/77/back", values, 404).status == 404
