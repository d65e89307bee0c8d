"""The stations along the thread, and the blueprints behind them."""

from __future__ import annotations

from flask import Blueprint

from app.language import to_say

STATIONS = (
    ("today.page", to_say("Today")),
    ("orders.listing", to_say("Orders")),
    ("journals.listing", to_say("Journals")),
    ("stockroom.page", to_say("Stockroom")),
    ("bench.page", to_say("Bench")),
    ("buying.page", to_say("Buying")),
    ("markets.listing", to_say("Markets")),
    ("takings.page", to_say("Takings")),
)


def blueprints() -> list[Blueprint]:
    """Every station's pages."""
    from app.web import today
    from app.web.bench import batches, bench, clocks, ticket
    from app.web.bench import materials as batch_materials
    from app.web.buying import buying, cutting, purchases
    from app.web.help import demo
    from app.web.help import help as helping
    from app.web.journals import journals, making, pictures
    from app.web.markets import closing, markets, outlets, stall
    from app.web.markets import papers as stall_papers
    from app.web.orders import beside, customers, deliveries, documents, orders, photos
    from app.web.shop import access, backups, exports, letterhead, settings
    from app.web.stockroom import goods, importing, makes, papers, recipes, stockroom, stocktake
    from app.web.takings import costs, takings, year

    modules = (
        today, orders, beside, deliveries, documents, photos, customers, journals, making,
        pictures,
        stockroom, stocktake, papers, goods, importing, makes, recipes, buying, cutting,
        purchases, bench, batches, batch_materials, clocks, ticket, markets, stall, closing,
        stall_papers, outlets, takings, year, costs, exports, settings, letterhead, backups, access,
        helping, demo,
    )  # fmt: skip
    return [module.pages for module in modules]
