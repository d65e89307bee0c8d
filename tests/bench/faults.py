"""Nothing lost, nobody let in: faults injected for real, each figure beside its bar.

Needs Linux; a disk that fills and one that cannot be written are small tmpfs mounts (root), clocks
set wrong need ``faketime``, PostgreSQL its server. What is not here is said so.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import date, datetime
from http.client import HTTPException
from pathlib import Path
from uuid import uuid4

from app.config import Settings, settings_for
from app.db import make_engine, session_maker, transaction
from app.schema import migrate
from app.services.upkeep import backups
from app.services.upkeep.looking_through import look_through
from app.services.upkeep.moving import move_shop
from app.services.upkeep.opening import open_shop
from seed_demo import load_demo
from tests.bench.harder import busy
from tests.bench.served import Browser, Served, served
from tests.factories import Bench
from tests.postgres import Cluster, find_postgres

WRITERS = 8


def say(what: str, figure: str, bar: str, *, met: bool) -> None:
    """A line of the table."""
    sys.stdout.write(f"{what:<62}{figure:>32}   bar {bar:<26}{'met' if met else 'MISSED'}\n")
    sys.stdout.flush()


def shop_in(folder: Path) -> Settings:
    """A shop with a journal that can be ordered, and one order that takes payments."""
    settings = settings_for(folder)
    open_shop(settings, make=True)
    engine = make_engine(settings.database_url)
    with transaction(session_maker(engine)) as session:
        bench = Bench(session)
        for _ in range(WRITERS):
            bench.agreed(quantity=1000)
    engine.dispose()
    return settings


def ask_to_pay(browser: Browser, order: int = 1) -> tuple[int, str, str]:
    """Send a payment of a day that has come whatever the clock says."""
    return browser.post(
        f"/orders/{order}/payments",
        once=uuid4().hex,
        amount="1.00",
        paid_on="2001-01-01",
        how="cash",
    )


def pay(browser: Browser, order: int) -> bool:
    """A payment; True where it was acknowledged."""
    status, led_to, _ = ask_to_pay(browser, order)
    return status == 302 and led_to.startswith(f"/orders/{order}")


def paid_in(settings: Settings) -> dict[int, int]:
    """How many payments each order has, read past the program."""
    connection = sqlite3.connect(settings.folder / "shop.sqlite3")
    rows = connection.execute("SELECT order_id, count(*) FROM payment GROUP BY order_id").fetchall()
    connection.close()
    return dict(rows)


class Load:
    """Browsers that pay and pay; what was acknowledged, and how long each took."""

    def __init__(self, at: Served, writers: int) -> None:
        self.stop = threading.Event()
        self.acknowledged = [0] * writers
        self.refused = 0
        self.taken: list[float] = []
        browsers = [at.browser() for _ in range(writers)]
        self.threads = [
            threading.Thread(target=self._pay, args=(number, browser), daemon=True)
            for number, browser in enumerate(browsers)
        ]

    def _pay(self, number: int, browser: Browser) -> None:
        while not self.stop.is_set():
            start = time.perf_counter()
            try:
                done = pay(browser, number + 1)
            except (OSError, HTTPException, AssertionError):
                return
            self.taken.append(time.perf_counter() - start)
            self.acknowledged[number] += done
            self.refused += not done

    def run(self, seconds: float) -> None:
        """Let them pay for so long."""
        for thread in self.threads:
            thread.start()
        time.sleep(seconds)

    def end(self) -> None:
        """No more."""
        self.stop.set()
        for thread in self.threads:
            thread.join(40)


def kills(times: int) -> None:
    """SIGKILL at random moments of a writing load."""
    chance = random.Random(14)
    lost = half = unsound = starts = acknowledged = 0
    with tempfile.TemporaryDirectory() as place:
        settings = shop_in(Path(place) / "shop")
        known: dict[int, int] = {}
        for _ in range(times):
            running = Served(settings.folder)
            starts += 1
            load = Load(running, 4)
            load.run(chance.uniform(0.05, 0.6))
            running.kill()
            load.end()
            found = paid_in(settings)
            for number, more in enumerate(load.acknowledged, start=1):
                before, now = known.get(number, 0), found.get(number, 0)
                lost += max(before + more - now, 0)
                # One may have been kept whose answer never came.
                half += max(now - before - more - 1, 0)
                known[number] = now
            acknowledged += sum(load.acknowledged)
            unsound += bool(look_through(settings))
    figure = f"{lost} lost of {acknowledged}, {half} extra"
    say(f"{times} kills in a writing load", figure, "none lost, none half", met=not lost + half)
    say("ledger, seals and file after each kill", f"{unsound} unsound", "0", met=not unsound)
    say("next start normal", f"{starts} of {times}", "all", met=starts == times)


def writers(seconds: float) -> None:
    """Eight browsers write at once, alone and with four busy loops beside them."""
    for loops in (0, 4):
        with tempfile.TemporaryDirectory() as place, busy(loops):
            settings = shop_in(Path(place) / "shop")
            with served(settings.folder) as running:
                load = Load(running, WRITERS)
                load.run(seconds)
                load.end()
            kept = paid_in(settings)
            taken = sorted(load.taken)
        p95, longest = taken[int(len(taken) * 0.95)] * 1000, taken[-1] * 1000
        beside = f", {loops} busy loops beside" if loops else ""
        figure = f"p95 {p95:.0f}, longest {longest:.0f} ms"
        say(f"{WRITERS} writers at once{beside}", figure, "p95 < 500, longest < 1000 ms",
            met=p95 < 500 and longest < 1000)  # fmt: skip
        lost = sum(load.acknowledged) - sum(kept.values())
        say(f"  of {len(taken)} payments", f"{lost} lost, {load.refused} refused", "0, 0",
            met=not lost and not load.refused)  # fmt: skip


def changed_under_it() -> None:
    """The file deleted, replaced, cut and overwritten while the shop is served."""

    def cut(file: Path) -> None:
        os.truncate(file, 8192)

    def replace(file: Path) -> None:
        shutil.copy(file, file.with_name("copy"))
        file.with_name("copy").replace(file)

    def overwrite(file: Path) -> None:
        file.write_bytes(file.read_bytes() + bytes(4096))

    ways: dict[str, Callable[[Path], object]] = {
        "deleted": Path.unlink, "replaced": replace, "cut": cut, "overwritten": overwrite,
    }  # fmt: skip
    swallowed = noticed = 0
    for do in ways.values():
        with tempfile.TemporaryDirectory() as place:
            settings = shop_in(Path(place) / "shop")
            with served(settings.folder) as running:
                browser = running.browser()
                assert pay(browser, 1)
                do(settings.folder / "shop.sqlite3")
                status, _, page = ask_to_pay(browser)
                swallowed += status == 302
                noticed += status == 503 and "tallyfold restore" in page
    say("file deleted, replaced, cut, overwritten under it", f"{swallowed} swallowed, {noticed} told",
        "0, 4", met=(swallowed, noticed) == (0, 4))  # fmt: skip


@contextmanager
def small_disk(megabytes: int) -> Iterator[Path]:
    """A disk of so many MB of its own."""
    with tempfile.TemporaryDirectory() as place:
        done = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", place],
            check=False, capture_output=True,
        )  # fmt: skip
        if done.returncode:
            raise PermissionError("a tmpfs cannot be mounted here")
        try:
            yield Path(place)
        finally:
            subprocess.run(["umount", "-l", place], check=True)


def full_disk() -> None:
    """A disk that fills: a page, nothing changed, and it goes on by itself once there is room."""
    with small_disk(16) as place:
        settings = shop_in(place / "shop")
        with served(settings.folder) as running:
            browser = running.browser()
            assert pay(browser, 1)
            with suppress(OSError), (place / "filler").open("wb", buffering=0) as filler:
                while filler.write(bytes(4096)):
                    pass
            answers = [
                browser.post(
                    "/stockroom/suppliers/new",
                    once=uuid4().hex,
                    name=f"Full disk {n}",
                    note="x" * 3000,
                )
                for n in range(40)
            ]
            told = any(
                status == 503 and "Nothing was changed" in page for status, _, page in answers
            )
            broken = sum(status == 500 for status, _, _ in answers)
            kept = sum(status == 302 for status, _, _ in answers)
            (place / "filler").unlink()
            resumed = pay(browser, 1)
        connection = sqlite3.connect(settings.folder / "shop.sqlite3")
        [(there,)] = connection.execute(
            "SELECT count(*) FROM supplier WHERE name LIKE 'Full disk%'"
        )
        connection.close()
        sound = not look_through(settings)
    say("a disk that fills: told, none broken, kept as acknowledged",
        f"{told}, {broken}, {kept} of {there}", "True, 0, equal",
        met=told and not broken and kept == there)  # fmt: skip
    say("  once there is room: goes on by itself, sound", f"{resumed}, {sound}", "True, True",
        met=resumed and sound)  # fmt: skip


@contextmanager
def unwritable(folder: Path) -> Iterator[None]:
    """A folder whose database nobody can write, not even who has it open."""
    # Not the memory that SQLite shares: a write to it would be a fault of the machine.
    files = [str(folder / name) for name in ("shop.sqlite3", "shop.sqlite3-wal")]
    if subprocess.run(["chattr", "+i", *files], check=False, capture_output=True).returncode:
        raise PermissionError("files cannot be made unwritable here")
    try:
        yield
    finally:
        subprocess.run(["chattr", "-i", *files], check=True)


def read_only_disk() -> None:
    """A disk that cannot be written any more, and can be again."""
    with tempfile.TemporaryDirectory() as place:
        settings = shop_in(Path(place) / "shop")
        with served(settings.folder) as running:
            browser = running.browser()
            assert pay(browser, 1)
            with unwritable(settings.folder):
                status, _, page = ask_to_pay(browser)
                told = status == 503 and "cannot be written" in page
                reads = browser.ask("GET", "/orders")[0] == 200
            resumed = pay(browser, 1)
        sound = not look_through(settings)
    say("a folder that cannot be written: told, read, goes on, sound",
        f"{told}, {reads}, {resumed}, {sound}", "all True",
        met=told and reads and resumed and sound)  # fmt: skip


def two_servers() -> None:
    """A second program on the same folder is refused in one line."""
    with tempfile.TemporaryDirectory() as place:
        settings = shop_in(Path(place) / "shop")
        with served(settings.folder):
            env = os.environ | {"TALLYFOLD_DATA": str(settings.folder), "CI": "true"}
            refused = 0
            for words in (
                ["serve", "--port", "1"],
                ["serve", "--port", "18999"],
                ["upgrade"],
                ["restore", "x.zip"],
            ):
                done = subprocess.run(
                    [sys.executable, "-m", "app", *words],
                    env=env,
                    capture_output=True,
                    text=True,
                    check=False,
                )
                refused += done.returncode == 2 and done.stderr.count("\n") == 1
    say("two programs on one folder", f"{refused} of 4 refused in a line", "4", met=refused == 4)


def killed_upgrades(times: int) -> None:
    """An upgrade killed at random moments, then started again."""
    chance, whole, sound = random.Random(4), 0, 0
    with tempfile.TemporaryDirectory() as place:
        base = shop_in(Path(place) / "base")
        engine = make_engine(base.database_url)
        migrate(engine, "0017")
        engine.dispose()
        for number in range(times):
            folder = Path(place) / f"shop{number}"
            shutil.copytree(base.folder, folder)
            env = os.environ | {"TALLYFOLD_DATA": str(folder)}
            command = [sys.executable, "-m", "app", "upgrade"]
            running = subprocess.Popen(
                command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
            time.sleep(chance.uniform(0.5, 1.8))
            running.send_signal(signal.SIGKILL)
            running.wait()
            done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
            whole += done.returncode == 0
            sound += not look_through(Settings(folder, f"sqlite:///{folder / 'shop.sqlite3'}", ""))
            shutil.rmtree(folder)
    say(f"{times} upgrades killed and begun again", f"{whole} whole, {sound} sound", "all",
        met=whole == sound == times)  # fmt: skip


def half_open() -> None:
    """Two hundred connections that send half a request and wait."""
    with tempfile.TemporaryDirectory() as place:
        settings = shop_in(Path(place) / "shop")
        with served(settings.folder) as running:
            browser = running.browser()
            waiting = []
            for _ in range(90):
                one = socket.create_connection(("127.0.0.1", running.port), timeout=5)
                one.sendall(b"POST /orders HTTP/1.1\r\nHost: localhost\r\nContent-Le")
                waiting.append(one)
            taken = []
            for _ in range(20):
                start = time.perf_counter()
                assert pay(browser, 1)
                taken.append((time.perf_counter() - start) * 1000)
            for one in waiting:
                one.close()
    say("90 half-open connections beside a writer", f"longest {max(taken):.0f} ms", "< 1000 ms",
        met=max(taken) < 1000)  # fmt: skip


def clocks() -> None:
    """The clock set back and far ahead between two runs; every page and the books as before."""
    if shutil.which("faketime") is None:
        sys.stdout.write("clocks set wrong: faketime is not installed\n")
        return
    fine = 0
    moments = ("2001-02-03 04:05:06", "2093-01-01 00:00:00")
    with tempfile.TemporaryDirectory() as place:
        settings = shop_in(Path(place) / "shop")
        for moment in (*moments, None):
            before = ("faketime", "-f", moment) if moment else ()
            running = Served(settings.folder, *before)
            browser = Browser(running.port)
            env = os.environ | {"TALLYFOLD_DATA": str(settings.folder)}
            done = subprocess.run(
                [*before, sys.executable, "-m", "app", "address"],
                env=env,
                capture_output=True,
                text=True,
                check=False,
            )
            path = done.stdout.strip().partition(str(running.port))[2]
            inside = browser.ask("GET", path)[0] == 302
            opens = all(
                browser.ask("GET", page)[0] == 200
                for page in ("/", "/orders", "/buying", "/bench", "/shop/backups")
            )
            paid = pay(browser, 1)
            time.sleep(0.5)
            running.kill(signal.SIGTERM)
            fine += inside and opens and paid and not look_through(settings)
        days = {one.at.date() for one in backups.backups(settings)}
    say("clock in 2001, in 2093, and right again", f"{fine} of 3, {len(days)} days backed up", "3, 3",
        met=fine == 3 and len(days) == 3)  # fmt: skip


def backups_under_load(times: int) -> None:
    """A backup while writing, restored into a second folder, beside what was acknowledged before."""
    missing, checked = 0, 0
    took = []
    with tempfile.TemporaryDirectory() as place:
        settings = shop_in(Path(place) / "shop")
        with served(settings.folder) as running:
            load = Load(running, WRITERS)
            load.run(0.5)
            env = os.environ | {"TALLYFOLD_DATA": str(settings.folder)}
            for number in range(times):
                before = list(load.acknowledged)
                start = time.perf_counter()
                file = Path(place) / f"{number}.zip"
                subprocess.run(
                    [sys.executable, "-m", "app", "backup", str(file)],
                    env=env,
                    check=True,
                    stdout=subprocess.DEVNULL,
                )
                took.append(time.perf_counter() - start)
                other = settings_for(Path(place) / f"other{number}")
                backups.restore(other, file, datetime.now())  # noqa: DTZ005 - any
                found = paid_in(other)
                missing += sum(max(b - found.get(n, 0), 0) for n, b in enumerate(before, start=1))
                checked += sum(before)
                missing += len(look_through(other))
            load.end()
    say(
        f"{times} backups under load, restored elsewhere",
        f"{missing} missing of {checked}",
        "0",
        met=not missing,
    )
    sys.stdout.write(f"  each took {statistics.median(took):.1f} s with the program's start\n")


def postgresql() -> None:
    """PostgreSQL gone and back; a shop moved there and back."""
    binaries = find_postgres()
    if binaries is None:
        sys.stdout.write("PostgreSQL gone and back: it is not installed\n")
        return
    with tempfile.TemporaryDirectory(prefix="pg") as where, tempfile.TemporaryDirectory() as place:
        cluster = Cluster(binaries, Path(where))
        settings = shop_in(Path(place) / "shop")
        with cluster:
            url = cluster.empty()
            there = move_shop(settings, url)
            back = Path(place) / "back.sqlite3"
            equal = move_shop(settings_for(Path(place) / "pg", url), f"sqlite:///{back}") == there
            say("moved to PostgreSQL and back", f"{sum(s.rows for s in there.values())} rows equal: {equal}",
                "equal", met=equal)  # fmt: skip
            with served(Path(place) / "pg", env={"DATABASE_URL": url}) as running:
                browser = running.browser()
                assert pay(browser, 1)
                cluster._run(
                    str(binaries / "pg_ctl"),
                    "-D",
                    str(Path(where) / "data"),
                    "-m",
                    "immediate",
                    "stop",
                )
                status, _, page = ask_to_pay(browser)
                told = status == 503 and "Nothing was changed" in page
                cluster._run(str(binaries / "pg_ctl"), "-D", str(Path(where) / "data"), "-w", "-o",
                             f"-c listen_addresses='' -c unix_socket_directories='{where}'", "-l", str(Path(where) / "log"), "start")  # fmt: skip
                resumed = pay(browser, 1)
    say(
        "PostgreSQL gone and back: told, goes on",
        f"{told}, {resumed}",
        "True, True",
        met=told and resumed,
    )


def damaged() -> None:
    """Twenty damaged shops, by the suite's own test, which also sees that none is made worse."""
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:xdist", "-p", "no:playwright", "-k", "twenty_damaged",
         "tests/services/upkeep/test_looking_through.py"], capture_output=True, text=True, check=False,
    )  # fmt: skip
    closing = done.stdout.strip().splitlines()[-1]
    say(
        "20 damaged shops found, none made worse",
        closing.partition(" in ")[0],
        "20 passed",
        met="20 passed" in closing,
    )


