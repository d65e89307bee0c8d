"""Where steps go that are added to those of a structure: after a stage of the work, or before one.

A structure marks the steps that get leaves and cover ready, that put the block into a case it was
made apart from, and that paste something inside cover or boards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from app.core.structures.base import BenchStep

LEAVES, ENDPAPERS, COVER, CASED, INSIDE = "leaves", "endpapers", "cover", "cased", "inside"


def after_stage(
    steps: Sequence[BenchStep], stage: str, more: Sequence[BenchStep]
) -> tuple[BenchStep, ...]:
    """Steps with more of them after the last of a stage, or where it has none after a first cut."""
    first_cut = next((at for at, step in enumerate(steps) if step.shows), -1)
    last = max((at for at, step in enumerate(steps) if step.stage == stage), default=first_cut) + 1
    added = [replace(step, stage=stage) for step in more]
    return (*steps[:last], *added, *steps[last:])


def before_inside(
    steps: Sequence[BenchStep], more: Sequence[BenchStep], *, cased: bool = True
) -> tuple[BenchStep, ...]:
    """Steps with more of them before anything is pasted inside the cover, else before the last.

    What is pasted on top of what lines a case comes after it is ``cased``.
    """
    covering = (INSIDE, CASED) if cased else (INSIDE,)
    last = len(steps) - 1
    at = next((at for at, step in enumerate(steps) if step.stage in covering), last)
    return (*steps[:at], *more, *steps[at:])
