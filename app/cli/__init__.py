"""The command line: the shop served and looked after, and the cutting questions by themselves."""

from __future__ import annotations

import sys

import click

from app.cli import cutting, serving, starting, upkeep
from app.cli.refusing import refuse
from app.cli.spoken import SpokenGroup, language_here, option
from app.cli.versions import say_versions
from app.core.errors import DomainError
from app.language import say, speaking, to_say

WHAT = to_say(
    """Tallyfold: from a journal's size to its price, an order, and the sheets to buy.

    ::
    Start with the demo shop:        tallyfold demo
    Open your own:                   tallyfold serve
    For a phone beside it:           tallyfold serve --phone
    A file to double-click:          tallyfold starter
    Keep a copy of all of it:        tallyfold backup
    How many from a sheet:           tallyfold yield --sheet 560x760 --piece 240x160
    Solve a cutting problem:         tallyfold cut problem.json

    Your shop lies in your own data folder; set TALLYFOLD_DATA to put it elsewhere, or
    DATABASE_URL to keep it in PostgreSQL."""
)


@click.group(
    cls=SpokenGroup, help=WHAT, invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)  # fmt: skip
@option("--version", "version", is_flag=True, help=to_say("Say the version and end."))
@option("--verbose", is_flag=True, help=to_say("With --version: what it runs on, too."))
@click.pass_context
def cli(context: click.Context, version: bool, verbose: bool) -> None:  # noqa: FBT001 - click
    if version:
        say_versions(verbose=verbose)
    elif context.invoked_subcommand is None:
        click.echo(context.get_help())
        context.exit(0)


for command in (
    serving.serve, serving.demo, serving.address, serving.passphrase, starting.starter_file,
    upkeep.check, upkeep.backup, upkeep.restore, upkeep.upgrade,
    upkeep.export, upkeep.import_, upkeep.move, upkeep.licences,
    cutting.cut, cutting.yield_,
):  # fmt: skip
    cli.add_command(command)


def main() -> None:
    """Run a command in the language of the terminal; a refusal is one line and exit status 2."""
    with speaking(language_here()):
        sys.exit(_status())


def _status() -> int:
    try:
        status = cli(standalone_mode=False)
    except click.Abort:
        return 130
    except click.ClickException as error:
        refuse(error.format_message())
    except DomainError as error:
        refuse(error.message)
    except OSError as error:
        name = error.filename or say("a file")
        refuse(say("{file} cannot be used ({why})", file=name, why=error.strerror))
    except Exception as error:
        from sqlalchemy.exc import SQLAlchemyError

        if not isinstance(error, SQLAlchemyError):
            raise
        refuse(say("the database cannot be used ({why})", why=getattr(error, "orig", error)))
    return status if isinstance(status, int) else 0
