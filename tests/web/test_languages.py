"""Every word on every page is said: none is left where another language is spoken.

The language here is nobody's: each message stands in brackets, so what stands outside of them was
never asked of a catalogue. What makers typed and the names of units are no messages.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from gettext import NullTranslations
from xml.etree.ElementTree import Element

import pytest
from flask import Flask
from sqlalchemy import inspect, text

from app import language
from app.core.money import CURRENCIES
from app.core.paper import named_sizes
from app.db import transaction
from tests.web.conftest import sessions_of
from tests.web.test_pages import ON_THE_DEMO, PLACES
from tests.web.visitor import Page, Visitor

OPENING, CLOSING = "⟦", "⟧"
SAID = re.compile(f"{OPENING}[^{OPENING}{CLOSING}]*{CLOSING}")
ATTRIBUTES = ("title", "alt", "placeholder", "aria-label", "data-label", "data-prompt")
NOT_OURS = ("/help/new", "/shop/devices", "/orders/papers/1")
"""What is English by itself, what browsers are called, a letter in the language it was written in."""
UNITS = {
    "mm", "cm", "in", "yd", "ft", "sq", "kg", "ml", "min", "dm", "gsm", "csv", "xlsx", "pdf", "svg", "xml", "ics", "zip",
    "json", "m²", "dm²", "eur", "gbp", "usd", "tallyfold", "en", "pt", "iban", "bic", "ias", "vat", "tls", "id",
}  # fmt: skip
"""What is written alike in every language: common practice, no source."""
OWN_WORDS = {
    "state",
    "kind",
    "how",
    "driver",
    "measure",
    "operation",
    "structure",
    "language",
    "dimensions",
}
"""Columns that hold words of the program's own."""
NOT_READ = {"script", "style", "code", "kbd"}


class Brackets(NullTranslations):
    """Nobody's language: every message in brackets."""

    def gettext(self, message: str) -> str:
        return f"{OPENING}{message}{CLOSING}"

    def pgettext(self, context: str, message: str) -> str:
        return self.gettext(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)


def nobodys(app: Flask, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    """Somebody in a shop that speaks it."""
    monkeypatch.setitem(language._catalogues, "en-x-brackets", Brackets())
    with transaction(sessions_of(app)) as session:
        session.execute(text("UPDATE shop SET language = 'en-x-brackets'"))
    return Visitor(app)


def typed_by_makers(app: Flask) -> list[str]:
    """Every text in the database, the longest first."""
    found: set[str] = set()
    with sessions_of(app)() as session:
        tables = inspect(session.connection())
        for table in tables.get_table_names():
            columns = [c["name"] for c in tables.get_columns(table)]
            for row in session.execute(text(f'SELECT * FROM "{table}"')):  # noqa: S608
                found |= {
                    str(v).strip() for c, v in zip(columns, row, strict=True)
                    if isinstance(v, str) and c not in OWN_WORDS
                }  # fmt: skip
    found |= {
        *CURRENCIES,
        *(money.sign.strip() for money in CURRENCIES.values()),
        *language.LANGUAGES.values(),
    }
    found |= set(named_sizes())
    return sorted({t for t in found if re.search(r"[^\W\d]{2}", t)}, key=len, reverse=True)


def read(page: Page) -> Iterator[str]:
    """What is read on a page, as one text since a message may hold elements; then what is aloud."""
    yield " ".join(_texts(page.tree))
    for element in page.tree.iter():
        yield from (element.get(name) or "" for name in ATTRIBUTES)


def _texts(element: Element) -> Iterator[str]:
    tag = element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""
    if tag and tag not in NOT_READ:
        yield element.text or ""
        for child in element:
            yield from _texts(child)
            yield child.tail or ""


def left_over(said: str, names: list[str]) -> list[str]:
    """Words outside of brackets that nobody typed."""
    while SAID.search(said):
        said = SAID.sub(" ", said)
    said = said.lower()
    for name in names:
        said = said.replace(name.lower(), " ")
    found = re.finditer(r"[^\W\d_]{2,}", said)
    return [w[0] for w in found if w[0] not in UNITS]


def left_on(app: Flask, path: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """Words of a page that were never said."""
    page = nobodys(app, monkeypatch).get(path)
    names = typed_by_makers(app)
    return " ".join(word for said in read(page) for word in left_over(said, names))


@pytest.mark.parametrize("path", [path for path in PLACES if path not in NOT_OURS])
def test_no_word_is_left_in_an_empty_shop(
    empty_app: Flask, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert left_on(empty_app, path, monkeypatch) == ""


@pytest.mark.parametrize("path", [p for p in PLACES + ON_THE_DEMO if p not in NOT_OURS])
def test_no_word_is_left_on_the_demo(
    demo_app: Flask, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert left_on(demo_app, path, monkeypatch) == ""


def test_a_word_that_is_left_would_be_found() -> None:
    assert left_over("⟦Cut ⟦3 sheets⟧ of Laid⟧ today, 12 mm", []) == ["today"]
    assert left_over("Laid cream today", ["Laid cream"]) == ["today"]


def test_the_language_is_chosen_in_the_settings(visitor: Visitor) -> None:
    visitor.send(visitor.get("/shop"), "unit", {"language": "fr", "week_begins": "6"})
    page = visitor.get("/shop")
    assert page.all("html")[0].get("lang") == "fr"
    assert "Réglages de l’atelier" in page.words
    days = [label for label in page.text.split('<label for="')[1:] if label.split('"')[0] in DAYS]
    assert [label.split('"')[0] for label in days] == DAYS
    visitor.send(page, "unit", {"language": "en"})
    assert "Shop settings" in visitor.get("/shop").words


DAYS = ["sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"]


def test_a_refusal_is_said_in_the_language_of_the_shop(visitor: Visitor) -> None:
    visitor.send(visitor.get("/shop"), "unit", {"language": "de"})
    refused = visitor.send(visitor.get("/stockroom/papers/new"), "name", {"name": ""}, 422)
    assert "Das wird gebraucht." in refused.words
    assert refused.all("title")[0].text.startswith("Fehler:")  # type: ignore[union-attr]


def test_no_language_is_taken_that_is_not_there(visitor: Visitor) -> None:
    visitor.send(visitor.get("/shop"), "unit", {"language": "xx"}, 422)
    assert visitor.get("/shop").all("html")[0].get("lang") == "en"
