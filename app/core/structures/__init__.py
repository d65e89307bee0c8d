"""The structures a maker can choose from: every module here that holds a ``STRUCTURE``.

Adding one means adding its module; nothing else names it.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable
from functools import cache

from app.core.errors import DomainError
from app.core.structures.base import Operation, Structure
from app.core.structures.folio_kinds import gathered, kinds_in


@cache
def structures() -> dict[str, Structure]:
    """All structures by key, in the order of their names."""
    found: list[Structure] = []
    for info in pkgutil.iter_modules(__path__):
        module = importlib.import_module(f"{__name__}.{info.name}")
        structure = getattr(module, "STRUCTURE", None)
        if isinstance(structure, Structure):
            found.append(structure)
    return {structure.key: structure for structure in sorted(found, key=lambda s: s.name)}


def structure(key: str) -> Structure:
    """One structure by its key."""
    try:
        return structures()[key]
    except KeyError:
        raise DomainError(f"There is no structure called “{key}”.", "structure") from None


def gathered_structure(key: str, keys: Iterable[str]) -> Structure:
    """One structure, with the further kinds of folio that dimensions or fields speak of."""
    return gathered(structure(key), kinds_in(keys))


def all_operations() -> dict[str, Operation]:
    """Every operation of every structure by key; structures may share one."""
    return {op.key: op for s in structures().values() for op in s.operations}
