"""The demo's invented figures: a bindery by a saltmarsh, its papers, prices and customers."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from app.core.length import METRE, MM

SETTINGS: dict[str, Any] = {
    "name": "Saltmarsh Bindery",
    "currency": "GBP",
    "unit": "mm",
    "pay_per_hour": Decimal("16"),
    "overhead_a_year": Decimal("1920"),
    "bench_hours_a_year": 600,
    "allowance": Decimal("0.1"),
    "spoilage": Decimal("0.03"),
    "tax": Decimal(0),
    "kerf_nm": 0,
    "sheets_a_stroke": 20,
    "batch_size": 12,
    "print_paper": "A4",
    "monday": 150,
    "tuesday": 180,
    "wednesday": 0,
    "thursday": 180,
    "friday": 150,
    "saturday": 0,
    "sunday": 120,
}

CHANNELS: dict[str, dict[str, Any]] = {
    "Direct order": {
        "fee_rate": Decimal("0.02"), "fixed_fee": Decimal("0.20"), "margin": Decimal("0.35"),
        "price_point": "half",
    },
    "Market stall": {
        "fee_rate": Decimal("0.0175"), "fixed_fee": Decimal(0), "margin": Decimal("0.38"),
        "price_point": "whole",
    },
    "Shops, wholesale": {
        "fee_rate": Decimal(0), "fixed_fee": Decimal(0), "margin": Decimal("0.12"),
        "price_point": "half", "wholesale": True,
    },
}  # fmt: skip

MILL, CHANDLER, TINKER = "Quayside Paper Store", "Lantern Lane Haberdashery", "Oddments by Wren"
POSTAGE: tuple[dict[str, Any], ...] = tuple(
    {"name": name, "most_grams": grams, "long_nm": long * MM, "wide_nm": wide * MM,
     "thick_nm": thick * MM, "price": Decimal(price), "retired": False}
    for name, grams, long, wide, thick, price in (
        ("Flat packet", 250, 350, 250, 25, "2.10"),
        ("Small parcel", 1000, 450, 350, 160, "3.95"),
        ("Parcel", 5000, 600, 450, 450, "6.40"),
    )
)  # fmt: skip
"""Invented, like everything here."""

SUPPLIERS = (
    (MILL, "counter@quayside.example", "Closed on Mondays; sends twice a week."),
    (CHANDLER, "post@lanternlane.example", ""),
    (TINKER, "wren@oddments.example", "Slow but kind."),
)

PAPERS = (
    (
        "cartridge",
        {"name": "Cartridge, ivory 150", "grammage": Decimal(150), "caliper_nm": 190_000,
         "colour": "ivory", "finish": "smooth", "note": ""},
        (
            ("cartridge-large", 640, 900, "height", False),
            ("cartridge-small", 420, 594, "height", False),
        ),
    ),
    (
        "watercolour",
        {"name": "Watercolour, rough 300", "grammage": Decimal(300), "caliper_nm": 500_000,
         "colour": "white", "finish": "rough", "note": "Measure each making: it swells."},
        (
            ("watercolour-half", 560, 760, "height", False),
            ("watercolour-full", 760, 1120, "width", False),
        ),
    ),
    (
        "card",
        {"name": "Peat-fibre card 270", "grammage": Decimal(270), "caliper_nm": 350_000,
         "colour": "brown", "finish": "felt", "note": ""},
        (("card-large", 640, 900, "height", False), ("card-small", 500, 700, "width", False)),
    ),
    (
        "blockprint",
        {"name": "Reed-pattern wrap 200", "grammage": Decimal(200), "caliper_nm": 280_000,
         "colour": "green", "finish": "block print", "note": "The reeds grow upwards."},
        (("blockprint", 500, 700, "height", True),),
    ),
    (
        "board",
        {"name": "Grey board 2 mm", "grammage": Decimal(1250), "caliper_nm": 2_000_000,
         "colour": "grey", "finish": "", "note": "Cut it with the grain up the spine."},
        (("board", 500, 700, "height", False),),
    ),
    (
        "combed",
        {"name": "Combed paste paper", "grammage": Decimal(190), "caliper_nm": 240_000,
         "colour": "blue", "finish": "combed", "note": "Made here, on the cartridge."},
        (("combed", 400, 570, "height", False),),
    ),
)  # fmt: skip

MATERIALS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("linen", {"name": "Linen thread 18/3, flax", "measure": "length", "waste": Decimal("0.05"),
               "weight_mg": 310, "note": ""}),
    ("cord", {"name": "Waxed cotton cord 2 mm", "measure": "length", "waste": Decimal("0.04"),
              "weight_mg": 2600, "note": ""}),
    ("glass", {"name": "Sea-glass beads 8 mm", "measure": "count", "waste": Decimal(0),
               "weight_mg": 640, "note": "Hole 2.5 mm."}),
    ("wood", {"name": "Ash-wood beads 10 mm", "measure": "count", "waste": Decimal(0),
              "weight_mg": 420, "note": ""}),
    ("wax", {"name": "Beeswax for thread", "measure": "mass", "waste": Decimal(0),
             "weight_mg": 0, "note": ""}),
    ("paste", {"name": "Wheat-starch paste", "measure": "mass", "waste": Decimal("0.10"),
               "weight_mg": 0, "note": ""}),
    ("band", {"name": "Flat elastic 6 mm", "measure": "length", "waste": Decimal("0.03"),
              "weight_mg": 1900, "note": ""}),
)  # fmt: skip

# supplier, thing, pack in base units, {from packs: price of a pack}, lead days, days ago
OFFERS: tuple[tuple[str, str, int, dict[int, str], int, int], ...] = (
    (MILL, "cartridge-large", 25, {1: "22.50", 4: "20.00"}, 4, 420),
    (MILL, "cartridge-small", 50, {1: "21.00"}, 4, 420),
    (MILL, "watercolour-half", 10, {1: "43.00", 5: "39.50"}, 4, 420),
    (MILL, "watercolour-half", 10, {1: "46.00", 5: "42.00"}, 4, 90),
    (TINKER, "watercolour-full", 5, {1: "47.50"}, 12, 300),
    (MILL, "card-large", 10, {1: "18.50", 3: "17.00"}, 4, 420),
    (MILL, "card-small", 10, {1: "12.00"}, 4, 420),
    (TINKER, "blockprint", 5, {1: "17.50", 4: "16.00"}, 12, 420),
    (CHANDLER, "linen", 50 * METRE, {1: "5.40", 6: "4.90"}, 6, 420),
    (CHANDLER, "cord", 25 * METRE, {1: "6.25"}, 6, 420),
    (TINKER, "cord", 100 * METRE, {1: "21.00"}, 12, 200),
    (TINKER, "glass", 60, {1: "7.20", 5: "6.30"}, 12, 420),
    (CHANDLER, "wood", 50, {1: "4.00"}, 6, 420),
    (CHANDLER, "wax", 100_000, {1: "3.80"}, 6, 420),
    (MILL, "board", 10, {1: "19.00"}, 4, 420),
    (CHANDLER, "paste", 500_000, {1: "5.60"}, 6, 420),
    (TINKER, "band", 25 * METRE, {1: "4.50"}, 12, 60),
)


@dataclass(frozen=True)
class RecipeRow:
    """What is made here: ``pieces`` are papers with the size cut, ``goods`` in base units."""

    makes: str
    at_a_time: int
    pieces: tuple[tuple[str, int, int], ...]
    goods: tuple[tuple[str, int], ...]
    setup: str
    minutes: str
    days: int
    loss: str


RECIPES = (
    RecipeRow("combed", 1, (("cartridge", 400, 570),), (("paste", 60_000),), "15", "8", 1, "0.05"),
)


@dataclass(frozen=True)
class JournalRow:
    """A journal of the demo; prices are for direct orders, the stall, and shops."""

    key: str
    name: str
    dimensions: dict[str, int | str]
    choices: dict[str, str]
    prices: tuple[str, str, str]
    variants: tuple[str, ...]
    shelf_level: int = 0
    note: str = ""
    parts: tuple[tuple[str, str, int, str, str], ...] = ()
    """Name, material, base units of it, per what, minutes."""


def _size(height: int, width: int, **more: int | str) -> dict[str, int | str]:
    return {"leaf_height": height * MM, "leaf_width": width * MM, **more}


def _dressed(leaves: str, cover: str, beads: str) -> dict[str, str]:
    return {"leaves": leaves, "cover": cover, "thread": "linen", "cord": "cord", "beads": beads}


JOURNALS = (
    JournalRow(
        "estuary", "Estuary sketch journal", _size(160, 120),
        _dressed("watercolour", "card", "glass"), ("46", "48", "31.5"),
        ("Brown", "Brown, green beads"),
        note="Wet-proof enough for a walk on the marsh.",
    ),
    JournalRow(
        "heron", "Heron field journal", _size(160, 120, signatures=4, folios=6),
        _dressed("cartridge", "card", "wood"), ("42", "44", "30"), ("Brown",), 2,
    ),
    JournalRow(
        "reed", "Reed pocket book", _size(148, 105, signatures=2, folios=8, end_distance=22 * MM),
        _dressed("cartridge", "blockprint", "wood"), ("33.5", "35", "24"), ("Reeds",), 3,
    ),
    JournalRow(
        "samphire", "Samphire pocket book",
        _size(
            148, 105, signatures=5, folios=4, stations="5", end_distance=19 * MM, beads_each_end=5
        ),
        _dressed("cartridge", "card", "glass"), ("24", "25", "17"), ("Brown",),
        note="Everybody's favourite at this price. Why?",
    ),
    JournalRow(
        "curlew", "Curlew daybook",
        _size(230, 148, signatures=4, folios=6, stations="5", end_distance=28 * MM),
        _dressed("cartridge", "card", "wood"), ("54", "56", "38"), ("Brown",),
        note="Five millimetres taller than it need be.",
        parts=(("Thread, waxed", "wax", 400, "signature", "0.5"),),
    ),
    JournalRow(
        "lapwing", "Lapwing travel book",
        _size(
            165, 105, signatures=3, folios=4, flap=0, closing="elastic", corners="rounded",
            corner_size=5 * MM, folio2_count=1, folio2_inside=2, folio2_height=135 * MM,
            insert1_count=1, insert1_how="pocket", insert1_width=200 * MM,
            insert1_height=140 * MM,
        ),
        {"leaves": "cartridge", "folio2": "watercolour", "insert1": "blockprint", "cover": "card",
         "thread": "linen", "elastic": "band"},
        ("39.5", "41", "28"), ("Grey",),
        note="One low sheet for colour in every signature, and a pocket for tickets.",
    ),
)  # fmt: skip

# thing, quantity in base units, cost in all, days ago
EARLIER: tuple[tuple[str, int, str, int], ...] = (
    ("wax", 80_000, "3.04", 200),
    ("cartridge-large", 50, "45.00", 190),
    ("cartridge-small", 16, "6.72", 190),
    ("watercolour-half", 8, "34.40", 190),
    ("card-small", 7, "8.40", 190),
    ("blockprint", 4, "14.00", 190),
    ("linen", 72 * METRE, "7.78", 190),
    ("cord", 85 * METRE, "21.25", 190),
    ("glass", 208, "24.96", 190),
    ("wood", 210, "16.80", 190),
)
"""What the past half year was made from."""

# days ago, which and how many, minutes it took
BATCHES: tuple[tuple[int, dict[str, int], str], ...] = (
    (178, {"samphire/Brown": 3, "estuary/Brown": 1}, "295"),
    (151, {"reed/Reeds": 7}, "265"),
    (124, {"estuary/Brown": 2}, "95"),
    (94, {"heron/Brown": 3}, "180"),
    (66, {"curlew/Brown": 1, "samphire/Brown": 3}, "330"),
)

COUNTED_ON = 62
COUNTED: tuple[tuple[str, int], ...] = (
    ("cartridge-large", 25),
    ("cartridge-small", 14),
    ("watercolour-half", 2),
    ("card-small", 2),
    ("blockprint", 2),
    ("linen", 46 * METRE),
    ("cord", 58 * METRE),
    ("glass", 128),
    ("wood", 144),
)
"""What the count of two months ago found, in base units."""

STOCK: tuple[tuple[str, int, str, int], ...] = (
    ("cartridge-large", 9, "8.10", 60),
    ("watercolour-half", 4, "18.40", 40),
    ("card-large", 4, "7.40", 60),
    ("blockprint", 4, "14.00", 60),
)
"""What came in since."""
SHELF: tuple[tuple[str, int, str, int], ...] = (
    ("estuary/Brown", 1, "20.60", 20),
    ("reed/Reeds", 3, "41.90", 15),
    ("heron/Brown", 2, "39.30", 15),
)


@dataclass(frozen=True)
class OrderRow:
    """An order of the demo; days are counted from the day the demo is loaded."""

    customer: str
    logged: int
    wanted: int
    state: str
    lines: tuple[tuple[str, int, str, str], ...]
    channel: str = "Direct order"
    paid: str = ""
    how: str = "transfer"
    reach: str = ""


WAY_TO: dict[str, tuple[str, ...]] = {
    "enquiry": (),
    "declined": ("declined",),
    "cancelled": ("accepted", "cancelled"),
    "accepted": ("accepted",),
    "in progress": ("accepted", "in progress"),
    "ready": ("accepted", "in progress", "ready"),
    "delivered": ("accepted", "in progress", "ready", "delivered"),
}


def _past(customer: str, logged: int, key: str, quantity: int, price: str, **more: Any) -> OrderRow:
    row = {"state": "delivered", "paid": "all", "wanted": logged + 24, **more}
    wish = row.pop("wish", "")
    return OrderRow(customer, logged, lines=((key, quantity, price, wish),), **row)


ORDERS: tuple[OrderRow, ...] = (
    _past("Ines Calloway", -352, "estuary/Brown", 1, "44.00", reach="ines@calloway.example"),
    _past("Tobias Wren-Hale", -338, "heron/Brown", 2, "40.00"),
    _past("The Ferry Bookroom", -320, "reed/Reeds", 6, "22.00", channel="Shops, wholesale"),
    _past("Maud Ansty", -301, "samphire/Brown", 1, "24.00", wish="initials M.A. on the flap"),
    _past("Piotr Zielny", -287, "curlew/Brown", 1, "52.00"),
    _past("Odile Marchetti", -270, "estuary/Brown", 2, "44.00"),
    _past("The Ferry Bookroom", -255, "samphire/Brown", 8, "16.50", channel="Shops, wholesale"),
    _past("Kwame Adusei", -241, "heron/Brown", 1, "42.00", reach="07700 900 318"),
    _past("Lise Brandvold", -229, "reed/Reeds", 3, "33.00"),
    _past("Gwen Parry-Lloyd", -214, "estuary/Brown", 1, "46.00", state="cancelled", paid=""),
    _past("Ravi Menon", -203, "curlew/Brown", 2, "54.00", wish="ruled by hand, please"),
    _past("Studio at the Sluice", -190, "heron/Brown", 5, "29.00", channel="Shops, wholesale"),
    _past("Nora Blythe", -176, "samphire/Brown", 2, "24.00"),
    _past("Ines Calloway", -160, "estuary/Brown", 1, "46.00"),
    _past("Felix Oduya", -149, "reed/Reeds", 1, "33.50"),
    _past("Hanneke Visser", -133, "curlew/Brown", 1, "54.00", state="declined", paid=""),
    _past("Tamsin Rook", -121, "samphire/Brown", 1, "24.00", wish="blue beads if there are any"),
    _past("The Ferry Bookroom", -108, "reed/Reeds", 6, "24.00", channel="Shops, wholesale"),
    _past("Ada Fenwick", -92, "heron/Brown", 1, "42.00", reach="ada@fenwick.example"),
    _past("Kwame Adusei", -77, "estuary/Brown", 2, "46.00"),
    _past("Jonas Reuter", -63, "curlew/Brown", 1, "54.00"),
    _past("Odile Marchetti", -50, "samphire/Brown", 3, "24.00"),
    _past("Lise Brandvold", -41, "heron/Brown", 2, "42.00"),
    OrderRow("Maud Ansty", -26, 3, "ready", (("heron/Brown", 1, "42.00", "M.A. once more"),),
             paid="20.00"),
    OrderRow("Ravi Menon", -21, 6, "in progress",
             (("estuary/Brown", 3, "46.00", "one with a loop for a brush"),), paid="40.00"),
    OrderRow("The Ferry Bookroom", -18, 8, "in progress",
             (("reed/Reeds", 8, "24.00", ""), ("samphire/Brown", 4, "17.00", "")),
             channel="Shops, wholesale"),
    OrderRow("Beatriz Lomas", -11, 7, "accepted",
             (("curlew/Brown", 2, "54.00", "names stamped: Bea, Leo"),), paid="54.00", how="card",
             reach="bea@lomas.example"),
    OrderRow("Studio at the Sluice", -8, 21, "accepted",
             (("heron/Brown", 6, "30.00", ""), ("estuary/Brown, green beads", 4, "31.50", "")),
             channel="Shops, wholesale"),
    OrderRow("Gwen Parry-Lloyd", -3, 26, "accepted", (("samphire/Brown", 2, "24.00", ""),),
             reach="07700 900 742"),
    OrderRow("Yusuf Demir", -1, 30, "enquiry",
             (("estuary/Brown", 1, "46.00", "a present, wrapped"),), reach="yusuf@demir.example"),
)  # fmt: skip

LETTERHEAD: dict[str, Any] = {
    "address": "Net Loft, Staithe Row\nUpper Staithe",
    "country": "GB",
    "contact": "bench@saltmarsh.example\n01632 960 417",
    "register_number": "UTR 00000 12345",
    "no_tax_because": "No VAT is charged: the bindery is not registered for it.",
    "pay_how": "By transfer to Saltmarsh Bindery, sort code 00-00-00, account 00012345.",
    "care": "Keep it out of long sun and away from damp.\n"
    "The cord is waxed: warm it in the hand when it is stiff.",
}


@dataclass(frozen=True)
class PastMarket:
    """A market that was; by journal how many were packed, sold and given away, how paid."""

    name: str
    place: str
    days_ago: int
    stall_fee: str
    travel: str
    hours: int
    took: dict[str, tuple[int, int, int]]
    by_card: int
    float_cash: str
    cash_counted: str
    card_fees: str
    stall_hours: int
    travel_minutes: int


MADE_FOR: dict[str, str] = {
    "estuary/Brown": "20.60", "reed/Reeds": "13.97", "heron/Brown": "19.65",
    "samphire/Brown": "24.20",
}  # fmt: skip
"""What one cost that was made for them, before there were batches on record."""

PAST_MARKETS: tuple[PastMarket, ...] = (
    PastMarket(
        "Staithe summer stalls", "Quay green, Upper Staithe", 158, "35.00", "6.00", 6,
        {"estuary/Brown": (4, 3, 0), "reed/Reeds": (6, 6, 0), "heron/Brown": (4, 2, 0),
         "samphire/Brown": (5, 4, 1)},
        7, "40.00", "334.00", "4.31", 8, 50,
    ),
    PastMarket(
        "Lammas Yard harvest fair", "Lammas Yard, under the clock", 118, "40.00", "14.00", 6,
        {"estuary/Brown": (5, 4, 0), "reed/Reeds": (8, 7, 0), "heron/Brown": (4, 3, 0),
         "samphire/Brown": (5, 5, 0)},
        9, "40.00", "382.00", "5.85", 8, 110,
    ),
)  # fmt: skip
LIKE = "Lammas Yard harvest fair", "Staithe summer stalls"
"""The first market to come is like the first of these, and that one like the second."""

MARKETS: tuple[tuple[str, str, int, str, str, dict[str, int]], ...] = (
    ("Lammas Yard makers' day", "Lammas Yard, under the clock", 24, "45.00", "14.00",
     {"estuary/Brown": 5, "reed/Reeds": 8, "heron/Brown": 4, "samphire/Brown": 5}),
    ("Winter fair at the Tithe Barn", "Tithe Barn, Upper Staithe", 38, "70.00", "22.00",
     {"estuary/Brown": 8, "estuary/Brown, green beads": 3, "curlew/Brown": 4, "reed/Reeds": 8}),
)  # fmt: skip
