"""The command line teaches, answers, and refuses in one line with status 2."""

from __future__ import annotations

import io
import json
import os
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from unittest.mock import patch

import pytest

from app.cli import main
from app.folder import Hold
from app.services.access.devices import new_entry
from app.services.access.passphrase import fits
from tests.conftest import settings_on

RUN = [sys.executable, "-m", "app"]


def run(*words: str, given: str = "", home: Path | None = None) -> subprocess.CompletedProcess[str]:
    env = os.environ | {"CI": "true"}
    env.pop("DATABASE_URL", None)
    if home:
        env["TALLYFOLD_DATA"] = str(home)
    return subprocess.run(
        [*RUN, *words],
        input=given,
        capture_output=True,
        text=True,
        timeout=60,
        env=env,
        check=False,
    )


def within(*words: str, home: Path, given: str = "") -> subprocess.CompletedProcess[str]:
    """The same in this process, which is far quicker; what it says, and its status."""
    out, err = io.StringIO(), io.StringIO()
    env = {"TALLYFOLD_DATA": str(home), "CI": "true"}
    with (
        patch.dict(os.environ, env), patch.object(sys, "argv", ["tallyfold", *words]),
        patch.object(sys, "stdin", io.StringIO(given)), redirect_stdout(out), redirect_stderr(err),
        pytest.raises(SystemExit) as ended,
    ):  # fmt: skip
        main()
    status = ended.value.code
    return subprocess.CompletedProcess(words, int(status or 0), out.getvalue(), err.getvalue())


def refused(done: subprocess.CompletedProcess[str]) -> str:
    """The one line of a refusal."""
    assert done.returncode == 2, done
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1, done.stderr
    return done.stderr


@pytest.mark.parametrize("command", ["", "serve", "demo", "upgrade", "cut", "yield"])
def test_help_teaches(command: str) -> None:
    done = run(*command.split(), "--help")
    assert done.returncode == 0
    assert len(done.stdout.split()) > 15


def test_yield_says_grid_and_best() -> None:
    done = run("yield", "--sheet", "22x30", "--piece", "8x12", "--unit", "in")
    assert done.stdout.startswith("5 of 8 × 12 in from a 22 × 30 in sheet")
    assert "A plain grid gives 4" in done.stdout
    as_json = run("yield", "--sheet", "22 in x 30 in", "--piece", "203.2x304.8", "--json")
    assert json.loads(as_json.stdout)["best"] == 5


def test_yield_keeps_the_grain() -> None:
    done = run("yield", "--sheet", "560x760", "--piece", "240x160", "--sheet-grain", "height",
               "--piece-grain", "height", "--json")  # fmt: skip
    assert json.loads(done.stdout)["best"] == 8


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--sheet", "560", "--piece", "2x2"), "--sheet: “560” is no size"),
        (("--sheet", "560x760", "--piece", "2xtwo"), "--piece: “two” is not a length"),
        (("--sheet", "560x760", "--piece", "0x2"), "above zero"),
        (("--sheet", "560x760", "--piece", "2x2", "--trim", "300"), "trim less"),
        (("--sheet", "560x760", "--piece", "2x2", "--kerf", "-1"), "--kerf"),
        (("--sheet", "5600x7600", "--piece", "0.7x0.9"), "too many and too small"),
    ],
)
def test_yield_refuses_in_one_line(words: tuple[str, ...], says: str) -> None:
    assert says in refused(run("yield", *words))


PROBLEM = {
    "unit": "mm", "goal": "cover",
    "sheets": [{"name": "half", "width": 560, "height": 760, "grain": "height", "price": "4.60",
                "pack": 10, "on_hand": 3}],
    "pieces": [{"name": "folio", "width": 240, "height": 160, "count": 96, "grain": "height"}],
}  # fmt: skip


def test_cut_answers_in_json_and_nothing_else(tmp_path: Path) -> None:
    file = tmp_path / "problem.json"
    file.write_text(json.dumps(PROBLEM))
    found = json.loads(run("cut", str(file)).stdout)
    assert (found["status"], found["spend"]) == ("optimal", "46.00")
    assert json.loads(run("cut", "-", given=json.dumps(PROBLEM)).stdout)["spend"] == "46.00"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "line 1: this is not JSON"),
        (json.dumps(PROBLEM | {"goal": "win"}), "goal: must be one of"),
        (json.dumps(PROBLEM | {"pieces": []}), "pieces: must be a list"),
    ],
)
def test_cut_refuses_in_one_line(text: str, says: str) -> None:
    assert says in refused(run("cut", "-", given=text))


def test_cut_of_no_file() -> None:
    assert "cannot be read" in refused(run("cut", "/nowhere/problem.json"))


def test_only_serve_makes_a_shop(empty_template: Path, tmp_path: Path) -> None:
    for words in (["upgrade"], ["check"], ["backup"], ["export", "x.zip"]):
        assert "“tallyfold serve” makes one" in refused(within(*words, home=tmp_path / "none"))
    assert not (tmp_path / "none").exists()
    settings_on(empty_template, tmp_path / "shop")
    assert "has the newest schema" in within("upgrade", home=tmp_path / "shop").stdout


