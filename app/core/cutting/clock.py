"""The time a plan may take, and the one who may stop it before."""

from __future__ import annotations

import time
from collections.abc import Callable

Progress = Callable[[str, float], bool]
"""Told what is being done and the share of the time used; answers whether to stop."""


class Clock:
    """Started with a plan; asked before every step."""

    def __init__(self, seconds: float, progress: Progress | None = None) -> None:
        self.started = time.perf_counter()
        self.seconds, self.progress = seconds, progress
        self.stopped = False

    def gone(self) -> float:
        """Seconds gone."""
        return time.perf_counter() - self.started

    def used(self) -> float:
        """Share of the time gone."""
        return self.gone() / self.seconds

    def left(self) -> float:
        """Seconds left; none once told to stop."""
        return 0.0 if self.stopped else self.seconds - self.gone()

    def told_to_stop(self, doing: str) -> bool:
        """Report, and hear whether to stop; running out of time stops as well."""
        if self.progress is not None and self.progress(doing, min(self.used(), 1.0)):
            self.stopped = True
        return self.left() <= 0
