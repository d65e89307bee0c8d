"""Minutes learned from batches: setting up and each, by a line that a bad day does not bend.

The slope is the median of the slopes between every two batches, the start the median of what is
left (Theil, Proc. Kon. Ned. Akad. v. Wetensch. 53, 1950; Sen, J. Amer. Stat. Assoc. 63, 1968): 29
in a hundred of the batches may be as wrong as they like. The spread is the median distance from the
line, as minutes of a batch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median

LEAST_BATCHES = 3


@dataclass(frozen=True)
class Worked:
    """One batch: how much of an operation's driver it had, and the minutes it took."""

    count: Fraction | int
    minutes: Fraction


@dataclass(frozen=True)
class Learned:
    """Minutes to set up and for each, the spread of a batch about them, and how many there were."""

    setup: Fraction
    each: Fraction
    spread: Fraction
    batches: int


def learn(worked: Sequence[Worked], known_setup: Fraction) -> Learned | None:
    """What batches say of an operation; None where there are too few.

    Where all had as much of it, setting up cannot be told from the rest and stays as it is known.
    """
    rows = [row for row in worked if row.count > 0]
    if len(rows) < LEAST_BATCHES:
        return None
    slopes = [
        Fraction(b.minutes - a.minutes) / (b.count - a.count)
        for n, a in enumerate(rows)
        for b in rows[n + 1 :]
        if a.count != b.count
    ]
    if slopes:
        each = max(median(slopes), Fraction(0))
        setup = median(row.minutes - each * row.count for row in rows)
    else:
        setup = known_setup
        each = median((row.minutes - setup) / row.count for row in rows)
    if setup < 0 or each < 0:
        # Nothing takes less than no time: then it is all for each.
        setup, each = Fraction(0), median(row.minutes / row.count for row in rows)
    spread = median(abs(row.minutes - setup - each * row.count) for row in rows)
    return Learned(setup, each, spread, len(rows))
