"""Figures and typing on the pages, each as it once went wrong."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal

import pytest
from flask import Flask

from app.core.length import INCH
from app.core.states import OrderState
from app.db import transaction
from app.models import Batch, Design, Order, Shop
from tests.web.conftest import sessions_of
from tests.web.test_found_by_attack import press
from tests.web.visitor import Visitor, words


def shop_of(app: Flask) -> Shop:
    with transaction(sessions_of(app)) as session:
        return session.query(Shop).one()


def test_units_and_measures_change_in_one_save(visitor: Visitor, empty_app: Flask) -> None:
    """Switched to inches, 19 1/2 in the same form is inches."""
    visitor.send(visitor.get("/shop"), "unit", {"unit": "in", "longest_cut_nm": "19 1/2"})
    shop = shop_of(empty_app)
    assert (shop.unit, shop.longest_cut_nm) == ("in", 39 * INCH // 2)


@pytest.mark.parametrize(
    ("style", "typed", "kept"),
    [("point", "1,234.50", "1234.50"), ("comma", "1.234,50", "1234.50"),
     ("point", "1'234.50", "1234.50"), ("comma", "12,5", "12.50")],
)  # fmt: skip
def test_numbers_are_read_in_the_style_chosen_in_the_same_form(
    visitor: Visitor, empty_app: Flask, style: str, typed: str, kept: str
) -> None:
    page = visitor.get("/shop")
    names = [value for value, _ in page.options("number_style")]
    assert style in names
    visitor.send(page, "unit", {"number_style": style, "overhead_a_year": typed})
    assert f"{shop_of(empty_app).overhead_a_year:.2f}" == kept


@pytest.mark.parametrize("typed", ["0.5", "1.9", "1441", "-1", "closed"])
def test_bench_minutes_are_whole_minutes_of_a_day(visitor: Visitor, typed: str) -> None:
    page = visitor.send(visitor.get("/shop"), "unit", {"monday": typed}, 422)
    assert page.error_at("monday")
    assert page.value("monday") == typed


@pytest.mark.parametrize(
    ("typed", "hours"),
    [("12", "12"), ("1 1/2", "1.5"), ("1½", "1.5"), ("20 min", "0.3333"), ("90 min", "1.5"),
     ("1 h 30", "1.5"), ("1/2", "0.5")],
)  # fmt: skip
def test_waiting_is_typed_in_hours_however_it_is_spelt(
    stocked: Visitor, typed: str, hours: str
) -> None:
    stocked.send(stocked.get("/shop/times/cut"), "waiting_hours", {"waiting_hours": typed})
    assert stocked.get("/shop/times/cut").value("waiting_hours") == hours


@pytest.mark.parametrize("typed", ["12€50", "1€50", "12£50"])
def test_a_sign_inside_an_amount_is_refused(stocked: Visitor, typed: str) -> None:
    page = stocked.send(stocked.get("/orders/1"), "paid_on", {"amount": typed}, 422)
    assert page.error_at("amount")
    assert stocked.send(page, "paid_on", {"amount": "€12.50", "how": "cash"})
    assert "12.50" in stocked.get("/orders/1").words


def test_twelve_typed_is_twelve_stored(stocked: Visitor, empty_app: Flask) -> None:
    """The number made together belongs to the design, whatever the shop's rule becomes."""
    stocked.send(stocked.get("/journals/1"), "leaf_height", {"batch": "25"})
    stocked.send(stocked.get("/shop"), "unit", {"batch_size": "7"})
    assert stocked.get("/journals/1").value("batch") == "25"
    assert "What one costs, in a batch of 25" in stocked.get("/journals/1").words
    stocked.send(stocked.get("/journals/1"), "leaf_height", {"batch": "7"})
    with transaction(sessions_of(empty_app)) as session:
        assert {d.batch_size for d in session.query(Design)} <= {7, None}


