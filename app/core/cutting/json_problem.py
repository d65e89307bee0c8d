"""The cutting problem as JSON: a strict reader; :mod:`json_answer` writes the answer.

``goal`` "cover" cuts all the counts for the least money; "fill" puts the most value on one
sheet. Every refusal names its place in the file (``sheets[0].width``).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from app.core.cutting.cutter import Cutter
from app.core.cutting.effort import Effort
from app.core.cutting.model import Break, SheetOffer, Wanted
from app.core.errors import DomainError
from app.core.length import LONGEST, MM
from app.core.paper import GRAINS, Piece, Sheet
from app.language import say

ReadLength = Callable[[str, str], int]
"""Turns what was typed and the unit of bare numbers into nanometres; raises DomainError."""

MOST_KINDS = 1_000
MOST_PAIRS = 2_000
"""Kinds of piece × kinds of sheet in one problem."""
MOST_DIGITS = 30
MOST_VALUE_PLACES, MOST_VALUE = 6, 10**15
MOST_COUNT = 1_000_000
UNITS = {"mm": MM, "cm": 10 * MM, "m": 1000 * MM, "in": 25_400_000}


@dataclass(frozen=True)
class Problem:
    """A cutting problem, read and checked."""

    unit: str
    goal: str
    offers: tuple[SheetOffer, ...]
    wanted: tuple[Wanted, ...]
    cutter: Cutter
    smallest_offcut: tuple[int, int] | None
    effort: Effort
    seconds: Decimal | None
    """An emergency stop; none stands for the effort's own."""
    places: int
    """Decimals of the prices, so that they can be counted in whole units."""
    values: tuple[Decimal, ...]
    value_places: int

    @property
    def patience(self) -> float | None:
        """Seconds until the emergency stop, where the problem says them."""
        return None if self.seconds is None else float(self.seconds)


def read_problem(text: str, read_length: ReadLength) -> Problem:
    """Read a problem, or refuse it with the place of the first thing that is wrong."""
    try:
        data = json.loads(text, parse_float=Decimal, parse_constant=_no_constant)
    except json.JSONDecodeError as error:
        raise DomainError(
            say("line {line}: this is not JSON: {why}", line=error.lineno, why=error.msg)
        ) from None
    except ValueError:
        raise DomainError(say("a number has more digits than anything here could need")) from None
    except RecursionError:
        raise DomainError(say("the file is nested too deeply")) from None
    return _Reader(read_length).problem(data)


def _no_constant(name: str) -> None:
    raise DomainError(say("“{name}” is no number", name=name))


