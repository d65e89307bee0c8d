"""Who is let in, what a page may run, and what a forged or doubled form does: nothing."""

from __future__ import annotations

import random
import string

import pytest
from flask import Flask
from sqlalchemy import text

from app.db import transaction
from tests.web.conftest import sessions_of
from tests.web.visitor import Visitor, read_form


def digest(app: Flask) -> list[tuple[str, int]]:
    """How many rows every table has."""
    with transaction(sessions_of(app)) as session:
        tables = session.execute(text("SELECT name FROM sqlite_master WHERE type = 'table'"))
        return [
            (name, session.execute(text(f"SELECT count(*) FROM {name}")).scalar_one())  # noqa: S608
            for (name,) in tables.all()
        ]


def test_every_answer_carries_its_safeguards(guest: Visitor) -> None:
    answer = guest.client.get("/journals/1")
    policy = answer.headers["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    cookie = answer.headers.get("Set-Cookie", "")
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


@pytest.mark.parametrize("path", ["/", "/orders", "/journals/1", "/buying", "/shop", "/markets/1"])
def test_pages_carry_no_inline_code(guest: Visitor, path: str) -> None:
    page = guest.get(path)
    for element in page.tree.iter():
        assert element.get("style") is None
        assert not [name for name in element.keys() if name.startswith("on")]  # noqa: SIM118
    assert all(script.get("src") for script in page.all("script"))
    assert not page.all("style")


def test_a_strange_host_is_not_served(guest: Visitor) -> None:
    assert guest.client.get("/", headers={"Host": "evil.example"}).status_code == 400


def test_a_form_without_its_key_changes_nothing(guest: Visitor, demo_app: Flask) -> None:
    before = digest(demo_app)
    answer = guest.client.post("/markets/new", data={"name": "x"})
    assert answer.status_code == 400
    assert "gone stale" in answer.text
    assert digest(demo_app) == before


def test_a_form_sent_twice_is_done_once(stocked: Visitor, empty_app: Flask) -> None:
    form = stocked.get("/orders/new").form("customer")
    values = form.filled({"customer": "Twice", "lines-0-variant": "1", "lines-0-quantity": "2"})
    first = stocked.post(form.action, values)
    assert "is saved" in first.said
    before = digest(empty_app)
    second = stocked.post(form.action, values)
    assert "not done twice" in second.said
    assert second.path == first.path
    assert digest(empty_app) == before


def test_a_payment_sent_twice_is_taken_once(stocked: Visitor) -> None:
    form = stocked.get("/orders/1").form("paid_on")
    values = form.filled({"amount": "5.00"})
    stocked.post(form.action, values)
    stocked.post(form.action, values)
    assert "155.00" in stocked.get("/orders/1").words


def test_a_stale_window_is_told_and_keeps_what_was_typed(stocked: Visitor) -> None:
    mine, theirs = stocked.get("/orders/1/change"), stocked.get("/orders/1/change")
    stocked.send(theirs, "wanted_by", {"note": "theirs"})
    page = stocked.send(mine, "wanted_by", {"note": "mine"}, 422)
    assert "another window" in page.words
    assert page.value("note") == "mine"
    again = stocked.send(page, "wanted_by", {})
    assert "mine" in again.words


def test_names_are_shown_as_they_were_typed(stocked: Visitor) -> None:
    nasty = "<script>alert(1)</script> & “Söhne” {{ 7*7 }}"
    page = stocked.send(
        stocked.get("/orders/new"), "customer",
        {"customer": nasty, "lines-0-variant": "1", "lines-0-quantity": "1"},
    )  # fmt: skip
    assert nasty in page.words
    assert not [s for s in page.all("script") if "alert" in (s.text or "")]


def test_what_is_too_large_is_refused(stocked: Visitor) -> None:
    answer = stocked.client.post("/orders/new", data={"note": "x" * 3_000_000})
    assert answer.status_code == 413


FRIGHTS = (
    "", " ", "0", "-1", "1e999", "NaN", "٣", "½", "'", '"', "<b>", "%", "\x00", "../../etc",
    "9" * 400, "1/0", "2027-02-30", "0000-00-00", "{{x}}", "😀" * 50, "true", "null", "1,5", "1.5",
    "-0", "1 000", "100%", "4 1/2 in", "1e5 mm", "\u202eabc",
)  # fmt: skip
FORMS = (
    "/orders/new", "/journals/new", "/journals/1", "/stockroom/papers/new", "/stockroom/papers/1",
    "/stockroom/papers/1/sheets/new", "/stockroom/materials/new", "/stockroom/suppliers/new",
    "/stockroom/items/sheet-1/offers/new", "/stockroom/items/sheet-1", "/markets/new", "/markets/1",
    "/markets/1/change", "/shop", "/shop/channels/1", "/shop/times/sew", "/orders/26/change",
    "/orders/26", "/journals/1/name", "/orders/26/papers", "/orders/30/papers", "/shop/papers",
    "/orders/customers/1", "/orders/customers/1/erase", "/orders/26/deliver", "/orders/1/back",
    "/stockroom/batches/new", "/markets/1/close", "/markets/1/stall",
)  # fmt: skip


@pytest.mark.parametrize("path", FORMS)
def test_frightful_input_breaks_nothing(guest: Visitor, path: str) -> None:
    chance = random.Random(path)
    page = guest.get(path)
    forms = [f for f in page.all("form") if f.get("method") == "post"]
    for _ in range(25):
        element = chance.choice(forms)
        form = read_form(element, path)
        changes = {
            name: chance.choice(FRIGHTS)
            for name, _ in form.values
            if name not in ("csrf_token", "once") and chance.random() < 0.4
        }
        fresh = {"once": "".join(chance.choices(string.hexdigits, k=32))}
        values = form.filled(changes | ({"+once": fresh["once"]} if changes else {}))
        answer = guest.client.post(form.action, data=dict(values))
        assert answer.status_code in (302, 400, 404, 409, 422), (changes, answer.text[:2000])


@pytest.mark.parametrize(
    "path",
    [
        "/orders",
        "/orders/price",
        "/buying",
        "/orders/new",
        "/journals/new",
        "/lists/calendar.ics",
        "/orders/26/slip.pdf",
        "/journals/1/variants/1/first-batch",
        "/stockroom/import",
    ],
)
def test_frightful_queries_break_nothing(guest: Visitor, path: str) -> None:
    for fright in FRIGHTS:
        query = dict.fromkeys(
            ("q", "state", "page", "market", "chosen", "variant", "channel", "structure", "again",
             "delivery", "kind", "count", "rate", "practised"), fright
        )  # fmt: skip
        assert guest.client.get(path, query_string=query).status_code in (200, 404, 422)
