"""How a shop writes numbers, and what was meant by one that was typed.

Three styles, named by what stands before the decimals: ``1,234.5`` (point), ``1.234,5`` (comma) and
``1 234,5`` (space). What can only mean one thing is read in any style; a single mark before three
digits is read by the shop's style, and refused with both readings where the style does not use that
mark. Numbers are shown in the style they are read in, so that what is copied from a page means the
same in a field.
"""

from __future__ import annotations

import re
from contextvars import ContextVar
from decimal import Decimal

from app.core.errors import DomainError
from app.language import say

STYLES = {"point": "1,234.5", "comma": "1.234,5", "space": "1 234,5"}
"""Every style with an example."""

_MARKS = {"point": (",", "."), "comma": (".", ","), "space": ("\u202f", ",")}
"""What stands between thousands and before decimals."""

number_style: ContextVar[str] = ContextVar("number_style", default="point")
"""The style of the shop whose page or command is being worked on."""

_COMMA_LANGUAGES = {"da", "de", "el", "es", "hr", "id", "is", "it", "nl", "pt", "ro", "sl", "tr"}
_SPACE_LANGUAGES = {"bg", "cs", "et", "fi", "fr", "hu", "lt", "lv", "nb", "nn", "no", "pl", "ru",
                    "sk", "sv", "uk"}  # fmt: skip


def style_of_language(tag: str) -> str:
    """The style usual in a language, by a tag such as ``de_AT.UTF-8``: common practice, no source.

    Switzerland and Mexico write a point.
    """
    language, _, rest = tag.replace("-", "_").lower().partition("_")
    if rest[:2] in ("ch", "mx"):
        return "point"
    if language in _COMMA_LANGUAGES:
        return "comma"
    return "space" if language in _SPACE_LANGUAGES else "point"


def styled(text: str) -> str:
    """Figures of a text written as ``1,234.5`` in the shop's style."""
    group, mark = _MARKS[number_style.get()]
    if mark == ".":
        return text
    return re.sub(
        r"\d[\d,]*(?:\.\d+)?",
        lambda found: found[0].replace(",", "\0").replace(".", mark).replace("\0", group),
        text,
    )


def read_number(text: str) -> Decimal:
    """The number that was typed; refused, quoting it, where it is none or could be two."""
    plain = re.sub(r"(?<=\d)[\s'’\u202f\u00a0](?=\d{3}(?!\d))", "", text.strip())
    plain = plain.replace("−", "-")
    if len(plain) > 30 or not re.fullmatch(r"[-+]?(\d[\d.,]*\d|\d|[.,]\d+)", plain):
        raise DomainError(_no_number(text))
    return Decimal(_with_point(plain, text))


def _with_point(plain: str, text: str) -> str:
    """The same number with a point before its decimals and nothing between thousands."""
    sign, digits = ("-", plain[1:]) if plain[0] == "-" else ("", plain.lstrip("+"))
    marks = [c for c in digits if c in ".,"]
    if len(set(marks)) == 2:
        group, mark = marks[0], marks[-1]
        if marks.count(mark) > 1 or not _grouped(digits.split(mark)[0], group):
            raise DomainError(_no_number(text))
        return sign + digits.replace(group, "").replace(mark, ".")
    if len(marks) > 1:
        if not _grouped(digits, marks[0]):
            raise DomainError(_no_number(text))
        return sign + digits.replace(marks[0], "")
    if not marks:
        return sign + digits
    thousands = digits.replace(marks[0], "")
    decimals = digits.replace(marks[0], ".")
    if not _grouped(digits, marks[0]):
        return sign + decimals
    group, mark = _MARKS[number_style.get()]
    if marks[0] == mark:
        return sign + decimals
    if marks[0] == group:
        return sign + thousands
    raise DomainError(
        say(
            "“{typed}” can be read two ways: type {plain} for {thousands}, or {marked} for "
            "{decimals}.",
            typed=text.strip()[:30],
            plain=f"{sign}{thousands}",
            thousands=sign + styled(f"{int(thousands):,}"),
            marked=sign + digits.replace(marks[0], mark),
            decimals=sign + decimals.replace(".", mark).rstrip("0").rstrip(mark),
        )
    )


def _no_number(text: str) -> str:
    return say("“{typed}” is not a number.", typed=text.strip()[:30])


def _grouped(digits: str, mark: str) -> bool:
    """Whether marks stand where thousands are parted; a leading zero parts none."""
    first, *rest = digits.split(mark)
    return 0 < len(first) <= 3 and first[0] != "0" and all(len(part) == 3 for part in rest)
