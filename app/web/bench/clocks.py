"""The clock at the bench, minutes typed, what is done; and what the batches show of the times."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from flask import Blueprint, flash, render_template, request, url_for
from wtforms import HiddenField

from app.core.costing import show_minutes
from app.core.errors import DomainError
from app.language import say, to_say
from app.models import Batch
from app.services.bench import learning
from app.services.bench import operations as service
from app.web.frame.fields import Form, MinutesField, Needed
from app.web.frame.session import db, need
from app.web.frame.submission import press, submit

pages = Blueprint("clocks", __name__)


def now() -> datetime:
    """This moment; a clock is started and stopped by it, and nothing else is reckoned by it."""
    return datetime.now(UTC)


class MinutesForm(Form):
    """What was worked on an operation in all."""

    minutes = MinutesField(to_say("Minutes in all"), [Needed()])
    shown = HiddenField()


def _said(minutes: Decimal) -> str:
    return show_minutes(Fraction(minutes))


def _runs(stopped: Decimal | None) -> str:
    """That a clock was started, and what another had counted before it."""
    runs = say("The clock runs.")
    if not stopped:
        return runs
    return runs + " " + say("{minutes} before it are saved.", minutes=_said(stopped))


def _amount(text: str | None) -> Decimal | None:
    """An amount that a page carried along; whatever else was sent counts as none."""
    return Decimal(text) if text and re.fullmatch(r"\d{1,9}(\.\d{1,4})?", text) else None


@pages.post("/stockroom/batches/<int:batch_id>/work")
def work(batch_id: int) -> Any:
    """Start or stop the clock for an operation, or say that it is done."""
    batch = need(Batch, batch_id)
    here = url_for("batches.one", batch_id=batch.id) + "#work"
    key, do = request.form.get("operation", ""), request.form.get("do", "")

    def go_on() -> str:
        if do == "start":
            stopped = service.start_clock(db(), batch, key, now())
            flash(_runs(stopped))
        elif do == "stop":
            clock = service.running(db())
            if clock is None:
                raise DomainError(say("No clock runs any more."))
            if (clock.operation.batch_id, clock.operation.operation) != (batch.id, key):
                raise DomainError(say("The clock runs for something else by now."))
            worked = service.stop_clock(db(), clock, now())
            flash(say("{minutes} are saved.", minutes=_said(worked)))
        elif do in ("done", "undone"):
            service.mark_done(db(), batch, key, now(), done=do == "done")
            flash(say("Done.") if do == "done" else say("It is to do again."))
        else:
            raise DomainError(say("Say what to do with the clock."))
        return here

    def refused() -> Any:
        from app.web.bench.batches import batch_page

        return batch_page(batch, status=422)

    return press(go_on, refused)


@pages.route("/stockroom/batches/<int:batch_id>/work/<path:key>", methods=["GET", "POST"])
def minutes(batch_id: int, key: str) -> Any:
    """Say how long an operation took, where no clock ran or it ran on forgotten."""
    batch = need(Batch, batch_id)
    known = {one.row.operation: one for one in service.operations_of(db(), batch)}
    one = known.get(key)
    form = MinutesForm(
        data={"minutes": one.logged if one else None, "shown": str(one.logged) if one else ""}
    )

    def save() -> str:
        clock = service.running(db())
        if clock is not None and one is not None and clock.operation is one.row:
            service.forget_clock(db(), clock)
        shown = _amount(form.shown.data)
        service.say_minutes(db(), batch, key, form.minutes.data, now(), shown)
        flash(say("Saved."))
        return url_for("batches.one", batch_id=batch.id) + "#work"

    if done := submit(form, save):
        return done
    page = render_template("bench/minutes.html", batch=batch, form=form, one=one)
    return page, (422 if form.is_submitted() else 200 if one else 404)


@pages.route("/bench/times", methods=["GET", "POST"])
def times() -> Any:
    """What the batches show of every operation's minutes, to be taken or left."""

    def take() -> str:
        setup, each = (_amount(request.form.get(word)) for word in ("setup", "each"))
        if setup is None or each is None:
            raise DomainError(say("Say which minutes to take."))
        learning.take_proposal(db(), request.form.get("operation", ""), setup, each)
        flash(say("From now on it is reckoned with that; what was agreed and made stays as it is."))
        return url_for("clocks.times")

    def page(status: int = 200) -> Any:
        return render_template("bench/times.html", rows=learning.proposals(db())), status

    return press(take, lambda: page(422)) if request.method == "POST" else page()
