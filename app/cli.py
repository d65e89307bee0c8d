"""The command line: ``tallyfold serve``, ``demo``, ``upgrade``, ``cut``, ``yield``."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
import webbrowser
from datetime import date
from pathlib import Path
from typing import Any, NoReturn

import click

from app.config import LOOPBACK, Settings, data_folder, settings_for, settings_from_environment
from app.core.errors import DomainError
from app.core.length import show_size

UNIT = click.Choice(["mm", "in"])
LONGEST_FILE = 4_000_000


def _refuse(message: str) -> NoReturn:
    """One line on standard error, exit status 2."""
    click.echo(f"tallyfold: {' '.join(message.split())}", err=True)
    sys.exit(2)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="tallyfold", prog_name="tallyfold")
def cli() -> None:
    """Tallyfold: from a journal's size to its price, an order, and the sheets to buy.

    \b
    Start with the demo shop:        tallyfold demo
    Open your own:                   tallyfold serve
    How many from a sheet:           tallyfold yield --sheet 560x760 --piece 240x160
    Solve a cutting problem:         tallyfold cut problem.json

    Your shop lies in your own data folder; set TALLYFOLD_DATA to put it elsewhere, or
    DATABASE_URL to keep it in PostgreSQL.
    """


@cli.command()
@click.option("--port", default=8017, show_default=True, type=click.IntRange(1, 65535))
@click.option("--open/--no-open", "opens", default=True, help="Open a browser at the address.")
def serve(port: int, opens: bool) -> None:  # noqa: FBT001 - click hands flags over by name
    """Open your shop in the browser, on this computer alone."""
    _serve(settings_from_environment(), port, opens=opens, demo=False)


@cli.command()
@click.option("--port", default=8018, show_default=True, type=click.IntRange(1, 65535))
@click.option("--open/--no-open", "opens", default=True, help="Open a browser at the address.")
@click.option("--fresh", is_flag=True, help="Throw the demo's own data away and load it anew.")
def demo(port: int, opens: bool, fresh: bool) -> None:  # noqa: FBT001
    """Open an invented shop to look around in; your own data is not touched."""
    folder = data_folder() / "demo"
    if fresh:
        for name in ("shop.sqlite3", "shop.sqlite3-wal", "shop.sqlite3-shm"):
            (folder / name).unlink(missing_ok=True)
        shutil.rmtree(folder / "photos", ignore_errors=True)
    _serve(settings_for(folder), port, opens=opens, demo=True)


def _serve(settings: Settings, port: int, *, opens: bool, demo: bool) -> None:
    from waitress import create_server

    from app import create_app
    from app.web.frame.session import settle

    _upgrade(settings, demo=demo)
    app = create_app(settings)
    settle(app)
    try:
        server = create_server(app, host=LOOPBACK, port=port, threads=8, ident="tallyfold")
    except OSError as error:
        _refuse(f"port {port} cannot be used ({error.strerror}); try --port {port + 1}")
    address = f"http://{LOOPBACK}:{port}/"
    click.echo(f"{'The demo shop' if demo else 'Your shop'} is open at {address}")
    click.echo(f"Its data lies in {settings.says_where}")
    click.echo("Close it with Ctrl+C.")
    if opens and not os.environ.get("CI"):
        webbrowser.open(address)
    # A polite request to end, by Ctrl+C or from the system, ends the program quietly.
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(0))
    try:
        server.run()
    finally:
        # The last connection that closes leaves no log beside the file.
        app.extensions["engine"].dispose()


def _upgrade(settings: Settings, *, demo: bool = False) -> tuple[str | None, str | None]:
    """Bring the database to this program's schema and see that the shop is there."""
    from sqlalchemy.exc import DatabaseError, SQLAlchemyError

    from app.db import make_engine, session_maker, transaction
    from app.schema import migrate
    from app.services.shop.settings import prepare_shop

    try:
        engine = make_engine(settings.database_url)
    except (SQLAlchemyError, ImportError) as error:
        _refuse(f"DATABASE_URL names no database this program can open ({error})")
    try:
        moved = migrate(engine)
        with transaction(session_maker(engine)) as session:
            prepare_shop(session)
            if demo:
                from seed_demo import load_demo

                load_demo(session, date.today())  # noqa: DTZ011 - the maker's calendar day
    except DatabaseError as error:
        _refuse(
            f"the database at {settings.says_where} cannot be used ({error.orig}); nothing in it "
            "was changed"
        )
    finally:
        engine.dispose()
    return moved


@cli.command()
def upgrade() -> None:
    """Bring your shop's database to this version; safe to run again."""
    settings = settings_from_environment()
    before, after = _upgrade(settings)
    if before == after:
        click.echo(f"{settings.says_where} has the newest schema, {after}.")
    else:
        click.echo(f"{settings.says_where} went from schema {before or 'none'} to {after}.")


@cli.command()
def check() -> None:
    """Recompute every balance, cost and number of your shop; exit status 1 where one is off."""
    from app.db import make_engine, session_maker, transaction
    from app.services.upkeep.checking import check_books

    settings = settings_from_environment()
    _upgrade(settings)
    engine = make_engine(settings.database_url)
    try:
        with transaction(session_maker(engine)) as session:
            wrong = check_books(session)
    finally:
        engine.dispose()
    for line in wrong:
        click.echo(line)
    if wrong:
        raise SystemExit(1)
    click.echo("The books agree: every lot, cost, purchase and number.")


