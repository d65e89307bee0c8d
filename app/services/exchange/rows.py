"""Rows of a table read as papers, materials, offers and opening stock, typed as on the pages.

A row is read against what the shop has by name and what the rows before it bring. Nothing here
asks the database or writes, so that a long table is read while others write.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from app.core.errors import DomainError
from app.core.length import MM, plain_decimal, show_length
from app.core.numbers import read_number, styled
from app.core.paper import GRAINS, Sheet, check_sheet
from app.core.states import SheetKind
from app.language import about, say, to_say
from app.services.exchange.known import Known, KnownMaterial, KnownSheet, OfferKey, PaperFacts
from app.services.shop.names import folded
from app.services.stock.ledger import check_receipt
from app.services.stock.materials import as_bought, check_offer, name_taken
from app.units import MEASURES, parse_length, parse_quantity

Values = Mapping[str, str]
MEASURED = {m: m for m in MEASURES} | {"weight": "mass"}
LONGEST_NM, THICKEST_NM, HEAVIEST = 10_000 * MM, 20 * MM, 5_000
"""A sheet's longest side, a paper's greatest thickness and g/m², as its page has them."""


@dataclass(frozen=True)
class PaperRow:
    """A size of a paper as it is bought; ``facts`` where the paper is new."""

    paper: str
    facts: PaperFacts | None
    size: Mapping[str, Any]


@dataclass(frozen=True)
class MaterialRow:
    """A new material."""

    name: str
    measure: str
    waste: Decimal
    note: str


@dataclass(frozen=True)
class OfferRow:
    """A price for so many packs and more of an offer, which may be there already."""

    item: str
    supplier: str
    pack: int
    since: date
    from_packs: int
    price: Decimal
    lead_days: int


@dataclass(frozen=True)
class StockRow:
    """So much of a thing that is there to begin with."""

    item: str
    quantity: int
    cost: Decimal
    day: date


Row = PaperRow | MaterialRow | OfferRow | StockRow


class Reader:
    """Reads the rows of one table in their order; ``on`` is the day where a row has none."""

    def __init__(self, known: Known, on: date) -> None:
        self.known, self.on = known, on
        self.papers = dict(known.papers)
        self.materials = dict(known.materials)
        self.facts = dict(known.facts)
        self.called = {
            what: {folded(name): name for name in names}
            for what, names in (
                ("Paper", known.papers), ("Material", known.materials),
                ("Supplier", known.suppliers),
            )
        }  # fmt: skip
        """Names as they are written in the shop, by what they have in common with others."""
        self.offers: dict[OfferKey, dict[int, Decimal]] = {}
        """The prices that rows have brought, with those known of the same offers."""
        self.lead_days: dict[OfferKey, int] = {}
        self.orders: dict[str, list[Any]] = {}
        """The rows of each order so far."""
        self.reached: dict[str, str] = {}
        """How those of a name are reached, as the shop or the first row has it."""

    def paper(self, values: Values) -> PaperRow:
        """A paper's sheet, roll or hide."""
        name = self._called("Paper", values["paper"])
        facts = None if name in self.papers else self._new_paper(values)
        grain = values["grain"].casefold().removeprefix("along the ").strip() or None
        if grain and grain not in GRAINS:
            raise DomainError(say("Grain runs along the width or along the height."))
        size = self._size(values) | {"grain": grain}
        width, height = size["width_nm"], size["height_nm"]
        own = self.papers.get(name, ())
        if (width, height, grain) in {(s.width_nm, s.height_nm, s.grain) for s in own}:
            raise DomainError(say("This paper has a sheet of that size and grain already."))
        if facts is None:
            self._check_facts(name, values)
        else:
            self.facts[name] = facts
        known = KnownSheet("", width, height, grain, size["kind"], size["reach_nm"])
        self.papers[name] = (*own, known)
        return PaperRow(name, facts, size)

    def _size(self, values: Values) -> dict[str, Any]:
        """A sheet's sides, the width of a roll, or a hide with its largest piece."""
        unit = self.known.unit
        width = _within(parse_length(values["width"], unit), MM, LONGEST_NM, to_say("Width"), unit)
        area = parse_quantity(values["hide"], "area", unit) if values["hide"] else 0
        if values["hide"] and not area:
            raise DomainError(say("Hide: its area is more than nothing."))
        if values["usable"] and not area:
            raise DomainError(say("Usable: only a hide has this."))
        if _is_roll(values["height"]):
            if area:
                raise DomainError(say("A hide comes off no roll."))
            return as_bought({"kind": SheetKind.ROLL, "width_nm": width})
        height = _within(
            parse_length(values["height"], unit), MM, LONGEST_NM, to_say("Height"), unit
        )
        check_sheet(Sheet("", width, height))
        sides = {"width_nm": width, "height_nm": height}
        if not area:
            return as_bought(sides)
        usable = _decimal(values["usable"] or "0", to_say("Usable")) / 100
        return as_bought(
            {"kind": SheetKind.HIDE, **sides, "hide_area": area, "usable": round(usable, 6)}
        )

    def _called(self, what: str, name: str) -> str:
        """A name as the shop or a row before writes it, else as it stands here."""
        return self.called[what].setdefault(folded(name), _name(name, what))

    def _new_paper(self, values: Values) -> PaperFacts:
        if not values["grammage"] or not values["caliper"]:
            raise DomainError(say("A new paper needs its weight and its thickness."))
        grammage = round(_decimal(values["grammage"], "g/m²", 1), 2)
        if grammage > HEAVIEST:
            raise DomainError(say("g/m² lies between 1 and {most}.", most=HEAVIEST))
        caliper = parse_length(values["caliper"], self.known.unit)
        return PaperFacts(
            grammage, _within(caliper, 1000, THICKEST_NM, to_say("Thickness"), self.known.unit),
            _name(values["colour"], to_say("Colour")),
        )  # fmt: skip

    def _check_facts(self, name: str, values: Values) -> None:
        """Refuse a row of a paper put away, or one that contradicts what is on record."""
        facts, unit = self.facts[name], self.known.unit
        if facts.retired:
            raise DomainError(say("“{name}” was put away; bring it back first.", name=name))
        said: list[tuple[str, bool, str]] = []
        if values["grammage"]:
            other = _decimal(values["grammage"], "g/m²", 1) != facts.grammage
            said.append(("g/m²", other, styled(plain_decimal(facts.grammage, 2))))
        if values["caliper"]:
            other = parse_length(values["caliper"], unit) != facts.caliper_nm
            said.append((to_say("Thickness"), other, show_length(facts.caliper_nm, unit)))
        if values["colour"] and facts.colour:
            other = folded(values["colour"]) != folded(facts.colour)
            said.append((to_say("Colour"), other, f"“{facts.colour}”"))
        for what, other, on_record in said:
            if other:
                raise DomainError(
                    say(
                        "{column}: “{name}” has {known} on record.",
                        column=say(what),
                        name=name,
                        known=on_record,
                    )
                )

    def material(self, values: Values) -> MaterialRow:
        """A new material."""
        measure = MEASURED.get(values["measure"].casefold(), "")
        if not measure:
            raise DomainError(say("Measured by length, count, mass, volume or area."))
        waste = _decimal(values["waste"] or "0", to_say("Waste")) / 100
        if waste >= 1:
            raise DomainError(say("Waste is below 100 per cent."))
        name = self._called("Material", values["material"])
        if name in self.materials:
            raise name_taken("material", name, retired=self.materials[name].retired)
        self.materials[name] = KnownMaterial("", measure)
        return MaterialRow(name, measure, round(waste, 6), values["note"])

    def offer(self, values: Values) -> OfferRow:
        """A price of an offer."""
        item, measure = self._thing(values)
        row = OfferRow(
            item, self._called("Supplier", values["supplier"]),
            parse_quantity(values["pack"], measure, self.known.unit),
            self.day(values["since"]), _whole(values["from_packs"] or "1", to_say("From packs"), 1),
            self.amount(values["price"], to_say("Pack price")),
            _whole(values["days"] or "0", to_say("Days"), 0),
        )  # fmt: skip
        key = (row.item, row.supplier, row.pack, row.since)
        prices = self.offers.get(key, self.known.offers.get(key, {}))
        if row.from_packs in prices:
            raise DomainError(say("That offer is on record for this day already."))
        prices = {**prices, row.from_packs: row.price}
        check_offer(row.pack, prices, row.lead_days)
        days = self.lead_days.get(key, self.known.lead_days.get(key, row.lead_days))
        if values["days"] and row.lead_days != days:
            raise DomainError(
                say("Days: this offer comes in {days} days, as it is on record.", days=days)
            )
        self.offers[key], self.lead_days[key] = prices, days
        return row

    def stock(self, values: Values) -> StockRow:
        """So much of a thing."""
        item, measure = self._thing(values)
        quantity = parse_quantity(values["quantity"], measure, self.known.unit)
        row = StockRow(
            item, quantity, self.amount(values["cost"], to_say("Cost")), self.day(values["day"])
        )
        if row.day > self.on:
            raise DomainError(say("Day: this day has not come yet."))
        check_receipt(row.quantity, row.cost)
        return row

    def _thing(self, values: Values) -> tuple[str, str]:
        """Item key and measure of the material of a name, or the sheet of a paper and a size."""
        alike = folded(values["thing"])
        name = self.called["Material"].get(alike, "")
        if name in self.materials:
            if self.materials[name].retired:
                raise DomainError(say("“{name}” was put away; bring it back first.", name=name))
            return self.materials[name].key, self.materials[name].measure
        name = self.called["Paper"].get(alike, "")
        if name not in self.papers:
            raise DomainError(
                say("There is no material or paper called “{name}”.", name=values["thing"][:60])
            )
        if self.facts[name].retired:
            raise DomainError(say("“{name}” was put away; bring it back first.", name=name))
        sheets = self.papers[name]
        if not values["width"] or not values["height"]:
            if len(sheets) == 1:
                return sheets[0].key, _measure(sheets[0])
            raise DomainError(say("Which sheet? Give its width and height."))
        unit = self.known.unit
        high = values["height"]
        size = (
            parse_length(values["width"], unit),
            (None if _is_roll(high) else parse_length(high, unit)),
        )
        for sheet in sheets:
            if sheet.called == size:
                return sheet.key, _measure(sheet)
        raise DomainError(say("{paper} has no sheet of that size yet.", paper=name))

    def amount(self, text: str, what: str) -> Decimal:
        """Money, no finer than the shop's currency counts it."""
        value, money = _decimal(text, what), self.known.currency
        if text.strip().endswith("%"):
            raise DomainError(
                say(
                    "{column}: “{typed}” is a share and no amount.",
                    column=say(what),
                    typed=text[:30],
                )
            )
        if value != round(value, money.digits):
            raise DomainError(
                say(
                    "{column}: {typed} is finer than {least}.",
                    column=say(what),
                    typed=text[:30],
                    least=money.show(money.step),
                )
            )
        return value

    def name(self, text: str, what: str) -> str:
        """A name or a way to reach somebody, of a length and of signs that can be printed."""
        return _name(text, what)

    def whole(self, text: str, what: str, least: int) -> int:
        """A whole number from ``least`` on."""
        return _whole(text, what, least)

    def day(self, text: str) -> date:
        """A day; the reader's own where none is said."""
        if not text:
            return self.on
        try:
            day = date.fromisoformat(text)
        except ValueError:
            raise DomainError(
                say("“{typed}” is no day; write it as 2027-03-01.", typed=text[:30])
            ) from None
        if not 2000 <= day.year <= 2100:
            raise DomainError(
                say("“{typed}” lies outside the years 2000 to 2100.", typed=text[:30])
            )
        return day


