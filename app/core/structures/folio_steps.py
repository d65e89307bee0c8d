"""Cutting, folding, nesting, trimming and punching folios, as steps for somebody who never did."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from app.core.structures.advice import CREEP_NM
from app.core.structures.base import BenchStep, Flat
from app.core.structures.common import AWLS, BLADES, caution, grain_said
from app.core.structures.gathering import FolioKind, Gathering, in_braces
from app.core.structures.stages import LEAVES
from app.core.structures.words import later
from app.language import say, say_list, say_many


def folio_steps(gathering: Gathering) -> list[BenchStep]:
    """From the sheets to punched signatures."""
    found = [
        caution(BLADES),
        *(
            _cut(kind, flat, alone=gathering.plain)
            for kind, flat in zip(gathering.kinds, gathering.flats, strict=True)
        ),
        BenchStep(
            say("Fold it in the middle and rub the fold down with a folder.")
            if gathering.folios == 1
            else say("Fold each in the middle and rub the fold down with a folder."),
            shows="folio",
        ),
        *_nest(gathering),
        *_trim(gathering),
        caution(AWLS),
        _punch(gathering),
    ]
    return [replace(step, stage=LEAVES) for step in found]


def _cut(kind: FolioKind, flat: Flat, *, alone: bool) -> BenchStep:
    grain, sides = grain_said(flat.grain), later("width", "height")
    if alone:
        text = say_many(
            flat.count,
            "Cut {n} folio {width} wide and {height} high, {grain}.",
            "Cut {n} folios {width} wide and {height} high, {grain}.",
            grain=grain, **sides,
        )  # fmt: skip
    elif kind.plain:
        text = say_many(
            flat.count,
            "Cut {n} plain folio of {paper}, {width} wide and {height} high, {grain}.",
            "Cut {n} plain folios of {paper}, {width} wide and {height} high, {grain}.",
            paper=in_braces(kind.paper.name), grain=grain, **sides,
        )  # fmt: skip
    else:
        text = say_many(
            flat.count,
            "Cut {n} folio of {paper}, {width} wide and {height} high, {grain}.",
            "Cut {n} folios of {paper}, {width} wide and {height} high, {grain}.",
            paper=kind.name, grain=grain, **sides,
        )  # fmt: skip
    return BenchStep(text, {"width": flat.width_nm, "height": flat.height_nm}, flat.key)


def _nest(gathering: Gathering) -> Iterator[BenchStep]:
    """How folios are gathered; where signatures differ, each as it is made from the outside in."""
    many = len(gathering.signatures)
    made_of = len(gathering.signatures[0])
    if not (gathering.plain and gathering.alike):
        yield from _kinds_nested(gathering)
    elif made_of == 1:
        yield BenchStep(
            say("Press it.")
            if many == 1
            else say("Each is a signature: lay them in order, and press.")
        )
    elif many > 1:
        yield BenchStep(
            say(
                "Nest them in {signatures} signatures of {folios}, heads together, and press them.",
                signatures=many,
                folios=made_of,
            )
        )
    else:
        yield BenchStep(say("Nest them into one signature, heads together, and press it."))


def _kinds_nested(gathering: Gathering) -> Iterator[BenchStep]:
    many = len(gathering.signatures)
    whose: dict[tuple[FolioKind, ...], list[int]] = {}
    for row, nest in enumerate(gathering.signatures):
        whose.setdefault(nest, []).append(row + 1)
    for nest, numbers in whose.items():
        folios = _from_the_outside(nest)
        if many == 1:
            text = say(
                "Nest them into one signature, from the outside in: {folios}.", folios=folios
            )
        elif len(whose) == 1:
            text = say(
                "Nest them in {signatures} signatures, from the outside in: {folios}.",
                signatures=many,
                folios=folios,
            )
        else:
            text = say_many(
                len(numbers),
                "Nest signature {numbers}, from the outside in: {folios}.",
                "Nest signatures {numbers}, from the outside in: {folios}.",
                numbers=listed(numbers),
                folios=folios,
            )
        yield BenchStep(text)
    yield from filter(None, (_where(kind, gathering) for kind in gathering.kinds))
    yield BenchStep(say("Press it.") if many == 1 else say("Press them, in order."))


def _from_the_outside(nest: Sequence[FolioKind]) -> str:
    """Folios of a signature, so many of one kind after so many of another."""
    said = ""
    for kind, run in groupby(nest):
        many = len(list(run))
        some = (
            say_many(many, "{n} plain", "{n} plain")
            if kind.plain
            else say_many(many, "{n} of {paper}", "{n} of {paper}", paper=kind.name)
        )
        said = say("{folios}, then {more}", folios=said, more=some) if said else some
    return said


def _where(kind: FolioKind, gathering: Gathering) -> BenchStep | None:
    """How a lower folio lies in the fold; all others lie with their heads together."""
    below = gathering.leaf_height_nm - kind.height_nm
    if not below:
        return None
    if not kind.head_nm:
        return BenchStep(
            say_many(
                kind.total,
                "Lay the folio of {paper} with the head at that of the others, fold in fold.",
                "Lay the folios of {paper} with the head at that of the others, fold in fold.",
                paper=kind.name,
            )
        )
    if kind.head_nm == below:
        return BenchStep(
            say_many(
                kind.total,
                "Lay the folio of {paper} with the tail at that of the others, fold in fold.",
                "Lay the folios of {paper} with the tail at that of the others, fold in fold.",
                paper=kind.name,
            )
        )
    return BenchStep(
        say_many(
            kind.total,
            "Lay the folio of {paper} with the head {below} below that of the others, fold in "
            "fold.",
            "Lay the folios of {paper} with the head {below} below that of the others, fold in "
            "fold.",
            paper=kind.name,
            **later("below"),
        ),
        {"below": kind.head_nm},
    )


def _trim(gathering: Gathering) -> Iterator[BenchStep]:
    creeping = gathering.creeping(CREEP_NM)
    many = len(gathering.signatures)
    if not creeping:
        return
    rows = [row for row in range(many) if gathering.creep_of(row) > CREEP_NM]
    if many == 1:
        which = say("the signature")
    elif creeping == many:
        which = say("each signature")
    else:
        numbers = listed([row + 1 for row in rows])
        which = say_many(creeping, "signature {numbers}", "signatures {numbers}", numbers=numbers)
    if gathering.plain:
        yield BenchStep(
            say(
                "Trim the fore edge of {signatures}: the innermost folio stands {creep} past the "
                "outermost. Take off no more than makes them end together.",
                signatures=which,
                **later("creep"),
            ),
            {"creep": gathering.creep_nm},
        )
        return
    places = {"signatures": which, **later("leaf", "creep")}
    yield BenchStep(
        say(
            "Trim the fore edge of {signatures}, {leaf} from the fold: its folios stand {creep} "
            "past that. What is narrower stays as it is.",
            **places,
        )
        if len(set(map(gathering.creep_of, rows))) == 1
        else say(
            "Trim the fore edge of {signatures}, {leaf} from the fold: its folios stand up to "
            "{creep} past that. What is narrower stays as it is.",
            **places,
        ),
        {"creep": gathering.creep_nm, "leaf": gathering.leaf_width_nm},
    )


def _punch(gathering: Gathering) -> BenchStep:
    at = gathering.at
    lengths = {f"at{i}": y for i, y in enumerate(at)}
    places = {"stations": len(at), "places": say_list(list(later(*lengths).values()))}
    if gathering.plain:
        text = say(
            "Lay the punching guide into the fold, its head to the head, and punch {stations} "
            "stations: {places} from the head.",
            **places,
        )
    else:
        text = say(
            "Lay the guide of the plain folio into each fold, its head where that of the leaves "
            "is, and punch {stations} stations: {places} from the head.",
            **places,
        )
    if any(not kind.holds(y) for kind in gathering.kinds for y in at):
        text += " " + say("Not all go through the lower folios.")
    return BenchStep(text, lengths, "folio")


def listed(numbers: Sequence[int]) -> str:
    """``1, 2 and 3``."""
    return say_list([str(number) for number in numbers])
