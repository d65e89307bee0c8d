"""Every word a person reads, in the language of the shop.

What is written in the code is English and whole: a sentence goes to :func:`say` with places for its
figures, never in pieces, since other languages order and bend their words in their own way. The
catalogues lie under ``app/locale`` as text and are read when a language is first asked for.

>>> say("Cut {number} sheets of {paper}", number=3, paper="laid")
'Cut 3 sheets of laid'
>>> say_many(1, "{n} sheet", "{n} sheets")
'1 sheet'
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files
from io import BytesIO

ENGLISH = "en"
LANGUAGES = {"en": "English", "de": "Deutsch", "fr": "Français"}
"""Every language that is whole, by its tag, in its own name."""

language: ContextVar[str] = ContextVar("language", default=ENGLISH)
"""The language of the shop whose page or command is being worked on."""


def say(text: str, /, **figures: object) -> str:
    """A sentence in the shop's language, its places filled; ``{paper}`` is filled by ``paper``."""
    said = catalogue(language.get()).gettext(text) if text else ""
    return said.format(**figures) if figures else said


def say_many(n: int, one: str, many: str, /, **figures: object) -> str:
    """A sentence about ``n`` things, which it may name as ``{n}``."""
    said = catalogue(language.get()).ngettext(one, many, abs(n))
    return said.format(n=n, **figures)


def about(what: object, says: object) -> str:
    """``Laid 120: no sheet is wide enough``; what stands before a colon differs by language."""
    return say("{what}: {says}", what=what, says=says)


class Marked(str):
    """A text of the program's own, as it stands in the catalogues: not one that a maker typed."""

    __slots__ = ()


def to_say(text: str) -> str:
    """Marks a text for the catalogues; it is said where it is shown."""
    return Marked(text)


def say_list(things: list[str]) -> str:
    """``1, 2 and 3``."""
    if len(things) < 2:
        return "".join(things)
    return say("{all_but_last} and {last}", all_but_last=", ".join(things[:-1]), last=things[-1])


@contextmanager
def speaking(tag: str) -> Iterator[None]:
    """What is said meanwhile is said in this language."""
    before = language.set(tag)
    try:
        yield
    finally:
        language.reset(before)


def tag_here(category: str, names: Mapping[str, str] = os.environ) -> str:
    """The computer’s tag for a category such as ``LC_MESSAGES``, or nothing."""
    found = (names.get(name) for name in ("LC_ALL", category, "LANG"))
    return next((name for name in found if name), "")


def usual_language(tag: str) -> str:
    """The language nearest to a tag such as ``de_AT.UTF-8``; English where none is."""
    wanted = tag.replace("_", "-").lower().partition("-")[0].partition(".")[0]
    return wanted if wanted in LANGUAGES else ENGLISH


def catalogue(tag: str) -> NullTranslations:
    """The words of a language; what it lacks is English."""
    if tag not in _catalogues:
        _catalogues[tag] = _read(tag)
    return _catalogues[tag]


_catalogues: dict[str, NullTranslations] = {ENGLISH: NullTranslations()}


def _read(tag: str) -> NullTranslations:
    there = files("app").joinpath("locale", f"{tag}.po")
    if not there.is_file():
        return NullTranslations()
    # Only a shop that speaks another language pays for reading it.
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    compiled = BytesIO()
    with there.open("rb") as lines:
        write_mo(compiled, read_po(lines, locale=tag))
    compiled.seek(0)
    return GNUTranslations(compiled)
