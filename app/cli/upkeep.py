"""Looking after a shop: checked, copied, put back, upgraded, taken elsewhere."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from app.cli.spoken import command, option
from app.config import Settings, settings_from_environment, settings_that_are_there
from app.core.errors import DomainError
from app.folder import Hold
from app.language import about, say, say_many, to_say

FILE_HERE = click.Path(path_type=Path, dir_okay=False)


def _free(file: Path) -> Path:
    if not file.name or not file.parent.is_dir():
        raise DomainError(say("“{file}” names no file in a folder that is there.", file=file))
    if file.exists():
        raise DomainError(say("{file} is there already: name another file.", file=file))
    return file


@contextmanager
def _held(settings: Settings) -> Iterator[None]:
    """The folder as this program's own for a while."""
    hold = Hold.of(settings.folder, file=settings.file)
    try:
        yield
    finally:
        hold.let_go()


@command(
    help=to_say(
        "Look through the file and recompute every balance, cost and number; status 1 if one is "
        "off.\n\nNothing is written, whatever is found; the shop may be open meanwhile."
    )
)
@option("--json", "as_json", is_flag=True, help=to_say("Print JSON."))
def check(as_json: bool) -> None:  # noqa: FBT001 - click
    from app.services.upkeep.looking_through import look_through

    found = look_through(settings_that_are_there())
    if as_json:
        rows = [{"where": one.where, "says": one.says, "do": one.do} for one in found]
        click.echo(json.dumps({"agrees": not found, "findings": rows}, indent=1))
    else:
        for one in found:
            click.echo(about(say(one.where), one.says))
        for advice in dict.fromkeys(one.do for one in found):
            click.echo(say("What to do: {advice}", advice=advice))
        if not found:
            click.echo(say("All agrees: the file, every lot, cost, purchase, number and seal."))
    if found:
        raise SystemExit(1)


@command(
    help=to_say(
        "Copy the whole shop with its pictures, into FILE or among its backups; it may be open."
        "\n\nThe copy is opened again and verified before it counts."
    )
)
@click.argument("file", type=FILE_HERE, required=False)
def backup(file: Path | None) -> None:
    from app.services.shop.moments import by_the_clock
    from app.services.upkeep.backups import back_up
    from app.services.upkeep.opening import engine_for

    settings = settings_that_are_there()
    if file is not None:
        _free(file)
    engine = engine_for(settings, reads_only=True)
    try:
        made = back_up(settings, engine, by_the_clock(), into=file)
    finally:
        engine.dispose()
    told = {"file": made.file, "size": made.size}
    click.echo(say("{file} is made and verified ({size} bytes).", **told))
    if made.findings:
        click.echo(
            say_many(
                len(made.findings),
                "{n} thing does not agree: see “tallyfold check”.",
                "{n} things do not agree: see “tallyfold check”.",
            )
        )


@command(
    help=to_say(
        "Put the backup FILE in the place of the shop; what is there now is kept beside it."
    )
)
@click.argument("file", type=FILE_HERE)
def restore(file: Path) -> None:
    from app.services.shop.moments import by_the_clock
    from app.services.upkeep.backups import restore as put_back

    settings = settings_from_environment()
    with _held(settings):
        done = put_back(settings, file, by_the_clock())
    back = {"file": file, "place": settings.says_where, "schema": done.schema}
    click.echo(say("{file} is back in {place} (schema {schema}).", **back))
    if done.replaced:
        click.echo(
            say(
                "What was there lies in {replaced}: to have it back, close the shop and move the "
                "files of that folder into {folder} again.",
                replaced=done.replaced, folder=settings.folder,
            )
        )  # fmt: skip
    for one in done.findings:
        click.echo(about(say(one.where), one.says))
    click.echo(
        say("Who may come in and the passphrase are not part of a backup: choose them anew.")
    )


@command(
    help=to_say("Bring your shop's database to this version, a backup first; safe to run again.")
)
def upgrade() -> None:
    from app.services.shop.moments import by_the_clock
    from app.services.upkeep.backups import before_upgrade, finish_restore
    from app.services.upkeep.opening import open_shop

    settings = settings_that_are_there()
    with _held(settings):
        finish_restore(settings)
        before = before_upgrade(settings, by_the_clock())
        opened = open_shop(settings, make=False, before_upgrade=before)
    if opened.before == opened.after:
        click.echo(
            say(
                "{place} has the newest schema, {after}.",
                place=settings.says_where, after=opened.after,
            )
        )  # fmt: skip
    else:
        click.echo(
            say(
                "{place} went from schema {before} to {after}.",
                place=settings.says_where, before=opened.before, after=opened.after,
            )
        )  # fmt: skip


@command(
    help=to_say(
        "Write the whole shop into FILE as plain open files: CSV tables, described, and pictures."
    )
)
@click.argument("file", type=FILE_HERE)
def export(file: Path) -> None:
    from app.services.upkeep.opening import engine_for
    from app.services.upkeep.whole_shop import take_out

    settings = settings_that_are_there()
    engine = engine_for(settings, reads_only=True)
    half = _free(file).with_name(f"{file.name}.part")
    try:
        half.touch(mode=0o600)
        with half.open("wb") as out:
            sums = take_out(engine, settings.photos, out)
        half.replace(file)
    finally:
        half.unlink(missing_ok=True)
        engine.dispose()
    rows = sum(one.rows for one in sums.values())
    click.echo(
        say(
            "{file} has {rows} rows of {tables} tables; shop.json in it describes them.",
            file=file, rows=rows, tables=len(sums),
        )
    )  # fmt: skip


@command(
    "import",
    help=to_say("Take a whole shop from FILE, as “export” writes it, into an empty place."),
)
@click.argument("file", type=FILE_HERE)
def import_(file: Path) -> None:
    from app.services.upkeep.moving import import_shop

    settings = settings_from_environment()
    with _held(settings):
        rows = import_shop(settings, file)
    click.echo(
        say(
            "{rows} rows are in {place}, equal to those of {file}.",
            rows=rows, place=settings.says_where, file=file,
        )
    )  # fmt: skip


@command(
    help=to_say("""Copy the shop into the empty database at URL, equal to the last row.

    ::
    into PostgreSQL:  tallyfold move postgresql://user@host/shop
    back:             DATABASE_URL=postgresql://… tallyfold move sqlite:////folder/shop.sqlite3

    The shop it came from stays as it is; pictures stay in the data folder.""")
)
@click.argument("url")
def move(url: str) -> None:
    from app.config import with_driver
    from app.services.upkeep.moving import move_shop

    settings = settings_that_are_there()
    with _held(settings):
        sums = move_shop(settings, with_driver(url))
    rows = sum(one.rows for one in sums.values())
    click.echo(
        say(
            "{rows} rows of {tables} tables are there, equal to the last one.",
            rows=rows, tables=len(sums),
        )
    )  # fmt: skip
    click.echo(say("Set DATABASE_URL to that address to open the shop there."))


@command(help=to_say("List what is installed with this program, each with its licence."))
def licences() -> None:
    from app.cli.versions import installed, licence_of

    for one in installed():
        click.echo(f"{one.metadata['Name']} {one.version}: {licence_of(one)}")