def test_a_one_off_is_costed_as_the_one_it_is(guest: Visitor, demo_app: Flask) -> None:
    guest.send(guest.get("/journals/1"), "leaf_height", {"leaf_height": "175 mm", "+one_off": "1"})
    with transaction(sessions_of(demo_app)) as session:
        made = session.query(Design).filter(Design.one_off).order_by(Design.id.desc()).first()
        assert made is not None
        assert made.batch_size == 1
        variant = made.variants[0].id
    page = guest.get(f"/journals/1/variants/{variant}")
    assert "What one costs, in a batch of 1" in page.words


def table(guest: Visitor, name: str) -> list[dict[str, str]]:
    answer = guest.client.get(f"/lists/{name}.csv")
    return list(csv.DictReader(io.StringIO(answer.get_data(as_text=True).lstrip("\ufeff"))))


def test_movements_are_numbers_with_their_unit_and_offcuts_are_apart(guest: Visitor) -> None:
    rows = table(guest, "movements")
    assert {"Quantity", "Unit"} <= set(rows[0])
    assert all(float(row["Quantity"]) for row in rows)
    page = guest.get("/stockroom/items/sheet-1")
    whole: dict[tuple[str, str], float] = {}
    for row in rows:
        if not row["Unit"].startswith("offcut"):
            key = (row["Thing"], row["Unit"])
            whole[key] = whole.get(key, 0) + float(row["Quantity"])
    assert any(row["Unit"].startswith("offcut ") for row in rows)
    heading = words(page.all("h1")[0])
    [here] = [number for (thing, _), number in whole.items() if thing == heading]
    assert here > 0
    assert f"{int(here)} sheets" in page.words


def test_what_is_paid_and_to_pay_adds_up_over_the_list(guest: Visitor, demo_app: Flask) -> None:
    rows = table(guest, "orders")
    with transaction(sessions_of(demo_app)) as session:
        orders = session.query(Order).all()
        paid, owed = sum(o.paid for o in orders), sum(o.balance for o in orders)
    assert sum(float(row["Paid"] or 0) for row in rows) == pytest.approx(float(paid))
    assert sum(float(row["To pay"] or 0) for row in rows) == pytest.approx(float(owed))


def test_a_stall_fee_stands_once_in_the_list(guest: Visitor) -> None:
    rows = table(guest, "markets")
    for market in {row["Market"] for row in rows}:
        fees = [row["Stall fee"] for row in rows if row["Market"] == market and row["Stall fee"]]
        assert len(fees) == 1


def test_no_bench_hours_promise_no_day(stocked: Visitor) -> None:
    days = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    press(stocked, stocked.get("/orders/1"), "Accept")
    assert "in the hours of your week" in stocked.get("/buying").words
    stocked.send(stocked.get("/shop"), "unit", dict.fromkeys(days, "0"))
    page = stocked.get("/buying")
    assert "in the hours of your week" not in page.words
    assert "Your week has no bench hours in the settings yet" in page.words


def test_full_width_digits_break_nothing(guest: Visitor) -> None:
    for path in ("/orders?page=２", "/buying/cutting?batch=１", "/journals/compare?with=１",
                 "/orders/new?variant=１", "/buying?market=１&chosen=1"):  # fmt: skip
        guest.get(path)


def test_a_made_batch_cannot_be_cancelled(guest: Visitor) -> None:
    answer = guest.client.get("/stockroom/batches/1/cancel")
    assert answer.status_code == 302
    assert "nothing to cancel" in guest.get("/stockroom/batches/1").said


def pennies(text: str) -> int:
    """An amount shown, in pennies."""
    return round(float(re.sub(r"[^\d.\-]", "", text.replace("−", "-"))) * 100)


