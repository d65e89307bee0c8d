"""Takes payments, writes invoices and takes them back until it is killed, in transactions of its own.

Run by :mod:`tests.services.orders.test_numbers_under_writers` as a process among others.
"""

from __future__ import annotations

import random
import sys
import time
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.exc import OperationalError

from app.core.errors import DomainError
from app.db import make_engine, session_maker, transaction
from app.models import Order
from app.services.orders import documents, orders

DAY = date(2027, 3, 1)
CENT = Decimal("0.01")


def main(url: str, seconds: float, seed: int) -> None:
    chance = random.Random(seed)
    sessions = session_maker(make_engine(url))
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    until = time.monotonic() + seconds
    done = 0
    while time.monotonic() < until:
        try:
            with transaction(sessions) as session:
                order = chance.choice(list(session.scalars(select(Order).order_by(Order.id))))
                orders.take_payment(session, order, CENT, DAY, "cash")
                known = documents.invoice_of(documents.documents_of(session, order))
                if known is None:
                    documents.write_invoice(session, order, DAY, DAY + timedelta(days=14))
                else:
                    documents.write_credit_note(session, known, DAY, "again")
                time.sleep(chance.random() / 50)
                if chance.random() < 0.2:
                    raise DomainError("Something else was wrong.")
            done += 1
        except (DomainError, OperationalError):
            continue
    sys.stdout.write(f"{done}\n")


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]), int(sys.argv[3]))
