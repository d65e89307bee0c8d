"""Buying on screen: drafts, sending, receiving, double clicks, two tabs, tables in and out."""

from __future__ import annotations

import io
import re
from decimal import Decimal
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import select
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from app.db import transaction
from app.documents.tables import read_pasted
from app.models import Movement, Purchase, Supplier
from app.services.stock.materials import save_material
from app.web.stockroom import importing
from tests.conftest import count
from tests.web.conftest import sessions_of
from tests.web.visitor import Page, Visitor, words


def draft_all(guest: Visitor) -> Page:
    """One click on the buy list."""
    page = guest.get("/buying")
    form = next(f for f in forms(page) if f.action.endswith("/purchases/draft"))
    return guest.post(form.action, form.values)


def forms(page: Page) -> list:
    from tests.web.visitor import read_form

    return [read_form(element, page.path) for element in page.all("form")]


def press(guest: Visitor, page: Page, ending: str, changes: dict[str, str] | None = None,
          status: int = 200) -> Page:  # fmt: skip
    """Send the form of a page whose address ends so."""
    form = next(f for f in forms(page) if f.action.endswith(ending))
    return guest.post(form.action, form.filled(changes or {}), status)


def first_purchase(guest: Visitor) -> str:
    page = guest.get("/buying/purchases")
    links = [a.get("href") or "" for a in page.all("a")]
    return next(link for link in links if "/buying/purchases/" in link and link[-1].isdigit())


def test_from_the_buy_list_to_the_shelf(guest: Visitor) -> None:
    page = draft_all(guest)
    assert "Drafted for" in page.said
    for link in sorted(
        {a.get("href") or "" for a in page.all("a") if (a.get("href") or "")[-1:].isdigit()}
    ):
        if "/buying/purchases/" not in link:
            continue
        page = press(guest, guest.get(link), "/change", {"+send": "1"})
        assert "On its way" in page.said
        page = press(guest, page, "/receive", {"carriage": "4.50"})
        assert "is received" in page.said
    page = guest.get("/buying")
    assert "Nothing has to be bought" in page.words


def test_on_its_way_is_bought_already(guest: Visitor) -> None:
    page = draft_all(guest)
    links = {a.get("href") or "" for a in page.all("a")}
    for link in links:
        if "/buying/purchases/" in link and link[-1].isdigit():
            press(guest, guest.get(link), "/change", {"+send": "1"})
    page = guest.get("/buying")
    assert "on its way" in page.words
    assert not any(f.action.endswith("/purchases/draft") for f in forms(page))


def test_a_double_click_drafts_once(guest: Visitor, demo_app: Flask) -> None:
    page = guest.get("/buying")
    form = next(f for f in forms(page) if f.action.endswith("/purchases/draft"))
    guest.post(form.action, form.values)
    with transaction(sessions_of(demo_app)) as session:
        made = count(session, "purchase")
    guest.post(form.action, form.values)
    with transaction(sessions_of(demo_app)) as session:
        assert count(session, "purchase") == made > 0


def test_a_double_click_receives_once(guest: Visitor, demo_app: Flask) -> None:
    draft_all(guest)
    page = press(guest, guest.get(first_purchase(guest)), "/change", {"+send": "1"})
    form = next(f for f in forms(page) if f.action.endswith("/receive"))
    guest.post(form.action, form.values)
    with transaction(sessions_of(demo_app)) as session:
        moved = count(session, "movement")
    guest.post(form.action, form.values)
    with transaction(sessions_of(demo_app)) as session:
        assert count(session, "movement") == moved


def test_two_tabs_on_a_draft(guest: Visitor) -> None:
    draft_all(guest)
    link = first_purchase(guest)
    one, two = guest.get(link), guest.get(link)
    field = next(k for f in forms(one) for k, _ in f.values if k.startswith("packs_"))
    press(guest, one, "/change", {field: "7"})
    page = press(guest, two, "/change", {field: "9"}, 422)
    assert "9" in dict(next(f for f in forms(page) if f.action.endswith("/change")).values)[field]
    assert "changed" in page.words
    page = press(guest, page, "/change", {})
    assert "Saved" in page.said