def test_a_file_that_is_no_database_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "shop.sqlite3").write_text("this is my shopping list, not a database at all\n" * 20)
    before = (tmp_path / "shop.sqlite3").read_bytes()
    assert "cannot be used" in refused(within("upgrade", home=tmp_path))
    assert (tmp_path / "shop.sqlite3").read_bytes() == before


@pytest.mark.parametrize(
    "words",
    [("serve", "--port", "99999"), ("backup", "/"), ("restore",), ("juggle",), ("yield",),
     ("export", ""), ("backup", "/nowhere/x.zip"), ("cut", "--what")],
)  # fmt: skip
def test_what_makes_no_sense_is_answered_in_one_line(
    words: tuple[str, ...], empty_template: Path, tmp_path: Path
) -> None:
    settings_on(empty_template, tmp_path)
    refused(within(*words, home=tmp_path))


def test_a_shop_is_looked_through_backed_up_and_put_back(
    demo_template: Path, tmp_path: Path
) -> None:
    home, other = tmp_path / "shop", tmp_path / "other"
    settings_on(demo_template, home)
    assert "All agrees" in within("check", home=home).stdout
    file = tmp_path / "carried.zip"
    assert "is made and verified" in within("backup", str(file), home=home).stdout
    assert "is there already" in refused(within("backup", str(file), home=home))
    done = within("restore", str(file), home=other)
    assert done.returncode == 0
    assert f"is back in {other / 'shop.sqlite3'}" in done.stdout
    assert json.loads(within("check", "--json", home=other).stdout) == {
        "agrees": True,
        "findings": [],
    }
    hold = Hold.of(other, "http://127.0.0.1:1/")
    for words in (["restore", str(file)], ["import", str(file)]):
        assert "is open already, by process" in refused(within(*words, home=other))
    # What only reads may do so meanwhile.
    assert "is made and verified" in within("backup", home=other).stdout
    assert within("check", home=other).returncode == 0
    hold.let_go()
    assert "tallyfold export" in refused(
        within("restore", str(exported(home, tmp_path)), home=other)
    )
    assert "tallyfold restore" in refused(within("import", str(file), home=tmp_path / "third"))
    with sqlite3.connect(other / "shop.sqlite3") as connection:
        connection.execute("UPDATE payment SET amount = amount + 1 WHERE id = 1")
    connection.close()
    off = within("check", "--json", home=other)
    assert off.returncode == 1
    [found] = json.loads(off.stdout)["findings"]
    assert found["where"] == "books"
    assert "receipt 1 is not what it was" in found["says"]
    assert "restore" in found["do"]


def exported(home: Path, folder: Path) -> Path:
    """The whole shop as open files, and taken in again."""
    file = folder / "open.zip"
    assert "rows of" in within("export", str(file), home=home).stdout
    assert "equal to those" in within("import", str(file), home=folder / "again").stdout
    assert "“tallyfold serve” makes one" not in within("check", home=folder / "again").stdout
    return file


def test_a_passphrase_is_chosen_at_the_prompt(tmp_path: Path) -> None:
    done = within("passphrase", given="gulls over the mud\ngulls over the mud\n", home=tmp_path)
    assert "The passphrase is kept" in done.stdout
    assert fits(tmp_path, "gulls over the mud")
    done = within("passphrase", given="password\npassword\n", home=tmp_path)
    assert done.returncode == 2
    assert "tried first" in done.stderr
    assert "no shop is open" in refused(within("address", home=tmp_path))


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def wait_for(address: str, seconds: float = 90) -> None:
    """Wait until a shop is served at an address; to be shown it one has to be let in."""
    until = time.monotonic() + seconds
    while True:
        try:
            with urllib.request.urlopen(address, timeout=5):  # noqa: S310 - loopback
                return
        except urllib.error.HTTPError:
            # Closed to whoever was not let in, and so served.
            return
        except OSError:
            if time.monotonic() > until:
                raise
            time.sleep(0.05)


@pytest.mark.parametrize("command", ["demo", "serve"])
def test_a_shop_opens_on_loopback_and_says_where(command: str, tmp_path: Path) -> None:
    port = free_port()
    env = os.environ | {"TALLYFOLD_DATA": str(tmp_path), "CI": "true", "PYTHONUNBUFFERED": "1"}
    env.pop("DATABASE_URL", None)
    with subprocess.Popen(
        [*RUN, command, "--port", str(port), "--no-open"],
        env=env,
        stdout=subprocess.PIPE,
        text=True,
    ) as server:
        try:
            wait_for(f"http://127.0.0.1:{port}/")
            browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
            folder = tmp_path / "demo" if command == "demo" else tmp_path
            key = new_entry(folder)
            with browser.open(f"http://127.0.0.1:{port}/enter/{key}", timeout=20) as answer:
                page = answer.read().decode()
            assert ("Saltmarsh Bindery" in page) == (command == "demo")
            assert ("The first price, and the first buy list" in page) == (command == "serve")
        finally:
            server.terminate()
            try:
                said, _ = server.communicate(timeout=15)
            except subprocess.TimeoutExpired:
                server.kill()
                raise
    assert f"http://127.0.0.1:{port}/" in said
    assert str(tmp_path) in said
    assert f"http://127.0.0.1:{port}/enter/" in said
    assert not (tmp_path / "held.json").exists()


def test_a_port_in_use_is_said(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = run("serve", "--port", str(port), "--no-open", home=tmp_path)
    assert f"port {port} cannot be used" in refused(done)
