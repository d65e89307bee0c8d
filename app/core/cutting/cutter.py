"""What cuts: the width a blade takes, the longest cut, the turns allowed, the sheets a stroke."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Cutter:
    """The maker's trimmer or knife.

    ``kerf_nm`` is lost in every cut (nothing, for a blade). ``longest_nm`` is the longest cut it
    makes, None for any. ``stages`` is how often the direction of cutting may change on the way
    from the sheet to a piece, None for any number; trims that come before everything else do
    not count, neither there nor for the longest cut. ``lift`` sheets are cut in one stroke.
    """

    kerf_nm: int = 0
    longest_nm: int | None = None
    stages: int | None = None
    lift: int = 1

    def reaches(self, length_nm: int) -> bool:
        """Whether it can make a cut of this length."""
        return self.longest_nm is None or length_nm <= self.longest_nm

    def can_begin(self, width_nm: int, height_nm: int) -> bool:
        """Whether a rectangle can be cut at all: one of its sides must be within reach."""
        return self.reaches(min(width_nm, height_nm))

    def is_free(self, width_nm: int, height_nm: int) -> bool:
        """Whether it reaches everywhere on a rectangle and may turn as often as one likes."""
        return self.stages is None and self.reaches(max(width_nm, height_nm))


KNIFE = Cutter()
"""Cuts of any length that take nothing away."""
