"""Help: the words, the keys, what is new; and a form that says first what was refused."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from app.web.help import news, words
from tests.web.visitor import Page, Visitor

HOME = Path(__file__).resolve().parents[3]


@pytest.mark.parametrize("group", [words.BENCH, words.BOOKS])
def test_words_are_in_the_order_of_the_alphabet(group: tuple[words.Word, ...]) -> None:
    said = [one.word for one in group]
    assert said == sorted(said, key=str.lower)
    assert all(one.means.endswith((".", "cut.")) and len(one.means) < 200 for one in group)


def test_every_word_has_a_place_of_its_own(visitor: Visitor) -> None:
    page = visitor.get("/help")
    places = [one.get("id") for one in page.all("dt") if one.get("id")]
    every = [*words.BENCH, *words.BOOKS]
    assert places == [one.place for one in every]
    assert len(set(places)) == len(every)
    assert "parent-sheet" in places


def test_a_page_knows_whether_the_shop_was_changed_since(guest: Visitor) -> None:
    def as_of(page: Page) -> str:
        return next(str(p.get("data-as-of")) for p in page.all("p") if p.get("data-pulse"))

    page = guest.get("/journals/1/name")
    pulse = guest.client.get("/help/pulse").get_json()
    assert pulse == {"changes": as_of(page)}
    # What only reads and what is refused changes nothing.
    guest.get("/")
    guest.send(page, "name", {"name": ""}, 422)
    typed = dict(guest.get("/journals/1").form("leaf_height").values)
    guest.client.post("/journals/worked-out?structure=wrap_cover", data=typed)
    assert guest.client.get("/help/pulse").get_json() == pulse
    changed = guest.send(page, "name", {"name": "Dunlin"})
    assert as_of(changed) == guest.client.get("/help/pulse").get_json()["changes"]
    assert as_of(changed) != pulse["changes"]


def test_there_is_no_demo_where_nothing_could_open_it(visitor: Visitor) -> None:
    assert "Open the demo" not in visitor.get("/help").words
    assert "Open the demo" not in visitor.get("/").words
    for path in ("/demo", "/demo/anew"):
        visitor.get(path, 404)
    key = visitor.get("/stockroom/suppliers/new").value("csrf_token")
    assert visitor.client.post("/demo/close", data={"csrf_token": key}).status_code == 404


def test_what_is_new_begins_with_this_version(visitor: Visitor) -> None:
    project = tomllib.loads((HOME / "pyproject.toml").read_text(encoding="utf-8"))
    found = news.versions()
    assert found[0].number == project["project"]["version"]
    assert all(version.changes for version in found)
    page = visitor.get("/help/new")
    assert found[0].changes[0] in page.words


def test_a_change_over_versions_is_read() -> None:
    text = "# New\n\nWords.\n\n## 2\n\n- One.\n- Two, on\n  *two* lines.\n\n## 1\n\n- Old.\n"
    assert news.read_versions(text) == [
        news.Version("2", ("One.", "Two, on two lines.")), news.Version("1", ("Old.",)),
    ]  # fmt: skip


def test_a_refused_form_names_its_fields_first(visitor: Visitor) -> None:
    form = visitor.get("/stockroom/papers/new")
    assert "Error: " not in form.words
    page = visitor.send(form, "grammage", {"name": "", "grammage": "heavy"}, 422)
    assert next(one.text for one in page.all("title")).startswith("Error: A new paper")
    links = {a.get("href") for a in page.all("a")}
    assert {"#name", "#grammage"} <= links
    assert "#colour" not in links
