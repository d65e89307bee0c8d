"""Made in the shop: a recipe typed, priced, wanted by an order, made in a batch, given up."""

from __future__ import annotations

import re

import pytest

from tests.web.visitor import Visitor, read_form

ROW = {"parts-0-thing": "material-2", "parts-0-amount": "2 m"}


def tassels(stocked: Visitor) -> str:
    """A material that nobody sells, and the address of its page."""
    page = stocked.get("/stockroom/materials/new")
    page = stocked.send(page, "measure", {"name": "Tassels", "measure": "count", "waste": "0"})
    return page.path


def number_of(address: str) -> str:
    return address.rsplit("-", 1)[1]


def with_recipe(stocked: Visitor, **changes: str) -> str:
    address = tassels(stocked)
    typed = ROW | {"makes": "10", "minutes": "30", "days": "1", "loss": "10%"} | changes
    page = stocked.send(stocked.get(f"{address}/recipe"), "makes", typed)
    assert "It is planned and priced as made here" in page.said
    return address


def test_from_a_recipe_to_the_shelf(stocked: Visitor) -> None:
    address = with_recipe(stocked)
    page = stocked.get(address)
    assert "Made here One time makes 10" in page.words
    page = stocked.get(f"{address}/recipe")
    # Two metres of cord at 6 for 25 with 5% wasted, half an hour with its allowance; a tenth lost.
    assert page.value("parts-0-amount") == "2 m"
    assert page.value("loss") == "10%"
    [each] = re.findall(r"10% lost as a rule\s*([\d.]+)", page.words)
    rows = [float(n) for n in re.findall(r'class="n">(?:[^\d<]*)([\d.]+)</td>', page.text)]
    *parts, total = rows
    assert sum(parts) == pytest.approx(total, abs=0.011)
    assert float(each) == pytest.approx(total / 10, abs=0.011)
    # None of the cord is here yet.
    page = stocked.get(f"{address}/make")
    refused = stocked.send(page, "times", {"times": "3"}, 422)
    assert "1 material are short" in refused.words or "short" in refused.words
    assert "Short by" in refused.text
    stocked.send(stocked.get("/stockroom/items/material-2"), "quantity",
                 {"quantity": "20 m", "cost": "5"})  # fmt: skip
    page = stocked.send(stocked.get(f"{address}/make?times=3"), "times", {})
    assert "is begun" in page.said
    assert "Tassels, 3 times: 27 expected" in page.words
    batch = page.path
    assert "27 Tassels, for the stock" in stocked.get("/stockroom/batches").words
    none = stocked.send(page, "minutes", {"good_1": "0", "minutes": "90"}, 422)
    assert "Tick that all of it was lost, or cancel" in none.errors()["good_1"]
    page = stocked.send(page, "minutes", {"good_1": "26", "minutes": "90"})
    assert "26 of Tassels is in the stock." in page.said
    assert "lost beyond the rule, no cost of the good ones" in page.words
    assert "26" in stocked.get(address).words
    assert stocked.get(batch).words.count("Tassels") >= 2


def test_a_batch_of_goods_is_cancelled_and_taken_up_again(stocked: Visitor) -> None:
    address = with_recipe(stocked)
    stocked.send(stocked.get("/stockroom/items/material-2"), "quantity",
                 {"quantity": "20 m", "cost": "5"})  # fmt: skip
    page = stocked.send(stocked.get(f"{address}/make"), "times", {"times": "2"})
    batch = page.path
    cancel = stocked.get(f"{batch}/cancel")
    assert "18 Tassels" in cancel.words
    page = stocked.send(cancel, "once", {})
    assert "Its materials are back in the stock" in page.said
    page = stocked.send(page, "once", {})
    assert "in progress again" in page.said


def test_what_an_order_wants_of_it_is_to_be_made_first(stocked: Visitor) -> None:
    address = with_recipe(stocked)
    label = {"parts-0-name": "Tassel", "parts-0-material": number_of(address),
             "parts-0-amount": "1", "+keep": "1"}  # fmt: skip
    page = stocked.send(stocked.get("/journals/1"), "leaf_height", label)
    assert "Tassel, Tassels" in page.words
    order = stocked.get("/orders/1")
    agree = next(f for f in order.all("form") if "Accept" in "".join(f.itertext()))
    accept = read_form(agree, order.path)
    assert "is accepted now" in stocked.post(accept.action, accept.values).said
    page = stocked.get("/buying")
    assert "To make here first" in page.words
    # Four journals, a tassel each; ten at a time of which nine are good.
    assert re.search(r"Tassels 4 1 10 begun", page.words)
    assert f"{address}/make?times=1" in page.text
    # The cord for it is bought with that of the journals.
    assert "Tassels, made here" in page.words
    assert "Cord" in page.words


