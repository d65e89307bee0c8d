"""The command line speaks the language of the terminal, and leaves no word of its own unsaid."""

from __future__ import annotations

import json
import re
import shutil
import socket
from pathlib import Path

import click
import pytest

from app import cli, language
from app.cli.spoken import SpokenCommand, SpokenOption, language_here
from tests.conftest import settings_on
from tests.test_cli import PROBLEM, within
from tests.web.test_languages import SAID, Brackets


@pytest.fixture
def brackets(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal that speaks nobody's language: each message in brackets."""
    monkeypatch.setitem(language._catalogues, "en-x-brackets", Brackets())
    monkeypatch.setattr(cli, "language_here", lambda: "en-x-brackets")


@pytest.fixture
def home(demo_template: Path, tmp_path: Path) -> Path:
    """The demo as somebody's own shop."""
    folder = tmp_path / "shop"
    settings_on(demo_template, folder)
    return folder


def unsaid(done_words: str, *names: object) -> list[str]:
    """Words in what a command says that stand in no brackets, but names and numbers."""
    left = SAID.sub(" ", done_words)
    while SAID.search(left):
        left = SAID.sub(" ", left)
    for name in sorted(map(str, names), key=len, reverse=True):
        left = left.replace(name, " ")
    return re.findall(r"[^\W\d]{2,}", left.replace("tallyfold:", " "))


@pytest.mark.parametrize(
    ("names", "spoken"),
    [
        ({"LANG": "de_AT.UTF-8"}, "de"),
        ({"LANG": "de_AT.UTF-8", "LC_MESSAGES": "fr_CA"}, "fr"),
        ({"LC_ALL": "fr", "LC_MESSAGES": "de", "LANG": "de"}, "fr"),
        ({"LC_ALL": "", "LANG": "de"}, "de"),
        ({"LANG": "pt_BR.UTF-8"}, "en"),
        ({}, "en"),
    ],
)
def test_it_speaks_as_the_terminal_does(
    names: dict[str, str], spoken: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """POSIX.1-2017, Base Definitions 8.2: LC_ALL, then the category's own, then LANG; empty is unset."""
    for name in ("LC_ALL", "LC_MESSAGES", "LANG"):
        monkeypatch.delenv(name, raising=False)
    for name, value in names.items():
        monkeypatch.setenv(name, value)
    assert language_here() == spoken


@pytest.mark.usefixtures("brackets")
@pytest.mark.parametrize("name", ["", *cli.cli.commands])
def test_no_word_of_a_help_is_left_unsaid(name: str, home: Path) -> None:
    command = cli.cli.commands[name] if name else cli.cli
    assert isinstance(command, SpokenCommand)
    assert all(isinstance(p, SpokenOption | click.Argument) for p in command.params)
    assert all(
        p.help for p in command.params if isinstance(p, SpokenOption) and "port" not in p.name
    )
    done = within(*name.split(), "--help", home=home)
    assert done.returncode == 0
    program = ("tallyfold", "python", "pytest")
    of_click = re.sub(
        r"\[[^][]*\]|--?[a-z-]+|\b(TEXT|INTEGER RANGE)\b|\b[A-Z]+\b", " ", done.stdout
    )
    # A list of commands shows the beginnings of their helps, which close no bracket.
    cut_short = re.sub(r"⟦[^⟦⟧]*\.\.\.$", " ", of_click, flags=re.MULTILINE)
    assert not unsaid(cut_short, *program, *cli.cli.commands)


@pytest.mark.usefixtures("brackets")
def test_no_word_of_an_answer_is_left_unsaid(home: Path, tmp_path: Path) -> None:
    backup, whole, problem = tmp_path / "b.zip", tmp_path / "w.zip", tmp_path / "p.json"
    problem.write_text(json.dumps({**PROBLEM, "sheets": []}))
    elsewhere, empty = tmp_path / "elsewhere", tmp_path / "empty"
    empty.mkdir()
    runs = [
        (("yield", "--sheet", "560x760", "--piece", "240x160"), 0),
        (("yield", "--sheet", "560x760", "--piece", "24x16", "--kerf", "-1"), 2),
        (("yield", "--sheet", "560x760", "--piece", "24x16", "--longest-cut", "0"), 2),
        (("cut", str(tmp_path / "none")), 2),
        (("cut", str(problem)), 2),
        (("check",), 0),
        (("backup", str(backup)), 0),
        (("backup", str(backup)), 2),
        (("backup", str(tmp_path / "no" / "folder")), 2),
        (("restore", str(backup)), 0),
        (("upgrade",), 0),
        (("export", str(whole)), 0),
        (("starter", str(empty)), 0),
        (("starter", str(tmp_path / "no folder")), 2),
        (("address",), 2),
        (("passphrase",), 2),
        (("move", f"sqlite:///{tmp_path}/moved.sqlite3"), 0),
        (("--version",), 0),
    ]
    names = [tmp_path, "mm", "None", "tallyfold", "No such file or directory", "sqlite3", "zip"]
    for words, status in runs:
        done = within(*words, home=home, given="short\nshort\n")
        assert done.returncode == status, done
        said = done.stdout + done.stderr
        paths = re.findall(rf"{re.escape(str(tmp_path))}[^\s⟧]*", said)
        assert said.strip(), words
        assert not unsaid(said, *paths, *names), words
    done = within("import", str(whole), home=elsewhere)
    assert done.returncode == 0, done
    assert not unsaid(done.stdout, whole, elsewhere, "sqlite3", "shop")
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        done = within("serve", "--port", str(port), "--no-open", home=home)
    assert done.returncode == 2
    assert not unsaid(done.stderr, "Address already in use", "--port")
    shutil.rmtree(elsewhere)


@pytest.mark.parametrize(
    ("tag", "says"),
    [("de_DE.UTF-8", "10 von 240 × 160 mm aus einem Bogen 560 × 760 mm, in 12 Schnitten."),
     ("fr_FR.UTF-8", "10 de 240 × 160 mm dans une feuille 560 × 760 mm, en 12 coupes.")],
)  # fmt: skip
def test_it_answers_in_german_and_french(
    tag: str, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LC_ALL", tag)
    done = within("yield", "--sheet", "560x760", "--piece", "240x160", home=tmp_path)
    assert done.stdout.splitlines()[0] == says
