"""The design page as a maker uses it: kinds of folio, a closing, corners; nothing typed is lost."""

from __future__ import annotations

import time

from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import House
from tests.browser.test_journeys import fill, follow, in_days, press, station


def begin(page: Page, house: House, name: str) -> None:
    page.goto(house.address + "/journals/new")
    fill(page, name=name, leaf_height="150 mm", flap="66 mm", price_1="77")


def close_with(page: Page, words: str) -> None:
    """Choose a closing, and wait until its measures are there."""
    fill(page, closing=words)
    expect(page.locator("#worked")).to_have_attribute("aria-busy", "false")


def leaves_asking(page: Page, words: str) -> bool:
    """Whether following a link asks first; it stays on the page."""
    asked: list[str] = []
    page.once("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    page.get_by_role("link", name=words, exact=True).first.click()
    for _ in range(100):
        if asked:
            break
        page.wait_for_timeout(50)
    return asked == ["beforeunload"]


def test_a_whole_journal_from_blank_to_price_buy_list_steps_and_template(
    page: Page, demo_house: House
) -> None:
    """Signatures of three papers, one low in the fold, a cover made here, rounded corners, a band."""
    begin(page, demo_house, "Tideline book")
    fill(page, role_leaves="Cartridge, ivory 150", role_cover="Combed paste paper",
         role_thread="Linen thread 18/3, flax", folios="3", signatures="3")  # fmt: skip
    press(page, "Folios of another paper or size")
    expect(page.locator("[name=folio2_count]")).to_be_focused()
    fill(page, role_folio2="Reed-pattern wrap 200", folio2_height="130 mm", folio2_inside="3",
         folio2_where="the first and the last")  # fmt: skip
    press(page, "Folios of another paper or size")
    expect(page.locator("[name=folio3_count]")).to_be_focused()
    fill(page, role_folio3="Cartridge, ivory 150", folio3_where="all between first and last",
         folio3_beside="instead of the plain folios", folio3_count="4", folio3_inside="0")  # fmt: skip
    close_with(page, "elastic band")
    fill(page, role_elastic="Waxed cotton cord 2 mm", corners="rounded", corner_size="5 mm")
    fill(page, parts__0__name="Ring", parts__0__material="Sea-glass beads 8 mm",
         parts__0__amount="2")  # fmt: skip
    worked = page.locator("#worked")
    expect(worked).not_to_contain_text("Left out of the cost")
    # Two signatures of three plain folios and a low one, one of four of another kind: 12 folios.
    expect(worked).to_contain_text("3 signatures of 4 folios · 24 leaves, 48 pages")
    expect(worked).to_contain_text("One folio laid flat, 6 of them: 240 × 150 mm")
    expect(page.locator("#answer")).to_contain_text("£77.00")
    expect(worked.locator("tr", has_text="Ring, Sea-glass beads 8 mm")).to_have_count(1)
    press(page, "Save the journal")
    expect(page.get_by_role("status")).to_contain_text("is saved as design 1")
    follow(page, "Log an order for Tideline book, Plain")
    fill(page, customer="Ottilie Brand", wanted_by=in_days(40))
    press(page, "Save the order")
    press(page, "Accept")
    station(page, "Buying")
    row = page.locator("tr", has_text="Reed-pattern wrap 200").first
    expect(row).to_contain_text("Ottilie Brand")
    # Its cover is made here first, and what that takes is bought with the rest.
    made = page.locator("#makings tr", has_text="Combed paste paper")
    expect(made).to_contain_text("Ottilie Brand")
    expect(page.locator("#makings")).to_contain_text("1 sheet")
    expect(page.locator("main")).to_contain_text("Combed paste paper, 400 × 570 mm, made here")
    station(page, "Journals")
    page.locator("main").get_by_role("link", name="Tideline book").first.click()
    follow(page, "Steps and templates")
    steps = page.locator("ol.bench-steps")
    expect(steps).to_contain_text(
        "Nest signatures 1 and 3, from the outside in: 3 plain, then 1 of"
    )
    expect(steps).to_contain_text(
        "Nest signature 2, from the outside in: 4 of Cartridge, ivory 150"
    )
    expect(steps).to_contain_text("to a radius of 5 mm")
    expect(steps).to_contain_text("of elastic, draw its ends in through the holes")
    with page.expect_download() as found:
        page.get_by_role("link", name="Cover laid flat, inside up").click()
    assert found.value.suggested_filename == "cover.svg"
    book_in_what_is_short(page, "Ottilie Brand")
    press(page, "Begin the batch")
    follow(page, "Ticket to print")
    ticket = page.locator("main")
    expect(ticket).to_contain_text("Ottilie Brand")
    to_take = page.locator("section", has=page.get_by_role("heading", name="To take"))
    expect(to_take.locator("tr", has_text="Combed paste paper, 400 × 570 mm")).to_contain_text("1")
    expect(to_take.locator("tr", has_text="Sea-glass beads 8 mm")).to_contain_text("2")
    expect(ticket.locator("tr", has_text="Ring")).to_contain_text("Sea-glass beads 8 mm")
    expect(ticket).to_contain_text("Nest signature 2, from the outside in: 4 of Cartridge")
    expect(ticket).to_contain_text("to a radius of 5 mm")
    expect(ticket).to_contain_text("Guard down and hand behind the blade")
    page.emulate_media(media="print")
    expect(page.locator("nav.thread")).to_be_hidden()
    expect(page.get_by_role("button", name="Print")).to_be_hidden()


def book_in_what_is_short(page: Page, customer: str) -> None:
    """Go to begin a batch for a customer's order, and put in the stock what that is short of."""
    station(page, "Orders")
    page.locator("tr", has_text=customer).get_by_role("link").first.click()
    follow(page, "Make 1 more")
    new = page.url
    press(page, "Begin the batch")
    short = page.locator("#short tbody a")
    for address in [str(link.get_attribute("href")) for link in short.all()]:
        page.goto(new.split("/stockroom")[0] + address)
        receive = page.locator("form[action$=receive]")
        receive.locator("[name=quantity]").fill("50")
        receive.locator("[name=cost]").fill("20")
        receive.get_by_role("button").click()
    page.goto(new)


def test_choosing_another_closing_loses_nothing(page: Page, demo_house: House) -> None:
    begin(page, demo_house, "Harbour book")
    fill(page, role_cord="Waxed cotton cord 2 mm", wraps="4", cord_tail="77 mm")
    close_with(page, "ties")
    expect(page.locator("[name=tie_pairs]")).to_have_value("1")
    for name, value in (("name", "Harbour book"), ("flap", "66 mm"), ("price_1", "77")):
        expect(page.locator(f"[name={name}]")).to_have_value(value)
    # Groups that were opened stay open, and what was typed for the cord is there again with it.
    expect(page.locator("[name=flap]")).to_be_visible()
    close_with(page, "cord and beads")
    expect(page.locator("[name=wraps]")).to_have_value("4")
    expect(page.locator("[name=cord_tail]")).to_have_value("77 mm")
    assert page.locator("[name=role_cord]").input_value() != "0"
    assert leaves_asking(page, "Orders")
    assert page.url.split("#")[0].endswith("/journals/new")


def test_what_was_typed_is_found_by_going_back(page: Page, demo_house: House) -> None:
    begin(page, demo_house, "Quay book")
    close_with(page, "ties")
    fill(page, tie_pairs="3")
    press(page, "Folios of another paper or size")
    fill(page, folio2_count="2")
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("link", name="Markets", exact=True).first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Markets")
    page.go_back()
    for name, value in (
        ("name", "Quay book"), ("flap", "66 mm"), ("price_1", "77"), ("closing", "ties"),
        ("tie_pairs", "3"), ("folio2_count", "2"),
    ):  # fmt: skip
        expect(page.locator(f"[name={name}]")).to_have_value(value)


def test_figures_that_do_not_come_are_said_and_come_again(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/journals/1")
    page.route("**/*", lambda route: route.abort())
    fill(page, folios="4")
    expect(page.locator("#refusal")).to_contain_text("Nothing came back")
    expect(page.locator("#answer")).to_have_attribute("aria-busy", "true")
    expect(page.locator("[name=folios]")).to_have_value("4")
    page.unroute("**/*")
    fill(page, folios="5")
    expect(page.locator("#answer")).to_have_attribute("aria-busy", "false")
    expect(page.locator("#refusal")).to_be_hidden()


def test_a_refusal_of_the_whole_is_said_while_typing(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/journals/1")
    answer = page.locator("#answer")
    before = answer.inner_text()
    fill(page, folios="99")
    expect(page.locator("#folios-error")).to_contain_text("between 1 and 40")
    # The figures that are still there are not those of what is typed, and are dimmed.
    expect(answer).to_have_attribute("aria-busy", "true")
    assert answer.inner_text() == before
    fill(page, folios="5")
    expect(answer).to_have_attribute("aria-busy", "false")
    assert leaves_asking(page, "Orders")


def test_a_folded_group_says_what_it_holds_and_opens_on_a_fault(
    page: Page, demo_house: House
) -> None:
    page.goto(demo_house.address + "/journals/1")
    group = page.locator("details.group", has=page.get_by_role("heading", name="Finish"))
    fill(page, stamped="2", edges="all coloured")
    expect(page.locator("#care")).to_contain_text("A heated type or die burns")
    group.locator("summary").click()
    expect(group.locator("[data-holds]")).to_have_text(
        "edges of the leaves all coloured · stamped impressions 2"
    )
    fill(page, stamped="99")
    group.locator("summary").click()
    expect(group).to_have_attribute("open", "")


def test_what_is_typed_while_measures_are_exchanged_stays(page: Page, demo_house: House) -> None:
    begin(page, demo_house, "Slack water book")
    fill(page, batch="12", wraps="2")
    waits = iter([1.2, 0.1])

    def slowly(route: Route) -> None:
        if route.request.method == "POST":
            time.sleep(next(waits, 0))
        route.continue_()

    page.route("**/journals/new", slowly)
    page.locator("[name=closing]").select_option(label="ties")
    page.locator("[name=batch]").fill("24")
    expect(page.locator("[name=tie_pairs]")).to_be_visible()
    expect(page.locator("[name=batch]")).to_have_value("24")
    expect(page.locator("[name=batch]")).to_be_focused()


def test_of_several_closings_in_a_row_the_last_one_counts(page: Page, demo_house: House) -> None:
    begin(page, demo_house, "Ebb book")
    fill(page, closing="cord and beads")
    page.evaluate(
        """() => {
            const select = document.querySelector("[name=closing]");
            for (const value of ["strap", "ties", "elastic"]) {
                select.value = value;
                select.dispatchEvent(new Event("change", { bubbles: true }));
            }
        }"""
    )
    expect(page.locator("[name=elastic_stretch]")).to_be_visible()
    expect(page.locator("[name=closing]")).to_have_value("elastic")
    expect(page.locator("[name=strap_holes]")).to_have_count(0)
