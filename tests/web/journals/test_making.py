"""Steps, templates, map, comparison and one-offs on their pages."""

from __future__ import annotations

import io

import pdfplumber
import pytest

from app.core.structures import structures
from tests.web.visitor import Visitor


def test_steps_for_a_helper(guest: Visitor) -> None:
    page = guest.get("/journals/1/variants/1/steps")
    assert "Lay the punching guide into the fold" in page.words
    assert "Take care: Cut on a mat" in page.words
    assert "Begin inside at station 2" in page.words
    assert "What goes into one" in page.words
    titles = [t.text for t in page.tree.iter("{http://www.w3.org/2000/svg}title")]
    assert "The thread's way" in titles


def test_templates_are_handed_out_as_pdf_and_svg(guest: Visitor) -> None:
    base = "/journals/1/variants/1"
    answer = guest.client.get(f"{base}/templates.pdf")
    assert answer.mimetype == "application/pdf"
    sheets = pdfplumber.open(io.BytesIO(answer.data)).pages
    assert len(sheets) >= 2
    assert "design 1" in sheets[0].extract_text()
    answer = guest.client.get(f"{base}/templates/cover.svg")
    assert answer.mimetype == "image/svg+xml"
    assert answer.text.startswith("<svg ")
    assert guest.client.get(f"{base}/templates/nothing.svg").status_code == 404
    assert guest.client.get("/journals/2/variants/1/templates.pdf").status_code == 404


def test_letter_paper_where_the_shop_prints_on_it(guest: Visitor) -> None:
    guest.send(guest.get("/shop"), "currency", {"print_paper": "Letter"})
    answer = guest.client.get("/journals/1/variants/1/templates.pdf")
    sheets = pdfplumber.open(io.BytesIO(answer.data)).pages
    assert {tuple(sorted((float(s.width), float(s.height)))) for s in sheets} == {(612.0, 792.0)}


def test_the_map_and_the_sheets_side_by_side(guest: Visitor) -> None:
    page = guest.get("/journals/1/variants/1/map")
    assert "by both sides of the leaf" in page.words
    assert "from 560 × 760 mm" in page.words


def variant_of(guest: Visitor, journal: int) -> str:
    """The variant a journal's page shows first."""
    page = guest.get(f"/journals/{journal}")
    [link] = [a.get("href") or "" for a in page.all("a") if "steps" in (a.get("href") or "")]
    return link.split("/")[4]


def test_designs_compared(guest: Visitor) -> None:
    page = guest.get("/journals/compare?with=1&with=3")
    assert "Bench minutes" in page.words
    assert "Leaf: height" in page.words
    assert guest.get("/journals/compare?with=999&with=abc").status == 200


def test_a_one_off_is_kept_and_ordered(guest: Visitor) -> None:
    page = guest.get("/journals/1")
    page = guest.send(page, "leaf_height", {"leaf_height": "175 mm", "+one_off": "1"})
    assert "One-off" in page.words
    assert "log the order for it" in page.said
    form = page.form("customer")
    chosen = dict(form.values)["lines-0-variant"]
    page = guest.send(page, "customer", {"customer": "Miss Pike", "lines-0-unit_price": "55"})
    assert "Miss Pike" in page.words
    assert "One-off" in page.words
    assert chosen not in [
        v for k, v in guest.get("/orders/new").form("customer").values if "variant" in k
    ]


@pytest.mark.parametrize("key", list(structures()))
def test_every_structure_is_drawn_on_an_empty_and_a_full_shop(visitor: Visitor, key: str) -> None:
    page = visitor.get(f"/journals/new?structure={key}")
    assert structures()[key].name in page.words
    assert "What one costs" in page.words
    page = visitor.send(page, "variant_name", {"name": "Try the import", "variant_name": "Plain"})
    assert "Try the import is saved as design 1" in page.said
    link = f"/journals/1/variants/{variant_of(visitor, 1)}"
    assert "Making Try the import" in visitor.get(link + "/steps").words
    visitor.get(link + "/map")


def test_parts_are_typed_with_their_amounts(guest: Visitor) -> None:
    page = guest.get("/journals/new?structure=parts_list")
    page = guest.send(page, "variant_name", {"name": "Pen loop", "role_part_1": "1",
                                             "amount_part_1": "lots"}, 422)  # fmt: skip
    assert "lots" in dict(page.form("variant_name").values)["amount_part_1"]
    assert "not a number" in page.words or "cannot be read" in page.words or "“lots”" in page.words
    page = guest.send(page, "variant_name", {"amount_part_1": ""}, 422)
    assert "Say how much of it goes into one" in page.words
    page = guest.send(page, "variant_name", {"amount_part_1": "0.2 m"})
    assert "Pen loop is saved as design 1" in page.said
    assert dict(page.form("amount_part_1").values)["amount_part_1"] == "0.2 m"


def test_postage_stands_beside_the_weight(guest: Visitor) -> None:
    page = guest.get("/shop/postage/new")
    page = guest.send(page, "most_grams", {
        "name": "Everything", "most_grams": "30000", "long_nm": "1 m", "wide_nm": "1 m",
        "thick_nm": "50 cm", "price": "9.50",
    })  # fmt: skip
    assert "Everything" in page.words
    page = guest.get("/shop/postage/new")
    page = guest.send(page, "most_grams", {
        "name": "Odd", "most_grams": "100", "long_nm": "10 cm", "wide_nm": "20 cm",
        "thick_nm": "1 cm", "price": "1",
    }, 422)  # fmt: skip
    assert "swap them" in page.words
