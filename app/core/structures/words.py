"""Texts of structures: kept as they are marked, for the life of the process, and said when read.

What a structure offers is assembled once and read by shops of any language; a :class:`Build` is
said as it is made.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any, TypeVar

from app.language import say

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

C = TypeVar("C", bound=type)
T = TypeVar("T", bound="DataclassInstance")


class Sentences(str):
    """Marked texts that are shown one after another, each a message of its own."""

    __slots__ = ("each",)
    each: tuple[str, ...]

    def __new__(cls, *each: str) -> Sentences:
        """All of them as one text, and one by one."""
        made = super().__new__(cls, " ".join(each))
        made.each = each
        return made


def said(text: str) -> str:
    """A marked text, or several that stand together, in the shop's language."""
    return " ".join(map(say, text.each)) if isinstance(text, Sentences) else say(text)


def of_number(thing: Any, text: str) -> str:
    """A text that may have a place for the ``number`` of what it belongs to."""
    return say(text).format(number=thing.number)


def in_words(thing: Any, choices: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    """Values that can be chosen, with their words."""
    return tuple((value, say(words)) for value, words in choices)


def one(thing: Any, text: str) -> str:
    """A text by itself."""
    return say(text)


def each(thing: Any, texts: tuple[str, ...]) -> tuple[str, ...]:
    """Several texts."""
    return tuple(map(said, texts))


class _Read:
    """A field that keeps what it is given and is said when it is read."""

    def __init__(self, name: str, how: Callable[[Any, Any], Any]) -> None:
        self._kept, self._how = f"_{name}", how

    def __get__(self, thing: object, owner: type) -> Any:
        return self._how(thing, getattr(thing, self._kept))

    def __set__(self, thing: object, kept: object) -> None:
        object.__setattr__(thing, self._kept, kept)


def said_when_read(**how: Callable[[Any, Any], Any]) -> Callable[[C], C]:
    """Has the marked texts of these fields of a dataclass said, each in its way."""

    def decorated(cls: C) -> C:
        for name, way in how.items():
            setattr(cls, name, _Read(name, way))
        return cls

    return decorated


def unsaid(thing: object, name: str) -> Any:
    """What is kept in a field that is said when read."""
    return vars(thing)[f"_{name}"]


def altered(thing: T, **changes: Any) -> T:
    """As :func:`dataclasses.replace`, which would keep texts as they are said just now."""
    texts = {f.name: unsaid(thing, f.name) for f in fields(thing) if f"_{f.name}" in vars(thing)}
    return replace(thing, **(texts | changes))


def later(*places: str) -> dict[str, str]:
    """Places of a text that stay open, for lengths in the shop's units.

    >>> say("{grain}, {width} wide", grain="the grain along the width", **later("width"))
    'the grain along the width, {width} wide'
    """
    return {place: f"{{{place}}}" for place in places}
