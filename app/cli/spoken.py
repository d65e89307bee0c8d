"""Commands that say what they are for in the language of the computer they are asked on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from app.language import say, tag_here, usual_language

Deed = TypeVar("Deed", bound=Callable[..., Any])


def language_here() -> str:
    """The language of the terminal."""
    return usual_language(tag_here("LC_MESSAGES"))


KEPT_AS_IT_STANDS = "\b\n"
"""What click wants before a paragraph whose lines are kept; in a help text it is ``::``."""


class _Said:
    """A help text that is written in English and said when it is read."""

    _help: str | None = None

    @property
    def help(self) -> str | None:
        return say(self._help).replace("::\n", KEPT_AS_IT_STANDS) if self._help else self._help

    @help.setter
    def help(self, text: str | None) -> None:
        self._help = text


class SpokenOption(_Said, click.Option):
    """An option of a :class:`SpokenCommand`."""


class SpokenCommand(_Said, click.Command):
    """A command whose help is given to ``help``, marked for the catalogues."""

    def format_usage(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        words = " ".join(self.collect_usage_pieces(ctx))
        formatter.write_usage(ctx.command_path, words, say("Usage:") + " ")

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        options = [one for one in self.get_params(ctx) if isinstance(one, click.Option)]
        records = [one.get_help_record(ctx) for one in options]
        with formatter.section(say("Options")):
            formatter.write_dl([record for record in records if record is not None])

    def get_help_option(self, ctx: click.Context) -> click.Option | None:
        option = super().get_help_option(ctx)
        if option is not None:
            option.help = say("Show this and end.")
        return option


class SpokenGroup(SpokenCommand, click.Group):
    """A command of commands."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        super().format_options(ctx, formatter)
        commands = [(name, self.commands[name]) for name in self.list_commands(ctx)]
        width = formatter.width - 6 - max(len(name) for name, _ in commands)
        with formatter.section(say("Commands")):
            formatter.write_dl([(name, one.get_short_help_str(width)) for name, one in commands])


def command(name: str | None = None, **more: Any) -> Callable[[Callable[..., Any]], click.Command]:
    """A command that is spoken; its ``help`` stands beside its name."""
    return click.command(name, cls=SpokenCommand, **more)


def option(*names: str, **more: Any) -> Callable[[Deed], Deed]:
    """An option that is spoken."""
    return click.option(*names, cls=SpokenOption, **more)
