"""An amount of a material as people type it: with its unit, pieces by number."""

from __future__ import annotations

from app.core.errors import DomainError
from app.language import say, to_say
from app.models import Material
from app.units import parse_quantity
from app.web.frame.session import shop

SUCH = {"length": "12 cm", "mass": "5 g", "volume": "5 ml", "area": "6 dm²"}
HOW_MUCH = to_say("With its unit: 12 cm, 5 g, 6 dm² or 30 × 20 cm; pieces by number.")


def amount_typed(text: str, material: Material) -> int:
    """So much of a material, in base units; what is measured is typed with its unit."""
    if not text.strip():
        raise DomainError(say("Say how much of it goes into one."))
    if material.measure != "count" and not any(c.isalpha() or c in "\"'″′" for c in text):
        such = SUCH[material.measure]
        raise DomainError(say("Say the unit as well, as in {such}.", such=such))
    amount = parse_quantity(text, material.measure, shop().unit)
    if not amount:
        raise DomainError(say("Say how much of it: more than nothing."))
    return amount
