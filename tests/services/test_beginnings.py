"""A new shop begins with what is usual where the computer says it stands.

Currencies are those of ISO 4217, the first weekday and the paper those of the Unicode CLDR's
supplemental data; checked from memory of both.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import delete

from app.db import make_engine, session_maker, transaction
from app.models import Channel, Shop
from app.schema import migrate
from app.services.shop.beginnings import usual_settings
from app.services.shop.settings import prepare_shop, the_shop
from seed_demo import load_demo
from tests.conftest import DAY, settings_on


@pytest.mark.parametrize(
    ("tag", "language", "style", "money", "unit", "paper", "week"),
    [
        ("de_DE.UTF-8", "de", "comma", "EUR", "mm", "A4", 0),
        ("de_CH.UTF-8", "de", "point", "CHF", "mm", "A4", 0),
        ("fr_FR", "fr", "space", "EUR", "mm", "A4", 0),
        ("fr_CA.UTF-8", "fr", "space", "CAD", "mm", "Letter", 6),
        ("en_GB.UTF-8", "en", "point", "GBP", "mm", "A4", 0),
        ("en_US.UTF-8", "en", "point", "USD", "in", "Letter", 6),
        ("sv_SE.UTF-8@euro", "en", "space", "SEK", "mm", "A4", 0),
    ],
)
def test_what_is_usual_follows_the_country(
    tag: str, language: str, style: str, money: str, unit: str, paper: str, week: int
) -> None:
    assert usual_settings({"LANG": tag}) == {
        "language": language, "number_style": style, "currency": money, "unit": unit,
        "print_paper": paper, "week_begins": week,
    }  # fmt: skip


@pytest.mark.parametrize("tag", ["", "C.UTF-8", "POSIX", "de"])
def test_without_a_country_only_words_and_numbers_are_known(tag: str) -> None:
    assert set(usual_settings({"LANG": tag})) == {"language", "number_style"}


def test_the_first_variable_that_says_something_counts() -> None:
    assert (
        usual_settings({"LC_ALL": "", "LC_NUMERIC": "fr_FR", "LANG": "de_DE"})["language"] == "fr"
    )
    assert usual_settings({"LC_ALL": "de_DE", "LANG": "fr_FR"})["language"] == "de"
    assert "currency" not in usual_settings({"LANG": "xx_ZZ"})


def test_what_a_new_shop_is_given_has_names_of_its_language(
    empty_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LC_ALL", "de_AT.UTF-8")
    engine = make_engine(settings_on(empty_template, tmp_path / "shop").database_url)
    with transaction(session_maker(engine)) as session:
        session.execute(delete(Shop))
        session.execute(delete(Channel))
        prepare_shop(session)
        shop = the_shop(session)
        assert (shop.name, shop.language, shop.number_style) == ("Meine Werkstatt", "de", "comma")
        assert "Marktstand" in {channel.name for channel in session.query(Channel)}
    engine.dispose()


@pytest.mark.parametrize("tag", ["de_DE.UTF-8", "fr_CA.UTF-8", "en_US.UTF-8"])
def test_the_demo_is_loaded_wherever_the_computer_stands(
    tag: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LC_ALL", tag)
    engine = make_engine(f"sqlite:///{tmp_path / 'demo.sqlite3'}")
    migrate(engine)
    with transaction(session_maker(engine)) as session:
        prepare_shop(session)
        load_demo(session, DAY)
        assert (the_shop(session).language, the_shop(session).currency) == (tag[:2], "GBP")
        assert {"Direct order", "Market stall"} <= {c.name for c in session.query(Channel)}
    engine.dispose()