@pytest.mark.parametrize(
    ("changes", "says"),
    [({"carriage": "-1"}, "below zero"), ({"carriage": "lots"}, "not a number"),
     ({"on": "soon"}, "day"), ({"on": "2099-01-01"}, "not come yet")],
)  # fmt: skip
def test_a_wrong_receipt_is_told_and_nothing_is_lost(
    guest: Visitor, changes: dict[str, str], says: str
) -> None:
    draft_all(guest)
    page = press(guest, guest.get(first_purchase(guest)), "/change", {"+send": "1"})
    page = press(guest, page, "/receive", changes, 422)
    assert says in page.words
    form = next(f for f in forms(page) if f.action.endswith("/receive"))
    for key, value in changes.items():
        assert dict(form.values)[key] == value


def test_more_than_was_ordered_is_told_at_its_line(guest: Visitor) -> None:
    draft_all(guest)
    page = press(guest, guest.get(first_purchase(guest)), "/change", {"+send": "1"})
    field = next(k for f in forms(page) for k, _ in f.values if k.startswith("came_"))
    page = press(guest, page, "/receive", {field: "900"}, 422)
    assert "still to come, not 900" in page.words


def test_a_receipt_is_taken_back(guest: Visitor, demo_app: Flask) -> None:
    draft_all(guest)
    page = press(guest, guest.get(first_purchase(guest)), "/change", {"+send": "1"})
    page = press(guest, page, "/receive")
    page = press(guest, page, "/undo")
    assert "Taken back" in page.said
    assert "Receive what came" in page.words
    with transaction(sessions_of(demo_app)) as session:
        assert session.scalars(select(Purchase.state)).first() is not None
        assert session.scalar(select(Movement.id).where(Movement.kind == "reversed")) is not None


def test_cancelled_and_expected_on_another_day(guest: Visitor) -> None:
    draft_all(guest)
    page = press(guest, guest.get(first_purchase(guest)), "/change", {"+send": "1"})
    page = press(guest, page, "/expect", {"expected_on": "2099-01-05"})
    assert "2099" in page.words
    asked = guest.get(page.path + "/cancel")
    assert "Tell the supplier" in asked.words
    page = press(guest, asked, "/cancel")
    assert "Cancelled" in page.said
    assert "Receive what came" not in page.words
    page = press(guest, page, "/again")
    assert "It is a draft again" in page.said
    assert "Mark as sent" in page.words


def test_the_stocktake_writes_all_counts_or_none(guest: Visitor, demo_app: Flask) -> None:
    page = guest.get("/stockroom/stocktake")
    names = [k for k, _ in page.form("once").values if k.startswith("counted_sheet")]
    with transaction(sessions_of(demo_app)) as session:
        before = count(session, "movement")
    page = guest.send(page, names[0], {names[0]: "3", names[1]: "4"}, 422)
    assert "Say why it differs" in page.words
    with transaction(sessions_of(demo_app)) as session:
        assert count(session, "movement") == before
    why = {n.replace("counted", "why"): "miscounted before" for n in names[:2]}
    page = guest.send(page, names[0], why)
    assert "2 counted" in page.said
    with transaction(sessions_of(demo_app)) as session:
        assert count(session, "movement") > before


def test_a_part_of_the_stock_is_counted(guest: Visitor, demo_app: Flask) -> None:
    page = guest.get("/stockroom/stocktake?of=Materials&q=bead")
    names = [k for k, _ in page.form("once").values if k.startswith("counted_")]
    assert names == ["counted_material-4", "counted_material-3"]
    page = guest.send(page, names[1], {names[1]: "127"}, 422)
    assert "Say why it differs" in page.words
    page = guest.send(page, names[1], {"why_material-3": "miscounted before"})
    assert "1 counted" in page.said
    assert "127 should be here" in page.words
    assert "Cartridge" not in page.words
    assert "Nothing here has that name" in guest.get("/stockroom/stocktake?q=zzz").words
    assert "Linen thread" in guest.get("/stockroom/stocktake?of=nonsense").words


def test_a_long_stocktake_comes_in_parts(guest: Visitor, demo_app: Flask) -> None:
    with transaction(sessions_of(demo_app)) as session:
        for number in range(300):
            save_material(
                session, None,
                {"name": f"Ribbon {number:03}", "measure": "length", "waste": Decimal(0),
                 "weight_mg": 0, "note": ""},
            )  # fmt: skip
    page = guest.get("/stockroom/stocktake")
    assert len([k for k, _ in page.form("once").values if k.startswith("counted_")]) == 200
    assert "more are not shown" in page.words
    page = guest.get("/stockroom/stocktake?q=ribbon+299")
    assert "more are not shown" not in page.words
    field = next(k for k, _ in page.form("once").values if k.startswith("counted_"))
    why = field.replace("counted", "why")
    page = guest.send(page, field, {field: "5 m", why: "found again"})
    assert "1 counted, 1 of them otherwise" in page.said


