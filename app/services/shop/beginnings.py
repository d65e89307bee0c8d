"""What a new shop begins with where its owner lives, as far as the computer says."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import Any

from babel.numbers import get_territory_currencies

from app import dates
from app.core.money import CURRENCIES
from app.core.numbers import style_of_language
from app.language import tag_here, usual_language

LETTER = frozenset({
    "BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE",
})  # fmt: skip
"""Where printers hold Letter, not A4: Unicode CLDR, supplemental measurement data, from memory."""
INCHES = frozenset({"US", "LR"})
"""Where makers measure in inches: the same source, from memory."""


def usual_settings(names: Mapping[str, str] = os.environ) -> dict[str, Any]:
    """Language, numbers, currency, unit, paper and first weekday, by the variables of the system.

    A tag without a country, or of none, leaves what depends on one as it is for everybody.
    """
    tag = tag_here("LC_NUMERIC", names)
    settings: dict[str, Any] = {
        "language": usual_language(tag),
        "number_style": style_of_language(tag),
    }
    language, _, rest = tag.partition("_")
    country = rest[:2].upper()
    if len(country) < 2:
        return settings
    spent = [code for code in get_territory_currencies(country) if code in CURRENCIES]
    return settings | {
        **({"currency": spent[0]} if spent else {}),
        "unit": "in" if country in INCHES else "mm",
        "print_paper": "Letter" if country in LETTER else "A4",
        "week_begins": dates.locale(f"{language}_{country}").first_week_day,
    }
