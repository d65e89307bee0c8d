"""The cutting plan on screen: asked by address, told while it runs, stopped, supposed otherwise."""

from __future__ import annotations

import re
import time
from functools import partial
from threading import Event
from typing import Any
from urllib.parse import urlencode

import pytest

from app.core.cutting.effort import Progress
from app.services.bench import cut_study as cutting
from app.services.bench.cut_study import CutAnswer, CutQuestion, plan_cuts
from tests.web.visitor import Page, Visitor, read_form

LIST = "/buying/cutting?what=list&effort=live"


def planned(visitor: Visitor, path: str) -> Page:
    """The page once the plan is there."""
    for _ in range(100):
        page = visitor.get(path)
        if not page.all("progress"):
            return page
        time.sleep(0.1)
    raise AssertionError("the plan does not come")


def test_the_demo_list_is_cut_for_less_than_by_grids(guest: Visitor) -> None:
    page = planned(guest, LIST)
    assert "less than each by itself" in page.words
    assert "Each piece by itself, in rows" in page.words
    assert "No plan buys its sheets for less" in page.words
    titles = [t.text or "" for t in page.tree.iter("{http://www.w3.org/2000/svg}title")]
    assert any(title.startswith("Sheet cut into") for title in titles)
    assert "Guard down" in page.words


def test_the_buy_list_follows_a_plan(guest: Visitor) -> None:
    page = planned(guest, LIST)
    form = next(
        f for f in map(partial(read_form, path=LIST), page.all("form")) if "/keep/" in f.action
    )
    assert "follows this plan" in guest.post(form.action, form.values).said
    # Sent twice it is done once; a plan that was forgotten is told.
    guest.post(form.action, form.values)
    gone = form.action.replace("/keep/", "/keep/0123")
    fresh = [(k, "another" if k == "once" else v) for k, v in form.values]
    assert "has changed since" in guest.post(gone, fresh).said
    # The list on screen is the list planned: no market, less to cut.
    less = planned(guest, LIST + "&chosen=1")
    assert less.form("what").values.count(("market", "1")) == 0
    assert planned(guest, LIST + "&chosen=1&market=1").value("market") == "1"
    # What is only supposed is not bought by.
    supposed = planned(guest, LIST + "&grain_free=y")
    assert not any("/keep/" in (f.get("action") or "") for f in supposed.all("form"))


def test_kinds_can_be_cut_apart(guest: Visitor) -> None:
    together, apart = guest.get("/buying"), guest.get("/buying?chosen=1&apart=1&market=1&market=2")
    assert apart.form("apart").values
    mixed = re.compile(r"\d+ × \w+[^,]*, \d+ × \w+[^,]* from each of")
    assert mixed.search(together.words)
    assert not mixed.search(apart.words)


def test_a_plan_that_takes_its_time_tells_how_far_it_is_and_stops(
    guest: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    begin = Event()

    def slowly(question: CutQuestion, told: Progress, kept: Any) -> CutAnswer:
        while not told("Cartridge: looking for layouts", 0.25):
            begin.set()
            time.sleep(0.01)
        return plan_cuts(question, told, kept)

    monkeypatch.setattr(cutting, "plan_cuts", slowly)
    path = "/buying/cutting?what=list&effort=thorough"
    page = guest.get(path)
    assert begin.wait(5)
    [bar] = page.all("progress")
    assert bar.get("max") == "100"
    [section] = [s for s in page.all("section") if s.get("data-progress")]
    answer = guest.client.get(section.get("data-progress") or "")
    assert answer.json == {
        "doing": "Cartridge: looking for layouts", "share": 0.25, "done": False
    }  # fmt: skip
    guest.send(page, "question", {})
    page = planned(guest, path)
    assert "Stopped before its end" in page.words
    assert "No plan buys its sheets for less" in page.words


def test_a_batch_and_supposing(guest: Visitor) -> None:
    page = guest.get("/buying/cutting?what=batch&effort=live")
    assert "Say how many of which journal to make" in page.words
    page = planned(guest, "/buying/cutting?what=batch&effort=live&make_1=8")
    assert "for sheets" in page.words
    supposed = planned(guest, "/buying/cutting?what=batch&effort=live&make_1=8&grain_free=y")
    assert "As things are it would be" in supposed.words


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"effort": "endless"}, "Not a valid choice"),
        ({"trim_nm": "3 m"}, "between 0 mm and 100 mm"),
        ({"what": "nonsense"}, "Not a valid choice"),
        ({"what": "batch", "make_1": "-4"}, "between 0 and 10000"),
    ],
)
def test_wrong_questions_are_told_at_their_field(
    guest: Visitor, changes: dict[str, str], says: str
) -> None:
    page = guest.get("/buying/cutting?" + urlencode({"what": "list", "effort": "live"} | changes))
    assert says in page.words
    assert not page.all("progress")


def test_an_old_address_still_leads_to_a_plan(guest: Visitor) -> None:
    for seconds, effort in (
        ("1", "normal"),
        ("60", "thorough"),
        ("soon", "normal"),
        ("9" * 5000, "normal"),
    ):
        page = guest.get(f"/buying/cutting?seconds={seconds}")
        assert page.value("effort") == effort


def test_an_empty_shop_has_nothing_to_cut(visitor: Visitor) -> None:
    assert "Nothing has to be cut" in planned(visitor, LIST).words
    assert "There is no paper yet" in visitor.get("/buying/cutting/fill").words


def test_what_else_fits(guest: Visitor) -> None:
    base = "/buying/cutting/fill?paper=1&grain=height&pieces=all"
    assert "of it is used" in guest.get(base + "&width_nm=300&height_nm=420").words
    assert "No piece fits" in guest.get(base + "&width_nm=20&height_nm=20").words
    assert "between 5 mm" in guest.get(base + "&width_nm=1&height_nm=20").words
    assert "no unit" in guest.get(base + "&width_nm=3+ells&height_nm=20").words


def test_a_plan_nobody_asked_for(guest: Visitor) -> None:
    guest.get("/buying/cutting/progress/nonsense", 404)
