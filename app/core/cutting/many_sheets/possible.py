"""What can be seen at once: a piece that fits nowhere, a list longer than all sheets to be had."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from app.core.cutting.model import MOST_SHEETS, TOO_FEW, NoPlanError, SheetOffer, Wanted
from app.core.cutting.one_sheet.yields import Yield


def check_wanted(wanted: Wanted, yields: Sequence[Yield]) -> None:
    """Refuse a piece that fits on none of the sheets, or is wanted absurdly often."""
    if not any(cut.best for cut in yields):
        raise NoPlanError(f"“{wanted.key}” fits on none of the sheets.")
    if wanted.count > MOST_SHEETS:
        raise NoPlanError(f"“{wanted.key}” is wanted more than a million times.")


def check_enough(
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    yields: Mapping[tuple[str, str], Yield],
) -> None:
    """Refuse a list that one kind alone, or area alone, shows to be more than can be had."""
    for w in wanted:
        if not any(yields[w.key, o.key].best and _most(o, 1) for o in offers):
            raise NoPlanError(TOO_FEW)
    area = sum(w.count * w.piece.width_nm * w.piece.height_nm for w in wanted)
    for offer in offers:
        width, height = offer.sheet.usable
        area -= width * height * _most(offer, 1 + max(area, 0) // (width * height))
    if area > 0:
        raise NoPlanError(TOO_FEW)


def _most(offer: SheetOffer, enough: int) -> int:
    """Sheets of an offer that can be had, where more than ``enough`` are of no interest."""
    if not offer.breaks:
        return offer.on_hand
    if offer.limit is None:
        return offer.on_hand + enough
    return offer.on_hand + offer.limit // offer.pack * offer.pack
