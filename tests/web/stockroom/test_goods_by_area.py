"""Leather and cloth by area: put on the list, bought, received, counted and used in a journal."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from flask import Flask

from app.core.length import METRE, MM
from app.core.states import SheetKind
from app.db import transaction
from app.models import Material, StockSheet
from app.services.bench.batches import begin_batch
from app.services.designs import journals
from app.services.stock import ledger as stock
from app.services.stock import offcuts
from app.services.stock.materials import save_stock_sheet
from tests.factories import offer, paper
from tests.web.conftest import sessions_of
from tests.web.visitor import Visitor


def test_a_skin_from_the_list_to_the_journal(stocked: Visitor) -> None:
    page = stocked.get("/stockroom/materials/new")
    assert "by area (leather, cloth, foil)" in page.words
    typed = {"name": "Goatskin", "measure": "area", "waste": "43", "weight_mg": "700"}
    page = stocked.send(page, "measure", typed)
    assert "Goatskin: now who sells it?" in page.said
    address = page.path
    offer = stocked.get(f"{address}/offers/new")
    page = stocked.send(
        offer, "pack_quantity",
        {"new_supplier": "Tannery Lane", "pack_quantity": "7 sq ft", "pack_price": "39"},
    )  # fmt: skip
    assert "65.03 dm²" in page.words
    page = stocked.send(page, "quantity", {"quantity": "1,5 m²", "cost": "90"})
    assert "1.5 m²" in page.words
    refused = stocked.send(page, "quantity", {"quantity": "6 dm", "cost": "1"}, 422)
    assert "“dm” is no unit of area: use dm², m², sq ft or sq in." in refused.words
    page = stocked.send(stocked.get(address), "counted", {"counted": "148 dm²", "why": "spoiled"})
    assert "1.48 m²" in page.words
    # A label of it on every journal.
    number = address.rsplit("-", 1)[1]
    label = {"parts-0-name": "Leather label", "parts-0-material": number, "parts-0-amount": "6"}
    form = stocked.get("/journals/1")
    refused = stocked.send(form, "leaf_height", label | {"+keep": "1"}, 422)
    assert "Say the unit as well, as in 6 dm²." in refused.words
    page = stocked.send(form, "leaf_height", label | {"parts-0-amount": "6 dm2", "+keep": "1"})
    assert page.value("parts-0-amount") == "6 dm²"
    assert "Leather label, Goatskin" in page.words
    table = stocked.client.get("/lists/movements.csv").get_data(as_text=True)
    assert "dm²" in table


def cloth_off_a_roll(visitor: Visitor) -> str:
    """A canvas 1400 mm wide in half metres at 9.00; the address of its page."""
    paper = visitor.send(
        visitor.get("/stockroom/papers/new"), "grammage",
        {"name": "Canvas, natural", "grammage": "400", "caliper_nm": "0.4 mm"},
    )  # fmt: skip
    form = visitor.get(paper.path)
    page = visitor.send(
        form, "width_nm", {"kind": "roll", "width_nm": "1400 mm", "grain": "", "trim_nm": "0"}
    )
    assert "Canvas, natural, 1400 mm wide, by length" in page.words
    offer = visitor.get(f"{page.path}/offers/new")
    terms = {"new_supplier": "Weir Street Drapers", "pack_quantity": "50 cm", "pack_price": "9"}
    page = visitor.send(offer, "pack_quantity", terms)
    assert "0.5 m" in page.words
    return page.path


def test_a_roll_is_bought_cut_and_kept_by_length(stocked: Visitor) -> None:
    address = cloth_off_a_roll(stocked)
    page = stocked.send(stocked.get(address), "quantity", {"quantity": "60 cm", "cost": "10.80"})
    page = stocked.send(page, "quantity", {"quantity": "30 cm", "cost": "5.40"})
    assert "0.9 m here" in page.words
    assert "0.6 m" in page.words
    refused = stocked.send(page, "much", {"much": "2 m", "gone": "spoiled"}, 422)
    assert "That length is not so long." in refused.words
    refused = stocked.send(page, "much", {"much": "10 cm"}, 422)
    assert "Say what became of it." in refused.words
    page = stocked.send(page, "much", {"much": "10 cm", "gone": "spoiled"})
    assert "0.8 m here" in page.words
    paper = stocked.get(address).text.split("/stockroom/papers/")[1].split("/")[0]
    form = stocked.get("/journals/1")
    page = stocked.send(form, "leaf_height", {"role_cover": paper, "+keep": "1"})
    assert "of a roll 1400 mm wide" in page.words
    makes = stocked.get(f"{address}/makes")
    assert "From a metre" in makes.words
    assert "0.8 m here" in makes.words
    order = stocked.get("/orders/1")
    stocked.send(order, "state", {"state": "accepted"})
    buying = stocked.get("/buying")
    assert "Canvas, natural" in buying.words
    cutting = stocked.get("/buying/cutting?what=list&chosen=1")
    assert cutting.status == 200
    for table in ("papers", "offers", "movements"):
        assert stocked.client.get(f"/lists/{table}.csv").status_code == 200
    assert "sheets of 1400" not in buying.words


def test_a_size_that_cannot_be_is_refused_at_its_field(stocked: Visitor) -> None:
    form = stocked.get("/stockroom/papers/1/sheets/new")
    good = {"kind": "roll", "width_nm": "1.4 m", "grain": "", "trim_nm": "0"}
    for wrong, says in (
        ({"height_nm": "2 m"}, "A roll has no height: leave this empty."),
        ({"named": "A1"}, "A roll has no sheet’s name: leave this empty."),
        ({"width_nm": ""}, "How wide is the roll?"),
        ({"hide_area": "9 sq ft"}, "Only a hide has this: leave it empty."),
        ({"kind": "hide", "height_nm": "60 cm", "usable": "70"}, "A hide needs this."),
        ({"kind": "hide", "height_nm": "60 cm", "hide_area": "90 dm²"}, "A hide needs this."),
        (
            {"kind": "hide", "height_nm": "60 cm", "hide_area": "90 dm²", "usable": "170"},
            "Per cent here lie between 0 and 100.",
        ),
        (
            {"kind": "hide", "height_nm": "60 cm", "hide_area": "90 dm²", "usable": "70"},
            "Its largest piece is larger than all that can be used of it.",
        ),
    ):
        refused = stocked.send(form, "width_nm", good | wrong, 422)
        assert says in refused.words, wrong
    page = stocked.send(form, "width_nm", good)
    assert "1400 mm wide, by length" in page.words


def test_a_hide_says_what_is_usual_of_it(stocked: Visitor) -> None:
    """Of a skin two thirds to three quarters is of use (a bookbinders' list, January 2001)."""
    form = stocked.get("/stockroom/papers/1/sheets/new")
    assert "Two thirds to three quarters, of a poor skin half." in form.words
    hide = {"kind": "hide", "width_nm": "40 cm", "height_nm": "60 cm", "hide_area": "9 sq ft",
            "usable": "70", "grain": "", "trim_nm": "0"}  # fmt: skip
    page = stocked.send(form, "width_nm", hide)
    assert "70% of it can be used, in pieces up to 400 × 600 mm" in page.words
    change = stocked.get(page.text.split('href="')[0] and page.path)
    number = page.path.rsplit("-", 1)[1]
    again = stocked.get(f"/stockroom/papers/1/sheets/{number}")
    assert change.status == 200
    assert again.value("height_nm") == "600 mm"
    assert again.value("usable") == "70%"
    saved = stocked.send(again, "width_nm", {"usable": "50"})
    assert "50% of it can be used" in saved.words
    page = stocked.send(stocked.get(page.path), "quantity", {"quantity": "2", "cost": "108"})
    assert "2 hides here" in page.words


def test_a_roll_made_here_is_booked_in_by_its_length(stocked: Visitor) -> None:
    address = cloth_off_a_roll(stocked)
    typed = {"parts-0-thing": "material-2", "parts-0-amount": "2 m", "makes": "2 m",
             "minutes": "30", "days": "1", "loss": "10%"}  # fmt: skip
    stocked.send(stocked.get(f"{address}/recipe"), "makes", typed)
    stocked.send(stocked.get("/stockroom/items/material-2"), "quantity",
                 {"quantity": "20 m", "cost": "5"})  # fmt: skip
    page = stocked.send(stocked.get(f"{address}/make"), "times", {"times": "2"})
    assert "3.6 m expected" in page.words
    page = stocked.send(page, "minutes", {"good_1": "3.5 m", "minutes": "60"})
    assert "3.5 m of Canvas" in page.said
    assert "3.5 m here" in stocked.get(address).words


def test_what_is_cut_off_a_roll_is_said_as_what_it_is(stocked: Visitor, empty_app: Flask) -> None:
    """Offcuts are counted, lengths measured: in the history, on the batch, in the table."""
    with transaction(sessions_of(empty_app)) as session:
        canvas = paper(session, "Canvas", caliper_nm=400_000)
        values = {"kind": SheetKind.ROLL, "width_nm": 1400 * MM, "grain": None, "trim_nm": 0}
        roll = save_stock_sheet(session, canvas, None, values)
        offer(session, roll, "9", 500 * MM)
        stock.receive(session, roll, 2 * METRE, Decimal(36), date.today())
        variant = journals.sellable(session)[0]
        draft = journals.draft_of(variant)
        made = journals.begin_journal(
            session, "Canvas book", replace(draft, choices={**draft.choices, "cover": canvas})
        ).current.variants[0]
        for item, much in ((1, 400), (2, 400)):
            sheet = session.get_one(StockSheet, item)
            stock.receive(session, sheet, much, Decimal(9), date.today())
        for item in (1, 2, 3):
            goods = session.get_one(Material, item)
            stock.receive(session, goods, 90 * METRE, Decimal(9), date.today())
        batch = begin_batch(session, {made: 3}, date.today()).id
        key, kept = f"sheet-{roll.id}", offcuts.offcuts(session, roll)
        assert kept
    page = stocked.get(f"/stockroom/items/{key}")
    assert "+1 offcut" in page.words
    assert " 0 m" not in page.words
    assert "+0 m" not in page.words
    assert "1 offcut" in stocked.get(f"/stockroom/batches/{batch}").words
    alone = stocked.get(f"/stockroom/items/{key}/makes?offcut={kept[0].lot.id}")
    assert "this offcut alone" in alone.words or "From what is here" in alone.words
    table = stocked.client.get("/lists/movements.csv").get_data(as_text=True)
    assert ",1,offcut" in table


def test_an_old_page_that_cuts_off_what_is_gone_is_told(stocked: Visitor) -> None:
    address = cloth_off_a_roll(stocked)
    page = stocked.send(stocked.get(address), "quantity", {"quantity": "60 cm", "cost": "9"})
    stocked.send(stocked.get(address), "much", {"much": "60 cm", "gone": "spoiled"})
    refused = stocked.send(page, "much", {"much": "10 cm", "gone": "spoiled"}, 422)
    assert "Nothing is left of that length any more." in refused.words
