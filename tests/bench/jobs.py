"""What the six jobs of a maker take: fields typed in, presses, and seconds of waiting."""

from __future__ import annotations

import sys
import tempfile
import threading
import time
from datetime import date
from pathlib import Path

from playwright.sync_api import sync_playwright
from waitress import create_server

from app import create_app
from app.config import settings_for
from app.db import make_engine, session_maker, transaction
from app.schema import migrate
from app.services.shop.settings import prepare_shop
from seed_demo import load_demo
from tests.browser.conftest import House, admit, launch
from tests.browser.six_jobs import IN_AN_EMPTY_SHOP, JOBS, Hand
from tests.door import way_in


def jobs() -> None:
    """Each job in a shop of its own, by a mouse on a desk."""
    sys.stdout.write(f"{'job':<20}{'fields':>8}{'presses':>9}{'seconds':>9}\n")
    with sync_playwright() as playwright:
        browser = launch(playwright)
        if browser is None:
            sys.exit("there is no browser")
        for name, job in JOBS.items():
            with tempfile.TemporaryDirectory() as folder:
                house = _open(Path(folder), demo=name not in IN_AN_EMPTY_SHOP)
                context = browser.new_context(viewport={"width": 1280, "height": 860})
                admit(context, house)
                hand = Hand(context.new_page())
                start = time.perf_counter()
                job(hand, house)
                taken = time.perf_counter() - start
                context.close()
                sys.stdout.write(f"{name:<20}{hand.fields:>8}{hand.presses:>9}{taken:>9.1f}\n")
        browser.close()


def _open(folder: Path, *, demo: bool) -> House:
    settings = settings_for(folder)
    engine = make_engine(settings.database_url)
    migrate(engine)
    with transaction(session_maker(engine)) as session:
        prepare_shop(session)
        if demo:
            load_demo(session, date.today())
    engine.dispose()
    app = create_app(settings)
    server = create_server(app, host="127.0.0.1", port=0, threads=4)
    threading.Thread(target=server.run, daemon=True).start()
    return House(f"http://127.0.0.1:{server.effective_port}", way_in(app))
