"""Backups: made while the shop is written, verified, restored elsewhere, kept by a rule."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import threading
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from sqlalchemy import select, text

from app.config import Settings, settings_for
from app.core.errors import DomainError
from app.db import make_engine, session_maker, transaction
from app.models import Customer
from app.schema import migrate, newest_revision, revision_of
from app.services.upkeep import backups
from app.services.upkeep.looking_through import look_through
from app.services.upkeep.opening import open_shop
from app.services.upkeep.rows_of_all import summed, tables_now
from tests.postgres import Cluster

AT = datetime(2027, 3, 1, 9, 30)
PICTURE = "ab" * 32 + ".jpg"


def names(settings: Settings) -> list[str]:
    """Customers of a shop."""
    engine = make_engine(settings.database_url, reads_only=True)
    with session_maker(engine)() as session:
        found = list(session.scalars(select(Customer.name).order_by(Customer.id)))
    engine.dispose()
    return found


def backed_up(settings: Settings, at: datetime = AT, why: str = backups.BY_HAND) -> backups.Backup:
    engine = make_engine(settings.database_url)
    try:
        return backups.back_up(settings, engine, at, why)
    finally:
        engine.dispose()


def test_a_backup_is_restored_on_another_computer(demo_settings: Settings, tmp_path: Path) -> None:
    demo_settings.photos.mkdir()
    (demo_settings.photos / PICTURE).write_bytes(b"\xff\xd8\xffpicture")
    made = backed_up(demo_settings)
    assert made.findings == ()
    assert made.file.name == "shop_2027-03-01_093000_by-hand.zip"
    assert made.file.stat().st_mode & 0o777 == 0o600
    assert [one.file for one in backups.backups(demo_settings)] == [made.file]
    other = settings_for(tmp_path / "other")
    done = backups.restore(other, made.file, AT)
    assert (done.schema, done.replaced, done.findings) == (newest_revision(), None, [])
    assert (other.photos / PICTURE).read_bytes() == b"\xff\xd8\xffpicture"
    assert look_through(other) == []
    assert other.secret_key != demo_settings.secret_key
    sums = []
    for settings in (demo_settings, other):
        engine = make_engine(settings.database_url, reads_only=True)
        with engine.connect() as connection:
            sums.append(summed(connection, tables_now()))
        engine.dispose()
    assert sums[0] == sums[1]
    assert (other.folder / "shop.sqlite3").stat().st_mode & 0o777 == 0o600


def test_what_is_replaced_is_kept(empty_settings: Settings) -> None:
    made = backed_up(empty_settings)
    engine = make_engine(empty_settings.database_url)
    with transaction(session_maker(engine)) as session:
        session.add(Customer(name="Later"))
    engine.dispose()
    done = backups.restore(empty_settings, made.file, AT)
    assert names(empty_settings) == []
    assert done.replaced is not None
    kept = Settings(done.replaced, f"sqlite:///{done.replaced / 'shop.sqlite3'}", "")
    assert names(kept) == ["Later"]
    again = backups.restore(empty_settings, made.file, AT)
    assert again.replaced not in (None, done.replaced)
    left = {p.name for p in empty_settings.folder.iterdir()}
    assert left == {"backups", "form.key", "shop.sqlite3", done.replaced.name, again.replaced.name}  # type: ignore[union-attr]


def test_nothing_acknowledged_before_it_began_is_missing(
    empty_settings: Settings, tmp_path: Path
) -> None:
    engine = make_engine(empty_settings.database_url, watched=True)
    sessions = session_maker(engine)
    done: list[int] = []
    stop = threading.Event()

    def write() -> None:
        while not stop.is_set():
            with transaction(sessions) as session:
                session.add(Customer(name=str(len(done))))
            done.append(len(done))

    writer = threading.Thread(target=write)
    writer.start()
    for number in range(3):
        before = len(done)
        made = backups.back_up(empty_settings, engine, AT + timedelta(days=number))
        other = settings_for(tmp_path / f"other{number}")
        backups.restore(other, made.file, AT)
        found = names(other)
        assert len(found) >= before
        # Up to one moment all is there, and after it nothing.
        assert found == [str(n) for n in range(len(found))]
    stop.set()
    writer.join()
    engine.dispose()
    assert len(done) > 10


def test_a_damaged_shop_makes_no_backup(demo_settings: Settings) -> None:
    sound = backed_up(demo_settings)
    file = demo_settings.folder / "shop.sqlite3"
    data = bytearray(file.read_bytes())
    data[4096 * 30 : 4096 * 32] = os.urandom(8192)
    file.write_bytes(data)
    with pytest.raises(DomainError, match="damaged"):
        backed_up(demo_settings, AT + timedelta(days=1))
    assert [one.file for one in backups.backups(demo_settings)] == [sound.file]
    assert len(list(sound.file.parent.iterdir())) == 1


def test_books_that_do_not_agree_are_said_and_backed_up(demo_settings: Settings) -> None:
    engine = make_engine(demo_settings.database_url)
    with engine.begin() as connection:
        connection.execute(text("UPDATE payment SET amount = amount + 10000 WHERE id = 1"))
    engine.dispose()
    found = backed_up(demo_settings).findings
    assert any("receipt 1 is not what it was" in one.says for one in found)


def _flip(data: bytearray) -> bytearray:
    at = len(data) // 2
    data[at : at + 40] = bytes(b ^ 0xFF for b in data[at : at + 40])
    return data


SPOILED = {
    "cut short": lambda data: data[: len(data) // 2],
    "bytes flipped": _flip,
    "empty": lambda data: b"",
    "a text": lambda data: b"not a zip",
}


@pytest.mark.parametrize("kind", SPOILED)
def test_a_spoiled_backup_is_refused_and_nothing_changes(
    empty_settings: Settings, tmp_path: Path, kind: str
) -> None:
    made = backed_up(empty_settings)
    spoiled = tmp_path / "spoiled.zip"
    spoiled.write_bytes(SPOILED[kind](bytearray(made.file.read_bytes())))
    before = (empty_settings.folder / "shop.sqlite3").read_bytes()
    with pytest.raises(DomainError):
        backups.restore(empty_settings, spoiled, AT)
    assert (empty_settings.folder / "shop.sqlite3").read_bytes() == before
    assert {p.name for p in empty_settings.folder.iterdir()} == {
        "backups",
        "form.key",
        "shop.sqlite3",
    }


def rewritten(made: Path, file: Path, **changes: bytes | str) -> Path:
    """A backup with some of its files changed; ``says`` are fields of backup.json."""
    with ZipFile(made) as source, ZipFile(file, "w", ZIP_DEFLATED) as out:
        says = json.loads(source.read("backup.json"))
        says |= {k: v for k, v in changes.items() if isinstance(v, str)}
        out.writestr("backup.json", json.dumps(says))
        out.writestr("shop.sqlite3", source.read("shop.sqlite3"))
        for name, data in changes.items():
            if isinstance(data, bytes):
                out.writestr(name, data)
    return file


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"database": "../shop.sqlite3"}, "no backup that this version"),
        ({"schema": "9999"}, "written by a newer one"),
        ({"sha256": "0" * 64}, "not what was backed up"),
        ({"photos/../../evil.jpg": b"x"}, "is no picture of a shop"),
        ({"photos/run.sh": b"x"}, "is no picture of a shop"),
        ({f"photos/{PICTURE}": b"<html>"}, "is no picture of a shop"),
        ({"form": "another program, 1"}, "no backup that this version"),
        ({"schema": "0029"}, "of another schema than it says"),
        ({"schema": "head"}, "no backup that this version"),
    ],
)
def test_a_backup_that_somebody_made_up_is_refused(
    empty_settings: Settings, tmp_path: Path, changes: dict[str, bytes | str], says: str
) -> None:
    made = backed_up(empty_settings)
    with pytest.raises(DomainError, match=says):
        backups.restore(empty_settings, rewritten(made.file, tmp_path / "x.zip", **changes), AT)
    assert not (tmp_path / "evil.jpg").exists()


def test_old_ones_go_by_the_rule_and_those_before_an_upgrade_stay(empty_settings: Settings) -> None:
    folder = empty_settings.folder / "backups"
    folder.mkdir()
    for days in range(60):
        at = AT - timedelta(days=days + 1)
        (folder / f"shop_{at:%Y-%m-%d_%H%M%S}_daily.zip").touch()
    upgrade = (
        folder
        / f"shop_{AT - timedelta(days=45, hours=2):%Y-%m-%d_%H%M%S}_before-0030-from-0029.zip"
    )
    upgrade.touch()
    (folder / "mine.zip").touch()
    assert not backups.due(empty_settings, AT - timedelta(days=1))
    assert backups.due(empty_settings, AT)
    backed_up(empty_settings, why=backups.DAILY)
    assert not backups.due(empty_settings, AT)
    kept = backups.backups(empty_settings)
    # 14 days, then the newest of the weeks and months that are not among them.
    assert 18 <= len(kept) <= 24
    assert upgrade in {one.file for one in kept}
    assert (folder / "mine.zip").exists()


def test_two_in_one_second_have_two_names(empty_settings: Settings) -> None:
    assert backed_up(empty_settings).file != backed_up(empty_settings).file


def test_an_upgrade_makes_a_backup_first(empty_settings: Settings) -> None:
    engine = make_engine(empty_settings.database_url)
    migrate(engine, "0029")
    engine.dispose()
    opened = open_shop(
        empty_settings, make=False, before_upgrade=backups.before_upgrade(empty_settings, AT)
    )
    assert (opened.before, opened.after) == ("0029", newest_revision())
    [made] = backups.backups(empty_settings)
    assert made.why == f"before-{newest_revision()}-from-0029"
    done = backups.restore(empty_settings, made.file, AT)
    assert done.schema == "0029"
    engine = make_engine(empty_settings.database_url, reads_only=True)
    assert revision_of(engine) == "0029"
    engine.dispose()


@pytest.mark.parametrize("statement", [
    "DELETE FROM shop", "DROP TABLE shop", "DELETE FROM alembic_version",
    "INSERT INTO alembic_version VALUES ('0001')", "UPDATE alembic_version SET version_num = '9999'",
])  # fmt: skip
def test_a_backup_without_a_shop_never_takes_the_place_of_one(
    demo_settings: Settings, empty_settings: Settings, tmp_path: Path, statement: str
) -> None:
    made = backed_up(demo_settings)
    with ZipFile(made.file) as archive:
        archive.extract("shop.sqlite3", tmp_path)
    with sqlite3.connect(tmp_path / "shop.sqlite3") as connection:
        connection.execute(statement)
    connection.close()
    data = (tmp_path / "shop.sqlite3").read_bytes()
    bad = tmp_path / "bad.zip"
    with ZipFile(made.file) as source, ZipFile(bad, "w") as out:
        says = json.loads(source.read("backup.json")) | {"sha256": sha256(data).hexdigest()}
        out.writestr("backup.json", json.dumps(says))
        out.writestr("shop.sqlite3", data)
    before = (empty_settings.folder / "shop.sqlite3").read_bytes()
    with pytest.raises(DomainError):
        backups.restore(empty_settings, bad, AT)
    assert (empty_settings.folder / "shop.sqlite3").read_bytes() == before


@pytest.mark.parametrize("step", range(8))
def test_a_restore_that_is_killed_is_finished_or_forgotten(
    demo_settings: Settings, empty_settings: Settings, monkeypatch: pytest.MonkeyPatch, step: int
) -> None:
    demo_settings.photos.mkdir()
    (demo_settings.photos / PICTURE).write_bytes(b"\xff\xd8\xffnew")
    made = backed_up(demo_settings)
    empty_settings.photos.mkdir()
    (empty_settings.photos / PICTURE).write_bytes(b"\xff\xd8\xffold")
    moves, replace = [], Path.replace

    def killed(self: Path, target: Path) -> Path:
        if self.suffix != ".part":
            moves.append(self)
            if len(moves) > step:
                raise KeyboardInterrupt
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", killed)
    try:
        backups.restore(empty_settings, made.file, AT)
        done = True
    except KeyboardInterrupt:
        done = False
    monkeypatch.undo()
    aside = backups.finish_restore(empty_settings)
    folder = empty_settings.folder
    new = (empty_settings.photos / PICTURE).read_bytes().endswith(b"new")
    assert bool(names(empty_settings)) == new
    assert not (folder / "restoring").exists()
    assert list(folder.glob("unpacking-*")) == []
    if new:
        [kept] = folder.glob("replaced_*")
        assert aside in (kept, None)
        assert (kept / "photos" / PICTURE).read_bytes().endswith(b"old")
        assert (kept / "shop.sqlite3").exists()
    else:
        # Nothing was certain yet: all is as it was.
        assert not done
        assert step < 4
        assert list(folder.glob("replaced_*")) == []


@pytest.mark.postgresql
def test_of_postgresql_it_is_the_open_files(postgres: Cluster, tmp_path: Path) -> None:
    settings = settings_for(tmp_path, postgres.empty())
    open_shop(settings, make=True)
    made = backed_up(settings)
    with ZipFile(made.file) as archive:
        assert set(archive.namelist()) == {"backup.json", "whole-shop.zip"}
    with pytest.raises(DomainError, match="unset DATABASE_URL"):
        backups.restore(settings, made.file, AT)
    with pytest.raises(DomainError, match="take that in with"):
        backups.restore(settings_for(tmp_path / "file"), made.file, AT)


def test_a_full_folder_leaves_nothing_half(empty_settings: Settings) -> None:
    (empty_settings.folder / "backups").mkdir()
    shutil.rmtree(empty_settings.folder / "backups")
    (empty_settings.folder / "backups").write_text("in the way")
    with pytest.raises(OSError, match="exists"):
        backed_up(empty_settings)