def test_the_columns_of_a_batch_add_up_to_their_sums_as_shown(
    guest: Visitor, demo_app: Flask
) -> None:
    """67.70 and 33.85 stood beside 101.55 with one penny more or less."""
    with transaction(sessions_of(demo_app)) as session:
        batches = [b.id for b in session.query(Batch).filter(Batch.state == "made")]
    assert len(batches) > 3
    for number in batches:
        page = guest.get(f"/stockroom/batches/{number}")
        sums = []
        for table in page.all("table"):
            costs = [pennies(words(td)) for td in table.iter() if td.get("data-label") == "Cost"]
            if not costs:
                continue
            [total] = [
                pennies(words(td))
                for row in table.iter() if "sum" in (row.get("class") or "")
                for td in row.iter() if td.get("class") == "n"
            ]  # fmt: skip
            assert sum(costs) == total
            sums.append(total)
        [said] = [words(p) for p in page.all("p") if "at the bench with overhead" in words(p)]
        materials, work, total = map(pennies, re.findall(r"£[\d,]+\.\d\d", said))
        assert materials + work == total
        assert sums == [total, materials]


def test_the_hours_of_a_markets_list_are_one_figure(guest: Visitor) -> None:
    """The head, the table's sum and the sentence about enough hours say the same."""
    page = guest.get("/markets/1")
    [said] = re.findall(r"To make for it: ((?:\d+ h )?\d+ (?:min|h)) at the bench", page.words)
    [table] = [t for t in page.all("table") if t.get("id") == "takes"]
    assert said in words(table)
    assert page.words.count(said) >= 2


def test_what_an_hour_is_to_bring_is_one_figure(guest: Visitor) -> None:
    """A day at the stall is held against pay and overhead, as the takings are."""
    day = guest.get("/markets/3/earned").words
    [asked] = re.findall(r"(?:You reckon with|That is less than the) (£\d+\.\d\d)", day)
    assert f"You reckon {asked} an hour" in guest.get("/takings").words


def test_what_is_delivered_and_not_paid_stands_on_today(guest: Visitor, demo_app: Flask) -> None:
    """As the list of such orders has it; nothing is said where all is settled."""
    assert unsettled(guest) == ""
    with transaction(sessions_of(demo_app)) as session:
        owing = session.query(Order).filter(Order.number.in_((24, 25))).all()
        for order in owing:
            order.state = OrderState.DELIVERED
        balance = sum(order.balance for order in owing)
    said = f"2 orders that are over are not settled: £{balance:.2f} is still to come."
    assert unsettled(guest) == said
    listed = guest.get("/orders?state=unsettled")
    [table] = listed.all("table")
    left = [words(td) for td in table.iter() if td.get("data-label") == "To pay"]
    assert len(left) == 2
    assert sum(map(pennies, left)) == balance * 100
    with transaction(sessions_of(demo_app)) as session:
        session.query(Order).filter(Order.number == 24).one().state = OrderState.READY
    assert unsettled(guest) == "1 order that is over is not settled: £98.00 is still to come."


def unsettled(guest: Visitor) -> str:
    """What Today says beside its link, a moment after it stands."""
    [link] = [a for a in guest.get("/").all("a") if a.get("data-says-at")]
    assert link.get("href") == "/orders?state=unsettled"
    return str(guest.client.get(link.get("data-says-at", "")).json["says"])


def test_what_each_supplier_gets_adds_up_to_the_list(guest: Visitor) -> None:
    page = guest.get("/buying")
    tables = {t.get("id"): t for t in page.all("table")}

    def rows(name: str, tag: str) -> list[list[str]]:
        [part] = [e for e in tables[name] if e.tag.endswith(tag)]
        return [[words(cell) for cell in row] for row in part]

    suppliers, lines = rows("suppliers", "tbody"), rows("to-buy", "tbody")
    for name, order_by, things, packs, cost in suppliers:
        theirs = [line for line in lines if line[3].startswith(name)]
        assert len(theirs) == int(things)
        assert sum(int(line[2].split()[0]) for line in theirs) == int(packs)
        assert sum(Decimal(line[4]) for line in theirs) == Decimal(cost)
        assert theirs[0][0].startswith(order_by)
    whole = rows("to-buy", "tfoot")[0][1]
    assert f"£{sum(Decimal(row[4]) for row in suppliers):.2f}" == whole
    assert suppliers == sorted(
        suppliers,
        key=lambda row: lines.index(next(line for line in lines if line[3].startswith(row[0]))),
    )
