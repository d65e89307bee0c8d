"""Sets the tests up on a fresh machine and runs all of them: one command, no other tool needed.

    python3 tests/run.py            everything
    python3 tests/run.py -k yield   everything, with these words handed on to pytest

It makes .venv where there is none, installs exactly what uv.lock says, sees that there is a
browser, and runs the linter, the type checker, the import contracts and pytest.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

HOME = Path(__file__).resolve().parent.parent
VENV = HOME / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
SYSTEM_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def say(text: str) -> None:
    print(f"== {text}", flush=True)


def run(*command: str | Path, check: bool = True) -> int:
    """Run a command from the project's folder; a failure ends everything with its status."""
    done = subprocess.run([str(word) for word in command], cwd=HOME, env=environment(), check=False)
    if check and done.returncode:
        say(f"failed: {' '.join(str(word) for word in command)}")
        sys.exit(done.returncode)
    return done.returncode


def environment() -> dict[str, str]:
    """The machine's environment, pointed at .venv and at no shop of anybody's.

    What Python compiles it may keep: the tests start many programs, each several seconds sooner.
    """
    not_ours = ("DATABASE_URL", "TALLYFOLD_DATA", "PYTHONDONTWRITEBYTECODE")
    env = {k: v for k, v in os.environ.items() if k not in not_ours}
    env["UV_PROJECT_ENVIRONMENT"] = env["VIRTUAL_ENV"] = str(VENV)
    return env


def install() -> None:
    """A virtual environment with exactly the locked packages."""
    if not BIN.exists():
        say("making .venv")
        venv.create(VENV, with_pip=True)
    uv = shutil.which("uv") or BIN / "uv"
    if not Path(uv).exists():
        run(python(), "-m", "pip", "install", "-q", "--disable-pip-version-check", "uv")
    say("installing what uv.lock says")
    run(uv, "sync", "--locked", "--inexact", "--compile-bytecode", "-q")


def python() -> Path:
    return BIN / ("python.exe" if os.name == "nt" else "python")


def has_browser() -> bool:
    """Whether Playwright has a browser of its own, or the system one that it can drive."""
    code = (
        "import pathlib, sys\n"
        "from playwright.sync_api import sync_playwright\n"
        "with sync_playwright() as p:\n"
        "    sys.exit(not pathlib.Path(p.chromium.executable_path).exists())\n"
    )
    own = subprocess.run([str(python()), "-c", code], cwd=HOME, check=False).returncode == 0
    return own or any(shutil.which(name) for name in SYSTEM_BROWSERS)


def find_browser() -> None:
    """Fetch a browser the way this machine can: Playwright's own, else Debian's package."""
    if has_browser():
        return
    say("fetching a browser")
    run(python(), "-m", "playwright", "install", "chromium", check=False)
    if has_browser():
        return
    if shutil.which("apt-get"):
        ask = [] if os.geteuid() == 0 else ["sudo"]
        run(*ask, "apt-get", "update", "-qq", check=False)
        run(*ask, "apt-get", "install", "-y", "-qq", "--no-install-recommends", "chromium",
            check=False)  # fmt: skip
    if not has_browser():
        say("no browser could be found: install Chromium, then run this again")
        sys.exit(1)


def main() -> None:
    install()
    find_browser()
    os.environ["TALLYFOLD_NEEDS_BROWSER"] = "1"
    say("lint and format")
    run(BIN / "ruff", "check", ".")
    run(BIN / "ruff", "format", "--check", "-q", ".")
    say("types")
    run(BIN / "mypy")
    say("import contracts")
    run(BIN / "lint-imports")
    say("tests")
    run(python(), "-m", "pytest", "-q", "-n", "2", *sys.argv[1:])


if __name__ == "__main__":
    main()
