"""What a page shows is what is drafted: after a restart, and where something changed, it asks."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import select
from sqlalchemy import text as sql
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from app.config import Settings, settings_for
from app.db import transaction
from app.models import KeptPlan, Purchase
from app.services.planning import plans
from app.services.stock import ledger as stock
from app.web.frame import session as web_session
from tests.conftest import count
from tests.door import open_app
from tests.postgres import Cluster
from tests.web.buying.test_purchases import forms
from tests.web.conftest import sessions_of
from tests.web.test_postgres import _fill
from tests.web.visitor import Visitor


def drafting(page: object) -> object:
    return next(f for f in forms(page) if f.action.endswith("/purchases/draft"))  # type: ignore[arg-type]


def money_drafted(app: Flask) -> Decimal:
    with sessions_of(app)() as session:
        rows = session.scalars(select(Purchase).where(Purchase.state == "draft"))
        return sum((x.packs * x.pack_price for row in rows for x in row.lines), Decimal(0))


def test_shown_killed_started_anew_and_drafted_for_the_same_money(
    demo_settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = open_app(demo_settings)
    page = Visitor(first).get("/buying")
    shown = next(e for e in page.all("span") if e.get("class") == "big").text or ""
    first.extensions["engine"].dispose()
    second = open_app(demo_settings)
    # Not one plan is worked out again: what was shown is what is drafted.
    monkeypatch.setattr(plans, "answer_paper", lambda *_: pytest.fail("worked out again"))
    monkeypatch.setattr(web_session, "solve", lambda *_: pytest.fail("worked out again"))
    guest = Visitor(second)
    assert guest.get("/buying").words == page.words
    form = drafting(guest.get("/buying"))
    assert "Drafted for" in guest.post(form.action, form.values).said  # type: ignore[attr-defined]
    assert f"£{money_drafted(second):,.2f}" == shown
    second.extensions["engine"].dispose()


def test_a_list_that_changed_since_is_shown_and_asks(demo_app: Flask, guest: Visitor) -> None:
    form = drafting(guest.get("/buying"))
    with transaction(sessions_of(demo_app)) as session:
        thing = stock.find_item(session, "sheet-1")
        assert thing is not None
        stock.receive(session, thing, 300, Decimal(90), web_session.today())
    page = guest.post(form.action, form.values)  # type: ignore[attr-defined]
    assert "The list is not as it was shown." in page.said
    assert "Nothing is drafted yet" in page.said
    with sessions_of(demo_app)() as session:
        assert count(session, "purchase_line") == 0 or money_drafted(demo_app) == 0
    # Looked over, the same click drafts.
    form = drafting(page)
    assert "Drafted for" in guest.post(form.action, form.values).said  # type: ignore[attr-defined]
    assert money_drafted(demo_app) > 0


def test_a_change_works_its_plans_out_with_no_transaction_open(
    demo_app: Flask, guest: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine, seen = demo_app.extensions["engine"], []
    as_it_is = web_session.solve

    def watched(problem: object) -> object:
        seen.append(engine.pool.checkedout())
        return as_it_is(problem)  # type: ignore[arg-type]

    monkeypatch.setattr(web_session, "solve", watched)
    page = guest.get("/stockroom/batches/new")
    with transaction(sessions_of(demo_app)) as session:
        for row in session.scalars(select(KeptPlan)):
            session.delete(row)
    form = page.form("make_1")
    none = {name: "" for name, _ in form.values if name.startswith("make_")}
    answer = guest.client.post(form.action, data=dict(form.filled(none | {"make_1": "1"})))
    assert answer.status_code in (302, 422)
    assert seen
    assert set(seen) == {0}


def test_a_full_disk_has_a_clear_page_and_nothing_is_kept(
    demo_app: Flask, guest: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = drafting(guest.get("/buying"))

    def full(self: Session) -> None:
        raise OperationalError("COMMIT", {}, Exception("database or disk is full"))

    with monkeypatch.context() as patched:
        patched.setattr(Session, "commit", full)
        page = guest.post(form.action, form.values, 503)  # type: ignore[attr-defined]
    assert "The database does not answer" in page.words
    assert money_drafted(demo_app) == 0
    # Nothing of it stays behind, and the same form can be sent again.
    assert "Drafted for" in guest.post(form.action, form.values).said  # type: ignore[attr-defined]
    assert money_drafted(demo_app) > 0


@pytest.mark.postgresql
def test_shown_and_drafted_by_two_programs_over_postgresql(
    postgres: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = settings_for(tmp_path, postgres.copy_of("demo", _fill))
    first = open_app(settings)
    page = Visitor(first).get("/buying")
    first.extensions["engine"].dispose()
    second = open_app(settings)
    monkeypatch.setattr(plans, "answer_paper", lambda *_: pytest.fail("worked out again"))
    monkeypatch.setattr(web_session, "solve", lambda *_: pytest.fail("worked out again"))
    guest = Visitor(second)
    assert guest.get("/buying").words == page.words
    form = drafting(guest.get("/buying"))
    assert "Drafted for" in guest.post(form.action, form.values).said  # type: ignore[attr-defined]
    shown = next(e for e in page.all("span") if e.get("class") == "big").text or ""
    assert f"£{money_drafted(second):,.2f}" == shown
    second.extensions["engine"].dispose()


@pytest.mark.parametrize("text", ["not json", "{}", "[]", "null", "7", '{"layouts": [1]}'])
def test_a_damaged_plan_is_worked_out_anew(demo_app: Flask, guest: Visitor, text: str) -> None:
    before = guest.get("/buying").words
    damage = sql("UPDATE kept_plan SET answer = :text")
    with transaction(sessions_of(demo_app)) as session:
        session.execute(damage, {"text": text})
    for path in ("/", "/buying", "/stockroom/batches/new", "/buying/cutting?what=list&effort=live"):
        guest.get(path)
    assert guest.get("/buying").words == before
    with sessions_of(demo_app)() as session:
        rows = session.scalars(sql("SELECT answer FROM kept_plan")).all()
    assert text not in rows


@pytest.mark.parametrize(
    "shown", ["", "NaN", "sheet-3/4=3=NaN", "sheet-3/4=3=sNaN", "sheet-3/4=5=Infinity", "=" * 5000,
              "sheet-3/4=3=1e20000", "sheet-3/4=" + "9" * 5000 + "=1", "\x00 sheet-1"],
)  # fmt: skip
def test_a_list_that_was_never_shown_drafts_nothing(
    demo_app: Flask, guest: Visitor, shown: str
) -> None:
    form = drafting(guest.get("/buying"))
    page = guest.post(form.action, form.filled({"shown": shown}))  # type: ignore[attr-defined]
    assert "Nothing is drafted yet" in page.said
    assert len(page.said) < 3000
    assert "Infinity" not in page.said
    assert money_drafted(demo_app) == 0
