"""What can be seen at once: a piece that fits nowhere, a list longer than all sheets to be had."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from app.core.cutting.model import MOST_SHEETS, TOO_FEW, NoPlanError, SheetOffer, Wanted
from app.core.cutting.one_sheet.yields import Yield
from app.language import say


def check_wanted(wanted: Wanted, yields: Sequence[Yield]) -> None:
    """Refuse a piece that fits on none of the sheets, or is wanted absurdly often."""
    if not any(cut.best for cut in yields):
        raise NoPlanError(say("“{piece}” fits on none of the sheets.", piece=wanted.key))
    if wanted.count > MOST_SHEETS:
        raise NoPlanError(say("“{piece}” is wanted more than a million times.", piece=wanted.key))


def check_enough(
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    yields: Mapping[tuple[str, str], Yield],
) -> None:
    """Refuse a list that one kind alone, or area alone, shows to be more than can be had."""
    for w in wanted:
        if not any(yields[w.key, o.key].best and _most(o) != 0 for o in offers):
            raise NoPlanError(say(TOO_FEW))
    room = 0
    for offer in offers:
        most = _most(offer)
        if most is None:
            return
        width, height = offer.sheet.usable
        room += width * height * most
    if sum(w.count * w.piece.width_nm * w.piece.height_nm for w in wanted) > room:
        raise NoPlanError(say(TOO_FEW))


def _most(offer: SheetOffer) -> int | None:
    """Sheets of an offer that can be had; None where as many as one likes can be bought."""
    if not offer.breaks:
        return offer.on_hand
    if offer.limit is None:
        return None
    return offer.on_hand + offer.limit // offer.pack * offer.pack
