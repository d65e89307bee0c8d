"""The data folder: held by one program, for its owner alone, its file watched, others refused."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from app.config import Settings, settings_for
from app.core.errors import DomainError
from app.db import make_engine, session_maker, transaction
from app.folder import (
    FolderError,
    Hold,
    WatchedFile,
    is_held,
    keep_private,
    refuse_unsound,
    write_private,
)
from app.models import Customer
from app.schema import revision_of
from app.services.upkeep.opening import open_shop
from app.sqlite import Turns, move_log, move_long_log, shop_file
from tests.conftest import count


def test_a_folder_is_held_by_one(tmp_path: Path) -> None:
    assert not is_held(tmp_path)
    hold = Hold.of(tmp_path, "http://127.0.0.1:1/")
    assert is_held(tmp_path)
    assert Hold.address_of(tmp_path) == "http://127.0.0.1:1/"
    with pytest.raises(FolderError, match=rf"open already, by process {os.getpid()} at http"):
        Hold.of(tmp_path)
    hold.let_go()
    assert not is_held(tmp_path)
    assert Hold.address_of(tmp_path) == ""
    Hold.of(tmp_path).let_go()


def test_who_was_killed_holds_nothing(tmp_path: Path) -> None:
    code = f"from app.folder import Hold; hold = Hold.of(__import__('pathlib').Path({str(tmp_path)!r})); print(1, flush=True); input()"
    with subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout is not None
        other.stdout.readline()
        with pytest.raises(FolderError, match=f"by process {other.pid}"):
            Hold.of(tmp_path)
        other.kill()
    Hold.of(tmp_path).let_go()


def test_what_others_could_read_is_taken_from_them(tmp_path: Path) -> None:
    file = tmp_path / "shop.sqlite3"
    file.write_bytes(b"x")
    file.chmod(0o644)
    keep_private(file, tmp_path / "not there")
    assert file.stat().st_mode & 0o777 == 0o600
    write_private(tmp_path / "key", b"secret")
    assert (tmp_path / "key").stat().st_mode & 0o777 == 0o600
    assert not (tmp_path / "key.part").exists()


def test_modes_are_mended_wherever_the_database_is(empty_template: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere.sqlite3"
    shutil.copy(empty_template, elsewhere)
    elsewhere.chmod(0o666)
    settings = settings_for(tmp_path / "data", f"sqlite:///{elsewhere}")
    settings.folder.chmod(0o755)
    open_shop(settings, make=False)
    assert elsewhere.stat().st_mode & 0o777 == 0o600
    assert settings.folder.stat().st_mode & 0o777 == 0o700


def test_a_new_shop_is_there_whole_or_not_at_all(tmp_path: Path) -> None:
    settings = settings_for(tmp_path)
    with pytest.raises(FolderError, match="“tallyfold serve” makes one"):
        open_shop(settings, make=False)

    def fail(session: object) -> None:
        raise DomainError("on the way")

    with pytest.raises(DomainError, match="on the way"):
        open_shop(settings, make=True, fill=fail)
    assert not (tmp_path / "shop.sqlite3").exists()
    opened = open_shop(settings, make=True)
    assert (opened.made, opened.before) == (True, None)
    assert (tmp_path / "shop.sqlite3").stat().st_mode & 0o777 == 0o600
    assert sorted(p.name for p in tmp_path.iterdir()) == ["form.key", "shop.sqlite3"]
    again = open_shop(settings, make=True)
    assert (again.made, again.before) == (False, opened.after)


def _other_program(path: Path) -> None:
    path.unlink()
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE songs (name)")
    connection.close()


def _newer(path: Path) -> None:
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()


UNSOUND: dict[str, tuple[Callable[[Path], object], str]] = {
    "empty": (lambda path: path.write_bytes(b""), "is empty: a copy went wrong"),
    "a text": (lambda path: path.write_text("my list\n" * 200), "no database of Tallyfold"),
    "cut short": (lambda path: os.truncate(path, path.stat().st_size // 2), "is damaged"),
    "another program's": (_other_program, "the database of another program"),
    "newer": (_newer, "written by a newer one"),
}


@pytest.mark.parametrize("kind", UNSOUND)
def test_what_is_no_sound_shop_is_refused_and_left_alone(
    empty_settings: Settings, kind: str
) -> None:
    spoil, says = UNSOUND[kind]
    file = empty_settings.folder / "shop.sqlite3"
    spoil(file)
    before = file.read_bytes()
    with pytest.raises(DomainError, match=says):
        open_shop(empty_settings, make=True)
    assert file.read_bytes() == before
    assert sorted(p.name for p in empty_settings.folder.iterdir()) == ["form.key", "shop.sqlite3"]


def test_a_sound_shop_is_not_refused(empty_settings: Settings) -> None:
    refuse_unsound(empty_settings.folder / "shop.sqlite3")


def _replaced(path: Path) -> None:
    shutil.copy(path, path.with_name("copy"))
    path.with_name("copy").replace(path)


def _overwritten(path: Path) -> None:
    data = path.read_bytes()
    path.write_bytes(data + b"\0" * 4096)


def _log_gone(path: Path) -> None:
    path.with_name(f"{path.name}-wal").unlink()


def _log_cut(path: Path) -> None:
    os.truncate(path.with_name(f"{path.name}-wal"), 0)


CHANGES: dict[str, tuple[Callable[[Path], object], str]] = {
    "deleted": (lambda path: path.unlink(), "is gone"),
    "replaced": (_replaced, "is another file now"),
    "cut short": (lambda path: os.truncate(path, 4096), "is shorter than it was"),
    "overwritten": (_overwritten, "was changed by something else"),
    "its log deleted": (_log_gone, "was deleted or cut by something else"),
    "its log cut": (_log_cut, "was deleted or cut by something else"),
}


@pytest.mark.parametrize("kind", CHANGES)
@pytest.mark.parametrize("at", ["begin", "commit"])
def test_a_file_that_changed_is_noticed_before_anything_is_kept(
    empty_settings: Settings, kind: str, at: str
) -> None:
    spoil, says = CHANGES[kind]
    path = empty_settings.folder / "shop.sqlite3"
    engine = make_engine(empty_settings.database_url, watched=True)
    sessions = session_maker(engine)
    with transaction(sessions) as session:
        session.add(Customer(name="Kept"))

    def write() -> None:
        if at == "begin":
            spoil(path)
        with transaction(sessions) as session:
            session.add(Customer(name="Lost"))
            session.flush()
            if at == "commit":
                spoil(path)

    with pytest.raises(FolderError, match=says):
        write()
    with pytest.raises(FolderError, match=says), sessions() as session:
        session.connection(execution_options={"reads_only": True})
    engine.dispose()


def test_its_own_moving_of_the_log_is_no_change(empty_settings: Settings) -> None:
    engine = make_engine(empty_settings.database_url, watched=True)
    sessions = session_maker(engine)
    path = empty_settings.folder / "shop.sqlite3"
    log = path.with_name("shop.sqlite3-wal")
    before = path.stat().st_mtime_ns
    for number in range(3):
        with transaction(sessions) as session:
            session.add(Customer(name="x" * 100, note="y" * 2_000_000))
        assert path.stat().st_mtime_ns == before or number
        move_long_log(engine)
    assert path.stat().st_size > 4_000_000
    move_log(engine, "TRUNCATE")
    assert log.stat().st_size == 0
    with transaction(sessions) as session:
        assert count(session, "customer") == 3
    engine.dispose()


def test_readers_are_not_frightened_by_the_moving_of_the_log(empty_settings: Settings) -> None:
    engine = make_engine(empty_settings.database_url, watched=True)
    sessions = session_maker(engine)
    stop, failed = threading.Event(), []

    def read() -> None:
        while not stop.is_set():
            try:
                with sessions() as session:
                    session.connection(execution_options={"reads_only": True})
            except FolderError as error:
                failed.append(error)

    readers = [threading.Thread(target=read) for _ in range(3)]
    for reader in readers:
        reader.start()
    for number in range(30):
        with transaction(sessions) as session:
            session.add(Customer(name=str(number), note="y" * 400_000))
        move_log(engine)
    stop.set()
    for reader in readers:
        reader.join()
    assert failed == []
    engine.dispose()


def test_a_file_put_back_is_the_shop_again(tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_text("x")
    watched = WatchedFile(path)
    path.rename(tmp_path / "away")
    with pytest.raises(FolderError, match="is gone"):
        watched.refuse_changed()
    (tmp_path / "away").rename(path)
    watched.refuse_changed()


def test_writers_come_in_the_order_they_asked() -> None:
    turns, order = Turns(), []
    assert turns.take(0)

    def write(number: int) -> None:
        assert turns.take(20)
        order.append(number)
        turns.pass_on()

    threads = []
    for number in range(12):
        threads.append(threading.Thread(target=write, args=(number,)))
        threads[-1].start()
        until = time.monotonic() + 10
        while len(turns._waiting) <= number and time.monotonic() < until:
            time.sleep(0.001)
    turns.pass_on()
    for thread in threads:
        thread.join(20)
    assert order == list(range(12))
    assert turns.take(0)
    assert not turns.take(0.01)
    turns.pass_on()
    assert turns.take(0)


def test_a_turn_is_passed_on_whatever_happens_in_it(empty_settings: Settings) -> None:
    engine = make_engine(empty_settings.database_url, watched=True)
    sessions = session_maker(engine)

    def fail() -> None:
        with transaction(sessions) as session:
            session.add(Customer(name="Never"))
            session.flush()
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    with sessions() as session:
        session.add(Customer(name="Rolled back"))
        session.flush()
        session.rollback()
    file = shop_file(engine)
    assert file is not None
    assert file.turns.take(0)
    file.turns.pass_on()
    with transaction(sessions) as session:
        assert count(session, "customer") == 0
    engine.dispose()


def test_an_engine_to_read_writes_nothing(empty_settings: Settings) -> None:
    engine = make_engine(empty_settings.database_url, reads_only=True)
    assert revision_of(engine)
    with pytest.raises(Exception, match="readonly"), transaction(session_maker(engine)) as session:
        session.add(Customer(name="No"))
    engine.dispose()
    assert sorted(p.name for p in empty_settings.folder.iterdir()) == ["form.key", "shop.sqlite3"]


@pytest.mark.parametrize(
    "url",
    ["sqlite://", "sqlite:///:memory:", "sqlite:///rel.sqlite3", "nonsense", "sqlite:", "mysql://h/x",
     "postgresql://h:abc/x", "sqlite:////", "sqlite:////nowhere/at/all.sqlite3", "oracle://x"],
)  # fmt: skip
def test_an_address_that_keeps_no_shop_is_refused(url: str, tmp_path: Path) -> None:
    with pytest.raises(FolderError):
        settings_for(tmp_path, url)


def test_a_file_in_another_folder_is_held_there_too(empty_template: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    shutil.copy(empty_template, elsewhere / "x.sqlite3")
    one, two = (
        settings_for(tmp_path / name, f"sqlite:///{elsewhere / 'x.sqlite3'}") for name in ("a", "b")
    )
    hold = Hold.of(one.folder, file=one.file)
    with pytest.raises(FolderError, match="open already"):
        Hold.of(two.folder, file=two.file)
    assert not is_held(two.folder)
    hold.let_go()
    Hold.of(two.folder, file=two.file).let_go()
