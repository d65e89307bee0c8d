"""Leather and cloth by area: put on the list, bought, received, counted and used in a journal."""

from __future__ import annotations

from tests.web.visitor import Visitor


def test_a_skin_from_the_list_to_the_journal(stocked: Visitor) -> None:
    page = stocked.get("/stockroom/materials/new")
    assert "by area (leather, cloth, foil)" in page.words
    typed = {"name": "Goatskin", "measure": "area", "waste": "43", "weight_mg": "700"}
    page = stocked.send(page, "measure", typed)
    assert "Goatskin: now who sells it?" in page.said
    address = page.path
    offer = stocked.get(f"{address}/offers/new")
    page = stocked.send(
        offer, "pack_quantity",
        {"new_supplier": "Tannery Lane", "pack_quantity": "7 sq ft", "pack_price": "39"},
    )  # fmt: skip
    assert "65.03 dm²" in page.words
    page = stocked.send(page, "quantity", {"quantity": "1,5 m²", "cost": "90"})
    assert "1.5 m²" in page.words
    refused = stocked.send(page, "quantity", {"quantity": "6 dm", "cost": "1"}, 422)
    assert "“dm” is no unit of area: use dm², m², sq ft or sq in." in refused.words
    page = stocked.send(stocked.get(address), "counted", {"counted": "148 dm²", "why": "spoiled"})
    assert "1.48 m²" in page.words
    # A label of it on every journal.
    number = address.rsplit("-", 1)[1]
    label = {"parts-0-name": "Leather label", "parts-0-material": number, "parts-0-amount": "6"}
    form = stocked.get("/journals/1")
    refused = stocked.send(form, "leaf_height", label | {"+keep": "1"}, 422)
    assert "Say the unit as well, as in 6 dm²." in refused.words
    page = stocked.send(form, "leaf_height", label | {"parts-0-amount": "6 dm2", "+keep": "1"})
    assert page.value("parts-0-amount") == "6 dm²"
    assert "Leather label, Goatskin" in page.words
    table = stocked.client.get("/lists/movements.csv").get_data(as_text=True)
    assert "dm²" in table
