"""A table as a file to take away."""

from __future__ import annotations

from flask import Response, abort

from app.documents.tables import Table, as_csv, as_xlsx

FORMS = {
    "csv": (as_csv, "text/csv; charset=utf-8"),
    "xlsx": (as_xlsx, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
}


def as_file(table: Table | None, form: str) -> Response:
    """A table in one of the forms; not found where there is no such table or form."""
    if table is None or form not in FORMS:
        abort(404)
    make, mimetype = FORMS[form]
    return Response(
        make(table), content_type=mimetype,
        headers={"Content-Disposition": f'attachment; filename="{table.name}.{form}"'},
    )  # fmt: skip
