"""Small shops to test with: a paper, its sheets, an offer, a journal, an order."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from app.core.length import METRE, MM
from app.core.structures import structure
from app.models import (
    Channel,
    Journal,
    Market,
    Material,
    Offer,
    Order,
    Paper,
    StockSheet,
    Supplier,
    Variant,
)
from app.services.designs import journals
from app.services.markets import markets
from app.services.orders import customers, orders
from app.services.shop import settings as shop
from app.services.stock.materials import (
    make_offer,
    save_material,
    save_paper,
    save_stock_sheet,
    save_supplier,
)
from tests.conftest import DAY


def paper(session: Session, name: str = "Laid 120", **more: Any) -> Paper:
    row = {"name": name, "grammage": Decimal(120), "caliper_nm": 140_000}
    return save_paper(session, None, row | more)


def sheet(
    session: Session, of: Paper, width: int = 640, height: int = 900, grain: str | None = "height",
    **more: Any,
) -> StockSheet:  # fmt: skip
    values = {"width_nm": width * MM, "height_nm": height * MM, "grain": grain, "trim_nm": 0}
    return save_stock_sheet(session, of, None, values | more)


def material(
    session: Session, name: str = "Thread", measure: str = "length", **more: Any
) -> Material:
    return save_material(session, None, {"name": name, "measure": measure} | more)


def supplier(session: Session, name: str = "Corner shop") -> Supplier:
    return save_supplier(session, None, {"name": name})


def offer(
    session: Session, item: StockSheet | Material, price: str = "10", pack: int = 10,
    by: Supplier | None = None, lead: int = 3, since: date | None = None,
    breaks: dict[int, str] | None = None,
) -> Offer:  # fmt: skip
    prices = {1: price} | (breaks or {})
    return make_offer(
        session, by or supplier(session, f"Supplier of {item.id} {type(item).__name__}"), item,
        pack_quantity=pack, breaks={n: Decimal(p) for n, p in prices.items()}, lead_days=lead,
        valid_from=since or DAY - timedelta(days=100),
    )  # fmt: skip


class Bench:
    """A shop with one sound journal in it: paper, card, thread, cord, beads, all on offer."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.paper = paper(session)
        self.sheet = sheet(session, self.paper)
        self.card = paper(session, "Card 250", grammage=Decimal(250), caliper_nm=300_000)
        self.card_sheet = sheet(session, self.card, 500, 700)
        self.thread = material(session)
        self.cord = material(session, "Cord")
        self.beads = material(session, "Beads", "count")
        offer(session, self.sheet, "20", 25)
        offer(session, self.card_sheet, "12", 10)
        offer(session, self.thread, "5", 50 * METRE)
        offer(session, self.cord, "6", 25 * METRE)
        offer(session, self.beads, "6", 60)
        self.journal = self.begin("Plain journal")
        self.variant: Variant = self.journal.current.variants[0]

    @property
    def channel(self) -> Channel:
        """Where it sells directly."""
        return shop.channels(self.session)[0]

    def draft(self, **dims: Any) -> journals.Draft:
        return journals.Draft(
            structure="wrap_cover",
            dimensions=structure("wrap_cover").defaults() | dims,
            choices={
                "leaves": self.paper, "cover": self.card, "thread": self.thread,
                "cord": self.cord, "beads": self.beads,
            },
            prices={self.channel.id: Decimal("40.00")},
        )  # fmt: skip

    def begin(self, name: str, **dims: Any) -> Journal:
        return journals.begin_journal(self.session, name, self.draft(**dims))

    def order(self, quantity: int = 4, days: int = 30, who: str = "Ada", **more: Any) -> Order:
        variant, logged_on = more.pop("variant", self.variant), more.pop("logged_on", DAY)
        known = customers.customers_named(self.session, who)
        return orders.log_order(
            self.session, customer_name=who, channel=more.pop("channel", self.channel),
            lines=[orders.LineAsked(variant, quantity, more.pop("price", Decimal("40.00")))],
            wanted_by=DAY + timedelta(days=days), logged_on=logged_on,
            who=known[0].id if known else None, **more,
        )  # fmt: skip

    def agreed(self, quantity: int = 4, days: int = 30, **more: Any) -> Order:
        order = self.order(quantity, days, **more)
        orders.agree_order(self.session, order, DAY)
        return order

    def market(self, take: int = 6, days: int = 40, name: str = "Spring fair") -> Market:
        made = markets.save_market(
            self.session, None,
            {"name": name, "place": "", "day": DAY + timedelta(days=days), "note": "",
             "channel": shop.channels(self.session)[1], "stall_fee": Decimal(30),
             "travel": Decimal(0)},
        )  # fmt: skip
        markets.set_take_list(self.session, made, {self.variant.id: take})
        return made