def _is_roll(height: str) -> bool:
    return height.casefold() == "roll"


def _measure(sheet: KnownSheet) -> str:
    return "length" if sheet.kind == SheetKind.ROLL else "count"


def _decimal(text: str, what: str, least: int = 0) -> Decimal:
    try:
        value = read_number(text.strip().strip("£€$¥% "))
    except DomainError as error:
        raise DomainError(about(say(what), error.message)) from None
    if not value.is_finite() or not least <= value < 10**9 or value != round(value, 4):
        raise DomainError(
            say(
                "{column}: {typed} is out of bounds, or finer than four decimals.",
                column=say(what),
                typed=text[:30],
            )
        )
    return value


def _within(nm: int, least: int, most: int, what: str, unit: str) -> int:
    if not least <= nm <= most:
        low, high = show_length(least, unit), show_length(most, unit)
        raise DomainError(
            say("{column} lies between {low} and {high}.", column=say(what), low=low, high=high)
        )
    return nm


def _whole(text: str, what: str, least: int) -> int:
    value = _decimal(text, what)
    if value < least:
        raise DomainError(say("{column}: at least {least}.", column=say(what), least=least))
    if value != int(value):
        raise DomainError(
            say("{column}: “{typed}” is not a whole number.", column=say(what), typed=text[:30])
        )
    return int(value)


def _name(text: str, what: str) -> str:
    if len(text) > 120:
        raise DomainError(say("{column} has more than 120 characters.", column=say(what)))
    if not text.isprintable():
        raise DomainError(say("{column} holds signs that cannot be printed.", column=say(what)))
    return text
