"""The honest date beside the order form, as it is asked for while typing."""

from __future__ import annotations

import pytest

from tests.web.visitor import Visitor


def test_it_stands_beside_the_form_and_on_the_enquiry(stocked: Visitor) -> None:
    says = stocked.client.get("/orders/date?line=1:3&by=2026-12-01").get_json()["says"]
    assert "3 to make" in says
    assert "Honest from" in says
    assert "data-honest" in stocked.get("/orders/new").text
    [place] = [p for p in stocked.get("/orders/1").all("p") if p.get("data-says-at")]
    again = stocked.client.get(place.get("data-says-at")).get_json()["says"]
    assert "4 to make" in again


@pytest.mark.parametrize(
    "asked",
    ["", "line=", "line=x:1", "line=1:0", "line=99:4", "line=1:99999999999", "by=never", "line=1:-3",
     "&".join(["line=1:1"] * 60)],
)  # fmt: skip
def test_nonsense_is_taken_for_nothing(stocked: Visitor, asked: str) -> None:
    answer = stocked.client.get(f"/orders/date?{asked}")
    assert answer.status_code == 200
    assert isinstance(answer.get_json()["says"], str)