@pytest.mark.parametrize(
    ("typed", "field", "message"),
    [
        ({"makes": ""}, "makes", "needed"), ({"makes": "0"}, "makes", "more than nothing"),
        ({"days": "400"}, "days", "between 0 and 365"), ({"loss": "95"}, "loss", "between 0 and 90"),
        ({"minutes": "ages"}, "minutes", ""), ({"parts-0-thing": ""}, "parts-0-thing", "Choose what"),
        ({"parts-0-amount": "2"}, "parts-0-amount", "Say the unit as well, as in 12 cm."),
        ({"parts-0-amount": ""}, "parts-0-amount", "how much"),
        ({"parts-0-thing": "paper-1", "parts-0-amount": "1"}, "parts-0-width", "how large a piece"),
        ({"parts-0-thing": "paper-1", "parts-0-amount": "0", "parts-0-width": "10",
          "parts-0-height": "10"}, "parts-0-amount", "Between 1 and 1000"),
        ({"parts-0-thing": "paper-1", "parts-0-amount": "1", "parts-0-width": "wide",
          "parts-0-height": "10"}, "parts-0-width", ""),
    ],
)  # fmt: skip
def test_a_wrong_value_is_said_at_its_field_and_nothing_is_lost(
    stocked: Visitor, typed: dict[str, str], field: str, message: str
) -> None:
    address = tassels(stocked)
    sent = ROW | {"makes": "10", "minutes": "30", "days": "1", "loss": "10%"} | typed
    page = stocked.send(stocked.get(f"{address}/recipe"), "makes", sent, 422)
    assert field in page.errors(), page.errors()
    assert message in page.errors()[field]
    for name, value in sent.items():
        assert page.value(name) == value
    assert "Made here One time" not in stocked.get(address).words


def test_nothing_at_all_is_not_a_recipe(stocked: Visitor) -> None:
    address = tassels(stocked)
    page = stocked.send(stocked.get(f"{address}/recipe"), "makes", {"makes": "10"}, 422)
    assert page.errors() == {"parts-0-thing": "Say what it is made of."}


def test_a_circle_is_refused_at_the_part_that_closes_it(stocked: Visitor) -> None:
    address = with_recipe(stocked)
    page = stocked.get("/stockroom/items/material-2/recipe")
    typed = {"makes": "1 m", "parts-0-thing": f"material-{number_of(address)}",
             "parts-0-amount": "1"}  # fmt: skip
    page = stocked.send(page, "makes", typed, 422)
    assert page.errors() == {
        "parts-0-thing": "Cord is made of Tassels is made of Cord: a thing cannot be made of itself."
    }
    own = stocked.get(f"{address}/recipe")
    page = stocked.send(own, "makes", {"parts-0-thing": f"material-{number_of(address)}",
                                       "parts-0-amount": "1"}, 422)  # fmt: skip
    assert "Tassels is made of Tassels" in page.errors()["parts-0-thing"]


def test_another_part_keeps_what_was_typed(stocked: Visitor) -> None:
    address = tassels(stocked)
    page = stocked.send(
        stocked.get(f"{address}/recipe"), "makes", ROW | {"makes": "7", "+another": "1"}
    )
    assert page.value("makes") == "7"
    assert page.value("parts-0-amount") == "2 m"
    assert page.value("parts-1-amount") == ""


def test_a_paper_made_of_papers(stocked: Visitor) -> None:
    page = stocked.get("/stockroom/items/sheet-2/recipe")
    typed = {"makes": "1", "parts-0-thing": "paper-1", "parts-0-amount": "2", "parts-0-width": "500",
             "parts-0-height": "700", "parts-0-grain": "height", "days": "2"}  # fmt: skip
    page = stocked.send(page, "makes", typed)
    page = stocked.get("/stockroom/items/sheet-2/recipe")
    assert page.value("parts-0-thing") == "paper-1"
    assert page.value("parts-0-width") == "500 mm"
    assert page.value("parts-0-grain") == "height"


def test_a_recipe_is_given_up_after_a_question(stocked: Visitor) -> None:
    address = with_recipe(stocked)
    cord = stocked.get("/stockroom/items/material-3/recipe")
    stocked.send(cord, "makes", {"makes": "1", "parts-0-thing": f"material-{number_of(address)}",
                                 "parts-0-amount": "2"})  # fmt: skip
    page = stocked.get(f"{address}/recipe/remove")
    assert "Give up making Tassels?" in page.words
    assert "Made with it: Beads. Without an offer for it that has no price" in page.words
    none = stocked.get("/stockroom/items/material-3/recipe/remove")
    assert "Made with it" not in none.words
    page = stocked.send(page, "once", {})
    assert "It is bought from now on" in page.said
    assert "Make it here instead" in page.words
    assert "Made here One time" not in page.words
    assert stocked.get(f"{address}/make", 404)


def test_what_cannot_be_made_has_no_such_page(stocked: Visitor) -> None:
    for address in ("variant-1/recipe", "sheet-99/recipe", "nonsense/make", "material-1/make"):
        stocked.get(f"/stockroom/items/{address}", 404)


def test_a_window_left_open_is_told(stocked: Visitor) -> None:
    address = with_recipe(stocked)
    old = stocked.get(f"{address}/recipe")
    stocked.send(stocked.get(f"{address}/recipe"), "makes", {"makes": "12"})
    page = stocked.send(old, "makes", {"makes": "14"}, 422)
    assert "changed" in page.words
    assert page.value("makes") == "14"
