"""The ticket of a batch: what to take, how to cut it, how to make it, and what to mind."""

from __future__ import annotations

import re

from app.web.bench.materials import BACK
from app.web.frame.how_made import hole_rows
from tests.core.structures.test_closings import build
from tests.web.bench.test_bench import clock, with_a_batch
from tests.web.orders.test_ready import press
from tests.web.visitor import Page, Visitor


def test_all_that_the_bench_needs_stands_on_the_ticket(stocked: Visitor) -> None:
    batch = with_a_batch(stocked)
    ticket = stocked.get(f"{batch.path}/ticket")
    steps = stocked.get("/journals/1/variants/1/steps")
    assert "2 Plain journal, Plain" in ticket.words
    # The same sheets, cuts and drawings as the batch's own page.
    for row in batch.all("figure"):
        assert "".join(row.itertext()) in "".join(ticket.tree.itertext())
    # The same steps as the design's page, cautions among them.
    [own] = [o for o in steps.all("ol") if "bench-steps" in (o.get("class") or "")]
    [here] = [o for o in ticket.all("ol") if "bench-steps" in (o.get("class") or "")]
    assert " ".join("".join(own.itertext()).split()) == " ".join("".join(here.itertext()).split())
    assert "Guard down and hand behind the blade" in ticket.words
    assert "Local rules on product safety and labelling decide" in ticket.words


def rows_of(page: Page, head: str) -> list[list[str]]:
    """The rows of the table under a heading."""
    found: list[list[str]] = []
    for section in page.all("section"):
        heads = [e for e in section.iter() if e.tag.endswith("h2") or e.tag.endswith("h3")]
        table = None
        for element in section.iter():
            if element in heads and "".join(element.itertext()).strip() == head:
                table = "next"
            elif table == "next" and element.tag.endswith("tbody"):
                table = None
                for row in element:
                    found.append([" ".join("".join(cell.itertext()).split()) for cell in row])
    return found


def test_what_is_taken_follows_what_was_brought_back(stocked: Visitor) -> None:
    batch = with_a_batch(stocked)
    before = rows_of(stocked.get(f"{batch.path}/ticket"), "To take")
    beads = next(row for row in before if "Beads" in row[1] or "bead" in row[1].lower())
    [link] = [a.get("href") for a in batch.all("a")
              if "/materials/" in (a.get("href") or "") and "material-3" in (a.get("href") or "")]  # fmt: skip
    form = stocked.get(str(link))
    stocked.send(form, "quantity", {"quantity": "1", "why": BACK})
    after = rows_of(stocked.get(f"{batch.path}/ticket"), "To take")
    now = next(row for row in after if row[1] == beads[1])
    assert int(now[2]) == int(beads[2]) - 1
    assert [row for row in after if row != now] == [row for row in before if row != beads]


def test_minutes_and_knots_stand_where_they_are_known(stocked: Visitor) -> None:
    batch = with_a_batch(stocked)
    stocked.post(f"{batch.path}/work", clock(batch, "done", "fold"))
    rows = rows_of(stocked.get(f"{batch.path}/ticket"), "The work")
    folded = next(row for row in rows if row[1] == "Fold folios")
    assert folded[0] == "done"
    assert all(row[0] == "" for row in rows if row is not folded)
    planned = [row[3] for row in rows]
    assert planned == [row[2] for row in rows_of(stocked.get(batch.path), "The work")]


def test_every_hole_is_on_it_across_and_down(stocked: Visitor) -> None:
    batch = with_a_batch(stocked)
    holes = rows_of(stocked.get(f"{batch.path}/ticket"), "Holes")
    assert holes
    assert all(part and across and down for part, across, down in holes)
    folio = next(row for row in holes if row[0].startswith("One folio"))
    drawn = "".join(stocked.get("/journals/1/variants/1/steps").tree.itertext())
    for place in folio[2].removesuffix(" mm").split(" mm · "):
        assert place in drawn


