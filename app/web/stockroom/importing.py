"""Taking in a table: upload or paste it, match its columns, try it, keep it."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from typing import Any

from flask import Blueprint, flash, render_template, request, url_for
from wtforms import BooleanField, HiddenField, TextAreaField

from app.core.errors import DomainError
from app.core.numbers import number_style
from app.documents.tables import MOST_COLUMNS, MOST_ROWS, Table, read_pasted, read_table
from app.language import say, say_many, to_say
from app.services.exchange.importing import KINDS, Read, Taken, matched, read_rows, take_in
from app.services.exchange.known import known_names
from app.services.shop.settings import the_shop
from app.web.frame.fields import Form, choice_field, offered
from app.web.frame.session import db, reading, today
from app.web.frame.submission import submit

pages = Blueprint("importing", __name__, url_prefix="/stockroom/import")
SHOWN = 5


class ImportForm(Form):
    """What the table holds, the table itself, pasted or carried along; all of it or nothing."""

    kind = choice_field(to_say("It holds"), [])
    pasted = TextAreaField(to_say("Or paste it here"))
    table = HiddenField()
    all_or_nothing = BooleanField(to_say("Import nothing while a row is refused"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind.choices = offered((kind.key, say(kind.label)) for kind in KINDS.values())


@pages.route("", methods=["GET", "POST"])
def page() -> Any:
    """Upload, then match, then try or keep; nothing typed is lost between."""
    form = ImportForm(data={"kind": request.args.get("kind", "papers")})
    shown = Shown()
    if form.validate_on_submit():
        try:
            shown = _read(form)
        except DomainError as error:
            form.blame(error)
        if "try" not in request.form and shown.read is not None:
            done = submit(form, lambda: _keep(form, shown))
            if done:
                return done
    if shown.table is not None:
        form.pasted.data = ""
        form.table.data = json.dumps([shown.table.heads, shown.table.rows], ensure_ascii=False)
    answer = render_template(
        "stockroom/import.html", form=form, table=shown.table, result=shown.result,
        match=shown.match, shown=SHOWN, kind=KINDS.get(form.kind.data or ""),
        kinds=KINDS.values(),
    )  # fmt: skip
    refused = form.is_submitted() and (form.errors or shown.table is None)
    return answer, 422 if refused else 200


@dataclass
class Shown:
    """What the page has come to: a table, which column is which, and what becomes of the rows."""

    table: Table | None = None
    match: dict[str, int | None] = field(default_factory=dict)
    read: Read | None = None
    result: Taken | None = None


def _read(form: ImportForm) -> Shown:
    """Read the table, and its rows where it is to be tried or kept; others write meanwhile."""
    with reading() as session:
        number_style.set(the_shop(session).number_style)
        decides = "try" in request.form or "keep" in request.form
        known = known_names(session) if decides else None
    kind, come = KINDS[form.kind.data], _come_now(form)
    table = come or _carried_along(form)
    if come or "again" in request.form or not any(key.startswith("match_") for key in request.form):
        return Shown(table, matched(kind, table.heads))
    shown = Shown(table, _match(table))
    if known is not None:
        try:
            shown.read = read_rows(known, kind, table, shown.match, today())
        except DomainError as error:
            form.blame(error)
        else:
            shown.result = Taken(len(shown.read.rows), shown.read.refused, kept=False)
    return shown


def _keep(form: ImportForm, shown: Shown) -> str | None:
    """Keep what was read, and stay with the rows that were refused."""
    assert shown.table is not None  # noqa: S101 - there are rows only of a table
    kind, table = KINDS[form.kind.data], shown.table
    shown.result = take_in(
        db(), kind, table, shown.match, today(),
        all_or_nothing=bool(form.all_or_nothing.data), before=shown.read,
    )  # fmt: skip
    if shown.result.kept and not shown.result.refused:
        taken = shown.result.taken
        what = say(kind.label)
        flash(
            say_many(
                taken, "{n} row of {what} imported.", "{n} rows of {what} imported.", what=what
            )
        )
        return url_for("orders.listing" if kind.key == "orders" else "stockroom.page")
    if shown.result.kept:
        # Only what was refused can be tried again; each stays in its own row.
        again = {refused.row for refused in shown.result.refused}
        blank = ("",) * len(table.heads)
        rows = (row if n in again else blank for n, row in enumerate(table.rows, 2))
        shown.table = replace(table, rows=tuple(rows))
    return None


def _come_now(form: ImportForm) -> Table | None:
    """The table that was uploaded or pasted now; its columns are its own."""
    upload = request.files.get("file")
    if upload is not None and upload.filename:
        with upload.stream as stream:
            data = stream.read()
        return read_table(upload.filename, data)
    return read_pasted(form.pasted.data) if (form.pasted.data or "").strip() else None


def _carried_along(form: ImportForm) -> Table:
    """The table that the form carries along."""
    try:
        heads, rows = json.loads(form.table.data or "")
        table = Table("table", tuple(map(str, heads)), tuple(tuple(map(_plain, r)) for r in rows))
    except (ValueError, TypeError, RecursionError):
        raise DomainError(
            say("Choose a CSV or XLSX file first, or paste the table."), "form"
        ) from None
    if len(table.heads) > MOST_COLUMNS or len(table.rows) > MOST_ROWS:
        raise DomainError(say("The table is too large."), "form")
    return table


def _plain(cell: object) -> str:
    """A cell without what no file could have brought: a zero byte, half a letter."""
    return str(cell).replace("\0", "").encode(errors="ignore").decode()


def _match(table: Table) -> dict[str, int | None]:
    """Which column is which, as chosen on the page."""
    found: dict[str, int | None] = {}
    for key, value in request.form.items():
        if key.startswith("match_"):
            at = int(value) if value.isdecimal() and len(value) < 4 else -1
            found[key.removeprefix("match_")] = at if 0 <= at < len(table.heads) else None
    return found
