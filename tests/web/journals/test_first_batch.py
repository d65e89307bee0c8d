"""The first batch on screen: reckoned by what was asked, refused at its field."""

from __future__ import annotations

import pytest

from tests.web.visitor import Visitor

PATH = "/journals/1/variants/1/first-batch"


def test_it_names_its_model_and_adds_up(stocked: Visitor) -> None:
    page = stocked.get(PATH)
    assert "learning curve of J. R. Crawford (1944)" in page.words
    assert "none was made in a batch so far" in page.words
    assert PATH in "".join(a.get("href") or "" for a in stocked.get("/journals/1").all("a"))
    slow = stocked.get(f"{PATH}?count=6&rate=70&practised=40").words
    assert "6 made together" in slow
    even = stocked.get(f"{PATH}?count=6&rate=100&practised=40").words
    assert "0.00 more (0.00 in all)" in even
    assert "0.00 more (0.00 in all)" not in slow


@pytest.mark.parametrize(
    ("asked", "words"),
    [("count=0&rate=80&practised=9", "between 1 and 10000"), ("count=6&rate=0&practised=9", "More than 0"),
     ("count=6&rate=101&practised=9", "100"), ("count=&rate=80&practised=9", "needed"),
     ("count=x&rate=80&practised=9", "x"), ("count=6&rate=80&practised=99999", "1")],
)  # fmt: skip
def test_what_makes_no_sense_is_refused(stocked: Visitor, asked: str, words: str) -> None:
    page = stocked.get(f"{PATH}?{asked}", status=422)
    assert words in page.words
