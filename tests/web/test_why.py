"""Every amount, time, length, date and count that is reckoned opens to its sum, or to its rows."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from xml.etree.ElementTree import Element

import pytest
from flask import Flask

from tests.web.test_languages import typed_by_makers
from tests.web.test_pages import ON_THE_DEMO, PLACES
from tests.web.visitor import NS, Page, Visitor, words

FIGURE = re.compile(
    r"[£€$]\s?\d"  # money with its sign
    r"|(?<![\w/])\d[\d,]*\.\d\d(?![\d,.]|\s?mm)"  # money in a column
    r"|\b\d+ (?:h|min)\b"
    r"|\d[\d,.]* (?:mm|m|m²|dm²)(?!\w)"
    r"|\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d{1,2} [A-Z][a-z]{2}\b"
    r"|(?<![\w.,:£/×-])(?<!\b[Dd]esign )(?<!\b[Oo]rder )(?<!\b[Bb]atch )(?<!\b[Qq]uote )"
    r"\d[\d,]*(?![\w.,:/%-]|\s[a-z])"  # a count by itself
    r"|(?<![\w.,:£/×-])\d[\d,]* (?:sheet|journal|folio|page|piece|pack|order|hole|signature)s?\b"
)
ROWS = {"tr", "li", "p", "dl", "figure", "caption"}
SVG = "{http://www.w3.org/2000/svg}"
NOT_READ = {
    "script", "style", "option", "input", "textarea", "label", "summary",
    # They name a thing, or the rows below them.
    "h1", "h2", "h3", "caption", "button", "legend",
}  # fmt: skip
ON_PAPER = ("/ticket",)
"""Pages for the bench's wall: their figures are opened on the page of the batch."""


def tag_of(element: Element) -> str:
    return element.tag.removeprefix(NS) if isinstance(element.tag, str) else ""


def is_opened(element: Element | None, above: dict[Element, Element]) -> bool:
    """Whether a figure in an element leads on, is a sum of the rows above it, or was typed.

    ``data-why`` names the place on the page that says how it comes about; ``data-given`` stands
    where nothing is reckoned: what somebody typed, counted or agreed.
    """
    while element is not None:
        tag, css = tag_of(element), (element.get("class") or "").split()
        if tag in ("a", "details", "tfoot") or "hint" in css or (tag == "tr" and "sum" in css):
            return True
        if element.get("data-why") or element.get("data-given") is not None:
            return True
        if tag in ROWS and any(tag_of(e) in ("a", "details") for e in element.iter()):
            return True
        element = above.get(element)
    return False


def unopened(page: Page, names: Collection[str] = ()) -> Iterator[str]:
    """What says a figure and leads nowhere; one in a name that a maker typed is none."""
    above = {child: parent for parent in page.tree.iter() for child in parent}
    [main] = page.all("main")
    drawn = {id(inner) for svg in main.iter(SVG + "svg") for inner in svg.iter()}
    for element in main.iter():
        if id(element) in drawn or tag_of(element) in NOT_READ or not tag_of(element):
            continue
        for text in (element.text, *(child.tail for child in element)):
            for name in names if text else ():
                text = (text or "").replace(name, "")
            if text and FIGURE.search(text) and not is_opened(element, above):
                yield f"<{tag_of(element)}> {' '.join(text.split())[:80]}"


@pytest.mark.parametrize("path", [p for p in PLACES + ON_THE_DEMO if not p.endswith(ON_PAPER)])
def test_every_figure_opens(guest: Visitor, demo_app: Flask, path: str) -> None:
    if guest.client.get(path).mimetype != "text/html":
        return
    page = guest.get(path)
    names = [name for name in typed_by_makers(demo_app) if re.search(r"\d", name)]
    assert list(unopened(page, names)) == []
    places = {e.get("id"): e for e in page.tree.iter() if e.get("id")}
    for element in page.tree.iter():
        named = element.get("data-why")
        if named:
            assert named in places, f"{named} is not on the page"
            assert len(words(places[named])) > 20


def test_a_figure_that_leads_nowhere_is_found() -> None:
    page = Page("/", 200, (
        "<!doctype html><html lang=en><head><title>A</title></head><body><main><h1>A</h1>"
        "<p>It costs £4.20.</p><p>It costs <a href='/'>£4.20</a>.</p>"
        "<table><tr><td>39 min</td></tr><tr class=sum><td>39 min</td></tr></table>"
        "</main></body></html>"
    ))  # fmt: skip
    assert list(unopened(page)) == ["<p> It costs £4.20.", "<td> 39 min"]
