"""Charts that say themselves in a sentence: yields over both leaf dimensions, what more costs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from app.core.cutting.one_sheet.yields import Step
from app.core.length import Show
from app.dates import short_day
from app.documents.svg import Canvas
from app.language import say, to_say

SHADES = 12
"""As many as the stylesheet has."""
LETTER = 6.8
"""How wide one is at most."""


def _regions(rows: Sequence[Sequence[Step]], low_nm: int) -> list[tuple[int, int, int]]:
    """Every region of one count once: the count, and the row and place of its middle."""
    segments: list[list[tuple[int, int, int]]] = []
    for steps in rows:
        ends = [low_nm, *(step.up_to_nm for step in steps)]
        segments.append([(s.count, ends[n], ends[n + 1]) for n, s in enumerate(steps)])
    open_ones: list[list[tuple[int, tuple[int, int, int]]]] = []
    done: list[list[tuple[int, tuple[int, int, int]]]] = []
    for row, line in enumerate(segments):
        going_on = []
        for segment in line:
            for region in open_ones:
                last = region[-1][1]
                if last[0] == segment[0] and last[1] < segment[2] and segment[1] < last[2]:
                    region.append((row, segment))
                    going_on.append(region)
                    open_ones.remove(region)
                    break
            else:
                going_on.append([(row, segment)])
        done += open_ones
        open_ones = going_on
    found = []
    for region in done + open_ones:
        row, (count, left, right) = region[len(region) // 2]
        if len(region) > 1 and right > left:
            found.append((count, row, (left + right) // 2))
    return found


def map_drawing(
    rows: Sequence[tuple[int, Sequence[Step]]],
    low_nm: int,
    now: tuple[int, int],
    show: Show,
    key: str,
) -> str:
    """Plateaus of equal yield: width runs to the right, height upwards, the present marked."""
    left, right, top, bottom = 44.0, 404.0, 12.0, 252.0
    canvas = Canvas(420, 290)
    high_nm = rows[0][1][-1].up_to_nm
    counts = sorted({step.count for _, steps in rows for step in steps})
    tall = (bottom - top) / len(rows)

    def x(nm: int) -> float:
        return left + (nm - low_nm) / max(high_nm - low_nm, 1) * (right - left)

    for number, (_, steps) in enumerate(rows):
        at, y = low_nm, bottom - (number + 1) * tall
        for step in steps:
            shade = counts.index(step.count) * SHADES // max(len(counts), 1)
            canvas.rect(x(at), y, x(step.up_to_nm) - x(at), tall + 0.4, f"plateau shade-{shade}")
            at = step.up_to_nm
    for count, row, middle in _regions([steps for _, steps in rows], low_nm):
        canvas.words(x(middle), bottom - (row + 0.5) * tall + 4, str(count), "plateau-count")
    heights = [height for height, _ in rows]
    share = (now[1] - heights[0]) / max(heights[-1] - heights[0], 1)
    canvas.dot(x(now[0]), bottom - share * (bottom - top), 4.5, "now-mark")
    for nm in (low_nm, now[0], high_nm):
        canvas.words(min(max(x(nm), left + 10), right - 12), bottom + 16, show(nm), "figure")
    for height, y in ((heights[0], bottom), (heights[-1], top + 8)):
        canvas.words(left - 20, y, show(height), "figure")
    canvas.words((left + right) / 2, bottom + 32, say("leaf width"), "figure")
    canvas.words(12, (top + bottom) / 2, say("leaf height"), "figure", upright=True)
    return canvas.picture(
        key, say("Pieces from one sheet by leaf width and height"),
        say(
            "From {fewest} to {most} pieces; the dot is the leaf as it is now, {width} wide and "
            "{height} high.",
            fewest=counts[0], most=counts[-1], width=show(now[0]), height=show(now[1]),
        ),
    )  # fmt: skip


def nudge_drawing(rows: Sequence[tuple[str, float, str]], key: str) -> str:
    """Bars to the right for what costs more, to the left for what saves; words beside each."""
    reach, tall = 110.0, 24.0
    middle = max(250.0, *(8 + LETTER * len(label) for label, _, _ in rows), 0.0)
    canvas = Canvas(middle + reach + 60, tall * len(rows) + 12)
    most = max((abs(value) for _, value, _ in rows), default=0.0) or 1.0
    for number, (label, value, said) in enumerate(rows):
        y = 6 + number * tall
        width = abs(value) / most * reach
        x = middle if value >= 0 else middle - width
        canvas.rect(x, y + 4, max(width, 0.8), tall - 9, "dearer" if value >= 0 else "cheaper")
        canvas.words(4, y + 16, label, "figure start")
        canvas.words(middle + max(width, 0.0) + 5 if value >= 0 else middle + 5, y + 16, said,
                     "figure start")  # fmt: skip
    canvas.line(middle, 2, middle, tall * len(rows) + 8, "measure")
    first = rows[0] if rows else ("", 0.0, "")
    return canvas.picture(
        key, say("What a little more does to the cost of one"),
        say("{what} matters most: {change}.", what=first[0], change=first[2]) if rows
        else say("Nothing changes the cost."),
    )  # fmt: skip


def swatch(width_nm: int, height_nm: int, key: str, show: Show) -> str:
    """A small rectangle to scale, for a list."""
    px = 34.0 / max(width_nm, height_nm)
    canvas = Canvas(38, 38)
    canvas.rect(2, 2, max(width_nm * px, 1.0), max(height_nm * px, 1.0), "offcut")
    return canvas.picture(
        key,
        say("Offcut"),
        say("{width} wide and {height} high.", width=show(width_nm), height=show(height_nm)),
    )


UP = to_say("From {first} to {last} for {unit}, up {change}; dots were paid, rings offered.")
DOWN = to_say("From {first} to {last} for {unit}, down {change}; dots were paid, rings offered.")


def price_drawing(
    rows: Sequence[tuple[date, Decimal, str, bool]],
    unit: str,
    money: Callable[[Decimal], str],
    key: str,
) -> str:
    """Prices over time: rings for what was offered, dots for what was paid."""
    left, right, top, bottom = 70.0, 400.0, 14.0, 130.0
    canvas = Canvas(420, 170)
    first, last = rows[0][0], rows[-1][0]
    days = max((last - first).days, 1)
    prices = [price for _, price, _, _ in rows]
    low, high = min(prices), max(prices)
    span = high - low or Decimal(1)

    def place(day: date, price: Decimal) -> tuple[float, float]:
        x = left + (day - first).days / days * (right - left)
        return x, bottom - float((price - low) / span) * (bottom - top)

    for price in {low, high}:
        y = place(first, price)[1]
        canvas.line(left, y, right, y, "guide")
        canvas.words(left - 34, y + 4, money(price), "figure")
    canvas.path([place(day, price) for day, price, _, _ in rows], "price-line")
    for day, price, _, bought in rows:
        canvas.dot(*place(day, price), 4, "now" if bought else "better")
    for day, x in {first: left, last: right if last != first else left}.items():
        # Kept within the picture, at either end.
        canvas.words(min(x, 420 - 44), bottom + 20, short_day(day), "figure")
    change = (prices[-1] / prices[0] - 1) * 100 if prices[0] else Decimal(0)
    return canvas.picture(
        key, say("What it was offered for, and what was paid"),
        say(
            UP if change >= 0 else DOWN, first=money(prices[0]), last=money(prices[-1]),
            unit=unit, change=f"{abs(round(change))}%",
        ),
    )  # fmt: skip


@dataclass(frozen=True)
class WeekBar:
    """A week of the bench as it is drawn: what is wanted of it and what it has, in minutes."""

    name: str
    wanted: Fraction
    there: int


def load_drawing(weeks: Sequence[WeekBar], hours: Callable[[Fraction], str], key: str) -> str:
    """A bar a week, what is over the line of its hours apart; figures stand over each."""
    wide, top, base = 92.0, 30.0, 150.0
    canvas = Canvas(wide * len(weeks) + 8, 176)
    most = max([*(float(w.wanted) for w in weeks), *(float(w.there) for w in weeks), 1.0])
    scale = (base - top) / most
    for number, week in enumerate(weeks):
        left = 4 + number * wide
        within = min(float(week.wanted), float(week.there)) * scale
        over = max(float(week.wanted) - week.there, 0.0) * scale
        line = base - week.there * scale
        canvas.rect(left + 16, base - within, wide - 32, within, "load")
        if over:
            canvas.rect(left + 16, base - within - over, wide - 32, over, "load over")
        canvas.line(left + 8, line, left + wide - 8, line, "load-line")
        highest = min(base - within - over, line)
        said = say(
            "{wanted} of {there}", wanted=hours(week.wanted), there=hours(Fraction(week.there))
        )
        canvas.words(left + wide / 2, highest - 7, said, "figure")
        canvas.words(left + wide / 2, base + 17, week.name, "figure")
    full = [w.name for w in weeks if w.wanted > w.there]
    return canvas.picture(
        key, say("The bench, week by week"),
        say("More is wanted than there is in the week of {weeks}.", weeks=", ".join(full)) if full
        else say("No week is wanted for more than it has."),
    )  # fmt: skip


@dataclass(frozen=True)
class MonthBar:
    """A month as it is drawn: what was sold, what is left of it, and both in words."""

    name: str
    sales: Decimal
    left: Decimal
    said: str


def sales_drawing(months: Sequence[MonthBar], title: str, says: str, key: str) -> str:
    """A bar a month: sales, and of them what is left; a loss hangs below the line."""
    wide, top, high = 78.0, 26.0, 130.0
    most = max([*(float(m.sales) for m in months), 1.0])
    worst = max([*(-float(m.left) for m in months), 0.0])
    scale = high / most
    base = top + high
    below = min(worst * scale, high / 2)
    canvas = Canvas(wide * len(months) + 8, base + below + 26)
    for number, month in enumerate(months):
        left = 4 + number * wide
        sales = max(float(month.sales), 0.0) * scale
        kept = float(month.left) * scale
        canvas.rect(left + 10, base - sales, wide - 20, sales, "sold-bar")
        if kept > 0:
            canvas.rect(left + 10, base - min(kept, sales or kept), wide - 20,
                        min(kept, sales or kept), "left-bar")  # fmt: skip
        elif kept < 0:
            canvas.rect(left + 10, base, wide - 20, min(-kept, below), "lost-bar")
        canvas.words(left + wide / 2, base - sales - 7, month.said, "figure")
        canvas.words(left + wide / 2, base + below + 17, month.name, "figure")
    canvas.line(4, base, wide * len(months) + 4, base, "measure")
    return canvas.picture(key, title, says)
