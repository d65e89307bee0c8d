"""Mistakes that were made once: each told from the page on which it showed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import select

from app.core.length import METRE, MM
from app.db import transaction
from app.models import Material, Order, OrderLine, Paper, StockSheet, Variant
from app.services.designs import journals
from app.services.markets import markets
from app.services.stock import ledger as stock
from tests.factories import offer, sheet
from tests.web.conftest import sessions_of
from tests.web.visitor import NS, Page, Visitor, read_form, words

TODAY = date.today()


def press(visitor: Visitor, page: Page, said: str, status: int = 200) -> Page:
    """Press the button of a small form by what it says."""
    form = next(f for f in page.all("form") if said in "".join(f.itertext()))
    found = read_form(form, page.path)
    return visitor.post(found.action, found.values, status)


@pytest.mark.parametrize("number", [24, 26, 27, 29])
def test_date_and_note_of_a_promised_order_can_change(guest: Visitor, number: int) -> None:
    page = guest.get(f"/orders/{number}/change")
    kept = guest.send(page, "note", {"note": "ring before coming", "wanted_by": "2099-05-05"})
    assert "ring before coming" in kept.words
    assert "5 May 2099" in kept.words


def test_an_order_taken_back_to_asked_can_be_rewritten(stocked: Visitor, empty_app: Flask) -> None:
    with transaction(sessions_of(empty_app)) as session:
        stock.receive(session, session.get_one(Variant, 1), 4, Decimal(20), TODAY, kind="made")
    page = stocked.get("/orders/1")
    for said in (
        "Accept",
        "Mark as ready",
        "Back to in progress",
        "Back to accepted",
        "Back to enquiry",
    ):
        page = press(stocked, page, said)
    page = stocked.send(stocked.get("/orders/1/change"), "note", {"lines-0-quantity": "7"})
    assert "280.00" in page.words


def test_one_hopeless_journal_does_not_hide_the_buy_list(
    stocked: Visitor, empty_app: Flask
) -> None:
    press(stocked, stocked.get("/orders/1"), "Accept")
    with transaction(sessions_of(empty_app)) as session:
        variant = session.get_one(Variant, 1)
        dims = dict(variant.design.dimensions)
        variant.design.dimensions = dims | {"leaf_height": 20 * MM, "leaf_width": 20 * MM}
        sheet(session, session.get_one(Paper, 1), 9000, 9000)
    for path in ("/", "/buying", "/journals"):
        stocked.get(path)
    assert "too many and too small" in stocked.get("/buying").words


def test_a_take_list_of_a_hundred_thousand_is_planned(stocked: Visitor) -> None:
    market = stocked.send(
        stocked.get("/markets/new"), "stall_fee", {"name": "Fair", "day": "2099-05-01"}
    )
    stocked.send(market, "take-1", {"take-1": "100000"})
    page = stocked.get("/buying")
    assert "Not enough hours" in page.words
    stocked.get("/")


def test_sheets_that_cost_nothing_are_bought_only_as_needed(
    stocked: Visitor, empty_app: Flask
) -> None:
    press(stocked, stocked.get("/orders/1"), "Accept")
    with transaction(sessions_of(empty_app)) as session:
        small = sheet(session, session.get_one(Paper, 1), 420, 594)
        offer(session, small, "0", 10)
        offer(session, session.get_one(StockSheet, 1), "0", 10, by=small.offers[0].supplier)
    page = stocked.get("/buying")
    assert "Buy 1 pack of 10 sheets" in page.words
    assert stocked.get("/").status == 200


def test_currency_stays_once_money_is_on_record(stocked: Visitor) -> None:
    for code in ("JPY", "USD"):
        page = stocked.send(stocked.get("/shop"), "currency", {"currency": code}, 422)
        said = page.error_at("currency")
        assert "Orders are on record in EUR already" in said
        assert f"start a new shop for {code}" in said
        assert stocked.get("/shop").value("currency") == "EUR"


def test_an_empty_shop_may_change_its_currency(visitor: Visitor) -> None:
    assert "Saved" in visitor.send(visitor.get("/shop"), "currency", {"currency": "GBP"}).said
    assert "£" in visitor.get("/shop").words


def test_a_half_typed_line_is_not_dropped(stocked: Visitor) -> None:
    page = stocked.get("/orders/new")
    typed = {"customer": "Ada", "lines-0-variant": "1", "lines-0-quantity": "1", "+another": "1"}
    more = stocked.send(page, "customer", typed)
    refused = stocked.send(more, "customer", {"lines-1-quantity": "5"}, 422)
    assert "Choose" in refused.error_at("lines-1-variant")


def test_two_windows_on_one_design(stocked: Visitor) -> None:
    mine, theirs = stocked.get("/journals/1"), stocked.get("/journals/1")
    stocked.send(theirs, "leaf_height", {"price_1": "77"})
    page = stocked.send(mine, "leaf_height", {"shelf_level": "3"}, 422)
    assert "another window" in page.words
    assert stocked.get("/journals/1").value("price_1") == "77.00"


def test_a_paper_put_away_stays_in_the_designs_it_is_in(stocked: Visitor) -> None:
    press(stocked, stocked.get("/stockroom/papers/1"), "Put it away")
    page = stocked.get("/journals/1")
    assert page.value("role_leaves") == "1"
    stocked.send(page, "leaf_height", {"price_1": "50"})
    assert stocked.get("/journals/1").value("role_leaves") == "1"


def test_a_channel_no_longer_used_keeps_what_it_has(stocked: Visitor, empty_app: Flask) -> None:
    stocked.send(stocked.get("/shop/channels/1"), "margin", {"+retired": "y"})
    assert "no longer used" in stocked.get("/shop").words
    stocked.send(stocked.get("/journals/1"), "leaf_height", {"shelf_level": "1"})
    stocked.send(stocked.get("/orders/1/change"), "note", {"note": "x"})
    with transaction(sessions_of(empty_app)) as session:
        assert [p.amount for p in session.get_one(Variant, 1).prices] == [Decimal("40.00")]
        assert session.get_one(Order, 1).channel_id == 1


def test_the_same_form_with_other_values_says_that_it_was_not_done_twice(stocked: Visitor) -> None:
    form = stocked.get("/shop/times/sew").form("minutes_each")
    stocked.post(form.action, form.filled({"minutes_each": "2"}))
    again = stocked.post(form.action, form.filled({"minutes_each": "9"}))
    assert "not done twice" in again.said


def test_a_second_customer_of_a_name_is_asked_about_however_it_is_written(
    stocked: Visitor, empty_app: Flask
) -> None:
    typed = {"lines-0-variant": "1", "lines-0-quantity": "1"}
    stocked.send(
        stocked.get("/orders/new"),
        "customer",
        typed | {"customer": "Émile", "reach": "e@one.example"},
    )
    asked = stocked.send(
        stocked.get("/orders/new"), "customer",
        typed | {"customer": "ÉMILE", "reach": "e@two.example"}, 422,
    )  # fmt: skip
    assert "There is a customer called “Émile” already" in asked.error_at("who_is")
    assert "Émile, e@one.example, 1 order" in asked.words
    # Nothing typed is lost, and the answer is one choice.
    assert (asked.value("customer"), asked.value("reach")) == ("ÉMILE", "e@two.example")
    other = stocked.send(asked, "customer", {"who_is": "0"})
    again = stocked.send(stocked.get("/orders/new"), "customer", typed | {"customer": "émile"}, 422)
    first = next(v for v, words in again.options("who_is") if "one.example" in words)
    same = stocked.send(again, "customer", {"who_is": first, "reach": "e@three.example"})
    assert "is saved" in other.said
    assert "is saved" in same.said
    with transaction(sessions_of(empty_app)) as session:
        one, two, three = session.query(Order).order_by(Order.id).all()[-3:]
        assert one.customer_id == three.customer_id != two.customer_id
        assert (one.customer.email, two.customer.email) == ("e@one.example", "e@two.example")
        assert "e@three.example" in one.customer.note


def test_a_measure_stays_once_there_is_stock(stocked: Visitor, empty_app: Flask) -> None:
    stocked.send(stocked.get("/stockroom/materials/new"), "measure", {"name": "Ribbon"})
    with transaction(sessions_of(empty_app)) as session:
        ribbon = session.query(Material).filter_by(name="Ribbon").one()
        stock.receive(session, ribbon, METRE, Decimal(1), TODAY)
        number = ribbon.id
    page = stocked.get(f"/stockroom/materials/{number}")
    refused = stocked.send(page, "measure", {"measure": "count"}, 422)
    assert "add a new material" in refused.error_at("measure")


@pytest.mark.parametrize("path", ["/orders/1/change", "/journals/1"])
def test_a_monstrous_version_is_none(stocked: Visitor, path: str) -> None:
    page = stocked.get(path)
    form = page.form("version")
    answer = stocked.client.post(form.action, data=dict(form.filled({"version": "9" * 5000})))
    assert answer.status_code in (302, 422)


def test_costs_past_counting_are_refused_in_words(stocked: Visitor, empty_app: Flask) -> None:
    with transaction(sessions_of(empty_app)) as session:
        thread = session.get_one(Material, 1)
        offer(session, thread, "999999999", 1, by=thread.offers[0].supplier, since=TODAY)
    page = press(stocked, stocked.get("/orders/1"), "Accept", 422)
    assert "more than this program counts" in page.said
    stocked.get("/journals")
    stocked.get("/journals/1")


def test_lines_with_a_history_stay_with_their_order(demo_app: Flask) -> None:
    with transaction(sessions_of(demo_app)) as session:
        taken = session.query(stock.Movement).filter(stock.Movement.kind == "sold").all()
        assert all(movement.order_id or movement.market_id for movement in taken)
        assert session.query(OrderLine).count() > 30


def many_sizes(app: Flask) -> None:
    with transaction(sessions_of(app)) as session:
        from tests.factories import Bench, supplier

        bench = Bench.__new__(Bench)
        bench.session = session
        paper = session.get_one(Paper, 1)
        by = supplier(session, "Many sizes")
        for n in range(7):
            size = sheet(session, paper, 450 + 37 * n, 610 + 53 * n)
            offer(session, size, f"{7 + n}", 10, by=by)
            stock.receive(session, size, 3, Decimal(3), TODAY)


def test_a_paper_of_many_sizes_does_not_hold_the_page_up(
    stocked: Visitor, empty_app: Flask
) -> None:
    press(stocked, stocked.get("/orders/1"), "Accept")
    many_sizes(empty_app)
    page = stocked.get("/buying")
    assert "Card 250" in page.words
    assert "in stock" in page.words


def test_putting_away_twice_is_done_once(stocked: Visitor) -> None:
    page = stocked.get("/stockroom/papers/1")
    form = next(f for f in page.all("form") if "Put it away" in "".join(f.itertext()))
    values: list[Any] = read_form(form, page.path).values
    for _ in range(2):
        stocked.post(str(form.get("action")), values)
    assert "Put away Laid 120" in stocked.get("/stockroom").words


def test_markets_need_no_channel_in_use(stocked: Visitor, empty_app: Flask) -> None:
    market = stocked.send(
        stocked.get("/markets/new"), "stall_fee", {"name": "Fair", "day": "2099-05-01"}
    )
    for number in (1, 2, 3):
        stocked.send(stocked.get(f"/shop/channels/{number}"), "margin", {"+retired": "y"})
    assert (
        "Saved"
        in stocked.send(stocked.get(market.path + "/change"), "stall_fee", {"note": "n"}).said
    )
    with transaction(sessions_of(empty_app)) as session:
        assert markets.markets(session)[0].note == "n"


def test_sheets_no_longer_bought_are_still_here(stocked: Visitor, empty_app: Flask) -> None:
    press(stocked, stocked.get("/orders/1"), "Accept")
    with transaction(sessions_of(empty_app)) as session:
        stock.receive(session, session.get_one(StockSheet, 1), 50, Decimal(40), TODAY)
    kept = stocked.send(stocked.get("/stockroom/papers/1/sheets/1"), "width_nm", {"+retired": "y"})
    assert kept.said == "Saved."
    assert "50 sheets" in stocked.get("/stockroom").words
    page = stocked.get("/buying")
    assert "640 × 900 mm, in stock" in page.words
    assert "Cannot be planned" not in page.words


def test_journals_of_an_older_design_are_still_on_the_shelf(
    stocked: Visitor, empty_app: Flask
) -> None:
    press(stocked, stocked.get("/orders/1"), "Accept")
    with transaction(sessions_of(empty_app)) as session:
        stock.receive(session, session.get_one(Variant, 1), 2, Decimal(40), TODAY, kind="made")
    stocked.send(stocked.get("/journals/1"), "leaf_height", {"folios": "5"})
    page = stocked.get("/stockroom")
    assert "/stockroom/items/variant-1" in page.text
    assert "Plain journal, Plain design 1 2" in page.words


def test_what_was_put_away_can_be_found(stocked: Visitor) -> None:
    press(stocked, stocked.get("/journals/1/name"), "Put it away")
    press(stocked, stocked.get("/stockroom/papers/1"), "Put it away")
    assert "/journals/1/name" in stocked.get("/journals").text
    assert "Put away Laid 120" in stocked.get("/stockroom").words


def test_a_market_of_a_channel_no_longer_used_says_so(stocked: Visitor) -> None:
    market = stocked.send(
        stocked.get("/markets/new"),
        "stall_fee",
        {"name": "Fair", "day": "2099-05-01", "channel": "1"},
    )
    stocked.send(market, "take-1", {"take-1": "6"})
    stocked.send(stocked.get("/shop/channels/1"), "margin", {"+retired": "y"})
    assert "is no longer used" in stocked.get(market.path).words


def test_a_stopped_plan_sends_no_header_of_its_own(guest: Visitor) -> None:
    token = dict(guest.get("/journals/new").form("variant_name").values)["csrf_token"]
    answer = guest.client.post(
        "/buying/cutting/stop/a", data={"csrf_token": token, "question": "x\r\nSet-Cookie: a=b"}
    )
    assert answer.status_code == 302
    assert "\n" not in answer.headers["Location"]


def test_a_board_of_no_size_is_told_at_its_field(guest: Visitor) -> None:
    page = guest.get("/journals/new?structure=concertina")
    page = guest.send(
        page, "variant_name",
        {"name": "Sliver", "leaf_width": "20 mm", "foreedge_square": "-50 mm", "panels_each": "1"},
        422,
    )  # fmt: skip
    assert "hardly any board is left" in page.words


def test_only_what_can_be_undone_by_itself_has_a_button(guest: Visitor, demo_app: Flask) -> None:
    """A purchase, a batch, an order and a cut go back as a whole, on their own pages."""
    seen: dict[str, set[bool]] = {}
    with transaction(sessions_of(demo_app)) as session:
        keys = [stock.item_key(sheet) for sheet in session.scalars(select(StockSheet))]
        keys += [stock.item_key(m) for m in session.scalars(select(Material))]
        keys += [stock.item_key(v) for v in session.scalars(select(Variant))]
    for key in keys:
        for row in guest.get(f"/stockroom/items/{key}").all("tr"):
            cells = [words(td) for td in row.findall(f"{NS}td")]
            form = next(iter(row.iter(f"{NS}form")), None)
            if len(cells) == 7 and form is not None:
                found = read_form(form, "")
                page = guest.post(found.action, found.values)
                assert "Undone" in page.said or "taken since" in page.said, (cells, page.said)
            if len(cells) == 7:
                seen.setdefault(cells[1], set()).add(form is not None)
    assert True in seen["received"], seen
    assert True not in seen["sold"] | seen.get("reversed", set()) | seen.get("cut", set())


def test_an_address_with_a_state_that_there_is_not_lists_the_open_orders(guest: Visitor) -> None:
    assert guest.get("/orders?state=nonsense").words == guest.get("/orders").words


def test_a_state_that_there_is_not_is_told_shortly(guest: Visitor) -> None:
    form = next(
        read_form(f, "") for f in guest.get("/orders/24").all("form")
        if "/state" in (f.get("action") or "")
    )  # fmt: skip
    page = guest.post(form.action, form.filled({"state": "x" * 5000}), 422)
    assert "no such state" in page.said
    assert "xxx" not in page.words


def test_a_button_pressed_on_an_old_page_speaks_of_no_typing(guest: Visitor) -> None:
    old = guest.get("/orders/24")
    change = guest.get("/orders/24/change")
    guest.send(change, "note", {"note": "changed meanwhile"})
    form = next(
        read_form(f, "") for f in old.all("form") if "/state" in (f.get("action") or "")
    )  # fmt: skip
    page = guest.post(form.action, form.values, 422)
    assert "nothing was done" in page.said
    assert "typed" not in page.said


def test_an_empty_stocktake_and_an_empty_table_are_no_deed(guest: Visitor) -> None:
    page = guest.get("/stockroom/stocktake")
    name = next(k for f in page.all("form") for k, _ in read_form(f, "").values if "counted_" in k)
    page = guest.send(page, name, {}, 422)
    assert "Nothing is counted yet" in page.words


def test_a_journal_with_no_material_is_named_where_others_have_some(
    stocked: Visitor, empty_app: Flask
) -> None:
    with transaction(sessions_of(empty_app)) as session:
        first = session.get_one(Variant, 1)
        journals.add_variant(session, first.design, "Second", first)
        for row in session.scalars(select(StockSheet)):
            stock.receive(session, row, 2, Decimal(5), TODAY)
        for goods in session.scalars(select(Material)):
            amount = 50 * METRE if goods.measure == "length" else 6
            stock.receive(session, goods, amount, Decimal(5), TODAY)
    page = stocked.get("/stockroom/batches/new")
    page = stocked.send(page, "make_1", {"make_1": "1", "make_2": "50", "+enough": "1"})
    assert page.value("make_1") == "1"
    assert "There is none left for" in page.said
