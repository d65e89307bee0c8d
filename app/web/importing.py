"""Taking in a table: upload it, match its columns, try it, keep it."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any
from uuid import uuid4

from flask import Blueprint, flash, render_template, request, url_for
from wtforms import BooleanField, HiddenField

from app.core.errors import DomainError
from app.core.numbers import number_style
from app.documents.tables import MOST_COLUMNS, MOST_ROWS, Table, read_table
from app.services.exchange.importing import KINDS, Kind, Taken, matched, read_rows, take_in
from app.services.exchange.known import known_names
from app.services.shop.settings import the_shop
from app.web.fields import Form, choice_field
from app.web.session import begin_deed, db, end_deed, reading, today

pages = Blueprint("importing", __name__, url_prefix="/stockroom/import")
SHOWN = 5


class ImportForm(Form):
    """What the table holds, the table itself, and whether all of it or nothing."""

    kind = choice_field("It holds", [(k.key, k.label) for k in KINDS.values()])
    table = HiddenField()
    all_or_nothing = BooleanField("Import nothing while a row is refused")


@pages.route("", methods=["GET", "POST"])
def page() -> Any:
    """Upload, then match, then try or keep; nothing typed is lost between."""
    form = ImportForm()
    table: Table | None = None
    result: Taken | None = None
    match: dict[str, int | None] = {}
    if form.validate_on_submit():
        kind = KINDS[form.kind.data]
        try:
            table = _table(form)
            match = _match(table)
            if not any(key.startswith("match_") for key in request.form) or "again" in request.form:
                match = matched(kind, table.heads)
            elif "try" in request.form or "keep" in request.form:
                result = _result(form, kind, table, match)
        except DomainError as error:
            form.blame(error)
        if result is not None and result.kept and not result.refused:
            flash(f"{result.taken} rows of {kind.label} are taken in.")
            return end_deed(form, url_for("stockroom.page"))
        if result is not None and result.kept and table is not None:
            # Only what was refused can be tried again; each stays in its own row.
            form.once.data = uuid4().hex
            again = {refused.row for refused in result.refused}
            blank = ("",) * len(table.heads)
            rows = (row if n in again else blank for n, row in enumerate(table.rows, 2))
            table = replace(table, rows=tuple(rows))
    if table is not None:
        form.table.data = json.dumps([table.heads, table.rows])
    answer = render_template(
        "stockroom/import.html", form=form, table=table, result=result, match=match, shown=SHOWN,
        kind=KINDS.get(form.kind.data or ""), kinds=KINDS.values(),
    )  # fmt: skip
    refused = form.is_submitted() and (form.errors or table is None)
    return answer, 422 if refused else 200


def _result(form: ImportForm, kind: Kind, table: Table, match: dict[str, int | None]) -> Taken:
    """What becomes of the rows; others write meanwhile, but for the moment of keeping them."""
    with reading() as session:
        number_style.set(the_shop(session).number_style)
        read = read_rows(known_names(session), kind, table, match, today())
    if "try" in request.form:
        return Taken(len(read.rows), read.refused, kept=False)
    begin_deed(form)
    all_or_nothing = bool(form.all_or_nothing.data)
    return take_in(db(), kind, table, match, today(), all_or_nothing=all_or_nothing, before=read)


def _table(form: ImportForm) -> Table:
    """The table that was uploaded now, or the one the form carries along."""
    upload = request.files.get("file")
    if upload is not None and upload.filename:
        return read_table(upload.filename, upload.read())
    try:
        heads, rows = json.loads(form.table.data or "")
        table = Table("table", tuple(map(str, heads)), tuple(tuple(map(str, r)) for r in rows))
    except (ValueError, TypeError):
        raise DomainError("Choose a CSV or XLSX file first.", "form") from None
    if len(table.heads) > MOST_COLUMNS or len(table.rows) > MOST_ROWS:
        raise DomainError("The table is too large.", "form")
    return table


def _match(table: Table) -> dict[str, int | None]:
    """Which column is which, as chosen on the page."""
    found: dict[str, int | None] = {}
    for key, value in request.form.items():
        if key.startswith("match_"):
            at = int(value) if value.isdecimal() and len(value) < 4 else -1
            found[key.removeprefix("match_")] = at if 0 <= at < len(table.heads) else None
    return found
