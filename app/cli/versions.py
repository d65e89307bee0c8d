"""What this program is, what it runs on, and under which licences."""

from __future__ import annotations

import platform
import re
import sqlite3
from collections.abc import Iterator
from importlib.metadata import Distribution, PackageNotFoundError, distribution, version

import click

from app.language import say

NAME = re.compile(r"[A-Za-z0-9._-]+")


def say_versions(*, verbose: bool) -> None:
    """The version; where asked for, Python, the system, SQLite and every package besides."""
    click.echo(
        say("{program}, version {version}", program="tallyfold", version=version("tallyfold"))
    )
    if not verbose:
        return
    click.echo(f"Python {platform.python_version()} ({platform.python_implementation()})")
    click.echo(f"{platform.system()} {platform.release()}, {platform.machine()}")
    click.echo(f"SQLite {sqlite3.sqlite_version}")
    for one in installed():
        click.echo(f"{one.metadata['Name']} {one.version}")


def installed() -> list[Distribution]:
    """What this program needs and has, with what that needs, by name; itself left out."""
    found: dict[str, Distribution] = {}
    waiting = list(_needs(distribution("tallyfold"), extras=("postgresql",)))
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        try:
            one = distribution(name)
        except PackageNotFoundError:
            # Needed on another system, or an extra that is not wanted here.
            continue
        found[name] = one
        waiting += _needs(one)
    return [found[name] for name in sorted(found)]


def _needs(one: Distribution, extras: tuple[str, ...] = ()) -> Iterator[str]:
    for words in one.requires or ():
        need, _, when = words.partition(";")
        wanted = "extra ==" not in when or any(extra in when for extra in extras)
        name = NAME.match(need.strip())
        if wanted and name:
            yield re.sub(r"[-_.]+", "-", name[0]).lower()


def licence_of(one: Distribution) -> str:
    """The licence that a package says it has: an expression, its classifier, or its first line."""
    told = one.metadata
    if "License-Expression" in told:
        return str(told["License-Expression"])
    classified = [
        words.rpartition(" :: ")[2]
        for words in told.get_all("Classifier") or ()
        if words.startswith("License ::")
    ]
    free = str(told["License"]).strip().splitlines() if "License" in told else []
    return ", ".join(classified) or (free[0][:60] if free else say("not said"))
