"""A visitor without a browser: fetches pages, checks every one of them, fills in their forms."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from xml.etree.ElementTree import Element

import html5lib
from flask import Flask
from flask.testing import FlaskClient

NS = "{http://www.w3.org/1999/xhtml}"
CONTROLS = ("input", "select", "textarea")


def words(element: Element) -> str:
    """The text of an element, its blanks made single."""
    return " ".join("".join(element.itertext()).split())


@dataclass
class FormOnPage:
    """A form with the values its controls hold now."""

    action: str
    method: str
    values: list[tuple[str, str]] = field(default_factory=list)

    def filled(self, changes: dict[str, Any]) -> list[tuple[str, str]]:
        """Its values with some changed; a name it does not have is a mistake of the test."""
        names = {name for name, _ in self.values}
        unknown = {k for k in changes if k not in names and not k.startswith("+")}
        assert not unknown, f"no such field: {unknown}; there are {sorted(names)}"
        kept = [(k, v) for k, v in self.values if k not in changes]
        return kept + [(k.removeprefix("+"), str(v)) for k, v in changes.items()]


class Page:
    """A page that was fetched, parsed strictly and found sound."""

    def __init__(self, path: str, status: int, text: str) -> None:
        self.path, self.status, self.text = path, status, text
        self.tree: Element = html5lib.HTMLParser(strict=True).parse(text)
        check_sound(self.tree, path)

    def all(self, tag: str) -> list[Element]:
        """Elements of a tag in the order of the page."""
        return list(self.tree.iter(NS + tag))

    @property
    def words(self) -> str:
        """Everything it says."""
        return words(self.all("body")[0])

    @property
    def said(self) -> str:
        """What it says about the deed just done."""
        return " ".join(words(d) for d in self.all("div") if d.get("class") == "said")

    def form(self, having: str) -> FormOnPage:
        """The form with a control of a name."""
        for element in self.all("form"):
            found = read_form(element, self.path)
            if any(name == having for name, _ in found.values):
                return found
        raise AssertionError(f"no form on {self.path} has {having}")

    def value(self, name: str) -> str:
        """What a control holds."""
        for element in self.all("form"):
            for key, value in read_form(element, self.path).values:
                if key == name:
                    return value
        raise AssertionError(f"{name} is not on {self.path}")

    def options(self, name: str) -> list[tuple[str, str]]:
        """The values and words offered by a select."""
        for element in self.all("select"):
            if element.get("name") == name:
                return [(str(o.get("value")), words(o)) for o in element.iter(NS + "option")]
        raise AssertionError(f"{name} is not on {self.path}")

    def error_at(self, name: str) -> str:
        """The message beside a field."""
        for element in self.tree.iter():
            if element.get("id") == f"{name}-error":
                return words(element)
        raise AssertionError(f"no place for a message at {name}")

    def errors(self) -> dict[str, str]:
        """Every message beside a field."""
        return {
            str(e.get("id")).removesuffix("-error"): words(e)
            for e in self.tree.iter()
            if str(e.get("id")).endswith("-error") and words(e)
        }


def read_form(element: Element, path: str) -> FormOnPage:
    """A form as it stands on the page."""
    found = FormOnPage(element.get("action") or path, (element.get("method") or "get").lower())
    for control in element.iter():
        tag, name = control.tag.removeprefix(NS), control.get("name")
        if tag == "button" and name == "keep":
            # What a person presses to save, where Enter alone would only update the figures.
            found.values.append((name, control.get("value", "")))
        if tag not in CONTROLS or not name:
            continue
        if tag == "select":
            options = list(control.iter(NS + "option"))
            chosen = [o for o in options if o.get("selected") is not None] or options[:1]
            found.values += [(name, o.get("value", words(o))) for o in chosen]
        elif tag == "textarea":
            # The parser keeps the line break that HTML puts before the text.
            found.values.append((name, (control.text or "").removeprefix("\r").removeprefix("\n")))
        elif control.get("type") in ("checkbox", "radio"):
            if control.get("checked") is not None:
                found.values.append((name, control.get("value", "on")))
        else:
            found.values.append((name, control.get("value", "")))
    return found


def check_sound(tree: Element, path: str) -> None:
    """A title, one heading of the first order, ids of their own, a label for every control, and
    one filled button at most, what is folded away not counted."""
    titles = [words(t) for t in tree.iter(NS + "title") if words(t)]
    assert titles, f"{path} has no title"
    assert len(list(tree.iter(NS + "h1"))) == 1, f"{path} has not one h1"
    ids = Counter(e.get("id") for e in tree.iter() if e.get("id"))
    doubled = [key for key, times in ids.items() if times > 1]
    assert not doubled, f"{path} has ids twice: {doubled}"
    filled = [
        words(element) for element in _in_sight(tree) if "deed" in element.get("class", "").split()
    ]
    assert len(filled) <= 1, f"{path} has more than one filled button: {filled}"
    labelled = {label.get("for") for label in tree.iter(NS + "label")}
    inside = {id(c) for label in tree.iter(NS + "label") for c in label.iter()}
    for control in tree.iter():
        if control.tag.removeprefix(NS) not in CONTROLS or control.get("type") == "hidden":
            continue
        name = control.get("name")
        assert control.get("id") in labelled or id(control) in inside, f"{path}: {name} unlabelled"
        for about in (control.get("aria-describedby") or "").split():
            assert about in ids, f"{path}: {name} is described by {about}, which is not there"


class Visitor:
    """Walks through the application as a person without scripts would."""

    def __init__(self, app: Flask) -> None:
        self.client: FlaskClient = app.test_client()

    def get(self, path: str, status: int = 200) -> Page:
        """Open a page."""
        return self._page(path, self.client.get(path, follow_redirects=True), status)

    def send(self, page: Page, having: str, changes: dict[str, Any], status: int = 200) -> Page:
        """Fill in the form that has a control, send it, and follow where it leads."""
        form = page.form(having)
        return self.post(form.action, form.filled(changes), status)

    def post(self, path: str, values: list[tuple[str, str]], status: int = 200) -> Page:
        """Send values to an address and follow where it leads."""
        data: dict[str, list[str]] = {}
        for name, value in values:
            data.setdefault(name, []).append(value)
        answer = self.client.post(path, data=data, follow_redirects=True)
        return self._page(path, answer, status)

    def _page(self, path: str, answer: Any, status: int) -> Page:
        assert answer.status_code == status, f"{path}: {answer.status_code}, {answer.text[:3000]}"
        where = answer.request.path
        query = answer.request.query_string.decode()
        return Page(where + ("?" + query if query else ""), answer.status_code, answer.text)


def _in_sight(element: Element) -> Iterator[Element]:
    """An element and all in it that is not folded away."""
    yield element
    folded = element.tag == f"{NS}details" and element.get("open") is None
    for child in element:
        if not folded or child.tag == f"{NS}summary":
            yield from _in_sight(child)
