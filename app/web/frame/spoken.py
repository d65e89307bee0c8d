"""The shop's language on every page: what templates say their words with."""

from __future__ import annotations

from flask import Flask, request

from app import dates
from app.language import ENGLISH, LANGUAGES, catalogue, language, say
from app.services.shop.settings import the_shop
from app.services.shop.wording import capital, within
from app.web.frame import session

SILENT = ("static", "help.pulse")
"""What says no word."""


def direction() -> str:
    """Which way the language is written: ``ltr`` or ``rtl``."""
    return dates.locale(language.get()).text_direction


def as_the_browser_asks() -> None:
    """What is told before the shop is asked, or where it cannot be read, has no language yet."""
    language.set(request.accept_languages.best_match(LANGUAGES, ENGLISH))


def _before_a_page() -> None:
    """Forms say their labels when they are made, which is before a page asks for the shop.

    What is sent may have to wait for its turn to write, and asks beside it.
    """
    if request.endpoint in SILENT:
        return
    if request.method in ("GET", "HEAD"):
        session.shop()
    else:
        with session.reading() as beside:
            language.set(the_shop(beside).language)


def register(app: Flask) -> None:
    """Let templates speak: ``{% trans %}``, ``_()``, ``|spoken``."""
    app.before_request(_before_a_page)
    app.jinja_env.add_extension("jinja2.ext.i18n")
    app.jinja_env.policies["ext.i18n.trimmed"] = True
    app.jinja_env.install_gettext_callables(  # type: ignore[attr-defined]
        say,
        lambda one, many, n: catalogue(language.get()).ngettext(one, many, abs(n)),
        newstyle=True,
        pgettext=lambda about, text: catalogue(language.get()).pgettext(about, text),
    )
    app.jinja_env.filters |= {"spoken": say, "capital": capital, "within": within}
    app.jinja_env.globals.update(language=language.get, direction=direction)
