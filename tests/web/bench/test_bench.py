"""The station of the bench on screen: the next step first, from a proposal to the shelf."""

from __future__ import annotations

from decimal import Decimal

from tests.web.orders.test_ready import press
from tests.web.visitor import Page, Visitor, read_form


def test_an_empty_shop_says_what_goes_here(visitor: Visitor) -> None:
    page = visitor.get("/bench")
    assert "Nothing waits for the bench." in page.words
    assert "Each bar is the work at its latest" in page.words
    assert "No batch is in progress." in page.words
    assert "Nothing is left to make." in page.words


def test_from_a_proposal_to_the_order(stocked: Visitor) -> None:
    press(stocked, stocked.get("/orders/1"), "Accept")
    page = stocked.get("/bench")
    assert "Next: begin 4 Plain journal, Plain" in page.words
    assert "Order 1, Ada" in page.words
    for item, much in (("sheet-1", "99"), ("sheet-2", "40"), ("material-1", "90 m"),
                       ("material-2", "90 m"), ("material-3", "200")):  # fmt: skip
        stocked.send(stocked.get(f"/stockroom/items/{item}"), "quantity",
                     {"quantity": much, "cost": "9"})  # fmt: skip
    [address] = [a.get("href") for a in page.all("a") if "make_1=4" in (a.get("href") or "")][:1]
    assert address is not None
    form = stocked.get(address)
    assert form.value("make_1") == "4"
    batch = stocked.send(form, "make_1", {})
    assert "for order 1" in batch.words
    page = stocked.get("/bench")
    assert "Next: finish batch 1" in page.words
    assert "Nothing is left to make." in page.words
    stocked.send(batch, "minutes", {"minutes": "100"})
    assert "Nothing waits for the bench." in stocked.get("/bench").words


def test_the_demo_has_weeks_proposals_and_the_station(guest: Visitor) -> None:
    page = guest.get("/bench")
    assert page.text.count('class="load') >= 8
    assert "To make next" in page.words
    assert "of one paper" in page.words
    assert 'aria-current="page"><span class="knot"></span>Bench' in page.text
    for path in ("/stockroom/batches", "/stockroom/batches/new"):
        assert 'aria-current="page"><span class="knot"></span>Bench' in guest.get(path).text


def test_addresses_with_nonsense_are_taken_for_none(guest: Visitor) -> None:
    for asked in ("order=x", "orders=1,2,x,99999999999", "make_1=-3", "make_1=99999999999&orders="):
        guest.get(f"/stockroom/batches/new?{asked}")


def with_a_batch(stocked: Visitor) -> Page:
    for item, much in (("sheet-1", "99"), ("sheet-2", "40"), ("material-1", "90 m"),
                       ("material-2", "90 m"), ("material-3", "200")):  # fmt: skip
        stocked.send(stocked.get(f"/stockroom/items/{item}"), "quantity",
                     {"quantity": much, "cost": "9"})  # fmt: skip
    return stocked.send(stocked.get("/stockroom/batches/new"), "make_1", {"make_1": "2"})


def clock(page: Page, do: str, operation: str) -> list[tuple[str, str]]:
    """The form of a button of an operation's clock."""
    for form in page.all("form"):
        values = read_form(form, page.path).values
        if ("do", do) in values and ("operation", operation) in values:
            return values
    raise AssertionError(f"no button to {do} {operation}")


def test_the_clock_is_started_stopped_and_its_minutes_typed(stocked: Visitor) -> None:
    page = with_a_batch(stocked)
    work = f"{page.path}/work"
    page = stocked.post(work, clock(page, "start", "fold"))
    assert "The clock runs." in page.said
    assert "The clock runs: Fold folios, batch 1" in stocked.get("/bench").words
    page = stocked.post(work, clock(page, "start", "punch"))
    assert page.words.count("the clock runs") == 1
    page = stocked.post(work, clock(page, "stop", "punch"))
    page = stocked.post(work, clock(page, "done", "fold"))
    assert "Done." in page.said
    assert "1 of" in stocked.get("/bench").text
    form = stocked.get(f"{work}/fold")
    for typed, says in (("x", "minutes"), ("-3", "-3"), ("", "needed")):
        refused = stocked.send(form, "minutes", {"minutes": typed}, 422)
        assert says in refused.words.lower() or refused.error_at("minutes")
    page = stocked.send(form, "minutes", {"minutes": "1 h 30"})
    assert "1 h 30 min" in page.words
    stale = stocked.send(form, "minutes", {"minutes": "5", "once": "another"}, 422)
    assert "Meanwhile" in stale.words
    assert stocked.get(f"{work}/dance", 404).status == 404
    page = stocked.send(stocked.get(page.path.split("#")[0]), "good_1", {"minutes": "90"})
    assert "less than planned" in page.words or "more than planned" in page.words
    refused = stocked.post(work, clock_values(form, "start", "fold"), 422)
    assert "Batch 1 is made" in refused.words


def clock_values(page: Page, do: str, operation: str) -> list[tuple[str, str]]:
    values = dict(page.form("minutes").values)
    kept = {"csrf_token": values["csrf_token"], "once": f"once {do}"}
    return [*kept.items(), ("do", do), ("operation", operation)]


