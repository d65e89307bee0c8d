"""Buttons of the design page that ask for more fields and save nothing."""

from __future__ import annotations

from tests.web.visitor import Page, Visitor


def press_button(
    visitor: Visitor, page: Page, button: str, typed: dict[str, str], status: int = 200
) -> Page:
    """The page as it is made anew with what was typed."""
    form = page.form("leaf_height")
    values = [(k, v) for k, v in form.filled(typed) if k != "keep"]
    return visitor.post(form.action, [*values, (button, "1")], status)
