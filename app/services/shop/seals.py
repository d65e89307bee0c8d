"""Sealing what must not change any more, so that a change made behind the program's back is seen.

A seal is no secret: whoever rewrites the whole chain is not found out. It finds what went wrong:
a figure altered with another tool, a row that is gone, a half restored file.
"""

from __future__ import annotations

import json
from hashlib import sha256

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.models import Seal
from app.services.shop.settings import next_number

FIRST = "0" * 64


def digest_of(facts: object) -> str:
    """SHA-256 of facts: lists, mappings, strings, whole numbers and nothing."""
    text = json.dumps(facts, separators=(",", ":"), sort_keys=True)
    return sha256(text.encode()).hexdigest()


def chained(before: str, what: str, of_id: int, digest: str) -> str:
    """The next link of the chain."""
    return sha256(f"{before}|{what}|{of_id}|{digest}".encode()).hexdigest()


def seal(session: Session, what: str, of_id: int, facts: object) -> Seal:
    """Seal something as it is now; writers wait for one another at the series of numbers."""
    number = next_number(session, "seal")
    before = session.scalar(select(Seal.chained).where(Seal.number == number - 1)) or FIRST
    digest = digest_of(facts)
    made = Seal(
        number=number, what=what, of_id=of_id, digest=digest,
        chained=chained(before, what, of_id, digest),
    )  # fmt: skip
    session.add(made)
    session.flush()
    return made
