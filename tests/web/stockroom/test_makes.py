"""What to make of a paper, from its page."""

from __future__ import annotations

import re

from tests.web.visitor import Visitor


def test_a_paper_says_what_can_be_made_of_it(guest: Visitor) -> None:
    page = guest.get("/stockroom/items/sheet-1")
    assert "/stockroom/items/sheet-1/makes" in page.text
    page = guest.get("/stockroom/items/sheet-1/makes")
    assert "As they are" in page.words
    assert "With this paper instead" in page.words
    assert "instead of " in page.words


def test_an_empty_shop_and_what_is_no_sheet(stocked: Visitor) -> None:
    page = stocked.get("/stockroom/items/sheet-1/makes")
    assert "0 sheets here" in page.words
    for address in ("sheet-999/makes", "material-1/makes", "variant-1/makes", "nonsense/makes",
                    "sheet-1/makes?offcut=999"):  # fmt: skip
        assert stocked.get(f"/stockroom/items/{address}", 404)
    assert "0 sheets here" in stocked.get("/stockroom/items/sheet-1/makes?offcut=x").words


def test_an_offcut_alone_names_only_what_it_does_for(guest: Visitor) -> None:
    page = guest.get("/stockroom/items/sheet-1")
    lots = sorted(set(re.findall(r"makes\?offcut=(\d+)", page.text)))
    assert lots
    for lot in lots:
        alone = guest.get(f"/stockroom/items/sheet-1/makes?offcut={lot}")
        assert "offcut" in alone.words
        numbers = re.findall(r'data-label="From all here">(\d+)<', alone.text)
        assert all(int(number) for number in numbers)
        assert numbers or "can be cut from this offcut alone" in alone.words
