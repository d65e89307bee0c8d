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
        buying,
        cutting,
        goods,
        journals,
        making,
        markets,
        orders,
        papers,
        settings,
        stockroom,
        today,
    )

    modules = (
        today,
        orders,
        journals,
        stockroom,
        papers,
        goods,
        buying,
        cutting,
        making,
        markets,
        settings,
    )
    return [module.pages for module in modules]
