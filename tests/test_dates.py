"""Days as each language says them: common practice, no source; names of days and months are facts."""

from __future__ import annotations

from datetime import date

import pytest

from app import dates
from app.language import speaking

DAY = date(2026, 12, 3)
"""A Thursday."""


@pytest.mark.parametrize(
    ("tag", "said"),
    [
        ("en", [
            "Thu 3 Dec", "Thu 3 Dec 2026", "Thursday, 3 December", "3 December 2026", "3 Dec 2026",
            "3 December", "3 Dec", "Thu 3 December", "December 2026", "Dec", "Dec 26",
        ]),
        ("de", [
            "Do., 3. Dez.", "Do., 3. Dez. 2026", "Donnerstag, 3. Dezember", "3. Dezember 2026",
            "3. Dez. 2026", "3. Dezember", "3. Dez.", "Do., 3. Dezember", "Dezember 2026", "Dez.",
            "Dez. 26",
        ]),
        ("fr", [
            "jeu. 3 déc.", "jeu. 3 déc. 2026", "jeudi 3 décembre", "3 décembre 2026", "3 déc. 2026",
            "3 décembre", "3 déc.", "jeu. 3 décembre", "décembre 2026", "déc.", "déc. 26",
        ]),
    ],
)  # fmt: skip
def test_a_day_is_said_in_the_language_of_the_shop(tag: str, said: list[str]) -> None:
    with speaking(tag):
        assert [
            dates.weekday_and_day(DAY), dates.weekday_and_day(DAY, year=True), dates.long_day(DAY),
            dates.whole_day(DAY), dates.short_day(DAY), dates.day_of_year(DAY),
            dates.day_and_month(DAY), dates.weekday_and_whole_month(DAY), dates.month(DAY),
            dates.short_month(DAY), dates.short_month(DAY, year=True),
        ] == said  # fmt: skip


def test_a_language_that_nobody_knows_is_written_as_english() -> None:
    with speaking("en-x-nobody"):
        assert dates.whole_day(DAY) == "3 December 2026"
    assert str(dates.locale("no such language")) == "en"
