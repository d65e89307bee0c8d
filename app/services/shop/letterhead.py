"""What stands at the head of the shop's papers: address, numbers, how to pay, the logo."""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO
from typing import Any

from sqlalchemy.orm import Session

from app.core.countries import COUNTRIES
from app.core.errors import DomainError
from app.documents.customer_letters import MOST_LINES
from app.documents.customer_paper import Party
from app.language import say
from app.models import Customer, Letterhead
from app.services.shop.pictures import read_picture
from app.services.shop.settings import check_version, the_shop

LARGEST_SIDE = 1200
"""Pixels; as large as a logo is printed there is no more to be seen."""
LONGEST_LINE = 80


def letterhead(session: Session) -> Letterhead:
    """The row, an empty one where nothing was typed yet."""
    return session.get(Letterhead, 1) or Letterhead(
        id=1, address="", country="", contact="", tax_number="", register_number="",
        no_tax_because="", pay_how="", pay_days=14, quote_days=30, quote_pictures=True, care="",
        logo=None,
    )  # fmt: skip


def save_letterhead(session: Session, values: Mapping[str, Any], version: int | None) -> Letterhead:
    """Keep what stands on papers from now on; those written stay as they are."""
    row = letterhead(session)
    if row.version is not None:
        check_version(row, version)
    for name in ("address", "contact"):
        short_enough(str(values.get(name, "")), name)
    for key, value in values.items():
        setattr(row, key, value)
    row.country = country(row.country)
    row.tax_number = row.tax_number.replace(" ", "").upper()
    session.add(row)
    session.flush()
    return row


def set_logo(session: Session, data: bytes | None) -> None:
    """Take a picture for the head of papers; None for no picture."""
    row = letterhead(session)
    row.logo = read_logo(data) if data is not None else None
    session.add(row)
    session.flush()


def country(text: str) -> str:
    """A country's two letters as they are kept; empty stays empty."""
    code = text.strip().upper()
    if code and code not in COUNTRIES:
        raise DomainError(
            say(
                "“{text}” is no country’s two letters: type them, such as GB, DE or US.",
                text=text.strip(),
            ),
            "country",
        )
    return code


def read_logo(data: bytes) -> bytes:
    """A picture made fit for the head of a paper: a PNG, not too large, and nothing but itself."""
    out = BytesIO()
    read_picture(data, "logo", LARGEST_SIDE).save(out, "PNG", optimize=True)
    return out.getvalue()


def short_enough(text: str, field: str) -> None:
    """Refuse what the head of a paper has no room for."""
    lines = lines_of(text)
    if len(lines) > MOST_LINES:
        raise DomainError(say("At most {most} lines have room on a paper.", most=MOST_LINES), field)
    if any(len(line) > LONGEST_LINE for line in lines):
        raise DomainError(say("A line has room for {most} characters.", most=LONGEST_LINE), field)


def lines_of(text: str) -> tuple[str, ...]:
    """The lines of a text, empty ones left out."""
    return tuple(line.strip() for line in (text or "").splitlines() if line.strip())


def shop_party(session: Session) -> Party:
    """The shop as it stands on a paper written now."""
    row, shop = letterhead(session), the_shop(session)
    return Party(
        shop.name, lines_of(row.address), row.country, lines_of(row.contact), row.tax_number,
        row.register_number,
    )  # fmt: skip


def customer_party(session: Session, customer: Customer) -> Party:
    """A customer as they stand on a paper written now; in the shop's country where none is said."""
    return Party(
        customer.name, lines_of(customer.address),
        customer.country or letterhead(session).country,
        tuple(filter(None, (customer.email, customer.phone))), customer.tax_number,
    )  # fmt: skip
