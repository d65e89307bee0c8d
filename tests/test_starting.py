"""A file to double-click: what each system runs, quoted by its own rules."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from app.cli.starting import starter
from tests.test_cli import refused, within

ODD = "/home/a b/50% $off/it's"


def test_a_batch_file_doubles_its_per_cents() -> None:
    made = starter("win32", [r"C:\\Users\\A B\\100%\\tallyfold.exe"], None)
    assert made.name == "Tallyfold.bat"
    assert made.text.endswith('100%%\\\\tallyfold.exe" "serve"\r\npause\r\n')


def test_a_shell_reads_the_words_as_they_were(tmp_path: Path) -> None:
    made = starter("darwin", ["/bin/echo", ODD], ODD)
    file = tmp_path / made.name
    file.write_text(made.text.replace("exec ", "exec /usr/bin/env TALLY=1 "), encoding="utf-8")
    done = subprocess.run(["/bin/sh", str(file)], capture_output=True, text=True, check=True)
    assert done.stdout == f"{ODD} serve\n"
    assert "export TALLYFOLD_DATA='/home/a b/50% $off/it'" in made.text


def test_a_desktop_entry_quotes_as_its_specification_says() -> None:
    """Desktop Entry Specification 1.5, “The Exec key”: quoted first, its backslashes doubled then."""
    made = starter("linux", [ODD], "/data")
    line = next(one for one in made.text.splitlines() if one.startswith("Exec="))
    assert line == ('Exec="env" "TALLYFOLD_DATA=/data" "/home/a b/50%% \\\\$off/it\'s" "serve"')


def test_it_is_written_once_and_overwrites_nothing_of_others(tmp_path: Path) -> None:
    first = within("starter", str(tmp_path), home=tmp_path)
    assert first.returncode == 0, first.stderr
    (file,) = tmp_path.glob("Tallyfold.*")
    assert str(file) in first.stdout
    assert f"TALLYFOLD_DATA={tmp_path}" in file.read_text(encoding="utf-8")
    assert within("starter", str(tmp_path), home=tmp_path).returncode == 0
    file.write_text("mine", encoding="utf-8")
    assert "is there already" in refused(within("starter", str(tmp_path), home=tmp_path))
    assert file.read_text(encoding="utf-8") == "mine"
    assert "is no folder" in refused(within("starter", str(tmp_path / "gone"), home=tmp_path))


@pytest.mark.skipif(sys.platform == "win32", reason="Windows asks the name of a file, not its mode")
def test_it_can_be_run(tmp_path: Path) -> None:
    within("starter", str(tmp_path), home=tmp_path)
    (file,) = tmp_path.glob("Tallyfold.*")
    assert file.stat().st_mode & 0o111
