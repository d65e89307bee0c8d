"""The six jobs that a maker opens the program for, done by a hand of any kind.

A hand is a mouse on a desk, or a keyboard alone on a screen as narrow as a phone; scripts may be
switched off. It counts what it types and what it presses, as a person would, and reads the language
that is spoken: what it looks for is asked of the catalogue.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

from playwright.sync_api import Locator, Page, expect

from app.language import say
from tests.browser.conftest import PATIENCE, House

MOST_TABS = 400


@dataclass
class Hand:
    """Finds things by what they say. With ``keys`` it has nothing but a keyboard."""

    page: Page
    keys: bool = False
    fields: int = 0
    presses: int = 0

    def follow(self, words: str | re.Pattern[str]) -> None:
        """Follow a link of the page."""
        main = self.page.locator("main")
        words = say(words) if isinstance(words, str) else words
        link = main.get_by_role("link", name=words, exact=True).first
        folded = main.locator("details:not([open])", has=self.page.locator("a", has_text=words))
        if not link.is_visible() and folded.count():
            self._touch(folded.first.locator("summary").first)
        self._press(link)

    def follow_to(self, address: str) -> None:
        """Follow the first link to an address that begins so."""
        self._press(self.page.locator(f"main a[href^='{address}']").first)

    def station(self, words: str) -> None:
        """Go along the thread."""
        thread = self.page.get_by_role("navigation", name=say("Stations"))
        self._press(thread.get_by_role("link", name=say(words)))

    def press(self, words: str) -> None:
        """Press a button."""
        self._press(self.page.get_by_role("button", name=say(words), exact=True).first)

    def fill(self, label: str, text: str) -> None:
        """Type into a field."""
        field = self._field(label)
        self.fields += 1
        if not self.keys:
            field.fill(text)
        elif field.get_attribute("type") == "date":
            year, month, day = text.split("-")
            self.page.keyboard.type(f"{month}{day}{year}")
        else:
            self.page.keyboard.press("Control+a")
            self.page.keyboard.press("Delete")
            self.page.keyboard.type(text)

    def choose(self, label: str, choice: str) -> None:
        """Choose of a list."""
        field = self._field(label)
        self.fields += 1
        if self.keys:
            self.page.keyboard.type(say(choice))
            expect(field.locator("option:checked")).to_have_text(say(choice))
        else:
            field.select_option(label=say(choice))

    def _field(self, label: str) -> Locator:
        field = self.page.locator("main").get_by_label(say(label), exact=True).first
        folded = field.locator("xpath=ancestor::details[not(@open)]/summary")
        if folded.count():
            self._touch(folded.first)
        if self.keys:
            self._reach(field)
        return field

    def _press(self, what: Locator) -> None:
        """Press what leads to another page, and wait for it."""
        with self.page.expect_navigation(timeout=PATIENCE):
            self._touch(what)

    def _touch(self, what: Locator) -> None:
        self.presses += 1
        if self.keys:
            self._reach(what)
            self.page.keyboard.press("Enter")
        else:
            what.click()

    def _reach(self, what: Locator) -> None:
        """Go there by Tab alone, and see that the place can be seen when one is there."""
        wanted = what.element_handle(timeout=PATIENCE)
        assert wanted is not None
        for _ in range(MOST_TABS):
            if wanted.evaluate("e => e === document.activeElement"):
                break
            self.page.keyboard.press("Tab")
        else:
            raise AssertionError(f"no way to {what} by Tab")
        assert wanted.evaluate(IN_SIGHT), f"{what} has the focus and is hidden under a bar"


IN_SIGHT = """e => {
  const box = e.getBoundingClientRect();
  const x = Math.min(Math.max(box.left + box.width / 2, 1), innerWidth - 1);
  const at = document.elementFromPoint(x, box.top + Math.min(box.height, innerHeight) / 2);
  return at !== null && (e.contains(at) || at.contains(e));
}"""


def like(message: str) -> re.Pattern[str]:
    """A message in the language that is spoken, whatever its places are filled with."""
    words = re.sub(r"<[^>]*>", "", say(message))
    return re.compile(".+".join(map(re.escape, re.split(r"\{\w+\}|%\(\w+\)s", words))))


def said(hand: Hand, message: str) -> None:
    """What the program says of the deed just done."""
    expect(hand.page.locator(".said")).to_contain_text(like(message), timeout=PATIENCE)


def price(hand: Hand, house: House) -> None:
    """From an empty shop to a first price in each channel."""
    page = hand.page
    page.goto(house.address)
    for name, weight, size, cost in (
        ("Cartridge", "160", "700 x 1000", "0.60"), ("Cover card", "300", "SRA2", "0.90"),
    ):  # fmt: skip
        hand.station("Today")
        hand.follow("Add a paper")
        hand.fill("Name", name)
        hand.fill("Weight", weight)
        hand.fill("Size of a sheet", size)
        hand.choose("Grain runs", "along the height")
        hand.fill("Sold by", "Weir Street Papers")
        hand.fill("A pack costs", cost)
        hand.press("Save the paper")
        expect(page.locator("main")).to_contain_text(say("{name} is on the list.", name=name))
    hand.station("Today")
    hand.follow_to("/stockroom/materials/new")
    hand.fill("Name", "Linen thread")
    hand.fill("A pack holds", "50 m")
    hand.fill("Sold by", "Weir Street Papers")
    hand.fill("A pack costs", "6")
    hand.press("Save the material")
    hand.station("Today")
    hand.follow_to("/journals/new")
    hand.follow("Pamphlet of one signature")
    hand.fill("Name of the journal", "Tideline pamphlet")
    hand.choose("Paper of the leaves", "Cartridge")
    hand.choose("Paper of the cover", "Cover card")
    hand.choose("Thread", "Linen thread")
    hand.press("Save the journal")
    said(hand, "{journal} is saved as design 1.")
    expect(page.locator("#answer")).to_contain_text(like("suggested, %(channel)s"))


def order(hand: Hand, house: House) -> None:
    """An order logged, with a deposit, and accepted."""
    hand.page.goto(house.address)
    hand.follow("Log an order")
    hand.fill("Who", "Ottilie Brand")
    hand.choose("Which", "Reed pocket book, Reeds")
    hand.fill("How many", "2")
    hand.fill("By when", (date.today() + timedelta(days=40)).isoformat())
    hand.fill("Deposit paid now", "20")
    hand.choose("Paid how", "cash")
    hand.press("Save the order")
    said(hand, "Order {number} is saved.")
    hand.press("Accept")
    accepted = say("Order {number} is {state} now.", number="{number}", state=say("accepted"))
    said(hand, accepted)


def buy(hand: Hand, house: House) -> None:
    """The buy list read, drafted, and the first purchase sent."""
    hand.page.goto(house.address)
    hand.station("Buying")
    hand.press("Draft the purchases")
    said(hand, "Drafted for {suppliers}. Look them over, order, and say that they are sent.")
    hand.follow(like("Purchase %(number)s"))
    hand.press("Mark as sent")
    said(hand, "On its way; expected by {day}.")


def batch(hand: Hand, house: House) -> None:
    """A batch begun, its journals put on the shelf."""
    page = hand.page
    page.goto(house.address)
    hand.station("Bench")
    hand.follow("Begin another batch")
    for n in range(page.locator("[name^=make_]").count()):
        field = page.locator("[name^=make_]").nth(n)
        label = page.locator(f"label[for={field.get_attribute('id')}]").inner_text()
        wanted = "1" if label == "Reed pocket book, Reeds" else ""
        if field.input_value() != wanted:
            hand.fill(label, wanted)
    hand.press("Begin the batch")
    said(hand, "Batch {number} is begun; its materials have left the stock.")
    journal = "Reed pocket book, Reeds"
    hand.fill(say("Good ones of {number} {journal}", number=1, journal=journal), "1")
    hand.fill("Minutes it took", "40")
    hand.press("Put them on the shelf")
    said(hand, "{number} on the shelf.")


def invoice(hand: Hand, house: House) -> None:
    """An invoice for an order that is ready, and its PDF."""
    page = hand.page
    page.goto(house.address)
    hand.station("Orders")
    hand.follow(re.compile("Maud Ansty|^24"))
    hand.follow("Write the invoice and packing slips")
    hand.press("Write the invoice")
    link = page.locator("main").get_by_role("link", name=say("PDF to print or send"))
    made = page.request.get(house.address + str(link.get_attribute("href")))
    assert made.body().startswith(b"%PDF")


def market(hand: Hand, house: House) -> None:
    """A market from the calendar to what an hour of it earned."""
    page = hand.page
    page.goto(house.address)
    hand.station("Markets")
    hand.follow("Add a market")
    hand.fill("Name", "Harbour day")
    hand.fill("First day", date.today().isoformat())
    hand.fill("Stall fee", "15")
    hand.press("Save the market")
    hand.fill("Reed pocket book, Reeds", "3")
    hand.press("Save the list")
    said(hand, "The list is saved.")
    hand.follow("Packing list")
    hand.fill("Reed pocket book, Reeds", "3")
    hand.press("Save what is packed")
    said(hand, "{packed} of {taken} journals are packed.")
    hand.follow("Harbour day")
    hand.follow("Close the day")
    hand.fill("Reed pocket book, Reeds", "1")
    hand.fill("In the box at first", "50")
    hand.fill("Counted at the end", "120")
    hand.fill("Hours at the stall", "5")
    hand.press("Close the day")
    account = "<strong>%(earns)s an hour</strong> for %(hours)s of yours, %(whole)s in all."
    expect(page.locator("main")).to_contain_text(like(account))


JOBS = {
    "the first price": price,
    "an order": order,
    "the buy list": buy,
    "a batch": batch,
    "an invoice": invoice,
    "a market closed": market,
}
IN_AN_EMPTY_SHOP = {"the first price"}
