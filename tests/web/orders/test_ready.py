"""From an order that lacks journals to one that is ready, in one step or by making them."""

from __future__ import annotations

from io import BytesIO

from tests.web.visitor import Page, Visitor, read_form


def press(visitor: Visitor, page: Page, label: str, status: int = 200) -> Page:
    """Press the button of a form that says this."""
    found = next(f for f in page.all("form") if label in "".join(f.itertext()))
    form = read_form(found, page.path)
    return visitor.post(form.action, form.values, status)


def test_an_order_is_ready_once_its_journals_are_booked_in(stocked: Visitor) -> None:
    page = press(stocked, stocked.get("/orders/1"), "Accept")
    assert "Not ready yet: 0 of 4 Plain journal, Plain are on the shelf." in page.words
    assert "Mark as ready" not in page.words.replace("and mark as ready", "")
    assert "Make 4 more" in page.words
    page = press(stocked, page, "Book in 4 made without a batch")
    assert "is ready now" in page.said
    assert "4 made without a batch are booked in for it." in page.said
    assert "Not ready yet" not in page.words
    shelf = stocked.get("/stockroom/items/variant-1")
    assert "0 here" in shelf.words
    assert "Made without a batch, for order" in shelf.words


def test_an_old_page_cannot_hand_over_what_is_not_there(stocked: Visitor) -> None:
    page = press(stocked, stocked.get("/orders/1"), "Accept")
    found = next(f for f in page.all("form") if "Book in" in "".join(f.itertext()))
    values = [(k, v) for k, v in read_form(found, page.path).values if k != "book_in"]
    refused = stocked.post("/orders/1/state", values, 422)
    assert "0 of 4 Plain journal, Plain are on the shelf. Make the rest" in refused.words
    assert "accepted" in stocked.get("/orders/1").words
    stocked.send(stocked.get("/stockroom/items/variant-1"), "quantity",
                 {"quantity": "4", "cost": "60"})  # fmt: skip
    page = stocked.get("/orders/1")
    assert "Not ready yet" not in page.words
    page = press(stocked, page, "Mark as ready")
    assert "is ready now" in page.said


def test_the_same_order_is_logged_again_at_the_price_of_today(stocked: Visitor) -> None:
    change = stocked.get("/orders/1/change")
    stocked.send(change, "note", {"lines-0-asked_for": "initials", "lines-0-unit_price": "33"})
    form = stocked.get("/orders/new?again=1")
    for name, value in (("customer", "Ada"), ("lines-0-quantity", "4"),
                        ("lines-0-asked_for", "initials"), ("lines-0-unit_price", "")):  # fmt: skip
        assert form.value(name) == value, name
    page = stocked.send(form, "customer", {})
    assert "Order 2 is saved." in page.said
    assert "40.00" in page.words
    assert "2 orders" in stocked.get("/orders/customers/1").words
    for nothing in ("99", "x", ""):
        assert stocked.get(f"/orders/new?again={nothing}").value("customer") == ""


def test_an_order_says_what_posting_it_takes(stocked: Visitor) -> None:
    assert "All of it packed in one:" in stocked.get("/orders/1").words
    assert "Say what your carrier asks" in stocked.get("/orders/1").words
    stocked.send(stocked.get("/shop/postage/new"), "name", {
        "name": "Parcel", "most_grams": "20000", "long_nm": "600", "wide_nm": "600",
        "thick_nm": "600", "price": "9.35"})  # fmt: skip
    assert "Parcel, €9.35" in stocked.get("/orders/1").words


def test_the_calendar_file_is_there(stocked: Visitor) -> None:
    press(stocked, stocked.get("/orders/1"), "Accept")
    answer = stocked.client.get("/lists/calendar.ics")
    assert (answer.status_code, answer.mimetype) == (200, "text/calendar")
    assert b"SUMMARY:Order 1 due: Ada" in answer.data
    for path in ("/bench", "/orders"):
        assert any("calendar.ics" in (a.get("href") or "") for a in stocked.get(path).all("a"))


def test_a_table_of_orders_is_taken_in(stocked: Visitor) -> None:
    page = stocked.get("/stockroom/import?kind=orders")
    assert page.value("kind") == "orders"
    table = ["Customer,Journal,By when,How many", 'Ines,"Plain journal, Plain",2030-05-01,3']
    data = dict(page.form("kind").values) | {"again": "1"}
    data["file"] = (BytesIO("\n".join(table).encode()), "orders.csv")
    answer = stocked.client.post(page.path, data=data)
    matched = Page(page.path, answer.status_code, answer.get_data(as_text=True))
    assert "Which column is which" in matched.words
    kept = stocked.post(page.path, [*matched.form("match_order").values, ("keep", "1")])
    assert "1 row of orders imported." in kept.said
    assert "Ines" in kept.words


def test_the_same_again_is_of_the_newest_design(stocked: Visitor) -> None:
    press(stocked, stocked.get("/orders/1"), "Accept")
    design = stocked.get("/journals/1")
    stocked.send(design, "leaf_height", {"leaf_height": "150 mm", "price_1": "55", "+as_next": "1"})
    form = stocked.get("/orders/new?again=1")
    page = stocked.send(form, "customer", {})
    assert "55.00" in page.words
    assert "design 2" in page.words
    names = [name for _, name in form.options("lines-0-variant")]
    assert len(names) == len(set(names))
