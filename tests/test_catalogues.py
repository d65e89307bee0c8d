"""The catalogues hold every message of the program, whole and with all its places."""

from __future__ import annotations

import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po

from app.core.structures import words
from app.language import (
    ENGLISH,
    LANGUAGES,
    Marked,
    catalogue,
    language,
    say,
    say_many,
    to_say,
)

HOME = Path(__file__).parent.parent
PLACE = re.compile(r"%\(\w+\)[sd]|\{\w+\}|%%")
TAG = re.compile(r"</?\w+")
OTHERS = [tag for tag in LANGUAGES if tag != ENGLISH]


def read(path: Path, tag: str | None = None) -> Catalog:
    with path.open("rb") as lines:
        return read_po(lines, locale=tag)


@pytest.fixture(scope="module")
def wanted(tmp_path_factory: pytest.TempPathFactory) -> Catalog:
    """Every message in the code and on the pages, collected as DEVELOPERS.md says."""
    found = tmp_path_factory.mktemp("words") / "wanted.pot"
    command = next(
        line.split("`")[1]
        for line in (HOME / "DEVELOPERS.md").read_text().splitlines()
        if "pybabel extract" in line
    )
    parts = command.replace(".venv/bin/pybabel", f"{sys.executable} -m babel.messages.frontend")
    parts = re.sub(r"-o \S+", f"-o {found}", parts)
    subprocess.run(parts.split(), cwd=HOME, check=True, capture_output=True)
    return read(found)


def keys(of: Catalog) -> set[object]:
    return {(message.context, message.id) for message in of if message.id}


def texts(said: object) -> tuple[str, ...]:
    return (said,) if isinstance(said, str) else tuple(said)  # type: ignore[arg-type]


def wrong_in(message: Message) -> str | None:
    """What keeps a translation from being shown, if anything does."""
    if message.fuzzy:
        return "not looked at since the English changed"
    of, said = texts(message.id), texts(message.string)
    if not all(said):
        return "missing"
    for one in said:
        # A count of one may be said without its figure.
        for kind in (PLACE, TAG):
            here, there = Counter(kind.findall(one)), [Counter(kind.findall(o)) for o in of]
            if here not in there:
                return f"{kind.pattern}: {one}"
    return None


@pytest.mark.parametrize("tag", OTHERS)
def test_a_language_is_whole(tag: str, wanted: Catalog) -> None:
    there = read(HOME / "app" / "locale" / f"{tag}.po", tag)
    assert keys(wanted) - keys(there) == set()
    assert keys(there) - keys(wanted) == set()
    assert [(m.id, why) for m in there if m.id and (why := wrong_in(m))] == []


def test_many_words_are_said(wanted: Catalog) -> None:
    assert len(keys(wanted)) > 3_000


def test_a_wrong_translation_would_be_found() -> None:
    assert wrong_in(Message("Cut {n} of <b>{x}</b>", "Schneide {n} von <b>{x}</b>")) is None
    assert wrong_in(Message("Cut {n}", "")) == "missing"
    assert wrong_in(Message("Cut {n}", "Schneide {m}"))
    assert wrong_in(Message("A <b>day</b>", "Ein Tag"))
    assert wrong_in(Message("A day", "Ein Tag", flags=("fuzzy",)))
    assert wrong_in(Message(("{n} day", "{n} days"), ("ein Tag", "{n} Tage")))


def test_english_says_what_is_written() -> None:
    assert say("Cut {n} of {paper}", n=2, paper="laid") == "Cut 2 of laid"
    assert say("Holds {lengths} for later") == "Holds {lengths} for later"
    assert say("") == ""
    assert [say_many(n, "{n} sheet", "{n} sheets") for n in (0, 1, 2, -1)] == [
        "0 sheets", "1 sheet", "2 sheets", "-1 sheet",
    ]  # fmt: skip


def test_a_field_is_said_in_the_language_of_the_moment() -> None:
    from dataclasses import dataclass, replace

    @words.said_when_read(label=words.one)
    @dataclass(frozen=True)
    class Thing:
        key: str
        label: str

    thing = Thing("yes", to_say("yes"))
    assert isinstance(thing.__dict__["_label"], Marked)
    before = language.set("de")
    try:
        assert thing.label == catalogue("de").gettext("yes") != "yes"
    finally:
        language.reset(before)
    assert replace(thing, key="no").label == "yes"
    with pytest.raises(TypeError):
        Thing("no label")
