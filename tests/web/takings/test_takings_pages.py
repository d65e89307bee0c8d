"""The takings' pages, as a person without scripts uses them: on the demo, empty, with bad input."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal

import pytest

from tests.web.visitor import Page, Visitor


def figures(page: Page, column: int) -> list[Decimal]:
    """The figures of a column of the first table, its sum the last."""
    found = []
    table = next(iter(page.all("table")))
    for row in (e for e in table.iter() if e.tag.endswith("}tr")):
        cells = [c for c in row.iter() if c.tag.endswith("}td")]
        if len(cells) > column:
            text = "".join(cells[column].itertext()).strip().replace(",", "").replace("−", "-")
            if re.fullmatch(r"-?\d+\.\d\d", text):
                found.append(Decimal(text))
    return found


@pytest.mark.parametrize("by", ["journal", "channel", "market", "customer", "month"])
def test_columns_add_up_and_every_figure_opens(guest: Visitor, by: str) -> None:
    page = guest.get(f"/takings?by={by}")
    *rows, total = figures(page, 2)
    assert sum(rows) == total
    assert f"{total:,.2f}" in guest.get("/takings").words
    links = [a.get("href") or "" for a in page.all("a")]
    opened = [link for link in links if link.startswith("/takings/sales")]
    assert opened
    behind = guest.get(opened[0])
    assert sum(figures(behind, 4)) == rows[0]
    assert f"{rows[0]:,.2f}" in behind.words


def test_an_empty_shop_says_what_stands_here(visitor: Visitor) -> None:
    assert "Nothing was sold in these days." in visitor.get("/takings").words
    assert "None yet" in visitor.get("/takings/costs").words
    assert "Nothing was sold" in visitor.get("/takings/what-if").words
    year = visitor.get("/takings/year").words
    assert "It ties out" in year
    assert "in balance" in year


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("/takings?first=2026-05-01&last=2026-04-01", "before the first"),
        ("/takings?first=yesterday", "is no day"),
        ("/takings?first=1999-01-01", "between the years"),
        ("/takings?first=2001-01-01&last=2026-01-01", "15 years"),
        ("/takings/year?last=x", "is no day"),
        ("/takings/stock?on=2026-13-01", "is no day"),
        ("/takings/costs?first=%00", "is no day"),
    ],
)
def test_days_that_cannot_be_are_said(guest: Visitor, path: str, says: str) -> None:
    assert says in guest.get(path).words


@pytest.mark.parametrize(
    "path",
    ["/takings/sales", "/takings/sales?key=x", "/takings/sales?by=journal&key=99999",
     "/takings/sales?by=journal&key=1&page=900", "/takings/nothing.csv", "/takings/sales.pdf",
     "/takings/by-weather.csv", "/takings/costs/99"],
)  # fmt: skip
def test_what_is_not_there_is_not_found(guest: Visitor, path: str) -> None:
    guest.get(path, 404)


def test_a_cost_is_written_down_spread_and_struck_out(visitor: Visitor) -> None:
    page = visitor.send(visitor.get("/takings/costs/new"), "what", {"what": "Insurance"}, 422)
    assert "This is needed." in page.words
    typed = {"what": "Insurance", "amount": "120", "day": "2026-02-10", "months": "0"}
    page = visitor.send(page, "what", typed, 422)
    page = visitor.send(page, "what", typed | {"months": "12"})
    days = "first=2026-01-01&last=2026-06-30"
    page = visitor.get("/takings/costs?" + days)
    assert figures(page, 5) == [Decimal("50.00")]
    page = visitor.send(page, "once", {})
    assert "struck out" in page.words
    page = visitor.send(visitor.get("/takings/costs"), "once", {})
    assert "counts again" in page.words
    page = visitor.send(visitor.get("/takings/costs/1"), "what", {"amount": "240"})
    assert figures(visitor.get("/takings/costs?" + days), 5) == [Decimal("100.00")]
    assert "Insurance" in visitor.client.get("/takings/other-costs.csv").text


def test_what_if_changes_nothing(guest: Visitor) -> None:
    page = guest.get("/takings/what-if?price=10&number_lower=20%25&pay=20")
    assert "Profit would be" in page.words
    before, after = figures(page, 3)[:-1], figures(page, 6)[:-1]
    assert sum(after) == pytest.approx(sum(before) * Decimal("0.88"), abs=Decimal("0.02"))
    assert "Profit would be" in guest.get("/takings/what-if?mix-1=50").words
    assert "is no share" in guest.get("/takings/what-if?mix-1=lots", 422).words
    assert "is no share" in guest.get("/takings/what-if?mix-1=1/0", 422).words
    guest.get("/takings/what-if?price=much", 422)


def test_downloads_are_those_of_the_page(guest: Visitor) -> None:
    page = guest.get("/takings?by=channel")
    rows = list(csv.reader(io.StringIO(guest.client.get("/takings/by-channel.csv").text)))
    assert rows[-1][0] == "In all"
    assert Decimal(rows[-1][2]) == figures(page, 2)[-1]
    entries = list(csv.reader(io.StringIO(guest.client.get("/takings/journal-entries.csv").text)))
    debit, credit = (sum(Decimal(row[n] or 0) for row in entries[1:]) for n in (5, 6))
    assert debit == credit > 0
    for name in ("sales", "year-end", "trial-balance", "other-costs"):
        assert guest.client.get(f"/takings/{name}.xlsx").data.startswith(b"PK")


def test_the_stock_opens_to_its_things(guest: Visitor) -> None:
    page = guest.get("/takings/stock?shelf=papers")
    papers, *_ = figures(page, 1)
    assert page.words.count(f"{papers:.2f}") == 2
    assert "Reed pocket book" in guest.get("/takings/stock?days=1").words
    assert "has lain that long" in guest.get("/takings/stock?days=9999").words
    lying = guest.get("/takings/stock?on=2020-01-01")
    assert "The stock had cost £0.00." in lying.words


def test_the_sentence_is_that_of_the_table(guest: Visitor) -> None:
    page = guest.get("/takings")
    said = re.search(
        r"An hour at the bench brought £([\d.]+) for you and the workshop, where you reckon £19.20",
        page.words,
    )
    assert said
    assert page.words.count(said[1]) >= 2
    best = re.search(r"([A-Z][a-z]+ \d{4}) was the best month: £([\d.,]+) sold", page.words)
    assert best
    months = guest.get("/takings?by=month").words
    assert re.search(rf"{best[1]}\s*\d+\s*{re.escape(best[2])}", months)
