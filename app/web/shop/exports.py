"""Every list to take away, as CSV or XLSX."""

from __future__ import annotations

from datetime import UTC, datetime

from flask import Blueprint, Response, request

from app.documents.calendar import calendar_file
from app.documents.tables import Table
from app.services.exchange.calendar import events
from app.services.exchange.exporting import buy_list_table, list_of, making_list_table
from app.web.frame.asked import apart_asked, markets_asked
from app.web.frame.downloads import as_file
from app.web.frame.session import db, shop, today

pages = Blueprint("exports", __name__, url_prefix="/lists")
OF_MARKETS = {"buy-list": buy_list_table, "to-make": making_list_table}
"""Lists that ask which markets they are for."""


@pages.get("/calendar.ics")
def calendar() -> Response:
    """Orders due, work to begin and markets, for the maker's own calendar."""
    made = calendar_file(events(db(), today()), shop().name, datetime.now(UTC))
    return Response(
        made, content_type="text/calendar; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="calendar.ics"'},
    )  # fmt: skip


@pages.get("/<name>.<form>")
def take_away(name: str, form: str) -> Response:
    """One list as a file."""
    if name in OF_MARKETS:
        table: Table | None = OF_MARKETS[name](
            db(), today(), markets_asked(request.args), apart=apart_asked(request.args)
        )
    else:
        table = list_of(db(), name, today())
    return as_file(table, form)