def send_parts(guest: Visitor, values: dict[str, Any]) -> Any:
    """Send a form in parts as a browser does, from memory: no file of the test's is left open."""
    boundary, body = encode_multipart(values)
    kind = f"multipart/form-data; boundary={boundary}"
    return guest.client.post("/stockroom/import", data=body, content_type=kind)


def upload(guest: Visitor, kind: str, text: bytes) -> Page:
    page = guest.get("/stockroom/import")
    values = dict(page.form("kind").values) | {"kind": kind, "again": "1"}
    file = FileStorage(io.BytesIO(text), "t.csv")
    answer = send_parts(guest, {**values, "file": file})
    return Page("/stockroom/import", answer.status_code, answer.text)


def test_a_table_is_matched_tried_and_taken_in(guest: Visitor, demo_app: Flask) -> None:
    page = upload(guest, "materials", b"Name,Measure,Waste\nRamie,length,5\nTwine,furlongs,1\n")
    assert "Which column is which" in page.words
    assert dict(page.form("match_material").values)["match_material"] == "0"
    with transaction(sessions_of(demo_app)) as session:
        before = count(session, "material")
    page = guest.send(page, "match_material", {"+try": "1"})
    assert "1 can be imported, 1 are refused; nothing was kept" in page.words
    page = guest.send(page, "match_material", {"+all_or_nothing": "y", "+keep": "1"})
    assert "nothing was kept" in page.words
    with transaction(sessions_of(demo_app)) as session:
        assert count(session, "material") == before
    values = [(k, v) for k, v in page.form("match_material").values if k != "all_or_nothing"]
    page = guest.post("/stockroom/import", [*values, ("keep", "1")])
    assert "1 imported, 1 refused" in page.words
    with transaction(sessions_of(demo_app)) as session:
        assert count(session, "material") == before + 1


def test_a_column_that_nobody_matched_is_an_empty_one(guest: Visitor) -> None:
    page = upload(guest, "materials", b"Name,Measure,Waste\nRamie,length,5\n")
    values = [(k, v) for k, v in page.form("match_material").values if k != "match_waste"]
    answer = guest.post("/stockroom/import", [*values, ("try", "1")])
    assert "1 can be imported" in answer.words
    other = [(k, "papers" if k == "kind" else v) for k, v in values]
    answer = guest.post("/stockroom/import", [*other, ("try", "1")], 422)
    assert "Say which column is “Paper”" in answer.words


def test_a_table_of_five_thousand_rows_is_sent_back_whole(guest: Visitor) -> None:
    rows = "".join(f"Κερί και κλωστή {n},length,{'σ' * 60}\n" for n in range(5_000))
    page = upload(guest, "materials", f"Name,Measure,Note\n{rows}".encode())
    data = {**dict(page.form("match_material").values), "try": "1"}
    answer = send_parts(guest, data)
    assert answer.status_code == 200
    assert "5000 can be imported" in answer.text


@pytest.mark.parametrize(
    "table", ["[" * 3000, '[["Material","Measure"],[["\\ud800x\\u0000","length"]]]']
)
def test_a_table_that_no_file_could_bring_breaks_nothing(guest: Visitor, table: str) -> None:
    page = upload(guest, "materials", b"Material,Measure\nRamie,length\n")
    values = dict(page.form("match_material").values) | {"table": table, "try": "1"}
    answer = guest.client.post("/stockroom/import", data=values)
    assert answer.status_code in (200, 422)


