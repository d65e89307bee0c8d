"""The shop's language on every page: what templates say their words with."""

from __future__ import annotations

from flask import Flask, request

from app import dates
from app.language import catalogue, language, say
from app.web.frame import session


def spoken(text: str) -> str:
    """A word or sentence that stands marked in the code, in the shop's language."""
    return say(text) if text else ""


def direction() -> str:
    """Which way the language is written: ``ltr`` or ``rtl``."""
    return dates.locale(language.get()).text_direction


def _before_a_page() -> None:
    """Forms say their labels when they are made, which is before a page asks for the shop."""
    if request.endpoint != "static":
        session.shop()


def register(app: Flask) -> None:
    """Let templates speak: ``{% trans %}``, ``_()``, ``|spoken``."""
    app.before_request(_before_a_page)
    app.jinja_env.add_extension("jinja2.ext.i18n")
    app.jinja_env.policies["ext.i18n.trimmed"] = True
    app.jinja_env.install_gettext_callables(  # type: ignore[attr-defined]
        lambda text: catalogue(language.get()).gettext(text),
        lambda one, many, n: catalogue(language.get()).ngettext(one, many, abs(n)),
        newstyle=True,
    )
    app.jinja_env.filters["spoken"] = spoken
    app.jinja_env.globals.update(language=language.get, direction=direction)
