"""A paper with its first sheet and price on one page, and a material with who sells it."""

from __future__ import annotations

import pytest

from tests.web.visitor import Page, Visitor, words

PAPER = {"name": "Marsh cartridge", "grammage": "160"}
SHEET = {"sheet_size": "700 x 1000", "grain": "height"}
SOLD = {"sold_by": "Weir Street Papers", "pack_quantity": "25", "pack_price": "20"}
THREAD = {"name": "Flax thread", "measure": "length"}


def add(visitor: Visitor, changes: dict[str, str], status: int = 200) -> Page:
    return visitor.send(visitor.get("/stockroom/papers/new"), "grammage", changes, status)


def steps_done(visitor: Visitor) -> list[str]:
    """The first steps that Today says are done, by their first word or two."""
    page = visitor.get("/")
    items = [words(item) for item in page.all("li") if item.get("class") == "done"]
    return [item.split(" done")[0] for item in items]


def test_one_page_takes_a_paper_its_sheet_and_its_price(visitor: Visitor) -> None:
    page = add(visitor, PAPER | SHEET | SOLD)
    assert page.path == "/stockroom"
    assert "700 × 1000 mm" in page.words
    assert "Weir Street Papers: €20.00 for 25 sheets" in page.words
    # 160 g/m² at 1.25 cm³/g, and said to be so.
    assert "Until you measure it, 0.2 mm is taken for its thickness." in page.words
    assert "taken to come within 5 days" in page.words
    assert "160 g/m², 0.2 mm thick" in page.words


def test_a_size_by_name_and_a_seller_in_other_capitals(visitor: Visitor) -> None:
    add(visitor, PAPER | SHEET | SOLD)
    other = {"name": "Cover board", "grammage": "300", "caliper_nm": "0.4"}
    page = add(visitor, other | {"sheet_size": "sra2", "grain": "", "sold_by": "weir street  PAPERS", "pack_price": "1.10"})  # fmt: skip
    assert "450 × 640 mm" in page.words
    assert "Until you measure it" not in page.words
    assert page.words.count("Weir Street Papers: €1.10 for 1 sheet") == 1
    assert "weir street" not in page.words


def test_a_paper_alone_goes_on_to_its_sizes(visitor: Visitor) -> None:
    page = add(visitor, PAPER | {"grain": "?"})
    assert page.path == "/stockroom/papers/1/sheets/new"


@pytest.mark.parametrize(
    ("left_out", "field", "says"),
    [
        ("sheet_size", "sheet_size", "Which size is sold there?"),
        ("grain", "grain", "Say which way the grain runs"),
        ("sold_by", "sold_by", "Say who sells it"),
        ("pack_price", "pack_price", "What does a pack cost at Weir Street Papers?"),
    ],
)
def test_what_is_left_out_is_asked_for_and_nothing_is_kept(
    visitor: Visitor, left_out: str, field: str, says: str
) -> None:
    typed = {k: v for k, v in (PAPER | SHEET | SOLD).items() if k != left_out}
    page = add(visitor, typed, 422)
    assert says in page.error_at(field)
    assert page.value("name") == "Marsh cartridge"
    assert "Marsh cartridge" not in visitor.get("/stockroom").words


@pytest.mark.parametrize("size", ["700", "700 x", "0 x 5", "-3 x 2", "a x b", "SRA99"])
def test_a_size_that_is_none(visitor: Visitor, size: str) -> None:
    page = add(visitor, PAPER | SOLD | {"sheet_size": size, "grain": "height"}, 422)
    assert page.error_at("sheet_size")


def test_a_material_with_its_price(visitor: Visitor) -> None:
    def add_material(changes: dict[str, str], status: int = 200) -> Page:
        form = visitor.get("/stockroom/materials/new")
        return visitor.send(form, "measure", changes, status)

    page = add_material(THREAD | SOLD | {"pack_quantity": "50 m"})
    assert "Weir Street Papers: €20.00 for 50 m" in page.words
    page = add_material(THREAD | {"name": "Cord"} | SOLD | {"pack_quantity": ""}, 422)
    assert "How much does a pack hold?" in page.error_at("pack_quantity")
    beads = {"name": "Beads", "measure": "count", "sold_by": "Reed & Row", "pack_price": "0.12"}
    assert "€0.12 for 1" in add_material(beads).words


def test_the_first_steps_know_what_is_done(visitor: Visitor) -> None:
    assert steps_done(visitor) == []
    add(visitor, PAPER)
    assert steps_done(visitor) == [], "a paper that nobody sells has no price"
    add(visitor, PAPER | {"name": "Another"} | SHEET | SOLD)
    assert steps_done(visitor) == ["Add a paper"]
    visitor.send(visitor.get("/shop"), "pay_per_hour", {"pay_per_hour": "18"})
    assert steps_done(visitor) == ["Add a paper", "Say what your hour costs"]
