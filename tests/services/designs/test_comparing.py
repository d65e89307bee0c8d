"""What a little more does, designs side by side, parcels, maps, and things without sheets."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from app.core.cutting.one_sheet.yields import yield_of
from app.core.errors import DomainError
from app.core.length import METRE, MM
from app.core.paper import Piece
from app.core.structures import structures
from app.services.designs import journals
from app.services.designs import postage as posting
from app.services.designs.comparing import compare, nudges
from app.services.designs.journals import Draft, draft_of, estimate
from app.services.designs.price_book import read_prices
from app.services.designs.yield_stairs import yield_map, yield_stairs
from app.services.purchasing.buy_list import buy_list
from app.services.shop.settings import channels, the_shop
from tests.conftest import DAY
from tests.factories import Bench, material, offer


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def test_one_more_bead_and_one_more_signature_cost_what_they_cost(
    session: Session, bench: Bench
) -> None:
    draft = draft_of(bench.variant)
    now = estimate(session, bench.variant, DAY)
    rows = {n.label: n for n in nudges(read_prices(session, DAY), draft, now)}
    for key, label in (("signatures", "signatures"), ("beads_each_end", "beads on each end"),
                       ("leaf_height", "leaf height")):  # fmt: skip
        step = 5 * MM if key == "leaf_height" else 1
        dims = draft.dimensions | {key: int(draft.dimensions[key]) + step}  # type: ignore[operator]
        other = bench.begin(f"Another, {key}", **dims).current.variants[0]
        assert rows[label].cost == estimate(session, other, DAY).sheet.total() - now.sheet.total()
    assert [abs(n.cost) for n in rows.values()] == sorted(
        (abs(n.cost) for n in rows.values()), reverse=True
    )
    assert rows["leaf height"].more == "5 mm"


def test_designs_side_by_side(session: Session, bench: Bench) -> None:
    tall = journals.keep_as_next(session, bench.variant, bench.draft(leaf_height=200 * MM))
    sides, rows = compare(session, [bench.variant, tall], DAY)
    assert [side.trouble for side in sides] == ["", ""]
    said = {row.label: row for row in rows}
    assert said["Leaf: height"].said == ("160 mm", "200 mm")
    assert said["Leaf: width"].same
    assert said["Cost"].said[0] == f"€{estimate(session, bench.variant, DAY).sheet.total()}"
    hopeless = bench.begin("Hopeless", square=-80 * MM).current.variants[0]
    sides, rows = compare(session, [bench.variant, hopeless], DAY)
    assert rows == []
    assert "hardly any cover" in sides[1].trouble


def test_what_is_asked_stands_beside_what_is_suggested(session: Session, bench: Bench) -> None:
    cheap = bench.begin("Cheap").current.variants[0]
    [price] = cheap.prices
    price.amount = Decimal("1.00")
    _, rows = compare(session, [bench.variant, cheap], DAY)
    said = {row.label: row.said for row in rows}
    name = bench.channel.name
    assert said[f"{name}, your price"] == ("€40.00", "€1.00")
    profit = said[f"{name}, profit at it"]
    at = next(p.at_asked for p in estimate(session, bench.variant, DAY).prices)
    assert at is not None
    assert profit[0] == f"€{at.profit}"
    assert profit[1].endswith(", a loss")
    # Where nobody asks anything, nothing is said.
    assert [label for label in said if "your price" in label] == [f"{name}, your price"]


BAND = {
    "name": "Large letter", "most_grams": 250, "long_nm": 353 * MM, "wide_nm": 250 * MM,
    "thick_nm": 25 * MM, "price": Decimal("1.85"), "retired": False,
}  # fmt: skip


def test_the_cheapest_band_that_weight_and_size_allow(session: Session, bench: Bench) -> None:
    worked = estimate(session, bench.variant, DAY)
    shop = the_shop(session)
    empty = posting.parcel(session, worked.build, worked.weight_mg, shop)
    assert (empty.band, empty.bands) == (None, False)
    posting.save_band(session, None, BAND)
    posting.save_band(session, None, BAND | {"name": "Parcel", "most_grams": 2000,
                                             "thick_nm": 200 * MM, "price": Decimal("4.20")})  # fmt: skip
    found = posting.parcel(session, worked.build, worked.weight_mg, shop)
    assert found.band is not None
    assert found.band.name == "Large letter"
    assert found.grams == -(-(worked.weight_mg / 1000 + 30) // 1)
    long, wide, thick = found.sides_nm
    assert (long, wide) == (180 * MM, 136 * MM)
    assert thick == worked.build.thickness_nm + 10 * MM
    shop.packing_grams = 1500
    heavy = posting.parcel(session, worked.build, worked.weight_mg, shop)
    assert heavy.band is not None
    assert heavy.band.name == "Parcel"
    shop.packing_grams = 9000
    assert posting.parcel(session, worked.build, worked.weight_mg, shop).band is None


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"wide_nm": 400 * MM}, "wide_nm"), ({"thick_nm": 300 * MM}, "thick_nm"), ({}, "name")],
)
def test_a_band_that_makes_no_sense_is_refused(
    session: Session, bench: Bench, changes: dict[str, Any], field: str
) -> None:
    posting.save_band(session, None, BAND)
    name = {"name": "Other"} if changes else {}
    with pytest.raises(DomainError) as caught:
        posting.save_band(session, None, BAND | name | changes)
    assert caught.value.field == field


def test_the_map_is_the_yield_at_every_place(session: Session, bench: Bench) -> None:
    dims = bench.variant.design.dimensions
    worked = estimate(session, bench.variant, DAY)
    found = yield_map(worked, dims)
    assert [m.role.role.key for m in found] == ["leaves", "cover"]
    leaves = found[0]
    assert leaves.role.chosen is not None
    sheet = leaves.role.chosen.cut.sheet
    for row in leaves.rows[::8]:
        for width in range(leaves.low_nm, leaves.high_nm, 7 * MM):
            piece = Piece("folio", 2 * width, row.height_nm, 1, "height")
            count = next(s.count for s in row.steps if width <= s.up_to_nm)
            assert count == yield_of(piece, sheet).best


@pytest.mark.parametrize("leaf", [(105, 148), (120, 160), (148, 210)])
def test_stairs_equal_a_scan_at_a_tenth_of_a_millimetre(
    session: Session, bench: Bench, leaf: tuple[int, int]
) -> None:
    """Every step is found, and none that is not there."""
    width, height = leaf
    variant = bench.begin(
        "Scanned", leaf_width=width * MM, leaf_height=height * MM
    ).current.variants[0]
    worked = estimate(session, variant, DAY)
    for row in yield_stairs(worked, variant.design.dimensions):
        chosen = row.role.chosen
        assert chosen is not None
        piece = row.role.piece
        now = row.now_nm
        wide = 2 if row.dimension == "leaf_width" else 0
        high = 1 if row.dimension == "leaf_height" else 0
        seen = []
        for x in range(row.low_nm, row.steps[-1].up_to_nm + 1, MM // 10):
            moved = Piece(piece.name, piece.width_nm + wide * (x - now),
                          piece.height_nm + high * (x - now), 1, piece.grain)  # fmt: skip
            count = yield_of(moved, chosen.cut.sheet).best
            assert count == next(s.count for s in row.steps if x <= s.up_to_nm)
            if not seen or seen[-1] != count:
                seen.append(count)
        assert seen == [s.count for s in row.steps]


def parts(bench: Bench, **quantities: int) -> Draft:
    ribbon = material(bench.session, "Ribbon")
    offer(bench.session, ribbon, "3", 10 * METRE)
    direct = channels(bench.session)[0]
    return Draft(
        "parts_list", structures()["parts_list"].defaults(),
        {"part_1": ribbon, "part_2": bench.beads}, {direct.id: Decimal("4.00")},
        quantities=quantities or {"part_1": 120 * MM, "part_2": 2},
    )  # fmt: skip


def test_a_thing_with_a_parts_list_is_costed_ordered_and_bought(
    session: Session, bench: Bench
) -> None:
    loop = journals.begin_journal(session, "Pen loop", parts(bench))
    variant = loop.current.variants[0]
    worked = estimate(session, variant, DAY)
    assert worked.whole
    # 120 mm of a ribbon at 3.00 for 10 m is 0.036; two beads at 6.00 for 60 are 0.20.
    assert worked.sheet.total("materials") == Decimal("0.04") + Decimal("0.20")
    bench.agreed(quantity=100, variant=variant)
    lines = {line.name: line.packs for line in buy_list(session, DAY).lines}
    # 12 m of ribbon and 200 beads.
    assert lines == {"Ribbon": 2, "Beads": 4}


def test_changing_only_how_much_makes_the_next_design_of_a_promised_one(
    session: Session, bench: Bench
) -> None:
    loop = journals.begin_journal(session, "Pen loop", parts(bench))
    variant = loop.current.variants[0]
    bench.agreed(variant=variant)
    draft = draft_of(variant)
    more = Draft(draft.structure, draft.dimensions, draft.choices, draft.prices, 0,
                 {"part_1": 150 * MM, "part_2": 2})  # fmt: skip
    kept = journals.keep_design(session, variant, more, variant.design.version)
    assert kept.design.number == 2
    assert journals.quantities_of(variant)["part_1"] == 120 * MM


@pytest.mark.parametrize("key", [k for k in structures() if k != "parts_list"])
def test_every_structure_goes_from_design_to_buy_list(
    session: Session, bench: Bench, key: str
) -> None:
    made = structures()[key]
    paste = material(session, "Paste", "mass")
    offer(session, paste, "8", 1_000_000)
    goods: dict[str, Any] = {"mass": paste, "length": bench.thread, "count": bench.beads}
    choices = {
        r.key: goods.get(r.measure) or (bench.paper if r.key in ("leaves", "strip") else bench.card)
        for r in made.roles
    }
    direct = channels(session)[0]
    draft = Draft(key, made.defaults(), choices, {direct.id: Decimal("30.00")})
    variant = journals.begin_journal(session, "Try", draft).current.variants[0]
    worked = estimate(session, variant, DAY)
    assert worked.whole, worked.missing
    assert worked.weight_mg > 0
    bench.agreed(quantity=12, variant=variant)
    found = buy_list(session, DAY)
    assert found.problems == ()
    assert {bench.paper.name} | {bench.card.name} >= {p.paper.name for p in found.papers} > set()


def test_several_lie_on_one_another_in_one_parcel(session: Session) -> None:
    """Sides of the largest, thicknesses and weights together, packing once."""
    shop, bench = the_shop(session), Bench(session)
    book = read_prices(session, DAY)
    small, large = (
        journals.estimate_by(
            book, bench.begin(f"{wide}", leaf_width=wide, leaf_height=high).current.variants[0]
        )
        for wide, high in ((100 * MM, 140 * MM), (200 * MM, 150 * MM))
    )
    found = posting.parcel_of(
        session, [(small.build, small.weight_mg, 3), (large.build, large.weight_mg, 1)], shop
    )
    high = 3 * small.build.thickness_nm + large.build.thickness_nm + 2 * shop.packing_nm
    long, wide = large.build.closed_width_nm, large.build.closed_height_nm
    assert found.sides_nm == (long + 2 * shop.packing_nm, wide + 2 * shop.packing_nm, high)
    weight = (3 * small.weight_mg + large.weight_mg) / 1000 + shop.packing_grams
    assert 0 <= found.grams - weight < 1
