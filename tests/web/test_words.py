"""One plain word for one thing: words that were given up stand on no page, in any state."""

from __future__ import annotations

import re

from tests.web.test_pages import ON_THE_DEMO, PLACES
from tests.web.visitor import NS, Visitor

GIVEN_UP = (
    "Keep the order", "Keep the list", "Leave without keeping", "Not after all", "Do not make it",
    "Put in a market", "Take in a table", "Take this list away", "Look at it", "Look longer",
    "Work it out", "Then here", "Where it stands", "Its story", "handed over", "To order this week",
    "Keep them; it is ordered", "Every kind of piece on sheets of its own", "cut by numbers",
    "Map of yields", "Where the paper goes", "Not to run out", "nought", "a mend", "a slip",
    "so much", "Nothing lies here", "Agree it", "asked for, agreed", "Direct order wants",
)  # fmt: skip


def said_on(guest: Visitor, path: str) -> str:
    """What is written on a page, its buttons, fields and hints."""
    page = guest.get(path)
    shown = [page.words]
    for element in page.tree.iter():
        if element.tag.removeprefix(NS) in ("input", "textarea", "a", "button"):
            shown += [element.get(key) or "" for key in ("placeholder", "title", "aria-label")]
    return " ".join(shown)


def old_words(text: str) -> list[str]:
    return [w for w in GIVEN_UP if re.search(rf"(?<![\w-]){re.escape(w)}(?![\w-])", text, re.I)]


def test_no_old_word_stands_in_an_empty_shop(visitor: Visitor) -> None:
    assert {path: found for path in PLACES if (found := old_words(said_on(visitor, path)))} == {}


def test_no_old_word_stands_in_the_demo(guest: Visitor) -> None:
    pages = PLACES + ON_THE_DEMO
    assert {path: found for path in pages if (found := old_words(said_on(guest, path)))} == {}


def test_what_is_in_stock_is_called_so(guest: Visitor) -> None:
    heads = [
        words.lower()
        for path in PLACES + ON_THE_DEMO
        for head in guest.get(path).tree.iter(f"{NS}th")
        if (words := "".join(head.itertext()).strip())
    ]
    assert "in stock" in heads
    assert "here" not in heads


def test_an_old_word_would_be_found() -> None:
    assert old_words("Press “Work it out” for nought") == ["Work it out", "nought"]
    assert old_words("so-much, noughts, amend") == []


def test_states_have_one_name_each(guest: Visitor) -> None:
    page = guest.get("/orders?state=")
    names = {words for _, words in page.options("state")}
    assert {"enquiry", "accepted", "in progress", "ready", "delivered", "cancelled"} <= {
        name.lower() for name in names
    }