def histories() -> None:
    """Random histories of orders, purchases, batches, counts and reversals on both engines."""
    env = os.environ | {"HYPOTHESIS_PROFILE": "long"}
    files = [
        "tests/services/orders/test_order_histories.py",
        "tests/services/stock/test_stock_histories.py",
    ]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n", "2", "-p", "no:playwright", *files],
        env=env, capture_output=True, text=True, check=False,
    )  # fmt: skip
    closing = done.stdout.strip().splitlines()[-1]
    say(
        "2,000 random histories, every invariant after each step",
        closing[:32],
        "passed",
        met=done.returncode == 0,
    )


def malformed(times: int) -> None:
    """Malformed forms and queries over every route: no error of the program, no data changed."""
    from tests.bench.malformed import throw

    asked, broken, changed = throw(times)
    say(f"{asked} malformed requests over every route", f"{broken} broke, {changed} changed", "0, 0",
        met=not broken and not changed)  # fmt: skip


def a_day() -> None:
    """What one shop's day costs: the demo looked at and written in as on a busy day, and backed up."""
    with tempfile.TemporaryDirectory() as place:
        settings = settings_for(Path(place))
        open_shop(settings, make=True, fill=lambda session: load_demo(session, date.today()))
        with served(settings.folder) as running:
            browser = running.browser()
            before = _cpu(running.process.pid)
            for number in range(300):
                browser.look(DAYS_PAGES[number % len(DAYS_PAGES)])
            for number in range(40):
                browser.post(
                    "/stockroom/suppliers/new", once=uuid4().hex, name=f"Mill {number}", note=""
                )
            browser.post("/shop/backups")
            spent = _cpu(running.process.pid) - before
            status = Path(f"/proc/{running.process.pid}/status").read_text()
            resident = (
                int(next(x for x in status.splitlines() if x.startswith("VmHWM")).split()[1]) / 1024
            )
        kept = (
            sum(file.stat().st_size for file in settings.folder.rglob("*") if file.is_file()) / 1e6
        )
    sys.stdout.write(
        f"a busy day of one shop, 300 pages, 40 changes, a backup: {spent:.1f} s of one core, "
        f"{resident:.0f} MB of memory, {kept:.1f} MB of disk\n"
    )


DAYS_PAGES = (
    "/",
    "/orders",
    "/orders/26",
    "/journals",
    "/journals/4",
    "/stockroom",
    "/bench",
    "/buying",
    "/markets/1",
)


def _cpu(process: int) -> float:
    """Seconds of a core that a process has used, by /proc."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def all_of_it(kill_times: int) -> None:
    """The whole table."""
    for one in (
        lambda: kills(kill_times), lambda: writers(12), lambda: backups_under_load(5), changed_under_it,
        full_disk, read_only_disk, two_servers, lambda: killed_upgrades(20), half_open, clocks,
        postgresql, damaged, lambda: malformed(20_000), histories, a_day,
    ):  # fmt: skip
        try:
            one()
        except PermissionError as error:
            sys.stdout.write(f"not measured: {error}\n")
