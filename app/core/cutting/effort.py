"""How much work a plan may take: counted in steps, so that a question has one answer.

Every part of the planner charges what it does by its size (rectangles compared, layouts drawn,
pivots of the linear program, callbacks of the integer one); a step is about a microsecond of a
small computer. So the same question is answered alike on any machine and under any load. The
clock is an emergency stop only: a plan that it cut short says so.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from enum import StrEnum

Progress = Callable[[str, float], bool]
"""Told what is being done and the share of the work gone; answers whether to stop."""

STEPS_A_SECOND = 1_000_000


class Effort(StrEnum):
    """How much work is worth while: beside a form, for a list, once for a large purchase."""

    LIVE = "live"
    NORMAL = "normal"
    THOROUGH = "thorough"

    def steps(self, kinds: int) -> int:
        """Steps for so many kinds of piece of one paper."""
        if self is Effort.LIVE:
            return min(max(kinds, 5) * LIVE_STEPS, MOST_LIVE_STEPS)
        return NORMAL_STEPS if self is Effort.NORMAL else THOROUGH_STEPS

    @property
    def patience(self) -> float:
        """Seconds after which even a slow machine under load is told to stop."""
        return {Effort.LIVE: 20.0, Effort.NORMAL: 120.0, Effort.THOROUGH: 900.0}[self]


LIVE_STEPS, MOST_LIVE_STEPS = 20_000, 1_000_000
NORMAL_STEPS, THOROUGH_STEPS = 5_000_000, 40_000_000


class Work:
    """The steps that one plan may take, and those it has taken; asked before every part of it."""

    def __init__(
        self, most: int, progress: Progress | None = None, seconds: float | None = None
    ) -> None:
        self.most, self.done, self.progress = most, 0, progress
        self.until = None if seconds is None else time.monotonic() + seconds
        self.cut_short = False
        """Whether the clock or somebody stopped it before the work was done."""

    @classmethod
    def of(
        cls,
        effort: Effort | int,
        kinds: int,
        progress: Progress | None = None,
        seconds: float | None = None,
    ) -> Work:
        """Work of a named effort, or of so many steps, with its emergency stop."""
        if isinstance(effort, Effort):
            seconds = effort.patience if seconds is None else seconds
            return cls(effort.steps(kinds), progress, seconds)
        return cls(effort, progress, seconds)

    def add(self, steps: int) -> None:
        """Charge steps that were taken."""
        self.done += steps

    def used(self) -> float:
        """Share of the work done."""
        return self.done / self.most

    def left(self) -> int:
        """Steps left; none once cut short."""
        return 0 if self.is_cut_short() else max(self.most - self.done, 0)

    def is_cut_short(self) -> bool:
        """Look at the clock."""
        if self.until is not None and time.monotonic() > self.until:
            self.cut_short = True
        return self.cut_short

    def told_to_stop(self, doing: str) -> bool:
        """Report, and hear whether to stop; having done all the work stops as well."""
        if self.progress is not None and self.progress(doing, min(self.used(), 1.0)):
            self.cut_short = True
        return self.left() <= 0
