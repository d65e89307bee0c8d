"""Serving a shop: to this computer, to a phone in the home network, and the keys to come in."""

from __future__ import annotations

import os
import signal
import socket
import sys
import threading
import webbrowser
from typing import Any

import click

from app.cli.demo_beside import DemoBeside
from app.cli.opening import open_or_make, throw_away
from app.cli.refusing import refuse
from app.cli.spoken import command, option
from app.config import LOOPBACK, Settings, data_folder, settings_for, settings_from_environment
from app.folder import Hold
from app.language import say, to_say

LOOKS_EVERY = 10 * 60
"""Seconds between looks whether today has a backup yet."""


@command(
    help=to_say("Open your shop in the browser, made where there is none; on this computer alone.")
)
@option("--port", default=8017, show_default=True, type=click.IntRange(1, 65535))
@option("--open/--no-open", "opens", default=True, help=to_say("Open a browser at the address."))
@option(
    "--phone", is_flag=True, help=to_say("Let a phone in your home network in, by a passphrase.")
)
@option("--phone-port", default=8417, show_default=True, type=click.IntRange(1, 65535))
def serve(port: int, opens: bool, phone: bool, phone_port: int) -> None:  # noqa: FBT001 - click
    settings = settings_from_environment()
    _serve(settings, port, opens=opens, phone_port=phone_port if phone else None)


@command(help=to_say("Open an invented shop to look around in; your own data is not touched."))
@option("--port", default=8018, show_default=True, type=click.IntRange(1, 65535))
@option("--open/--no-open", "opens", default=True, help=to_say("Open a browser at the address."))
@option("--fresh", is_flag=True, help=to_say("Throw the demo's own data away and load it anew."))
def demo(port: int, opens: bool, fresh: bool) -> None:  # noqa: FBT001 - click
    folder = data_folder() / "demo"
    _serve(settings_for(folder), port, opens=opens, demo=True, fresh=fresh)


def _serve(
    settings: Settings, port: int, *, opens: bool, demo: bool = False, fresh: bool = False,
    phone_port: int | None = None,
) -> None:  # fmt: skip
    from waitress import create_server

    from app import create_app
    from app.services.access.devices import new_entry
    from app.web.frame.demo import NEVER_CLOSED
    from app.web.frame.session import settle

    try:
        listening = socket.create_server((LOOPBACK, port))
    except OSError as error:
        refuse(_no_port(port, error, "--port"))
    address = f"http://{LOOPBACK}:{port}/"
    hold = Hold.of(settings.folder, address, settings.file)
    if fresh:
        throw_away(settings)
    open_or_make(settings, demo=demo)
    app = create_app(settings)
    settle(app)
    beside = None if demo else DemoBeside(data_folder() / "demo", address)
    app.extensions["demo"] = NEVER_CLOSED if demo else beside
    server = create_server(app, sockets=[listening], threads=8, ident="tallyfold")
    phone = None if phone_port is None else _phone_server(settings, app, phone_port)
    way_in = f"{address}enter/{new_entry(settings.folder)}"
    if demo:
        click.echo(say("The demo shop is open at {address}", address=address))
    else:
        click.echo(say("Your shop is open at {address}", address=address))
    click.echo(
        say("This lets your browser in, once, within half an hour: {address}", address=way_in)
    )
    click.echo(say("Its data lies in {place}", place=settings.says_where))
    click.echo(say("Close it with Ctrl+C."))
    if opens and not os.environ.get("CI"):
        webbrowser.open(way_in)
    # A polite request to end, by Ctrl+C or from the system, ends the program quietly.
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(0))
    ending = threading.Event()
    if not demo:
        _in_background(lambda: _back_up_daily(settings, app.extensions["engine"], ending))
    if phone is not None:
        _in_background(phone.serve)
    try:
        server.run()
    finally:
        ending.set()
        if phone is not None:
            phone.stop()
        if beside is not None:
            beside.close()
        # The last connection that closes leaves no log beside the file.
        app.extensions["engine"].dispose()
        hold.let_go()


def _no_port(port: int, error: OSError, option: str) -> str:
    return say(
        "port {port} cannot be used ({why}); try {option} {other}",
        port=port, why=error.strerror, option=option, other=port + 1,
    )  # fmt: skip


def _in_background(do: Any) -> None:
    threading.Thread(target=do, daemon=True).start()


def _back_up_daily(settings: Settings, engine: Any, ending: threading.Event) -> None:
    """A backup each day that the shop is open; one that fails is said and tried again."""
    from app.services.shop.moments import by_the_clock
    from app.services.upkeep import backups

    while True:
        at = by_the_clock()
        try:
            if backups.due(settings, at):
                backups.back_up(settings, engine, at, backups.DAILY)
        except Exception as error:
            failed = say("today’s backup could not be made ({why})", why=error)
            click.echo(f"tallyfold: {failed}", err=True)
        if ending.wait(LOOKS_EVERY):
            return


def _phone_server(settings: Settings, app: Any, port: int) -> Any:
    """A second way in for the home network: encrypted, with the passphrase."""
    import segno
    from cheroot.wsgi import Server

    from app.cli.patient_tls import PatientTLS
    from app.services.access.home_network import certificate, own_addresses
    from app.services.access.passphrase import has_passphrase

    if not has_passphrase(settings.folder):
        refuse(
            say("a phone comes in by a passphrase: choose one with “tallyfold passphrase” first")
        )
    addresses = own_addresses()
    made = certificate(settings.folder, addresses)
    app.config["TRUSTED_HOSTS"] += addresses
    server = Server(("0.0.0.0", port), app, numthreads=32, timeout=5)  # noqa: S104 - what it is for
    # A connection that ends early is no news; what fails in a page the application says itself.
    server.error_log = lambda *words, **more: None  # type: ignore[method-assign]
    server.ssl_adapter = PatientTLS(str(made.chain), str(made.key))
    try:
        server.prepare()
    except OSError as error:
        refuse(_no_port(port, error, "--phone-port"))
    door = app.extensions["door"]
    door.phone_address = f"https://{addresses[0]}:{port}/"
    door.fingerprint = made.fingerprint
    click.echo(say("A phone in your home network opens {address}", address=door.phone_address))
    segno.make(door.phone_address).terminal(compact=True)
    click.echo(say("Its certificate’s SHA-256 fingerprint: {print}", print=made.fingerprint))
    return server


@command(help=to_say("Print an address that lets one more browser of this computer in, once."))
def address() -> None:
    from app.services.access.devices import new_entry

    folder = data_folder()
    for place in (folder, folder / "demo"):
        served = Hold.address_of(place)
        if served:
            click.echo(f"{served}enter/{new_entry(place)}")
            return
    refuse(say("no shop is open: “tallyfold serve” opens yours and prints its address"))


@command(help=to_say("Choose the passphrase by which a second device comes in."))
def passphrase() -> None:
    from app.services.access import passphrase as service

    settings = settings_from_environment()
    hidden = sys.stdin.isatty()
    new = click.prompt(say("New passphrase"), hide_input=hidden)
    service.choose(settings.folder, new, click.prompt(say("Once more"), hide_input=hidden))
    click.echo(say("The passphrase is kept. Browsers that are in stay in: see “Who may come in”."))
