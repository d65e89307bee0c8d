"""Receipts, invoices and credit notes have no gaps and no doubles, whoever writes or is killed."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine, func, select

from app.db import make_engine, session_maker, transaction
from app.models import Document, Payment
from app.schema import migrate
from app.services.shop.letterhead import save_letterhead
from app.services.shop.settings import prepare_shop
from app.services.upkeep.checking import check_books
from tests.factories import Bench
from tests.postgres import Cluster

WRITERS, KILLED, SECONDS = 8, 4, 1.2


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'shop.sqlite3'}"
    cluster: Cluster = request.getfixturevalue("postgres")
    return cluster.empty()


@pytest.fixture
def engine(url: str) -> Iterator[Engine]:
    made = make_engine(url)
    migrate(made)
    yield made
    made.dispose()


def test_no_gap_and_no_double_under_eight_writers_and_kills(url: str, engine: Engine) -> None:
    with transaction(session_maker(engine)) as session:
        prepare_shop(session)
        save_letterhead(session, {"address": "1 Quay", "country": "GB"}, None)
        bench = Bench(session)
        for _ in range(5):
            bench.agreed(50)
    command = [sys.executable, "-m", "tests.services.orders.number_writer", url, str(SECONDS)]
    writers = [
        subprocess.Popen([*command, str(seed)], stdout=subprocess.PIPE, text=True)
        for seed in range(WRITERS)
    ]
    chance = random.Random(7)
    for writer in writers:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
    for writer in writers[:KILLED]:
        writer.kill()
        time.sleep(chance.random() / 5)
    done = [int(writer.communicate(timeout=60)[0] or 0) for writer in writers]
    assert sum(done[KILLED:]) > 0
    with session_maker(engine)() as session:
        assert check_books(session) == []
        receipts = session.scalar(select(func.count(Payment.id))) or 0
        assert receipts == session.scalar(select(func.max(Payment.receipt_number)))
        assert receipts >= sum(done)
        assert (session.scalar(select(func.count(Document.id))) or 0) == receipts
