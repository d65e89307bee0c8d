"""The stations along the thread, and the blueprints behind them."""

from __future__ import annotations

from flask import Blueprint

STATIONS = (
    ("today.page", "Today"),
    ("orders.listing", "Orders"),
    ("journals.listing", "Journals"),
    ("stockroom.page", "Stockroom"),
    ("buying.page", "Buying"),
    ("markets.listing", "Markets"),
)


def blueprints() -> list[Blueprint]:
    """Every station's pages."""
    from app.web import (
        batches,
        buying,
        customers,
        cutting,
        exports,
        goods,
        importing,
        journals,
        making,
        markets,
        orders,
        papers,
        purchases,
        settings,
        stockroom,
        stocktake,
        today,
    )

    modules = (
        today, orders, customers, journals, making, stockroom, stocktake, papers, goods, importing,
        buying, cutting, purchases, batches, markets, exports, settings,
    )  # fmt: skip
    return [module.pages for module in modules]
