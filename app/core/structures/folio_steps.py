"""Cutting, folding, nesting, trimming and punching folios, as steps for somebody who never did."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from app.core.structures.advice import CREEP_NM
from app.core.structures.base import BenchStep, Flat
from app.core.structures.common import AWLS, BLADES, grain_said
from app.core.structures.gathering import FolioKind, Gathering, in_braces
from app.core.structures.stages import LEAVES

ALL = "the others"


def folio_steps(gathering: Gathering) -> list[BenchStep]:
    """From the sheets to punched signatures."""
    found = [
        BenchStep(BLADES, caution=True),
        *(
            _cut(kind, flat, alone=gathering.plain)
            for kind, flat in zip(gathering.kinds, gathering.flats, strict=True)
        ),
        BenchStep(
            f"Fold {'it' if gathering.folios == 1 else 'each'} in the middle and rub the fold down "
            "with a folder.",
            shows="folio",
        ),
        *_nest(gathering),
        *_trim(gathering),
        BenchStep(AWLS, caution=True),
        _punch(gathering),
    ]
    return [replace(step, stage=LEAVES) for step in found]


def _cut(kind: FolioKind, flat: Flat, *, alone: bool) -> BenchStep:
    plain = "" if alone or not kind.plain else "plain "
    of = f" of {in_braces(kind.paper.name)}" if plain else kind.of
    return BenchStep(
        f"Cut {flat.count} {plain}folio{'' if flat.count == 1 else 's'}{of}{',' if of else ''} "
        f"{{width}} wide and {{height}} high, {grain_said(flat.grain)}.",
        {"width": flat.width_nm, "height": flat.height_nm},
        flat.key,
    )


def _nest(gathering: Gathering) -> Iterator[BenchStep]:
    """How folios are gathered; where signatures differ, each as it is made from the outside in."""
    many = len(gathering.signatures)
    made_of = len(gathering.signatures[0])
    if not (gathering.plain and gathering.alike):
        yield from _kinds_nested(gathering)
    elif made_of == 1:
        yield BenchStep(
            "Press it." if many == 1 else "Each is a signature: lay them in order, and press."
        )
    elif many > 1:
        yield BenchStep(
            f"Nest them in {many} signatures of {made_of}, heads together, and press them."
        )
    else:
        yield BenchStep("Nest them into one signature, heads together, and press it.")


def _kinds_nested(gathering: Gathering) -> Iterator[BenchStep]:
    many = len(gathering.signatures)
    whose: dict[tuple[FolioKind, ...], list[int]] = {}
    for row, nest in enumerate(gathering.signatures):
        whose.setdefault(nest, []).append(row + 1)
    for nest, numbers in whose.items():
        if many == 1:
            which = "Nest them into one signature"
        elif len(whose) == 1:
            which = f"Nest them in {many} signatures"
        else:
            which = f"Nest signature{'s' if len(numbers) > 1 else ''} {listed(numbers)}"
        said = ", then ".join(
            f"{len(list(run))} {'plain' if kind.plain else in_words(kind)}"
            for kind, run in groupby(nest)
        )
        yield BenchStep(f"{which}, from the outside in: {said}.")
    yield from filter(None, (_where(kind, gathering) for kind in gathering.kinds))
    yield BenchStep("Press it." if many == 1 else "Press them, in order.")


def in_words(kind: FolioKind) -> str:
    """A kind of folio beside plain ones."""
    return kind.of.strip()


def _where(kind: FolioKind, gathering: Gathering) -> BenchStep | None:
    """How a lower folio lies in the fold; all others lie with their heads together."""
    below = gathering.leaf_height_nm - kind.height_nm
    if not below:
        return None
    them = f"the folio{'' if kind.total == 1 else 's'}{kind.of}"
    if not kind.head_nm:
        return BenchStep(f"Lay {them} with the head at that of {ALL}, fold in fold.")
    if kind.head_nm == below:
        return BenchStep(f"Lay {them} with the tail at that of {ALL}, fold in fold.")
    return BenchStep(
        f"Lay {them} with the head {{below}} below that of {ALL}, fold in fold.",
        {"below": kind.head_nm},
    )


def _trim(gathering: Gathering) -> Iterator[BenchStep]:
    creeping = gathering.creeping(CREEP_NM)
    many = len(gathering.signatures)
    if not creeping:
        return
    rows = [row for row in range(many) if gathering.creep_of(row) > CREEP_NM]
    which = "the signature" if many == 1 else "each signature"
    if creeping < many:
        which = f"signature{'s' if creeping > 1 else ''} {listed([row + 1 for row in rows])}"
    if gathering.plain:
        yield BenchStep(
            f"Trim the fore edge of {which}: the innermost folio stands {{creep}} past the "
            "outermost. Take off no more than makes them end together.",
            {"creep": gathering.creep_nm},
        )
        return
    up_to = "" if len(set(map(gathering.creep_of, rows))) == 1 else "up to "
    yield BenchStep(
        f"Trim the fore edge of {which}, {{leaf}} from the fold: its folios stand "
        f"{up_to}{{creep}} past that. What is narrower stays as it is.",
        {"creep": gathering.creep_nm, "leaf": gathering.leaf_width_nm},
    )


def _punch(gathering: Gathering) -> BenchStep:
    at = gathering.at
    whole = all(kind.holds(y) for kind in gathering.kinds for y in at)
    which = "the punching guide into the fold, its head to the head,"
    if not gathering.plain:
        which = "the guide of the plain folio into each fold, its head where that of the leaves is,"
    return BenchStep(
        f"Lay {which} and punch {len(at)} stations: {_places(at)} from the head."
        + ("" if whole else " Not all go through the lower folios."),
        {f"at{i}": y for i, y in enumerate(at)},
        "folio",
    )


def _places(at: Sequence[int]) -> str:
    return listed([f"{{at{i}}}" for i in range(len(at))])


def listed(things: Sequence[object]) -> str:
    """``1, 2 and 3``."""
    *before, last = [str(thing) for thing in things]
    return ", ".join(before) + (" and " if before else "") + last