def test_others_write_while_a_table_is_read(
    guest: Visitor, demo_app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = importing.read_rows

    def read_while_somebody_writes(*asked: Any) -> Any:
        with transaction(sessions_of(demo_app)) as session:
            session.add(Supplier(name=f"Somebody {len(written)}", reach="", note=""))
        written.append(True)
        return real(*asked)

    written: list[bool] = []
    monkeypatch.setattr(importing, "read_rows", read_while_somebody_writes)
    page = upload(guest, "materials", b"Name,Measure\nRamie,length\n")
    page = guest.send(page, "match_material", {"+try": "1"})
    assert "1 can be imported" in page.words
    page = guest.send(page, "match_material", {"+keep": "1"})
    assert "1 row of materials imported" in page.said
    assert written == [True, True]


def test_what_is_no_table_is_told(guest: Visitor) -> None:
    assert (
        "Choose a CSV or XLSX file"
        in guest.send(guest.get("/stockroom/import"), "kind", {"+again": "1"}, 422).words
    )
    assert "cannot be read as an XLSX" in upload(guest, "materials", b"PK\x03\x04zip").words


def paste(visitor: Visitor, kind: str, text: str, status: int = 200) -> Page:
    page = visitor.get(f"/stockroom/import?kind={kind}")
    return visitor.send(page, "pasted", {"pasted": text, "+again": "1"}, status)


def test_cells_copied_from_a_spreadsheet_are_taken_like_a_file(guest: Visitor) -> None:
    page = paste(guest, "materials", "Name\tMeasure\r\nRamie, waxed\tlength\r\n")
    assert page.value("match_material") == "0"
    page = guest.send(page, "match_material", {"+keep": "1"})
    assert "1 row of materials imported" in page.said
    assert "Ramie, waxed" in guest.get("/stockroom").words
    refused = paste(guest, "materials", "\t\nRamie\tlength\n", 422)
    assert refused.error_at("pasted") == "The first row must say what the columns are."
    assert "or paste the table" in paste(guest, "materials", "  \n", 422).words


def test_a_table_pasted_over_another_takes_its_place(guest: Visitor) -> None:
    page = paste(guest, "materials", "Name\tMeasure\nRamie\tlength\n")
    page = guest.send(
        page, "pasted", {"pasted": "Name;Measure\nHemp;length\nFlax;length", "+again": "1"}
    )
    assert "2 rows, the first ones" in page.words
    assert page.value("pasted") == ""
    page = guest.send(page, "match_material", {"+try": "1"})
    assert "2 can be imported" in page.words


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ('Name\tNote\n"Kozo\t5"\nHemp\tof 2"\n', [['"Kozo', '5"'], ["Hemp", 'of 2"']]),
        ('Name\tNote\n"two\nlines"\t"a ""b"""\n', [["two\nlines", 'a "b"']]),
        ('Name\tNote\n"Kozo" paper\tx\n', [['"Kozo" paper', "x"]]),
        ("Name\nKozo, white\nHemp; raw\n", [["Kozo, white"], ["Hemp; raw"]]),
        ("\nName, short\tNote, long, or none\ra\tb\r", [["a", "b"]]),
        ('Name;Note\n"a;b";c\n', [["a;b", "c"]]),
    ],
)
def test_what_is_pasted_is_taken_cell_by_cell(text: str, rows: list[list[str]]) -> None:
    assert [list(row) for row in read_pasted(text).rows] == rows


def test_another_table_is_matched_by_its_own_heads(guest: Visitor) -> None:
    page = paste(guest, "materials", "Name\tMeasure\tNote\nWax\tmass\tfrom Anna\n")
    page = guest.send(
        page,
        "match_material",
        {"pasted": "Note\tMeasure\tName\nfrom Ben\tlength\tGlair\n", "+keep": "1"},
    )
    # Its columns are shown first; nothing is kept by those of the other.
    assert page.value("match_material") == "2"
    page = guest.send(page, "match_material", {"+keep": "1"})
    assert "Glair" in guest.get("/stockroom").words
    assert "from Ben" not in guest.get("/stockroom").words


@pytest.mark.parametrize("name", ["orders", "journals", "papers", "buy-list", "movements"])
def test_lists_are_taken_away(guest: Visitor, name: str) -> None:
    answer = guest.client.get(f"/lists/{name}.csv")
    assert answer.mimetype == "text/csv"
    assert answer.data.startswith(b"\xef\xbb\xbf")
    answer = guest.client.get(f"/lists/{name}.xlsx")
    assert answer.data.startswith(b"PK")
    assert guest.client.get(f"/lists/{name}.exe").status_code == 404
    assert guest.client.get("/lists/secrets.csv").status_code == 404


