"""The six jobs by mouse, by the keyboard alone on a narrow screen, without scripts, in German."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from app.language import speaking
from tests.browser.conftest import House, admit, speak, watched
from tests.browser.six_jobs import IN_AN_EMPTY_SHOP, JOBS, Hand

pytestmark = pytest.mark.browser


@pytest.fixture(params=JOBS)
def job(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def house(job: str, request: pytest.FixtureRequest) -> House:
    name = "empty_house" if job in IN_AN_EMPTY_SHOP else "demo_house"
    found: House = request.getfixturevalue(name)
    return found


@pytest.fixture(params=["a mouse", "keys on a narrow screen", "no scripts", "German"])
def hand(request: pytest.FixtureRequest, browser: Browser, house: House) -> Iterator[Hand]:
    keys = request.param == "keys on a narrow screen"
    context = browser.new_context(
        viewport={"width": 390 if keys else 1280, "height": 844},
        java_script_enabled=request.param != "no scripts",
    )
    admit(context, house)
    with watched(context) as page:
        if request.param != "German":
            yield Hand(page, keys=keys)
            return
        speak(page, house, "Deutsch")
        with speaking("de"):
            yield Hand(page)


def test_a_job_is_done(job: str, hand: Hand, house: House) -> None:
    JOBS[job](hand, house)
    assert hand.fields + hand.presses > 0
