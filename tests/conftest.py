"""What tests share: a migrated database of each engine, a shop in it, the application over it."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import pytest
from hypothesis import settings as hypothesis_settings
from sqlalchemy import Engine, event, text
from sqlalchemy.orm import Session, sessionmaker

from app.config import Settings, settings_for
from app.db import make_engine, session_maker, transaction
from app.language import ENGLISH, speaking
from app.schema import migrate
from app.services.shop.settings import prepare_shop
from seed_demo import load_demo
from tests.compiled_once import compile_once
from tests.postgres import Cluster, find_postgres

DAY = date(2027, 3, 1)
"""A Monday: the day on which most tests take place."""

# A new shop begins as its computer is set: here as one that says nothing.
os.environ["LC_ALL"] = "C.UTF-8"

compile_once()

hypothesis_settings.register_profile("quick", max_examples=60, deadline=None)
hypothesis_settings.register_profile("long", max_examples=1000, deadline=None)
hypothesis_settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "quick"))


def examples(quick: int) -> int:
    """How many examples a slow property is tried on: so many, and forty times that in a long run."""
    return quick * (40 if os.environ.get("HYPOTHESIS_PROFILE") == "long" else 1)


@pytest.fixture(autouse=True)
def in_english() -> Iterator[None]:
    """Each test begins in English: the shop of the one before may have spoken something else."""
    with speaking(ENGLISH):
        yield


@pytest.fixture(scope="session")
def empty_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated SQLite file with an empty shop, copied for every test that wants one."""
    path = tmp_path_factory.mktemp("empty") / "shop.sqlite3"
    _make(path, demo=False)
    return path


@pytest.fixture(scope="session")
def demo_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same with the demo shop in it, loaded as of today."""
    path = tmp_path_factory.mktemp("demo") / "shop.sqlite3"
    _make(path, demo=True)
    return path


def _make(path: Path, *, demo: bool) -> None:
    engine = make_engine(f"sqlite:///{path}")
    migrate(engine)
    with transaction(session_maker(engine)) as session:
        prepare_shop(session)
        if demo:
            load_demo(session, date.today())
    with engine.connect() as connection:
        connection.execution_options(reads_only=True)
        connection.connection.driver_connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    engine.dispose()


@pytest.fixture(scope="session")
def postgres(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    """A PostgreSQL server of our own, started once; the tests on it are skipped without one."""
    binaries = find_postgres()
    if binaries is None:
        if os.environ.get("TALLYFOLD_NEEDS_POSTGRES"):
            pytest.fail("PostgreSQL is not installed, and this run was told to need it")
        pytest.skip("PostgreSQL is not installed")
    with Cluster(binaries, tmp_path_factory.mktemp("pg")) as cluster:
        yield cluster


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def engine(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """An engine on an empty migrated shop, once for each database."""
    if request.param == "sqlite":
        path = tmp_path / "shop.sqlite3"
        shutil.copy(request.getfixturevalue("empty_template"), path)
        made = make_engine(f"sqlite:///{path}")
        yield made
        made.dispose()
    else:
        lent: Lent = request.getfixturevalue("lent")
        yield lent.out()
        lent.back()


class Lent:
    """An empty shop in PostgreSQL, lent to one test after another while none commits to it.

    Where a test undoes all it did, only its numbers have gone on: they are put back. A connection
    that has seen the tables before asks them several times faster than a new one.
    """

    def __init__(self, cluster: Cluster) -> None:
        self.cluster = cluster
        self.engine: Engine | None = None
        self.kept = False
        self.numbers: dict[str, tuple[int, bool]] = {}

    def out(self) -> Engine:
        """The shop as it was at first."""
        if self.engine is None:
            self.engine = make_engine(self.cluster.copy_of("shop", _fill_postgres))
            self.numbers = self._numbers()
            self.kept = False
            event.listen(self.engine, "commit", self._commit)
        return self.engine

    def _commit(self, connection: object) -> None:
        self.kept = True

    def back(self) -> None:
        """Ready for the next test, or given up where something was kept in it."""
        assert self.engine is not None
        if self.kept:
            self.close()
            return
        changed = [name for name, now in self._numbers().items() if now != self.numbers[name]]
        with self.engine.connect() as connection:
            for name in changed:
                last, called = self.numbers[name]
                connection.execute(
                    text("SELECT setval(CAST(:name AS regclass), :last, :called)"),
                    {"name": name, "last": last, "called": called},
                )

    def _numbers(self) -> dict[str, tuple[int, bool]]:
        """Where the sequences of all tables are, and whether that number was given out."""
        assert self.engine is not None
        with self.engine.connect() as connection:
            rows = connection.execute(
                text("SELECT sequencename, coalesce(last_value, 1), last_value IS NOT NULL "
                     "FROM pg_sequences WHERE schemaname = 'public'")
            )  # fmt: skip
            return {name: (int(last), bool(called)) for name, last, called in rows}

    def close(self) -> None:
        """Give the database up."""
        if self.engine is not None:
            self.engine.dispose()
            self.engine = None


@pytest.fixture(scope="session")
def lent(postgres: Cluster) -> Iterator[Lent]:
    """One for the tests of a process."""
    found = Lent(postgres)
    yield found
    found.close()


def _fill_postgres(url: str) -> None:
    engine = make_engine(url)
    migrate(engine)
    with transaction(session_maker(engine)) as session:
        prepare_shop(session)
    engine.dispose()


@pytest.fixture
def sessions(engine: Engine) -> sessionmaker[Session]:
    """Sessions on the engine."""
    return session_maker(engine)


@pytest.fixture
def session(sessions: sessionmaker[Session]) -> Iterator[Session]:
    """One session on an empty shop, undone at the end."""
    with sessions() as opened:
        yield opened
        opened.rollback()


@contextmanager
def memory_shop(template: Path) -> Iterator[Session]:
    """A session on an empty shop in memory, for a property test that wants one an example."""
    engine = make_engine("sqlite://")
    with engine.connect() as connection:
        source = sqlite3.connect(template)
        source.backup(connection.connection.driver_connection)
        source.close()
    with session_maker(engine)() as opened:
        yield opened
    engine.dispose()


@pytest.fixture
def demo_session(demo_template: Path, tmp_path: Path) -> Iterator[Session]:
    """A session on the demo shop (SQLite)."""
    path = tmp_path / "demo.sqlite3"
    shutil.copy(demo_template, path)
    engine = make_engine(f"sqlite:///{path}")
    with session_maker(engine)() as opened:
        yield opened
        opened.rollback()
    engine.dispose()


def settings_on(template: Path, folder: Path) -> Settings:
    """Settings for a fresh copy of a template."""
    settings = settings_for(folder)
    shutil.copy(template, folder / "shop.sqlite3")
    return settings


@pytest.fixture
def empty_settings(empty_template: Path, tmp_path: Path) -> Settings:
    """An empty shop of one's own."""
    return settings_on(empty_template, tmp_path / "empty")


@pytest.fixture
def demo_settings(demo_template: Path, tmp_path: Path) -> Settings:
    """A copy of the demo shop."""
    return settings_on(demo_template, tmp_path / "demo")


def count(session: Session, table: str) -> int:
    """Rows of a table."""
    return int(session.execute(text(f"SELECT count(*) FROM {table}")).scalar_one())  # noqa: S608
