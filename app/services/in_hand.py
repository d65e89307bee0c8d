"""What is being made now: batches begun and not finished."""

from __future__ import annotations

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.models import Batch, BatchLine


def in_hand(session: Session) -> dict[str, int]:
    """Journals being made, by item key."""
    query = (
        select(BatchLine.variant_id, func.sum(BatchLine.quantity))
        .join(BatchLine.batch)
        .where(Batch.state == "in progress")
        .group_by(BatchLine.variant_id)
    )
    return {f"variant-{variant}": int(n) for variant, n in session.execute(query)}
