"""Two windows on one record: the second is told, sees what is saved now, and keeps its typing."""

from __future__ import annotations

import pytest

from tests.web.visitor import Visitor

RECORDS = [
    ("/stockroom/papers/1", "name", "Laid, new", "Laid, mine"),
    ("/stockroom/papers/1/sheets/1", "trim_nm", "3 mm", "4 mm"),
    ("/stockroom/suppliers/1", "name", "Corner, new", "Corner, mine"),
    ("/stockroom/materials/1", "name", "Thread, new", "Thread, mine"),
    ("/shop/channels/1", "name", "Direct, new", "Direct, mine"),
    ("/shop/times/sew", "minutes_each", "2", "3"),
    ("/journals/1/name", "name", "Plain, new", "Plain, mine"),
    ("/orders/customers/1", "name", "Ada, new", "Ada, mine"),
    ("/orders/1/change", "note", "new", "mine"),
]


@pytest.mark.parametrize(("path", "field", "theirs", "mine"), RECORDS)
def test_the_second_window_sees_what_is_saved_now(
    stocked: Visitor, path: str, field: str, theirs: str, mine: str
) -> None:
    first, second = stocked.get(path), stocked.get(path)
    stocked.send(first, field, {field: theirs})
    told = stocked.send(second, field, {field: mine}, 422)
    assert "another window" in told.words
    assert f"Saved now: {theirs.removesuffix(' mm')}" in told.words
    assert told.value(field) == mine
    # Having seen it, saving once more is meant.
    stocked.send(told, field, {})
    assert stocked.get(path).value(field).startswith(mine.removesuffix(" mm"))


def test_a_postage_step_is_told_too(stocked: Visitor) -> None:
    stocked.send(
        stocked.get("/shop/postage/new"), "price",
        {"name": "Letter", "price": "2.00", "most_grams": "100", "long_nm": "240", "wide_nm": "165", "thick_nm": "5"},
    )  # fmt: skip
    path = "/shop/postage/1"
    first, second = stocked.get(path), stocked.get(path)
    stocked.send(first, "price", {"price": "2.50"})
    told = stocked.send(second, "price", {"price": "3.00"}, 422)
    assert "Saved now: 2.50" in told.words
    assert told.value("price") == "3.00"


def test_the_settings_are_told_too(stocked: Visitor) -> None:
    first, second = stocked.get("/shop"), stocked.get("/shop")
    stocked.send(first, "pay_per_hour", {"pay_per_hour": "17"})
    told = stocked.send(second, "pay_per_hour", {"pay_per_hour": "18"}, 422)
    assert "Saved now: 17.00" in told.words
    assert told.value("pay_per_hour") == "18"


def test_settings_sent_twice_are_saved_once(stocked: Visitor) -> None:
    form = stocked.get("/shop").form("pay_per_hour")
    values = form.filled({"pay_per_hour": "17"})
    stocked.post(form.action, values)
    again = stocked.post(form.action, values)
    assert "another window" not in again.words


def test_a_take_list_shows_what_is_saved_now(guest: Visitor) -> None:
    path = "/markets/1"
    first, second = guest.get(path), guest.get(path)
    field = next(name for name, _ in first.form("version").values if name.startswith("take-"))
    guest.send(first, field, {field: "91"})
    told = guest.send(second, field, {field: "44"}, 422)
    assert "Saved now: 91" in told.words
    assert told.value(field) == "44"


def test_putting_away_in_two_windows_puts_away(guest: Visitor) -> None:
    for path, away in (("/stockroom/papers/2", "/stockroom/papers/2/away"),
                       ("/stockroom/materials/2", "/stockroom/materials/2/away"),
                       ("/journals/5/name", "/journals/5/away")):  # fmt: skip
        forms = []
        for _ in range(2):
            page = guest.get(path)
            values = next(
                (form.get("action"), [(i.get("name") or "", i.get("value") or "")
                                      for i in form.iter() if i.get("type") == "hidden"])
                for form in page.all("form") if form.get("action") == away
            )  # fmt: skip
            forms.append(values[1])
        for values in forms:
            said = guest.post(away, values).said
            assert "Put away" in said
            assert "Brought back" not in said
