"""The structures a maker can choose from: every module here that holds a ``STRUCTURE``.

Adding one means adding its module; nothing else names it.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache

from app.core.errors import DomainError
from app.core.structures.base import Operation, Structure
from app.core.structures.finish import finished
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


def structure_for(key: str, dims: Mapping[str, object]) -> Structure:
    """One structure, with all that dimensions (or fields of a form) say goes with it."""
    return finished(gathered(structure(key), kinds_in(dims)))


def all_operations() -> dict[str, Operation]:
    """Every operation of every structure by key; structures may share one."""
    return {op.key: op for key in structures() for op in structure_for(key, {}).operations}
