"""The structures a maker can choose from: every module here that holds a ``STRUCTURE``.

Adding one means adding its module; nothing else names it.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache, lru_cache

from app.core.errors import DomainError
from app.core.structures.base import Operation, Structure
from app.core.structures.closing import KEY as CLOSING
from app.core.structures.closing import with_closing
from app.core.structures.closings import all_closings
from app.core.structures.finish import finish_cautions, finished
from app.core.structures.folio_kinds import gathered, kinds_in
from app.core.structures.insert_kinds import inserts_in
from app.core.structures.inserts import FOLDING, PASTING, TIPPING, with_inserts
from app.core.structures.words import unsaid
from app.language import say


@cache
def modules() -> dict[str, Structure]:
    """What the modules here hold, by key, in the order of their names as they are marked."""
    found: list[Structure] = []
    for info in pkgutil.iter_modules(__path__):
        module = importlib.import_module(f"{__name__}.{info.name}")
        structure = getattr(module, "STRUCTURE", None)
        if isinstance(structure, Structure):
            found.append(structure)
    return {structure.key: structure for structure in sorted(found, key=_marked_name)}


def _marked_name(structure: Structure) -> str:
    return str(unsaid(structure, "name"))


@cache
def structures() -> dict[str, Structure]:
    """All structures as they are first offered, by key."""
    return {key: structure_for(key, {}) for key in modules()}


def structure(key: str) -> Structure:
    """One structure as it is first offered."""
    return structure_for(key, {})


def structure_for(key: str, dims: Mapping[str, object]) -> Structure:
    """One structure, with all that dimensions (or fields of a form) say goes with it."""
    made = modules().get(key)
    if made is None:
        raise DomainError(say("There is no structure called “{key}”.", key=key), "structure")
    closing = str(dims.get(CLOSING, made.closing))
    more = (kinds_in(dims), inserts_in(dims), tuple(finish_cautions(dims)))
    return _assembled(key, *more, closing)


@lru_cache(maxsize=500)
def _assembled(
    key: str,
    kinds: tuple[int, ...],
    inserts: tuple[int, ...],
    cautions: tuple[str, ...],
    closing: str,
) -> Structure:
    made = with_inserts(finished(gathered(modules()[key], kinds), cautions), inserts)
    return with_closing(made, all_closings(), closing)


def all_operations() -> dict[str, Operation]:
    """Every operation of every structure and closing by key; they may share one."""
    found = {op.key: op for made in structures().values() for op in made.operations}
    found |= {op.key: op for op in (TIPPING, PASTING, FOLDING)}
    return found | {op.key: op for closing in all_closings().values() for op in closing.operations}