def test_the_buy_list_is_taken_away_as_it_is_on_screen(guest: Visitor) -> None:
    page = guest.get("/buying?chosen=1")
    link = next(a.get("href") or "" for a in page.all("a") if "buy-list.csv" in a.get("href", ""))
    text = guest.client.get(link).get_data(as_text=True)
    assert "Winter fair" not in text
    whole = guest.client.get("/lists/buy-list.csv").get_data(as_text=True)
    assert "Winter fair" in whole


def test_offcuts_are_kept_and_used(guest: Visitor) -> None:
    page = guest.get("/stockroom/items/sheet-1")
    page = press(guest, page, "/offcuts", {
        "sheets_cut": "2", "width_nm": "200 mm", "height_nm": "300 mm", "kept": "3",
    })  # fmt: skip
    assert "The offcuts are on the shelf" in page.said
    assert "what fits on it" in guest.get("/stockroom").words
    page = press(guest, guest.get("/stockroom/items/sheet-1"), "/use")
    assert "Saved" in page.said
    page = press(guest, page, "/offcuts", {
        "sheets_cut": "1", "width_nm": "2 m", "height_nm": "300 mm", "kept": "1",
    }, 422)  # fmt: skip
    assert "larger than its sheet" in page.words


def test_what_to_order_again_says_what_it_rests_on(guest: Visitor) -> None:
    page = guest.get("/buying/purchases/reorder")
    assert "Order at" in page.words
    assert "5 days of use in 26 weeks" in page.words
    assert "used on 1 day in" in page.words
    assert "95%" in page.words


def test_what_a_batch_was_not_sent_it_does_not_make(guest: Visitor, demo_app: Flask) -> None:
    form = guest.get("/stockroom/batches/new").form("make_1")
    sent = [(k, v) for k, v in form.filled({"make_4": "1"}) if k == "make_4" or "make_" not in k]
    assert len(sent) < len(form.values)
    page = guest.post(form.action, sent)
    assert "in progress · 1 Reed pocket book, Reeds" in page.words


def test_a_batch_is_begun_made_and_found_again(guest: Visitor, demo_app: Flask) -> None:
    page = guest.get("/stockroom/batches/new")
    names = [k for k, _ in page.form("make_1").values if k.startswith("make_")]
    nothing = dict.fromkeys(names, "")
    page = guest.send(page, "make_1", nothing, 422)
    assert "Say how many of which journal" in page.words
    page = guest.send(page, "make_1", nothing | {"make_4": "900"}, 422)
    assert "cannot be begun yet" in page.words
    short = [row for row in page.all("tr") if "sheets" in "".join(row.itertext())]
    assert short
    assert any("/stockroom/items/material-" in (a.get("href") or "") for a in page.all("a"))
    fewer = guest.send(page, "make_1", {"+enough": "1"})
    assert "There is material for the numbers below" in fewer.said
    assert 0 < int(fewer.value("make_4")) < 900
    page = guest.send(page, "make_1", nothing | {"make_4": "1"})
    assert "is begun" in page.said
    assert "How it is cut" in page.words
    assert "strokes" in page.words or "1 cut" in page.words
    # What the page says to keep is what was put in the stock, and no more is drawn.
    cells = [words(td) for td in page.all("td")]
    booked = {cell.split(" offcut ")[1] for cell in cells if " offcut " in cell}
    said = [words(p) for p in page.all("p") if words(p).startswith("Keep from each: ")]
    kept = [size for line in said for size in line[16:].split(". ")[0].split(", ")]
    assert booked
    assert set(kept) == booked
    assert sum(map(int, re.findall(r"(\d+) offcuts? kept", page.text))) == len(kept)
    page = press(guest, page, "/finish", {"minutes": "40"})
    assert "1 on the shelf" in page.said
    assert "What went into it" in page.words
    assert "Batch 1" in guest.get("/stockroom/batches").words
    page = guest.get("/stockroom/batches/new")
    page = guest.send(page, "make_1", nothing | {"make_4": "1"})
    asked = guest.get(page.path + "/cancel")
    assert "Cancel it only if nothing was cut" in asked.words
    page = press(guest, asked, "/cancel")
    assert "back in the stock" in page.said
    assert "Keep from each" not in page.words
    page = press(guest, page, "/resume")
    assert "in progress again" in page.said
    assert "Keep from each" in page.words