class _Reader:
    def __init__(self, read_length: ReadLength) -> None:
        self.read_length = read_length
        self.unit = "mm"

    def problem(self, data: Any) -> Problem:
        top = self.object(
            data,
            say("the file"),
            {"unit", "goal", "sheets", "pieces"},
            {"kerf", "longest_cut", "stages", "smallest_offcut", "effort", "seconds"},
        )
        self.unit = self.one_of(top["unit"], "unit", tuple(UNITS))
        goal = self.one_of(top["goal"], "goal", ("cover", "fill"))
        sheets = self.array(top["sheets"], "sheets")
        places = max(
            (self.decimals(s.get("price")) for s in sheets if isinstance(s, dict)), default=0
        )
        if places > 4:
            raise DomainError(say("{place}: a price has more than four decimals", place="sheets"))
        offers = tuple(self.sheet(s, f"sheets[{i}]", places) for i, s in enumerate(sheets))
        pieces = self.array(top["pieces"], "pieces")
        wanted = tuple(self.piece(p, f"pieces[{i}]", goal) for i, p in enumerate(pieces))
        values = tuple(Decimal(p["value"]) for p in pieces) if goal == "fill" else ()
        finest = max((-int(v.normalize().as_tuple().exponent) for v in values), default=0)
        if finest > MOST_VALUE_PLACES:
            raise DomainError(say("{place}: a value has more than six decimals", place="pieces"))
        if len(offers) * len(wanted) > MOST_PAIRS:
            raise DomainError(
                say(
                    "{place}: {pieces} kinds on {sheets} kinds of sheet are more than this takes "
                    "at once ({most} pairs)",
                    place="pieces",
                    pieces=len(wanted),
                    sheets=len(offers),
                    most=MOST_PAIRS,
                )
            )
        for what, names in (
            ("sheets", [o.key for o in offers]),
            ("pieces", [w.key for w in wanted]),
        ):
            if len(set(names)) < len(names):
                raise DomainError(say("{place}: two have the same name", place=what))
        return Problem(
            self.unit,
            goal,
            offers,
            wanted,
            Cutter(
                self.length(top.get("kerf", 0), "kerf", least=0),
                self.optional(top.get("longest_cut"), lambda v: self.length(v, "longest_cut")),
                self.optional(top.get("stages"), lambda v: self.whole(v, "stages", 0)),
            ),
            self.offcut(top.get("smallest_offcut")),
            Effort(self.one_of(top.get("effort", "normal"), "effort", tuple(Effort))),
            self.seconds(top.get("seconds")),
            places,
            values,
            max(finest, 0),
        )

    def sheet(self, data: Any, place: str, places: int) -> SheetOffer:
        row = self.object(
            data,
            place,
            {"name", "width", "height", "price"},
            {"grain", "pack", "on_hand", "limit", "trim"},
        )
        pack = self.whole(row.get("pack", 1), f"{place}.pack", 1)
        price = self.money(row["price"], f"{place}.price", places)
        limit = row.get("limit")
        name = self.name(row["name"], place)
        sheet = Sheet(
            name,
            self.length(row["width"], f"{place}.width"),
            self.length(row["height"], f"{place}.height"),
            self.grain(row.get("grain"), f"{place}.grain"),
            trim_nm=self.length(row.get("trim", 0), f"{place}.trim", least=0),
        )
        if min(sheet.usable) <= 0:
            raise DomainError(
                say("{place}: trimming leaves nothing of the sheet", place=f"{place}.trim")
            )
        return SheetOffer(
            name,
            sheet,
            pack,
            (Break(1, price * pack),),
            self.whole(row.get("on_hand", 0), f"{place}.on_hand", 0),
            None if limit is None else self.whole(limit, f"{place}.limit", 0),
            Fraction(price),
        )

    def piece(self, data: Any, place: str, goal: str) -> Wanted:
        more = {"value"} if goal == "fill" else set()
        row = self.object(
            data, place, {"name", "width", "height", "count"} | more, {"grain", "turn"}
        )
        turn = row.get("turn", False)
        if not isinstance(turn, bool):
            raise DomainError(say("{place}: must be true or false", place=f"{place}.turn"))
        count = row["count"]
        if count is None and goal == "fill":
            count = MOST_COUNT
        name = self.name(row["name"], place)
        if more:
            self.number(row["value"], f"{place}.value", Decimal(0), Decimal(10**12))
        return Wanted(
            name,
            Piece(
                name,
                self.length(row["width"], f"{place}.width"),
                self.length(row["height"], f"{place}.height"),
                1,
                self.grain(row.get("grain"), f"{place}.grain"),
                turn,
            ),
            self.whole(count, f"{place}.count", 0),
        )

    def seconds(self, value: Any) -> Decimal | None:
        if value is None:
            return None
        return self.number(value, "seconds", Decimal("0.001"), Decimal(3600))

    def optional(self, value: Any, read: Callable[[Any], int]) -> int | None:
        return None if value is None else read(value)

    def object(self, data: Any, place: str, needed: set[str], allowed: set[str]) -> dict[str, Any]:
        if not isinstance(data, dict):
            raise DomainError(say("{place}: must be an object with names and values", place=place))
        for key in data:
            if key not in needed | allowed:
                raise DomainError(
                    say("{place}: there is no “{key}” here", place=place, key=str(key)[:40])
                )
        for key in sorted(needed):
            if key not in data:
                raise DomainError(say("{place}: “{key}” is missing", place=place, key=key))
        return data

    def array(self, data: Any, place: str) -> list[Any]:
        if not isinstance(data, list) or not data:
            raise DomainError(say("{place}: must be a list with something in it", place=place))
        if len(data) > MOST_KINDS:
            raise DomainError(say("{place}: more than {most} kinds", place=place, most=MOST_KINDS))
        return data

    def name(self, value: Any, place: str) -> str:
        if not isinstance(value, str) or not 0 < len(value) <= 200:
            raise DomainError(
                say("{place}: must be text of 1 to 200 characters", place=f"{place}.name")
            )
        return value

    def one_of(self, value: Any, place: str, choices: tuple[str, ...]) -> str:
        if not isinstance(value, str) or value not in choices:
            raise DomainError(
                say("{place}: must be one of {choices}", place=place, choices=", ".join(choices))
            )
        return value

    def grain(self, value: Any, place: str) -> str | None:
        return None if value is None else self.one_of(value, place, GRAINS)

    def length(self, value: Any, place: str, least: int = 1) -> int:
        try:
            if isinstance(value, str):
                nm = self.read_length(value, self.unit)
            else:
                number = Fraction(self.number(value, place, Decimal("-1e12"), Decimal("1e12")))
                exact = number * UNITS[self.unit]
                nm = round(exact)
        except DomainError as error:
            message = (
                error.message if error.message.startswith(place) else f"{place}: {error.message}"
            )
            raise DomainError(message) from None
        if not least <= nm <= LONGEST:
            raise DomainError(say("{place}: must lie between 0 and 10 km", place=place))
        return nm

    def number(self, value: Any, place: str, least: Decimal, most: Decimal) -> Decimal:
        if isinstance(value, bool) or not isinstance(value, int | Decimal):
            raise DomainError(say("{place}: must be a number", place=place))
        number = Decimal(value)
        if not number.is_finite() or abs(number.adjusted()) > MOST_DIGITS:
            raise DomainError(say("{place}: is out of all bounds", place=place))
        if not least <= number <= most:
            raise DomainError(
                say(
                    "{place}: must lie between {least} and {most}",
                    place=place,
                    least=least,
                    most=most,
                )
            )
        return number

    def whole(self, value: Any, place: str, least: int) -> int:
        number = self.number(value, place, Decimal(least), Decimal(MOST_COUNT))
        if number != int(number):
            raise DomainError(say("{place}: must be a whole number", place=place))
        return int(number)

    def decimals(self, price: Any) -> int:
        _, _, after = price.partition(".") if isinstance(price, str) else ("", "", "")
        return len(after)

    def money(self, value: Any, place: str, places: int) -> int:
        if (
            not isinstance(value, str)
            or not value.replace(".", "", 1).isdecimal()
            or len(value) > 14
        ):
            raise DomainError(say('{place}: must be money as text, such as "4.60"', place=place))
        return int(Decimal(value).scaleb(places))

    def offcut(self, value: Any) -> tuple[int, int] | None:
        if value is None:
            return None
        if not isinstance(value, list) or len(value) != 2:
            raise DomainError(say("{place}: must be two lengths, or null", place="smallest_offcut"))
        return (
            self.length(value[0], "smallest_offcut[0]", 0),
            self.length(value[1], "smallest_offcut[1]", 0),
        )
