"""Nobody comes in who was not let in, and no other site's page does anything.

Numbers are those of OWASP ASVS 5.0.0, level 1.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.config import Settings
from app.models import Customer
from app.services.access import passphrase
from app.services.access.devices import new_entry
from app.services.upkeep.rows_of_all import Summed, summed, tables_now
from app.web.frame.door import OPEN_TO_ALL, Door
from tests.web.conftest import sessions_of
from tests.web.visitor import Page, Visitor, read_form

PHRASE = "gulls over the mud"


@pytest.fixture
def shut(empty_settings: Settings) -> Iterator[Flask]:
    """An application whose clients were not let in."""
    app = create_app(empty_settings)
    app.testing = True
    yield app
    app.extensions["engine"].dispose()


def door_of(app: Flask) -> Door:
    found: Door = app.extensions["door"]
    return found


def coming(app: Flask) -> FlaskClient:
    return app.test_client()


def token(client: FlaskClient, path: str) -> str:
    """The key against forgery of the form on a page."""
    answer = client.get(path)
    return str(
        dict(read_form(Page(path, 200, answer.text).all("form")[0], path).values)["csrf_token"]
    )


def test_no_page_is_shown_to_whoever_was_not_let_in(shut: Flask) -> None:
    # 8.2.1, 8.2.2, 8.3.1: on the server, for every route there is and for those that are not.
    client = coming(shut)
    asked = 0
    for rule in shut.url_map.iter_rules():
        path = re.sub(r"<[^>]+>", "1", rule.rule)
        if rule.endpoint in OPEN_TO_ALL:
            continue
        for method in rule.methods or ():
            answer = client.open(path, method=method)
            assert answer.status_code in (400, 401), (method, path, answer.status_code)
            assert "Workshop" not in answer.text
            asked += 1
    assert asked > 250
    assert client.get("/nowhere").status_code == 401


def test_the_way_in_is_the_printed_address_once(shut: Flask, empty_settings: Settings) -> None:
    key = new_entry(empty_settings.folder)
    client = coming(shut)
    page = Page("/", 401, client.get("/").text)
    assert "Closed to this browser" in page.words
    assert "tallyfold address" in page.words
    assert client.get("/enter/wrong").status_code == 401
    answer = client.get(f"/enter/{key}")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/")
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert client.get("/").status_code == 200
    other = coming(shut)
    assert "used already" in other.get(f"/enter/{key}").text
    assert other.get("/").status_code == 401


def test_two_shops_of_a_computer_have_cookies_of_their_own(
    empty_app: Flask, demo_app: Flask
) -> None:
    names = {app.config["SESSION_COOKIE_NAME"] for app in (empty_app, demo_app)}
    names |= {door_of(app).cookie for app in (empty_app, demo_app)}
    assert len(names) == 4


def chosen(settings: Settings) -> None:
    passphrase.choose(settings.folder, PHRASE, PHRASE)


def phone(app: Flask) -> dict[str, str]:
    """A request as it comes from the home network, over TLS."""
    return {"base_url": "https://127.0.0.1/"}


def send_phrase(client: FlaskClient, app: Flask, typed: str, then: str = "") -> object:
    page = client.get("/sign-in", query_string={"then": then} if then else {}, **phone(app))
    values = dict(read_form(Page("/sign-in", 200, page.text).all("form")[0], "/sign-in").values)
    return client.post(
        "/sign-in",
        data=values | {"phrase": typed},
        headers={"Referer": "https://127.0.0.1/sign-in"},
        **phone(app),
    )


def test_a_second_device_comes_in_by_the_passphrase(shut: Flask, empty_settings: Settings) -> None:
    client = coming(shut)
    assert client.get("/sign-in", **phone(shut)).status_code == 401
    chosen(empty_settings)
    asked = client.get("/stockroom?q=x", **phone(shut))
    assert asked.headers["Location"] == "/sign-in?then=/stockroom?q%3Dx"
    wrong = send_phrase(client, shut, PHRASE.upper())
    assert wrong.status_code == 422
    assert PHRASE.upper() not in wrong.text
    right = send_phrase(client, shut, PHRASE, "/stockroom?q=x")
    assert (right.status_code, right.headers["Location"]) == (302, "/stockroom?q=x")
    [cookie] = [c for c in right.headers.getlist("Set-Cookie") if "_key=" in c]
    # 3.3.1 Secure; 14.2.1 no secret in an address.
    assert "Secure" in cookie
    assert cookie.split("=")[1].split(";")[0] not in right.headers["Location"]
    assert client.get("/", **phone(shut)).headers["Strict-Transport-Security"]
    found = door_of(shut).devices.all()
    assert [one.by for one in found] == ["the passphrase"]


def test_a_new_way_in_makes_the_old_cookie_worthless(shut: Flask, empty_settings: Settings) -> None:
    # 7.2.4: a new token at each coming in.
    chosen(empty_settings)
    client = coming(shut)
    send_phrase(client, shut, PHRASE)
    first = client.get_cookie(door_of(shut).cookie, "127.0.0.1")
    send_phrase(client, shut, PHRASE)
    second = client.get_cookie(door_of(shut).cookie, "127.0.0.1")
    assert first is not None
    assert second is not None
    assert first.value != second.value
    old = coming(shut)
    old.set_cookie(door_of(shut).cookie, first.value, domain="127.0.0.1")
    assert old.get("/shop", **phone(shut)).status_code == 302


@pytest.mark.parametrize(
    "then",
    ["//evil.example/", "https://evil.example/", "/\\evil.example", "evil", "\n//x", "/a\r\nb"],
)
def test_nobody_is_led_elsewhere(shut: Flask, empty_settings: Settings, then: str) -> None:
    chosen(empty_settings)
    assert send_phrase(coming(shut), shut, PHRASE, then).headers["Location"] == "/"


def test_wrong_ones_are_counted_and_then_one_waits(shut: Flask, empty_settings: Settings) -> None:
    chosen(empty_settings)
    client = coming(shut)
    for _ in range(5):
        assert send_phrase(client, shut, "wrong one here").status_code == 422
    last = send_phrase(client, shut, PHRASE)
    assert last.status_code == 429
    assert "wait 15 min" in last.text


def test_the_passphrase_is_changed_by_whoever_knows_it(
    visitor: Visitor, empty_settings: Settings
) -> None:
    page = visitor.get("/shop/devices")
    page = visitor.send(page, "new", {"new": PHRASE, "again": "else"}, 422)
    assert page.error_at("again") == "This is not what stands above."
    page = visitor.send(visitor.get("/shop/devices"), "new", {"new": PHRASE, "again": PHRASE})
    assert "The passphrase is kept" in page.said
    # 6.2.3: the current one is needed.
    changes = {"current": "no", "new": "reeds in the wind", "again": "reeds in the wind"}
    page = visitor.send(page, "new", changes, 422)
    assert page.error_at("current") == "That is not the passphrase there is."
    page = visitor.send(page, "new", changes | {"current": PHRASE})
    assert passphrase.fits(empty_settings.folder, "reeds in the wind")
    # 6.2.6, 6.2.7: masked, and a manager may fill it in.
    fields = {i.get("name"): i for i in page.all("input")}
    assert fields["new"].get("type") == "password"
    assert fields["new"].get("autocomplete") == "new-password"


def test_a_browser_is_ended_and_so_are_all_others(empty_app: Flask, visitor: Visitor) -> None:
    devices = door_of(empty_app).devices
    others = [devices.admit(f"Phone {n}", "test") for n in range(3)]
    page = visitor.get("/shop/devices")
    assert "Phone 0" in page.words
    [first] = [one for one in devices.all() if one.name == "Phone 0"]
    data = {
        "csrf_token": dict(page.form("number").values)["csrf_token"],
        "number": str(first.number),
    }
    page = visitor.post("/shop/devices/end", list(data.items()))
    assert "1 browser has to come in anew" in page.said
    assert devices.known(others[0]) is None
    page = visitor.post("/shop/devices/end", [*{**data, "number": "others"}.items()])
    assert "2 browsers have" in page.said
    assert len(devices.all()) == 1
    own = devices.all()[0].number
    answer = visitor.client.post("/shop/devices/end", data=data | {"number": str(own)})
    # 7.4.1, 14.3.1.
    assert answer.headers["Clear-Site-Data"] == '"cache", "storage"'
    assert visitor.client.get("/").status_code == 401


FOREIGN = [
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
    {"Origin": "https://evil.example"},
    {"Origin": "null"},
    {"Origin": "http://127.0.0.1:9999", "Sec-Fetch-Site": "same-site"},
]


@pytest.mark.parametrize("headers", FOREIGN)
def test_another_sites_form_changes_nothing(
    empty_app: Flask, visitor: Visitor, headers: dict[str, str]
) -> None:
    # 3.4.2, 3.5.1, 3.5.2.
    page = visitor.get("/orders/new")
    values = dict(page.form("customer").values)
    answer = visitor.client.post(
        "/stockroom/papers/new", data=values | {"name": "Evil"}, headers=headers
    )
    assert answer.status_code == 403
    assert "Not from here" in answer.text


def test_its_own_forms_are_taken(visitor: Visitor) -> None:
    page = visitor.get("/shop/channels/new")
    values = dict(page.form("name").values) | {
        "name": "Fair",
        "margin": "30",
        "fee_rate": "0",
        "fixed_fee": "0",
    }
    for headers in (
        {"Sec-Fetch-Site": "same-origin", "Origin": "http://localhost"},
        {"Sec-Fetch-Site": "none"},
    ):
        values["name"] += "s"
        values["once"] = values["name"]
        answer = visitor.client.post("/shop/channels/new", data=values, headers=headers)
        assert answer.status_code == 302


def test_another_sites_page_may_lead_here_but_not_look(visitor: Visitor) -> None:
    lead = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
    assert visitor.client.get("/", headers=lead).status_code == 200
    look = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "image"}
    assert visitor.client.get("/", headers=look).status_code == 403
    answer = visitor.client.get("/")
    assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "Access-Control-Allow-Origin" not in answer.headers


def test_nothing_is_changed_by_looking(demo_app: Flask, guest: Visitor) -> None:
    # 3.5.3; plans that were worked out are kept, and are no data of the maker's.
    def data() -> dict[str, Summed]:
        with demo_app.extensions["engine"].connect() as connection:
            connection.execution_options(reads_only=True)
            return summed(connection, [t for t in tables_now() if t.name != "kept_plan"])

    before = data()
    for path in ("/", "/orders/26", "/orders/26/deliver", "/orders/26/cancel", "/journals/1",
                 "/stockroom/items/material-1", "/stockroom/batches/1", "/buying", "/markets/1",
                 "/shop", "/shop/devices", "/shop/backups", "/orders/customers/1/erase"):  # fmt: skip
        guest.get(path)
    assert data() == before


def test_backups_are_made_and_carried_away_on_a_page(
    empty_app: Flask, visitor: Visitor, empty_settings: Settings
) -> None:
    page = visitor.get("/shop/backups")
    assert "There is none yet" in page.words
    page = visitor.send(page, "csrf_token", {})
    assert "is made and verified" in page.said
    [name] = [p.name for p in (empty_settings.folder / "backups").iterdir()]
    answer = visitor.client.get(f"/shop/backups/{name}")
    assert answer.mimetype == "application/zip"
    assert answer.data.startswith(b"PK")
    answer.close()
    for wrong in ("..%2Fform.key", "form.key", name + "x"):
        assert visitor.client.get(f"/shop/backups/{wrong}").status_code == 404
    with sessions_of(empty_app)() as session:
        assert session.query(Customer).count() == 0
