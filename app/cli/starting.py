"""A file to double-click that opens the shop, for those who never see a terminal otherwise."""

from __future__ import annotations

import os
import shlex
import sys
from dataclasses import dataclass
from pathlib import Path

import click

from app.cli.refusing import refuse
from app.cli.spoken import command
from app.language import say, to_say


@dataclass(frozen=True)
class Starter:
    """A file's name and what is in it."""

    name: str
    text: str


def starter(platform: str, command: list[str], data: str | None) -> Starter:
    """What opens the shop on a system, as Python names it (``win32``, ``darwin``, else as Linux).

    ``command`` is the program and its first words, ``data`` the folder in TALLYFOLD_DATA if set.
    """
    words = [*command, "serve"]
    if platform == "win32":
        place = f'set "TALLYFOLD_DATA={_percent(data)}"\r\n' if data else ""
        run = " ".join(f'"{_percent(word)}"' for word in words)
        return Starter(
            "Tallyfold.bat",
            f"@echo off\r\nchcp 65001 >nul\r\ntitle Tallyfold\r\n{place}{run}\r\npause\r\n",
        )
    if platform == "darwin":
        place = f"export TALLYFOLD_DATA={shlex.quote(data)}\n" if data else ""
        return Starter("Tallyfold.command", f"#!/bin/sh\n{place}exec {shlex.join(words)}\n")
    what = say("Open your shop")
    if data:
        words = ["env", f"TALLYFOLD_DATA={data}", *words]
    return Starter(
        "Tallyfold.desktop",
        "[Desktop Entry]\nType=Application\nName=Tallyfold\n"
        f"Comment={what}\nExec={' '.join(map(_in_entry, words))}\nTerminal=true\n",
    )


def _percent(word: str | None) -> str:
    """In a batch file a per cent sign is written twice."""
    return (word or "").replace("%", "%%")


def _in_entry(word: str) -> str:
    """A word of Exec as the Desktop Entry Specification 1.5 quotes it, and then its strings."""
    quoted = word
    for sign in ("\\", '"', "`", "$"):
        quoted = quoted.replace(sign, f"\\{sign}")
    return '"' + quoted.replace("\\", "\\\\").replace("%", "%%") + '"'


def _program() -> list[str]:
    """The installed command beside this Python, or Python with the module where there is none."""
    name = "tallyfold.exe" if os.name == "nt" else "tallyfold"
    installed = Path(sys.executable).with_name(name)
    return [str(installed)] if installed.exists() else [sys.executable, "-m", "app"]


@command(
    "starter",
    help=to_say(
        "Put a file to double-click into FOLDER, or onto your desktop: it opens your shop."
    ),
)
@click.argument("folder", required=False, type=click.Path(path_type=Path))
def starter_file(folder: Path | None) -> None:
    desktop = Path.home() / "Desktop"
    place = folder or (desktop if desktop.is_dir() else Path.cwd())
    if not place.is_dir():
        refuse(say("{place} is no folder", place=place))
    made = starter(sys.platform, _program(), os.environ.get("TALLYFOLD_DATA"))
    file = place / made.name
    if file.exists() and file.read_bytes() != made.text.encode():
        refuse(
            say("{file} is there already and says something else; move it away first", file=file)
        )
    file.write_bytes(made.text.encode())
    file.chmod(0o755)
    click.echo(
        say(
            "{file} opens your shop at a double click; leave its window open while you work.",
            file=file,
        )
    )
    if sys.platform not in ("win32", "darwin"):
        click.echo(say("The first time your system may ask whether to trust or to allow it."))
