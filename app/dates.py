"""Days as people say them in the shop's language; the only user of Babel's calendar.

The order of a day's parts is a message of the catalogues, written as in Unicode's Technical
Standard 35: ``EEE d MMM`` is ``Thu 3 Dec``. The names of days and months come from the Unicode
Common Locale Data Repository.
"""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from babel import Locale
from babel.core import UnknownLocaleError
from babel.dates import format_date

from app.language import ENGLISH, language, say, to_say

WEEKDAY_AND_DAY = to_say("EEE d MMM")
WEEKDAY_AND_DAY_OF_YEAR = to_say("EEE d MMM y")
WHOLE = to_say("d MMMM y")
SHORT = to_say("d MMM y")
DAY = to_say("d MMMM")
MONTH = to_say("MMMM y")
LONG = to_say("EEEE, d MMMM")
DAY_AND_MONTH = to_say("d MMM")
WEEKDAY_AND_MONTH = to_say("EEE d MMMM")
SHORT_MONTH = to_say("MMM")
SHORT_MONTH_OF_YEAR = to_say("MMM yy")


@lru_cache(maxsize=4_000)
def _written(value: date, pattern: str, tag: str) -> str:
    return format_date(value, pattern, locale=locale(tag))


def _said(value: date, pattern: str) -> str:
    return _written(value, say(pattern), language.get())


def locale(tag: str) -> Locale:
    """What is known of a language; of one that nobody speaks, English."""
    try:
        return Locale.parse(tag)
    except (UnknownLocaleError, ValueError):
        return Locale.parse(ENGLISH)


def weekday_and_day(value: date, *, year: bool = False) -> str:
    """``Thu 3 Dec``, ``Thu 3 Dec 2026``."""
    return _said(value, WEEKDAY_AND_DAY_OF_YEAR if year else WEEKDAY_AND_DAY)


def long_day(value: date) -> str:
    """``Thursday, 3 December``."""
    return _said(value, LONG)


def whole_day(value: date) -> str:
    """``3 December 2026``."""
    return _said(value, WHOLE)


def short_day(value: date) -> str:
    """``3 Dec 2026``."""
    return _said(value, SHORT)


def day_of_year(value: date) -> str:
    """``3 December``."""
    return _said(value, DAY)


def day_and_month(value: date) -> str:
    """``3 Dec``."""
    return _said(value, DAY_AND_MONTH)


def weekday_and_whole_month(value: date) -> str:
    """``Thu 3 December``."""
    return _said(value, WEEKDAY_AND_MONTH)


def month(value: date) -> str:
    """``December 2026``."""
    return _said(value, MONTH)


def short_month(value: date, *, year: bool = False) -> str:
    """``Dec``, ``Dec 26``."""
    return _said(value, SHORT_MONTH_OF_YEAR if year else SHORT_MONTH)