def test_it_says_for_whom_and_when_it_is_made_or_cancelled(stocked: Visitor) -> None:
    order = press(stocked, stocked.get("/orders/1"), "Accept")
    for item, much in (("sheet-1", "99"), ("sheet-2", "40"), ("material-1", "90 m"),
                       ("material-2", "90 m"), ("material-3", "200")):  # fmt: skip
        stocked.send(stocked.get(f"/stockroom/items/{item}"), "quantity",
                     {"quantity": much, "cost": "9"})  # fmt: skip
    batch = stocked.send(stocked.get("/stockroom/batches/new?order=1"), "make_1", {"make_1": "4"})
    assert order.status == 200
    assert "order 1, Ada" in stocked.get(f"{batch.path}/ticket").words
    stocked.send(batch, "minutes", {"minutes": "100", "good_1": "3", "why_1": "torn"})
    [made] = rows_of(stocked.get(f"{batch.path}/ticket"), "To make")
    assert made[-2:] == ["3", "1 torn"]


def test_a_cancelled_one_says_not_to_cut(stocked: Visitor) -> None:
    batch = with_a_batch(stocked)
    page = stocked.get(f"{batch.path}/cancel")
    stocked.send(page, "once", {})
    ticket = stocked.get(f"{batch.path}/ticket")
    assert "Nothing is to be cut for it." in ticket.words
    assert "To cut" not in ticket.words
    assert rows_of(ticket, "To take") == []


def test_a_batch_that_is_not_there_has_none(visitor: Visitor) -> None:
    assert visitor.get("/stockroom/batches/7/ticket", status=404).status == 404


def test_a_thickness_corrected_since_is_said_where_it_matters(guest: Visitor) -> None:
    form = guest.get("/stockroom/batches/new").form("make_1")
    none = {name: "" for name, _ in form.values if name.startswith("make_")}
    batch = guest.send(guest.get("/stockroom/batches/new"), "make_1", none | {"make_1": "1"})
    ticket = guest.get(f"{batch.path}/ticket")
    assert "1 Estuary sketch journal, Brown" in ticket.words
    assert "Not as it was cut" not in ticket.words
    guest.send(guest.get("/stockroom/papers/2"), "caliper_nm", {"caliper_nm": "0.58 mm"})
    assert "Not as it was cut" in guest.get(f"{batch.path}/ticket").words


def test_every_kind_of_piece_stands_beside_its_drawing(stocked: Visitor) -> None:
    batch = with_a_batch(stocked)
    ticket = stocked.get(f"{batch.path}/ticket")
    for part, of, much in rows_of(ticket, "What goes into one")[:2]:
        assert of
        name = part.split(" ", 1)[1].removesuffix("s")
        assert re.search(rf"{name}s? {re.escape(much)}", ticket.words)


def test_what_was_brought_back_or_taken_as_well_is_said(stocked: Visitor) -> None:
    batch = with_a_batch(stocked)
    stocked.send(stocked.get(f"{batch.path}/materials/sheet-1"), "quantity",
                 {"quantity": "1", "why": BACK})  # fmt: skip
    words = stocked.get(f"{batch.path}/ticket").words
    assert "Brought back since it was begun: 1 sheet of" in words
    assert "cut so much less" in words


def test_who_waits_is_named_where_no_order_is_tied_to_it(stocked: Visitor) -> None:
    press(stocked, stocked.get("/orders/1"), "Accept")
    batch = with_a_batch(stocked)
    words = stocked.get(f"{batch.path}/ticket").words
    assert "tied to no order" in words
    assert "Waiting for it: Order 1, Ada" in words


def test_goods_made_here_have_their_recipe_on_it(guest: Visitor) -> None:
    guest.send(
        guest.get("/stockroom/items/material-6"), "quantity", {"quantity": "500 g", "cost": "1"}
    )
    form = guest.get("/stockroom/items/sheet-9/make")
    batch = guest.send(form, "times", {"times": "2"})
    ticket = guest.get(f"{batch.path}/ticket")
    assert "2 times, " in ticket.words
    assert "Air the room when you glue" in ticket.words
    assert rows_of(ticket, "How it is made")


def test_places_of_magnets_stand_among_the_holes() -> None:
    made = build(closing="magnet", magnet_pairs=2)
    [crosses] = [row for row in hole_rows(made) if row.part.endswith(": crosses")]
    assert made.cover is not None
    assert {(x, y) for x in crosses.across for y in crosses.down} == {
        (x, y) for x, y, words in made.cover.labels if words == "+"
    }
