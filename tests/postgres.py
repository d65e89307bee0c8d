"""A PostgreSQL server of the tests' own, on a socket in a folder of its own."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

import psycopg


def find_postgres() -> Path | None:
    """The folder with initdb and pg_ctl, newest version first."""
    found = shutil.which("initdb")
    if found:
        return Path(found).resolve().parent
    places = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), reverse=True)
    return places[0].parent if places else None


class Cluster:
    """A server that lives as long as the test run; databases are copied from a filled template."""

    def __init__(self, binaries: Path, folder: Path) -> None:
        self.binaries, self.folder = binaries, folder
        self.templates: set[str] = set()
        self.copies = 0

    def _run(self, *command: str) -> None:
        # PostgreSQL refuses to run as root, so root hands it to the user Debian made for it.
        prefix = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        subprocess.run(
            [*prefix, *command], check=True, cwd="/", stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, timeout=120,
        )  # fmt: skip

    def __enter__(self) -> Cluster:
        if os.geteuid() == 0:
            shutil.chown(self.folder, "postgres")
            for parent in self.folder.parents[:3]:
                parent.chmod(parent.stat().st_mode | 0o011)
        data = str(self.folder / "data")
        self._run(
            str(self.binaries / "initdb"), "-D", data, "-U", "tally", "--auth=trust",
            "--no-sync", "-E", "UTF8", "--locale=C.UTF-8",
        )  # fmt: skip
        options = f"-c listen_addresses='' -c unix_socket_directories='{self.folder}' -c fsync=off -c jit=off -c synchronous_commit=off -c full_page_writes=off -c autovacuum=off"
        self._run(
            str(self.binaries / "pg_ctl"), "-D", data, "-w", "-o", options,
            "-l", str(self.folder / "log"), "start",
        )  # fmt: skip
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        data = str(self.folder / "data")
        self._run(str(self.binaries / "pg_ctl"), "-D", data, "-m", "immediate", "stop")

    def url(self, name: str) -> str:
        """The address of one of its databases."""
        return f"postgresql+psycopg://tally@/{name}?host={self.folder}"

    def make(self, name: str, template: str = "template0") -> None:
        """Make a database."""
        where = f"host={self.folder} user=tally dbname=postgres"
        with psycopg.connect(where, autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name} TEMPLATE {template}")

    def empty(self) -> str:
        """The address of a new database with nothing in it."""
        self.copies += 1
        name = f"empty_{self.copies}"
        self.make(name)
        return self.url(name)

    def copy_of(self, template: str, fill: Callable[[str], None]) -> str:
        """The address of a new copy of a template, filled the first time."""
        if template not in self.templates:
            self.make(template)
            fill(self.url(template))
            self.templates.add(template)
        self.copies += 1
        name = f"{template}_{self.copies}"
        self.make(name, template)
        return self.url(name)
