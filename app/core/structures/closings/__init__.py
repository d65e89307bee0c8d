"""What journals can be kept closed with: every module here that holds a ``CLOSING``.

Adding one means adding its module; nothing else names it.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from app.core.structures.closing import Closing
from app.core.structures.words import unsaid


@cache
def all_closings() -> dict[str, Closing]:
    """All closings by key, in the order of their names as they are marked."""
    found: list[Closing] = []
    for info in pkgutil.iter_modules(__path__):
        closing = getattr(importlib.import_module(f"{__name__}.{info.name}"), "CLOSING", None)
        if isinstance(closing, Closing):
            found.append(closing)
    return {closing.key: closing for closing in sorted(found, key=_marked_name)}


def _marked_name(closing: Closing) -> str:
    return str(unsaid(closing, "name"))
