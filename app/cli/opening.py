"""Seeing that a shop is there before it is served, and emptying the demo's."""

from __future__ import annotations

import shutil
from datetime import date

import click

from app.config import Settings
from app.folder import FILE, files_of
from app.language import say


def throw_away(settings: Settings) -> None:
    """Remove a shop's database and pictures; asked for by whoever wants the demo anew."""
    for file in files_of(settings.folder / FILE):
        file.unlink()
    shutil.rmtree(settings.photos, ignore_errors=True)


def open_or_make(settings: Settings, *, demo: bool) -> None:
    """See that the shop is there and up to date, and say what was done for it."""
    from app.services.shop.moments import by_the_clock
    from app.services.upkeep.backups import before_upgrade, finish_restore
    from app.services.upkeep.opening import open_shop

    if finish_restore(settings):
        click.echo(say("A restore that was interrupted was finished."))
    fill = None
    if demo:
        from seed_demo import load_demo

        fill = lambda session: load_demo(session, date.today())  # noqa: E731, DTZ011 - the maker's day
    before = before_upgrade(settings, by_the_clock())
    opened = open_shop(settings, make=True, fill=fill, before_upgrade=before)
    if opened.made:
        click.echo(say("A new shop was made in {place}", place=settings.says_where))
    elif opened.before != opened.after:
        steps = {"before": opened.before, "after": opened.after}
        click.echo(say("The shop went from schema {before} to {after}.", **steps))