def test_times_say_what_it_takes_for_them(stocked: Visitor) -> None:
    assert "it takes three batches that are made" in stocked.get("/bench/times").words


def test_more_of_a_material_and_some_back(stocked: Visitor) -> None:
    page = with_a_batch(stocked)
    batch = page.path
    form = stocked.get(f"{batch}/materials/material-3")
    assert "Batch 1 has 12 of it" in form.words
    for typed, says in (({"quantity": "0"}, "more than nothing"), ({"quantity": "x"}, "x"),
                        ({"quantity": "13", "why": "back"}, "not in this batch"),
                        ({"quantity": "9999"}, "wanted")):  # fmt: skip
        refused = stocked.send(form, "why", {"why": "spoiled"} | typed, 422)
        assert says in refused.error_at("quantity")
    page = stocked.send(form, "why", {"quantity": "3", "why": "spoiled"})
    assert "more in the batch" in page.said
    page = stocked.send(stocked.get(f"{batch}/materials/material-3"), "why",
                        {"quantity": "5", "why": "back"})  # fmt: skip
    assert "less in the batch" in page.said
    assert "has 10 of it" in stocked.get(f"{batch}/materials/material-3").words
    assert stocked.get(f"{batch}/materials/variant-1", 404).status == 404


def test_only_some_are_finished_and_why_some_were_spoiled(stocked: Visitor) -> None:
    page = with_a_batch(stocked)
    part = stocked.get(f"{page.path}/part")
    for wrong, words in (
        ({"good_1": "3"}, "between 0 and 2"), ({"good_1": "2"}, "finish the batch instead"),
        ({"spoiled_1": "1"}, "Say why they were spoiled."), ({}, "Say how many are finished."),
        ({"good_1": "1", "minutes": ""}, "This is needed."),
    ):  # fmt: skip
        refused = stocked.send(part, "good_1", {"minutes": "30"} | wrong, status=422)
        assert words in refused.words
    page = stocked.send(part, "good_1", {"good_1": "1", "minutes": "30"})
    assert "1 on the shelf; the rest goes on." in page.said
    assert "still being made" in page.words
    assert "Good ones of 1 Plain journal" in page.words
    # The columns add up: what came out, what goes on, what went in.
    rows = [[" ".join("".join(cell.itertext()).split()) for cell in row] for row in page.all("tr")]
    out = next(n for n, row in enumerate(rows) if row[0] == "still being made")
    figures = [row[2] for row in rows[out - 1 : out + 1]]
    assert sum(map(Decimal, figures)) == Decimal(rows[out + 1][1])
    refused = stocked.send(page, "minutes", {"minutes": "9", "good_1": "0"}, status=422)
    assert "Say why they were spoiled." in refused.words
    done = stocked.send(refused, "minutes", {"why_1": "glue in the fold"})
    assert "glue in the fold" in done.words
    assert "39 min at the bench" in done.words
    assert stocked.get(f"{page.path}/part").path == page.path


def test_a_part_of_what_is_made_already_is_refused(stocked: Visitor) -> None:
    page = with_a_batch(stocked)
    part = stocked.get(f"{page.path}/part").form("good_1").filled({"good_1": "1", "minutes": "9"})
    stocked.send(page, "minutes", {"minutes": "9"})
    stale = stocked.client.post(f"{page.path}/part", data=dict(part))
    assert stale.status_code == 422
    assert "Batch 1 is made." in stale.get_data(as_text=True)


def test_minutes_told_for_a_part_are_not_offered_again(stocked: Visitor) -> None:
    page = with_a_batch(stocked)
    whole = Decimal(page.value("minutes"))
    part = stocked.get(f"{page.path}/part")
    page = stocked.send(part, "good_1", {"good_1": "1", "minutes": "20"})
    assert 0 < Decimal(page.value("minutes")) <= whole - 20
    assert "the minutes told for what is finished already count besides" in page.words
    assert "Cancel the batch" not in page.words
    assert "1 goes on." in page.words
    assert "came out already" in stocked.get(f"{page.path}/cancel").said
    assert "1 Plain journal, Plain" in stocked.get("/bench").words
    ticket = stocked.get(f"{page.path}/ticket").words
    assert "1 still to finish" in ticket


def test_a_form_of_before_a_part_came_out_is_not_taken(stocked: Visitor) -> None:
    page = with_a_batch(stocked)
    parts = [stocked.get(f"{page.path}/part") for _ in range(2)]
    stocked.send(parts[0], "good_1", {"good_1": "1", "minutes": "20"})
    late = stocked.send(parts[1], "good_1", {"good_1": "1", "minutes": "20"}, status=422)
    assert "More of it came out in another window" in late.words
    late = stocked.send(page, "minutes", {"good_1": "1", "why_1": "glue"}, status=422)
    assert "More of it came out in another window" in late.words
    done = stocked.send(late, "minutes", {"good_1": "0", "why_1": "glue", "minutes": "9"})
    assert "glue" in done.words