@cli.command()
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
def cut(file: Path) -> None:
    """Solve the cutting problem in FILE (JSON; - reads standard input).

    \b
    {"unit": "mm", "goal": "cover",
     "sheets": [{"name": "half", "width": 560, "height": 760, "grain": "height",
                 "price": "4.60", "pack": 10, "on_hand": 3}],
     "pieces": [{"name": "folio", "width": 240, "height": 160, "count": 96,
                 "grain": "height", "turn": true}]}

    \b
    goal     "cover" cuts every count for the least money; "fill" puts the most value on
             one sheet (every piece has a "value", "count" is its limit, null for none).
    grain    the side the fibres run along; null where it does not matter.
    lengths  numbers in the unit, or strings such as "7 1/2 in".

    The answer is JSON: "optimal" where nothing costs less, else "feasible" with the least that
    any plan could cost as "bound". A problem that makes no sense ends with status 2 and one line
    that names the place.
    """
    from app.core.cutting.json_answer import answer
    from app.core.cutting.json_problem import read_problem
    from app.units import parse_length

    try:
        if str(file) == "-":
            text = sys.stdin.read(LONGEST_FILE + 1)
        else:
            with file.open(encoding="utf-8") as stream:
                text = stream.read(LONGEST_FILE + 1)
    except (OSError, UnicodeDecodeError) as error:
        _refuse(f"{file}: cannot be read ({getattr(error, 'strerror', None) or 'not UTF-8 text'})")
    if len(text) > LONGEST_FILE:
        _refuse(f"{file}: larger than 4 MB")
    result = answer(read_problem(text, parse_length))
    click.echo(json.dumps(result, indent=1))


@cli.command(name="yield")
@click.option(
    "--sheet", required=True, help="The parent sheet, WIDTHxHEIGHT: 560x760, '22 in x 30 in'."
)
@click.option("--piece", required=True, help="The piece to cut, WIDTHxHEIGHT.")
@click.option("--unit", type=UNIT, default="mm", show_default=True, help="Of bare numbers.")
@click.option(
    "--sheet-grain", type=click.Choice(["width", "height"]), help="Side the fibres run along."
)
@click.option(
    "--piece-grain", type=click.Choice(["width", "height"]), help="Side they must run along."
)
@click.option(
    "--no-turn", is_flag=True, help="Never turn a piece (a pattern fixes which way is up)."
)
@click.option("--trim", default="0", help="Cut off every edge of the sheet first.")
@click.option("--kerf", default="0", help="Lost in each cut.")
@click.option("--longest-cut", help="The longest cut the trimmer makes.")
@click.option("--stages", type=click.IntRange(0), help="Most changes of cutting direction.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def yield_(
    sheet: str,
    piece: str,
    unit: str,
    sheet_grain: str | None,
    piece_grain: str | None,
    no_turn: bool,  # noqa: FBT001
    trim: str,
    kerf: str,
    longest_cut: str | None,
    stages: int | None,
    as_json: bool,  # noqa: FBT001
) -> None:
    """Say how many pieces one sheet gives: by a plain grid, and by the best straight cuts."""
    from app.core.cutting.cutter import Cutter
    from app.core.cutting.one_sheet.yields import yield_of
    from app.core.paper import Piece, Sheet, check_sheet
    from app.units import parse_length

    width, height = _sides(sheet, unit, "--sheet")
    parent = Sheet(
        show_size(width, height, unit), width, height, sheet_grain,
        trim_nm=parse_length(trim, unit),
    )  # fmt: skip
    check_sheet(parent)
    lost = parse_length(kerf, unit)
    if lost < 0:
        raise DomainError("--kerf cannot be below zero.")
    longest = None if longest_cut is None else parse_length(longest_cut, unit)
    if longest is not None and longest <= 0:
        raise DomainError("--longest-cut must be above zero.")
    wanted = Piece("piece", *_sides(piece, unit, "--piece"), 1, piece_grain, not no_turn)
    found = yield_of(wanted, parent, Cutter(lost, longest, stages))
    used, whole = found.used_share
    if as_json:
        data: dict[str, Any] = {
            "grid": found.grid, "best": found.best, "by_area": found.by_area,
            "cuts": found.layout.cuts, "used": f"{used / whole:.4f}",
        }  # fmt: skip
        click.echo(json.dumps(data))
        return
    size = show_size(wanted.width_nm, wanted.height_nm, unit)
    click.echo(f"{found.best} of {size} from a {parent.name} sheet, in {found.layout.cuts} cuts.")
    click.echo(
        f"A plain grid gives {found.grid}; by area alone it could not be over {found.by_area}."
    )
    click.echo(f"{used * 100 // whole}% of the sheet is used.")


def _sides(text: str, unit: str, option: str) -> tuple[int, int]:
    from app.units import parse_length

    halves = text.lower().replace("×", "x").split("x")
    if len(halves) != 2:
        raise DomainError(f"{option}: “{text[:40]}” is no size such as 560x760.")
    try:
        width, height = (parse_length(half, unit) for half in halves)
    except DomainError as error:
        raise DomainError(f"{option}: {error.message}") from None
    if min(width, height) <= 0:
        raise DomainError(f"{option}: both sides must be above zero.")
    return width, height


def main() -> None:
    """Run a command; a refusal is one line and exit status 2."""
    try:
        cli(standalone_mode=True)
    except DomainError as error:
        _refuse(error.message)
    except OSError as error:
        _refuse(f"{error.filename or 'a file'} cannot be used ({error.strerror})")
