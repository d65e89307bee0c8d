"""What the README installs is what the suite was run with, and every package says its licence."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from app.cli.versions import installed, licence_of
from tests.test_cli import run

HOME = Path(__file__).resolve().parent.parent
PINNED = re.compile(r"^([A-Za-z0-9._-]+)==([^ ;\\]+)", re.MULTILINE)


def locked() -> set[tuple[str, str]]:
    """Names and versions of the lock file."""
    packages = tomllib.loads((HOME / "uv.lock").read_text())["package"]
    return {(one["name"], one["version"]) for one in packages if "registry" in one["source"]}


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def test_the_readmes_install_takes_the_locked_versions() -> None:
    text = (HOME / "requirements.txt").read_text()
    pinned = set(PINNED.findall(text))
    assert pinned <= locked()
    # Every one with digests, so that pip takes nothing else.
    for block in re.split(r"\n(?=[a-z])", text.strip()):
        assert "--hash=sha256:" in block, block[:40]
    assert not re.search(r"https?://|file:", text)
    have = {name for name, _ in pinned}
    project = tomllib.loads((HOME / "pyproject.toml").read_text())["project"]
    for need in project["dependencies"]:
        name = re.match(r"[A-Za-z0-9._-]+", need)
        assert name is not None
        assert plain(name[0]) in have
    assert "-r requirements.txt" in (HOME / "README.md").read_text()


def test_what_is_installed_is_listed_with_its_licence() -> None:
    names = {plain(one.metadata["Name"]) for one in installed()}
    assert {"flask", "sqlalchemy", "argon2-cffi", "werkzeug", "psycopg"} <= names
    # What only the tests need is no part of it.
    assert not {"pytest", "playwright", "hypothesis", "tallyfold"} & names
    assert {one.metadata["Name"] for one in installed() if licence_of(one) == "not said"} == set()
    lines = run("licences").stdout.splitlines()
    assert len(lines) == len(names)
    assert any(re.fullmatch(r"Flask [\d.]+: BSD-3-Clause", line) for line in lines)


def test_the_version_says_what_it_runs_on() -> None:
    short, long = run("--version").stdout, run("--version", "--verbose").stdout
    assert re.fullmatch(r"tallyfold, version \d+\.\d+\.\d+\n", short)
    assert long.startswith(short)
    for words in ("Python 3.", "SQLite 3.", "SQLAlchemy "):
        assert words in long
