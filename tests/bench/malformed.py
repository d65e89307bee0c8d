"""Malformed form posts and query strings over every route there is."""

from __future__ import annotations

import random
import sqlite3
import string
import tempfile
from datetime import date
from pathlib import Path

from sqlalchemy import Engine

from app.config import settings_for
from app.db import make_engine
from app.services.upkeep.opening import open_shop
from app.services.upkeep.rows_of_all import Summed, summed, tables_now
from seed_demo import load_demo
from tests.door import open_app
from tests.web.test_safety import FRIGHTS
from tests.web.visitor import Page, read_form

NAMES = (
    "name", "note", "quantity", "amount", "number", "version", "state", "kind", "customer", "wanted_by",
    "paid_on", "lines-0-variant", "lines-0-quantity", "packs", "counted", "why", "minutes", "form",
    "table", "photo", "phrase", "new", "again", "q", "page", "market", "variant", "structure",
)  # fmt: skip


def throw(times: int) -> tuple[int, int, int]:
    """How many were asked, broke the program, or changed data though they were refused."""
    chance = random.Random(20)
    with tempfile.TemporaryDirectory() as place:
        settings = settings_for(Path(place))
        open_shop(settings, make=True, fill=lambda session: load_demo(session, date.today()))
        app = open_app(settings)
        app.testing = False
        client = app.test_client()
        rules = [r for r in app.url_map.iter_rules() if r.endpoint not in ("static", "access.end")]
        page = Page("/shop/devices", 200, client.get("/shop/devices").text)
        token = dict(read_form(page.all("form")[0], "/shop/devices").values)["csrf_token"]
        watching = sqlite3.connect(Path(place) / "shop.sqlite3")
        engine = make_engine(settings.database_url, reads_only=True)
        broke = changed = 0
        before, known = _version(watching), _data(engine)
        for number in range(times):
            rule = rules[number % len(rules)]
            path = rule.rule
            for name in rule.arguments:
                value = chance.choice(("1", "2", "9999999999", "0", "%00", "sheet-1", "x"))
                for kind in ("int:", "path:", ""):
                    path = path.replace(f"<{kind}{name}>", value)
            values = {n: chance.choice(FRIGHTS) for n in chance.sample(NAMES, 9)}
            values["once"] = "".join(chance.choices(string.hexdigits, k=32))
            if "POST" in (rule.methods or ()) and chance.random() < 0.7:
                answer = client.post(path, data=values | {"csrf_token": token})
            else:
                answer = client.get(path, query_string=values)
            broke += answer.status_code >= 500
            now = _version(watching)
            if now != before:
                data = _data(engine)
                # What was taken is a form that made sense after all; a refusal changes nothing.
                changed += answer.status_code >= 400 and data != known
                before, known = now, data
            answer.close()
        watching.close()
        engine.dispose()
        app.extensions["engine"].dispose()
    return times, broke, changed


def _version(watching: sqlite3.Connection) -> int:
    """Goes on whenever another connection commits."""
    [(found,)] = watching.execute("PRAGMA data_version")
    return int(found)


def _data(engine: Engine) -> dict[str, Summed]:
    with engine.connect() as connection:
        return summed(connection, [t for t in tables_now() if t.name != "kept_plan"])
