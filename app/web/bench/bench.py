"""The station of the bench: what to do next, what is in progress, what to begin, the weeks."""

from __future__ import annotations

from datetime import UTC, datetime
from fractions import Fraction
from typing import Any

from flask import Blueprint, render_template, url_for

from app.core.costing import show_minutes
from app.dates import day_and_month
from app.documents.charts import WeekBar, load_drawing
from app.services.bench import board as service
from app.services.bench import operations as clocks
from app.web.frame.session import db, today

pages = Blueprint("bench", __name__, url_prefix="/bench")


@pages.get("")
def page() -> Any:
    """The bench at a glance; the next thing to do stands first."""
    board = service.the_bench(db(), today())
    bars = [WeekBar(day_and_month(week.first), week.wanted, week.there) for week in board.weeks]
    at = datetime.now(UTC)
    work = clocks.operations_by_batch(db(), [one.batch for one in board.going])
    return render_template(
        "bench/bench.html", board=board, first=board.next, clock=clocks.running(db()),
        knots=work, waiting={key: _waits(rows, at) for key, rows in work.items()},
        proposal=service.Proposal, load=load_drawing(bars, hours_said, "load"),
        begin={id(one): _begin(one) for one in board.proposals},
        whom={id(one): service.demands_said(one.pegs) for one in board.proposals},
        full=[week for week in board.weeks if week.over],
        is_proposal=isinstance(board.next, service.Proposal), show_minutes=show_minutes,
    )  # fmt: skip


def _waits(rows: list[clocks.OperationNow], at: datetime) -> datetime | None:
    """Until when a batch waits that presses or dries; None where it does not."""
    moments = [until for one in rows if (until := one.waits_until(at)) is not None]
    return max(moments, default=None)


def hours_said(minutes: Fraction) -> str:
    """Minutes as hours to a tenth, as a bar is labelled."""
    tenths = round(minutes / 6)
    return f"{tenths // 10}.{tenths % 10} h" if tenths % 10 else f"{tenths // 10} h"


def _begin(one: service.Proposal) -> str:
    """The page on which a proposal is begun, its numbers filled in."""
    asked: dict[str, Any] = {f"make_{part.variant.id}": part.quantity for part in one.parts}
    asked["orders"] = ",".join(map(str, one.orders)) or None
    return url_for("batches.new", **asked)
