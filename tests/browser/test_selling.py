"""From a phone call to a receipt, and from a proposal to the shelf, on a desk and on a phone."""

from __future__ import annotations

import re
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pdfplumber
import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import House
from tests.browser.test_journeys import fill, follow, in_days, press, station

pytestmark = pytest.mark.browser
WIDTHS = pytest.mark.parametrize("wide", [1280, 390])


def downloaded(page: Page, words: str) -> str:
    """The text of a PDF behind a link of the page."""
    link = page.locator("main").get_by_role("link", name=words).first.get_attribute("href")
    answer = page.request.get(page.url.split("/orders")[0] + str(link))
    assert answer.headers["content-type"] == "application/pdf"
    with pdfplumber.open(BytesIO(answer.body())) as found:
        return "\n".join(sheet.extract_text() for sheet in found.pages)


@WIDTHS
def test_a_one_off_from_the_phone_call_to_the_receipt(
    page: Page, demo_house: House, wide: int
) -> None:
    """A size of their own: drawn from a journal, quoted, agreed, made, delivered, paid."""
    page.set_viewport_size({"width": wide, "height": 844})
    page.goto(demo_house.address + "/journals/4")
    fill(page, leaf_height="140 mm")
    press(page, "Save as a one-off for an order")
    page.goto(demo_house.address + "/orders/new?variant=" + one_off(page))
    fill(page, customer="Philippa Stroud", reach="pip@stroud.example", wanted_by=in_days(50),
         lines__0__unit_price="60", lines__0__asked_for="her late father's initials")  # fmt: skip
    press(page, "Save the order")
    follow(page, "Write a quote and packing slips")
    press(page, "Write the quote")
    assert "Total £60.00" in downloaded(page, "PDF to print or send")
    expect(page.locator("textarea#mail")).to_have_value(re.compile("Dear Philippa Stroud,"))
    page.locator("main").get_by_role("link", name=re.compile("^order ")).click()
    press(page, "Accept")
    # Made at the kitchen table without a batch: booked in, then it is ready.
    press(page, "Book in 1 made without a batch, and mark as ready")
    follow(page, "Write the invoice and packing slips")
    press(page, "Write the invoice")
    invoice = downloaded(page, "PDF to print or send")
    for words in ("Philippa Stroud", "her late father's initials", "To pay £60.00"):
        assert words in invoice
    page.locator("main").get_by_role("link", name=re.compile("^order ")).click()
    press(page, "Mark as delivered")
    expect(page.get_by_role("status")).to_contain_text("£60.00 is still to pay.")
    press(page, "Write a receipt")
    expect(page.get_by_role("status")).to_contain_text("£60.00.")
    number = page.locator("td[data-label=Receipt] a").inner_text()
    receipt = downloaded(page, number)
    assert f"Receipt {number}" in receipt
    assert "Paid so far £60.00" in receipt
    expect(page.locator("tr.sum").first).to_contain_text("£0.00")


def one_off(page: Page) -> str:
    """The number of the variant that an order of the one-off just saved is to be of."""
    expect(page).to_have_url(re.compile(r"variant=\d+|variants/\d+|variant_id=\d+"))
    found = re.search(r"(?:variant=|variants/|variant_id=)(\d+)", page.url)
    assert found is not None
    return found[1]


@WIDTHS
def test_a_batch_of_two_designs_from_the_proposal_to_the_shelf(
    page: Page, demo_house: House, wide: int, tmp_path: Path
) -> None:
    """Begun, one spoiled, more taken, an offcut kept; its cost traced to its lots and minutes."""
    page.set_viewport_size({"width": wide, "height": 844})
    page.goto(demo_house.address)
    station(page, "Bench")
    expect(page.locator("main")).to_contain_text("To make next")
    page.goto(demo_house.address + "/stockroom/batches/new")
    for field in page.locator("[name^=make_]").all():
        field.fill("")
    page.get_by_label("Curlew daybook, Brown").first.fill("1")
    page.get_by_label("Samphire pocket book, Brown").first.fill("2")
    press(page, "Begin the batch")
    expect(page.get_by_role("status")).to_contain_text("is begun")
    batch = page.url
    expect(page.locator("main")).to_contain_text("Keep from each:")
    expect(page.locator("main")).to_contain_text("offcut kept")
    page.locator("summary", has_text="What went into it").click()
    page.locator("main").get_by_role("link", name=re.compile("more, or back.*beads")).first.click()
    fill(page, quantity="1", why="taken as well: some was spoiled")
    page.locator("main form button").first.click()
    expect(page.get_by_role("status")).to_contain_text("Taken,")
    press(page, "Start")
    expect(page.locator("#work")).to_contain_text("the clock runs")
    press(page, "Stop")
    follow(page, "Ticket to print")
    expect(page.locator("main")).to_contain_text("Taken as well since it was begun: 1")
    page.goto(batch)
    good = page.locator("[name^=good_]")
    expect(good).to_have_count(2)
    page.get_by_label(re.compile("Good ones of 2 Samphire")).fill("1")
    press(page, "Put them on the shelf")
    expect(page.get_by_text("Say why they were spoiled.")).to_be_visible()
    page.get_by_label(re.compile("Why.*Samphire")).fill("cut askew")
    fill(page, minutes="90")
    press(page, "Put them on the shelf")
    expect(page.locator("main")).to_contain_text("cut askew")
    check_the_account(page)
    # Its journals lead to the lots they came from, and those back to the batch.
    page.locator("main").get_by_role("link", name="Curlew daybook, Brown").last.click()
    expect(page.locator("main")).to_contain_text(f"Batch {batch.rpartition('/')[2]}")


def check_the_account(page: Page) -> None:
    """What went in, lot by lot, and the minutes make what came out, line by line, as shown."""
    went_in = section(page, "What went into it")
    came_out = section(page, "What came out")
    assert sum(went_in[:-1]) == went_in[-1]
    assert sum(came_out[:-1]) == came_out[-1]
    words = page.locator("main").inner_text()
    found = re.search(r"£(\d+\.\d\d) of materials and £(\d+\.\d\d) for .* make £(\d+\.\d\d)", words)
    assert found is not None
    materials, work, whole = map(Decimal, found.groups())
    assert (materials, whole) == (went_in[-1], came_out[-1])
    assert materials + work == whole


def section(page: Page, head: str) -> list[Decimal]:
    """The costs of a section's table, its total last."""
    table = page.locator("section", has=page.get_by_role("heading", name=head)).locator("table")
    rows = table.locator("td[data-label=Cost]").all_text_contents()
    total = table.locator("tfoot td.n").first.text_content() or ""
    return [Decimal(text.replace("−", "-")) for text in [*rows, total]]
