"""Every list to take away, as CSV or XLSX."""

from __future__ import annotations

from flask import Blueprint, Response, abort

from app.documents.tables import as_csv, as_xlsx
from app.services.lists import list_of
from app.web.session import db, today

pages = Blueprint("exports", __name__, url_prefix="/lists")
FORMS = {
    "csv": (as_csv, "text/csv; charset=utf-8"),
    "xlsx": (as_xlsx, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
}


@pages.get("/<name>.<form>")
def take_away(name: str, form: str) -> Response:
    """One list as a file."""
    if form not in FORMS:
        abort(404)
    table = list_of(db(), name, today())
    if table is None:
        abort(404)
    make, mimetype = FORMS[form]
    return Response(
        make(table), content_type=mimetype,
        headers={"Content-Disposition": f'attachment; filename="{table.name}.{form}"'},
    )  # fmt: skip
