"""Tables taken in and taken away: every refused row told why, and nothing a spreadsheet would run."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE, MM
from app.core.numbers import number_style, read_number
from app.documents.tables import Table, as_csv, as_xlsx, read_table, safe
from app.models import Customer, Material, Order, Paper, Supplier
from app.services.exchange.exporting import LISTS, list_of
from app.services.exchange.importing import KINDS, Taken, matched, read_rows, take_in
from app.services.exchange.known import known_names
from app.services.orders.search import search_orders
from app.services.stock import ledger as stock
from app.services.stock.materials import put_away
from tests.conftest import DAY, count
from tests.factories import Bench


def taken(session: Session, kind: str, text: str, **more: bool) -> Taken:
    table = read_table("t.csv", text.encode())
    return take_in(session, KINDS[kind], table, matched(KINDS[kind], table.heads), DAY, **more)


MATERIALS = "Material;Measured by;Waste\nRamie thread;length;5\nHorn beads;count;\nWax;mass;2,5\n"


def test_materials_by_their_heads(session: Session) -> None:
    found = taken(session, "materials", MATERIALS)
    assert (found.taken, found.refused, found.kept) == (3, (), True)
    thread = session.scalars(select(Material).where(Material.name == "Ramie thread")).one()
    assert (thread.measure, thread.waste) == ("length", Decimal("0.05"))


def test_a_whole_stockroom_comes_in(session: Session) -> None:
    taken(session, "materials", MATERIALS)
    found = taken(
        session, "papers",
        "Paper,g/m²,Thickness,Width,Height,Grain\n"
        "Laid,120,0.15 mm,640,900,height\nLaid,,,420 mm,594 mm,\n",
    )  # fmt: skip
    assert found.refused == ()
    found = taken(
        session, "offers",
        "Thing,Width,Height,Supplier,Pack,Pack price,From packs,Days\n"
        "Laid,640,900,Mill,25,20.00,,4\nLaid,640,900,Mill,25,18.00,5,4\n"
        "Ramie thread,,,Chandler,50 m,5.40,,6\n",
    )  # fmt: skip
    assert found.refused == ()
    found = taken(
        session, "stock",
        "Thing,Width,Height,Quantity,Cost,Day\nLaid,640,900,12,9.60,2026-11-02\n"
        "Ramie thread,,,31.5 m,3.30,\n",
    )  # fmt: skip
    assert found.refused == ()
    paper = session.scalars(select(Paper)).one()
    sheet = next(s for s in paper.sheets if s.width_nm == 640 * MM)
    assert stock.on_hand(session, sheet) == 12
    thread = session.scalars(select(Material).where(Material.name == "Ramie thread")).one()
    assert stock.on_hand(session, thread) == 63 * METRE // 2


@pytest.mark.parametrize(
    ("kind", "rows", "why"),
    [
        ("materials", "Material,Measure\n,length", "Material is missing"),
        ("materials", "Material,Measure\nTwine,furlongs", "length, count, mass, volume or area"),
        ("materials", "Material,Measure,Waste\nTwine,length,lots", "not a number"),
        ("materials", "Material,Measure,Waste\nTwine,length,130", "below 100"),
        ("papers", "Paper,Width,Height\nNew,100,100", "needs its weight"),
        ("papers", "Paper,g/m²,Thickness,Width,Height\nNew,100,.1,wide,100", "wide"),
        (
            "papers",
            "Paper,g/m²,Thickness,Width,Height,Grain\nNew,100,.1,9,9,sideways",
            "Grain runs",
        ),
        ("offers", "Thing,Supplier,Pack,Pack price\nNobody,Mill,5,1", "no material or paper"),
        ("stock", "Thing,Quantity,Cost\nNobody,5,1", "no material or paper"),
    ],
)
def test_a_refused_row_says_why(session: Session, kind: str, rows: str, why: str) -> None:
    found = taken(session, kind, rows)
    assert found.taken == 0
    assert found.refused[0].row == 2
    assert why in found.refused[0].why


def test_breaks_of_one_offer_come_together_and_go_out_again(session: Session) -> None:
    taken(session, "materials", MATERIALS)
    rows = "Thing,Supplier,Pack,Pack price,From packs\nWax,Mill,1 kg,20,\nWax,Mill,1 kg,18,5\n"
    assert taken(session, "offers", rows).refused == ()
    wax = session.scalars(select(Material).where(Material.name == "Wax")).one()
    assert [o.prices for o in wax.offers] == [{1: Decimal(20), 5: Decimal(18)}]
    found = taken(session, "offers", rows + "Wax,Mill,1 kg,25,9\n")
    assert ["on record" in r.why for r in found.refused] == [True, True, False]
    table = list_of(session, "offers", DAY)
    assert table is not None
    again = read_table("offers.csv", as_csv(table))
    match = matched(KINDS["offers"], again.heads)
    tried = read_rows(known_names(session), KINDS["offers"], again, match, DAY)
    assert len(tried.refused) == len(again.rows)
    assert all("on record" in r.why for r in tried.refused)


def test_rows_are_numbered_as_in_the_file(session: Session) -> None:
    found = taken(session, "materials", "Material,Measure\nTwine,length\n\n\nCord,furlongs\n")
    assert (found.taken, [r.row for r in found.refused]) == (1, [5])


@pytest.mark.parametrize(
    ("kind", "rows"),
    [
        ("papers", "Paper,g/m²,Thickness,Width,Height\nNeg,100,-1 mm,9 mm,9 mm"),
        ("stock", "Thing,Quantity,Cost,Day\nWax,1 kg,2,0001-01-01"),
        ("offers", "Thing,Supplier,Pack,Pack price,Days\nWax,Slow,1 kg,1,999999999"),
    ],
)
def test_what_cannot_be_is_refused(session: Session, kind: str, rows: str) -> None:
    taken(session, "materials", MATERIALS)
    assert len(taken(session, kind, rows).refused) == 1


def test_money_is_read_as_on_the_pages(session: Session) -> None:
    taken(session, "materials", MATERIALS)
    assert taken(session, "stock", 'Thing;Quantity;Cost\nWax;1 kg;"1.000,50"\n').refused == ()
    wax = session.scalars(select(Material).where(Material.name == "Wax")).one()
    assert stock.holdings(session)[stock.item_key(wax)].cost == Decimal("1000.50")


def test_all_or_nothing_and_only_trying_keep_nothing(session: Session) -> None:
    rows = MATERIALS + "Twine;furlongs;\n"
    table = read_table("t.csv", rows.encode())
    match = matched(KINDS["materials"], table.heads)
    read = read_rows(known_names(session), KINDS["materials"], table, match, DAY)
    assert (len(read.rows), len(read.refused), count(session, "material")) == (3, 1, 0)
    found = taken(session, "materials", rows, all_or_nothing=True)
    assert (found.kept, count(session, "material")) == (False, 0)
    found = taken(session, "materials", rows)
    assert (found.kept, count(session, "material")) == (True, 3)
    found = taken(session, "materials", MATERIALS, all_or_nothing=True)
    assert len(found.refused) == 3
    assert "already" in found.refused[0].why


def test_a_needed_column_must_be_matched(session: Session) -> None:
    with pytest.raises(DomainError, match="Say which column is “Measure”") as caught:
        taken(session, "materials", "Material\nTwine\n")
    assert caught.value.field == "match_measure"


@pytest.mark.parametrize(
    "data",
    [b"", b"\n\n", b"PK\x03\x04nonsense", b"\x00\x01\x02,\x00\n"],
)
def test_files_that_are_none(data: bytes) -> None:
    with pytest.raises(DomainError):
        read_table("t", data)


def test_too_much_is_refused() -> None:
    with pytest.raises(DomainError, match="rows"):
        read_table("t", b"a\n" + b"1\n" * 6000)
    with pytest.raises(DomainError, match="characters"):
        read_table("t", b"a\n" + b"x" * 3000 + b"\n")
    with pytest.raises(DomainError, match="columns"):
        read_table("t", b",".join(b"h%d" % n for n in range(70)) + b"\n")


@pytest.mark.parametrize("part", [b"<a/>" * 1_100_000, b"a" * 31_000_000])
def test_a_workbook_that_would_take_long_to_read_is_refused_before_it_is(part: bytes) -> None:
    out = io.BytesIO(as_xlsx(Table("t", ("a",), ((1,),))))
    with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/more.xml", part)
    assert len(out.getvalue()) < 50_000
    with pytest.raises(DomainError, match="The workbook is too large"):
        read_table("t.xlsx", out.getvalue())


@pytest.mark.parametrize("style", ["point", "comma"])
def test_a_number_in_a_workbook_means_itself_in_every_style(style: str) -> None:
    book = Workbook()
    book.active.append(["Thing", "Quantity", "Cost"])
    book.active.append(["Wax", 12.125, 1.1 * 3])
    out = io.BytesIO()
    book.save(out)
    number_style.set(style)
    try:
        [row] = read_table("t.xlsx", out.getvalue()).rows
        assert [read_number(str(cell)) for cell in row[1:]] == [Decimal("12.125"), Decimal("3.3")]
    finally:
        number_style.set("point")


def test_one_offer_has_one_time_to_come(session: Session) -> None:
    taken(session, "materials", MATERIALS)
    heads = "Thing,Supplier,Pack,Pack price,From packs,Days\n"
    rows = heads + "Wax,Mill,1 kg,20,1,3\nWax,Mill,1 kg,19,5,55\nWax,Mill,1 kg,18,9,\n"
    found = taken(session, "offers", rows)
    assert (found.taken, [r.row for r in found.refused]) == (2, [3])
    assert "comes in 3 days" in found.refused[0].why
    later = taken(session, "offers", heads + "Wax,Mill,1 kg,17,12,55\n")
    assert "comes in 3 days" in later.refused[0].why


def test_what_was_read_before_is_read_again_where_names_have_changed(session: Session) -> None:
    """Read while others write, kept in their turn: what they wrote counts."""
    table = read_table("t.csv", MATERIALS.encode())
    match = matched(KINDS["materials"], table.heads)
    before = read_rows(known_names(session), KINDS["materials"], table, match, DAY)
    assert (len(before.rows), before.refused) == (3, ())
    taken(session, "materials", "Material,Measure\nWax,mass\n")
    found = take_in(session, KINDS["materials"], table, match, DAY, before=before)
    assert (found.taken, [r.row for r in found.refused]) == (2, [4])
    assert count(session, "material") == 3


def test_a_row_refused_leaves_nothing_of_itself(session: Session) -> None:
    """Neither its paper nor its supplier, and a row after it may bring them."""
    heads = PAPERS.replace("\n", ";Grain\n")
    rows = heads + "New;120;0.14;640;900;across\nNew;120;0.14;640;900;width\n"
    found = taken(session, "papers", rows)
    assert (found.taken, [r.row for r in found.refused]) == (1, [2])
    assert count(session, "paper") == count(session, "stock_sheet") == 1
    heads = "Thing;Supplier;Pack;Pack price;From packs\n"
    found = taken(session, "offers", heads + "New;Mill;0;5;1\n")
    assert (found.taken, count(session, "supplier")) == (0, 0)


def test_a_workbook_reads_as_its_csv() -> None:
    book = Workbook()
    sheet = book.active
    sheet.append(["Thing", "Quantity", "Cost"])
    sheet.append(["Laid", 12, 9.6])
    out = io.BytesIO()
    book.save(out)
    found = read_table("t.xlsx", out.getvalue())
    assert found.rows == read_table("t.csv", b"Thing,Quantity,Cost\nLaid,12,9.6\n").rows


@given(st.text(max_size=20))
def test_no_cell_is_run_by_a_spreadsheet(text: str) -> None:
    for cell in (safe(text), safe("=" + text), safe("@" + text), safe("-" + text)):
        assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


def test_what_goes_out_is_safe_and_comes_back(session: Session) -> None:
    table = Table(
        "t", ("Name", "Cost", "Day"), (("=1+1", Decimal("-2.50"), DAY), ("Plain", 3, None))
    )
    rows = list(csv.reader(io.StringIO(as_csv(table).decode("utf-8-sig"))))
    assert rows == [
        ["Name", "Cost", "Day"],
        ["'=1+1", "-2.50", DAY.isoformat()],
        ["Plain", "3", ""],
    ]
    sheet = load_workbook(io.BytesIO(as_xlsx(table))).active
    cells = [[c.value for c in row] for row in sheet.iter_rows()]
    assert cells[1][0] == "'=1+1"
    assert sheet["A2"].data_type == "s"
    assert float(cells[1][1]) == -2.5
    assert read_table("t", as_csv(table)).rows[0][0] == "=1+1"


@pytest.mark.parametrize("name", list(LISTS))
def test_every_list_can_be_taken_away(session: Session, name: str) -> None:
    bench = Bench(session)
    bench.agreed(quantity=30)
    stock.receive(session, bench.sheet, 5, Decimal(5), DAY)
    table = list_of(session, name, DAY)
    assert table is not None
    assert all(len(row) == len(table.heads) for row in table.rows)
    assert as_csv(table)
    assert as_xlsx(table)
    if name not in ("offcuts", "purchases", "reorder", "markets", "to-make", "recipes"):
        assert table.rows
    assert list_of(session, "nonsense", DAY) is None


PAPERS = "Paper;g/m²;Thickness;Width;Height\n"


@pytest.mark.parametrize(
    ("kind", "text", "words"),
    [
        ("papers", PAPERS + "Thick;120;500;640;900\n", "Thickness lies between"),
        ("papers", PAPERS + "Wide;120;0.14;9999999;900\n", "Width lies between"),
        ("papers", PAPERS + "Feet;120;0.14;1'500;900\n", "stay below 12"),
        ("offers", "Material;Supplier;Pack;Pack price\nThread;S;50 m;1.2345\n", "finer than"),
        ("offers", "Material;Supplier;Pack;Pack price\nThread;S;50 m;12%\n", "no amount"),
        ("stock", "Material;How much;Worth\nThread;5 m;0.0001\n", "finer than"),
    ],
)
def test_a_table_keeps_to_the_bounds_of_the_pages(
    session: Session, kind: str, text: str, words: str
) -> None:
    Bench(session)
    found = taken(session, kind, text)
    assert found.taken == 0
    assert words in found.refused[0].why


LAID = "Paper,g/m²,Thickness,Colour,Width,Height\nLaid,120,0.15 mm,white,640,900\n"


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("laid ,,,,420,594", ""), ("LAID,120,0.15 mm,White,420,594", ""),
        ("laid,,,,640,900", "that size and grain already"),
        ("Laid,130,,,420,594", "g/m²: “Laid” has 120 on record"),
        ("Laid,,0.2 mm,,420,594", "Thickness: “Laid” has 0.15 mm on record"),
        ("laid,,,blue,420,594", "Colour: “Laid” has “white” on record"),
        ("New,5000.01,0.1,,420,594", "between 1 and 5000"), ("New,5000,0.1,,420,594", ""),
    ],
)  # fmt: skip
def test_a_paper_is_one_however_it_is_capitalised(session: Session, row: str, why: str) -> None:
    heads = LAID.splitlines()[0]
    beside = taken(session, "papers", f"{LAID}{row}\n", all_or_nothing=True)
    session.rollback()
    taken(session, "papers", LAID)
    after = taken(session, "papers", f"{heads}\n{row}\n")
    for found in (beside, after):
        assert [why in r.why for r in found.refused] == ([True] if why else [])
    names = [p.name for p in session.scalars(select(Paper).order_by(Paper.id))]
    assert names == (["Laid", "New"] if row.startswith("New") and not why else ["Laid"])


def test_materials_and_suppliers_are_one_however_they_are_capitalised(session: Session) -> None:
    taken(session, "materials", MATERIALS)
    found = taken(session, "materials", "Material,Measure\nWAX,weight\nTar,weight\ntar,mass\n")
    assert [(r.row, "called “" in r.why) for r in found.refused] == [(2, True), (4, True)]
    tar = session.scalars(select(Material).where(Material.name == "Tar")).one()
    assert tar.measure == "mass"
    rows = "Thing,Supplier,Pack,Pack price\nwax,Mill,1 kg,20\nWax,mill,2 kg,36\nTAR,MILL,1 kg,9\n"
    assert taken(session, "offers", rows).refused == ()
    assert [s.name for s in session.scalars(select(Supplier))] == ["Mill"]
    found = taken(session, "offers", "Thing,Supplier,Pack,Pack price\nwax,mill,1 kg,20\n")
    assert "on record" in found.refused[0].why


def test_what_was_put_away_takes_no_rows(session: Session) -> None:
    taken(session, "materials", MATERIALS)
    taken(session, "papers", LAID)
    for kind in (Paper, Material):
        for thing in session.scalars(select(kind)):
            put_away(thing)
    session.flush()
    for kind, row in (
        ("papers", "Paper,Width,Height\nlaid,420,594\n"),
        ("offers", "Thing,Supplier,Pack,Pack price\nWax,Mill,1 kg,1\nlaid,Mill,25,1\n"),
        ("stock", "Thing,Quantity,Cost\nWax,1 kg,1\nLaid,5,1\n"),
    ):
        found = taken(session, kind, row)
        assert found.taken == 0
        assert all("bring it back first" in r.why for r in found.refused)


def test_stock_of_a_day_to_come_is_refused(session: Session) -> None:
    taken(session, "materials", MATERIALS)
    for day, refused in ((DAY, 0), (DAY + timedelta(days=1), 1)):
        found = taken(session, "stock", f"Thing,Quantity,Cost,Day\nWax,1 kg,1,{day}\n")
        assert len(found.refused) == refused
    assert "not come yet" in found.refused[0].why


def test_a_csv_has_no_powers_of_ten() -> None:
    rows = ((Decimal("-3E+1"), Decimal("8E+1"), Decimal("1E-7"), Decimal("30.10")),)
    assert as_csv(Table("t", ("a", "b", "c", "d"), rows)).decode("utf-8-sig").splitlines() == [
        "a,b,c,d", "-30,80,0.0000001,30.10",
    ]  # fmt: skip


ORDERS = (
    "Order;Customer;Journal;How many;Price each;Request;By when;Sold as;Postage\n"
    "A;Ines Vale;plain journal, PLAIN;2;;initials;2027-04-01;;3.50\n"
    "A;Ines Vale;Plain journal, Plain;1;44.50;;2027-04-01;Direct order;\n"
    ";Tom;Plain journal, Plain;;;;2027-05-01;;\n"
)


def test_orders_come_in_by_rows_of_one_order(session: Session) -> None:
    bench = Bench(session)
    bench.order(who="Tom")
    found = taken(session, "orders", ORDERS)
    assert (found.taken, found.refused, found.kept) == (3, (), True)
    ines, tom = session.scalars(select(Order).where(Order.number > 1).order_by(Order.number))
    assert [(x.quantity, x.unit_price, x.asked_for) for x in ines.lines] == [
        (2, 40, "initials"), (1, Decimal("44.50"), ""),
    ]  # fmt: skip
    assert (ines.postage, ines.state, ines.logged_on) == (Decimal("3.50"), "enquiry", DAY)
    # Tom is known and is the same; one row without a word of its order is an order.
    assert tom.customer.orders[0].number == 1
    assert [(x.quantity, x.unit_price) for x in tom.lines] == [(1, 40)]


def test_a_row_that_leaves_something_empty_is_as_its_order_has_it(session: Session) -> None:
    Bench(session)
    table = (
        "Order;Customer;Journal;How many;By when;Asked on;Sold as\n"
        "77;Ines;plain journal, PLAIN;2;2027-04-01;2027-02-20;Direct order\n"
        "77;Ines;Plain journal, Plain;1;2027-04-01;;\n"
    )
    found = taken(session, "orders", table)
    assert (found.taken, found.refused) == (2, ())
    [order] = session.scalars(select(Order))
    assert (order.logged_on.isoformat(), order.wanted_by.isoformat()) == (
        "2027-02-20",
        "2027-04-01",
    )
    assert [line.quantity for line in order.lines] == [2, 1]


def test_the_same_table_again_makes_no_order_twice(session: Session) -> None:
    Bench(session)
    taken(session, "orders", ORDERS)
    again = taken(session, "orders", ORDERS.replace("Ines", "INES"))
    # A row that says no order of its own cannot be told from another wish of the same kind.
    assert [(r.row, r.why) for r in again.refused] == [
        (2, "Order A came in before, as order 1."), (3, "Order A came in before, as order 1."),
    ]  # fmt: skip
    assert again.taken == 1
    others = ORDERS.replace("Ines Vale", "Maud")
    assert taken(session, "orders", others).taken == 3
    assert (
        "at most 60 characters"
        in taken(session, "orders", ORDERS.replace("A;", "A" * 61 + ";")).refused[0].why
    )
    beta = ORDERS.replace("A;", "Q-7;").replace("Ines", "Bea")
    taken(session, "orders", beta)
    assert [order.customer.name for order in search_orders(session, "q-7").orders] == ["Bea Vale"]


@pytest.mark.parametrize(
    ("row", "why"),
    [(";Ada;No such;1;;;2027-04-01;;", "There is no journal called “No such” to order."),
     (";;Plain journal, Plain;1;;;2027-04-01;;", "Customer is missing."),
     (";Ada;Plain journal, Plain;0;;;2027-04-01;;", "How many"),
     (";Ada;Plain journal, Plain;1,5;;;2027-04-01;;", "How many"),
     (";Ada;Plain journal, Plain;10001;;;2027-04-01;;", "How many: at most 10000."),
     (";Ada;Plain journal, Plain;1;x;;2027-04-01;;", "Price each"),
     (";Ada;Plain journal, Plain;1;;;2027-02-01;;", "before the day it was asked for"),
     (";Ada;Plain journal, Plain;1;;;soon;;", "“soon” is no day"),
     (";Ada;Plain journal, Plain;1;;;2027-04-01;Moon;", "no way of selling called “Moon”"),
     (";Ada;Plain journal, Plain;1;;;2027-04-01;Market stall;", "Price each: there is none"),
     (";Two;Plain journal, Plain;1;;;2027-04-01;;", "several customers called “Two”"),
     (";Ada;Plain journal, Plain;1;;" + "x" * 501 + ";2027-04-01;;", "at most 500 characters")],
)  # fmt: skip
def test_a_row_of_no_order_is_told_why(session: Session, row: str, why: str) -> None:
    Bench(session)
    session.add_all([Customer(name="Two", note=""), Customer(name="two", note="")])
    session.flush()
    found = taken(session, "orders", ORDERS.splitlines()[0] + "\n" + row)
    assert found.taken == 0
    assert why in found.refused[0].why


def test_an_order_comes_in_whole_or_not_at_all(session: Session) -> None:
    Bench(session)
    text = ORDERS.replace("44.50", "no price")
    found = taken(session, "orders", text)
    assert [(r.row, r.why.split(":")[0]) for r in found.refused] == [
        (2, "Another row of A was refused."), (3, "Price each"),
    ]  # fmt: skip
    assert (found.taken, count(session, "customer_order")) == (1, 1)
    differs = ORDERS.replace("Ines Vale;Plain", "Inez;Plain")
    found = taken(session, "orders", differs)
    assert "do not agree on customer" in found.refused[1].why
    assert found.refused[0].why == "Another row of A was refused."


def test_a_name_is_no_identity_in_a_table_either(session: Session) -> None:
    bench = Bench(session)
    bench.order(who="Maud")
    bench.order(who="Tom", reach="tom@x.example")
    head = "Customer;Reached at;Journal;By when\n"
    rows = ("Anna;anna@one.org", "Anna;other@two.org", "Anna;ANNA@one.org", "Maud;m@two.org",
            "Maud;", "Tom;tom@x.example", "Tom;t@two.org")  # fmt: skip
    table = head + "".join(f"{row};Plain journal, Plain;2027-05-01\n" for row in rows)
    found = taken(session, "orders", table)
    assert [refused.row for refused in found.refused] == [3, 5, 8]
    assert "is reached at anna@one.org, not at other@two.org" in found.refused[0].why
    assert "is reached at no place on record" in found.refused[1].why
    maud = session.scalars(select(Customer).where(Customer.name == "Maud")).one()
    assert (maud.email, len(maud.orders)) == ("", 2)
    assert count(session, "customer") == 3


def test_postage_that_every_row_repeats_is_one(session: Session) -> None:
    Bench(session)
    both = ORDERS.replace("2027-04-01;Direct order;", "2027-04-01;Direct order;3.50")
    assert taken(session, "orders", both).refused == ()
    order = session.scalars(select(Order).where(Order.number == 1)).one()
    assert order.postage == Decimal("3.50")
    differs = ORDERS.replace("A;", "B;").replace("04-01;Direct order;", "04-01;Direct order;4")
    assert "do not agree on postage" in taken(session, "orders", differs).refused[1].why


def test_an_order_of_more_lines_than_have_room_is_refused_whole(session: Session) -> None:
    Bench(session)
    row = "L;Ines;Plain journal, Plain;1;;;2027-04-01;;\n"
    head = ORDERS.splitlines()[0] + "\n"
    assert taken(session, "orders", head + row * 40).refused == ()
    found = taken(session, "orders", head + row.replace("L;", "M;") * 41)
    assert (found.taken, len(found.refused)) == (0, 41)
    assert "at most 40 lines" in found.refused[40].why
    assert count(session, "customer_order") == 1
