"""A calendar file by RFC 5545: lines, their folding, escapes, and what another reader reads."""

from __future__ import annotations

from datetime import UTC, date, datetime

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.documents.calendar import Event, calendar_file

DAY = date(2027, 3, 1)
NOW = datetime(2027, 3, 1, 9, 30, tzinfo=UTC)


def unfolded(data: bytes) -> list[str]:
    """Content lines: a line break and one blank or tab that follows it are taken out (3.1)."""
    text = data.replace(b"\r\n ", b"").replace(b"\r\n\t", b"").decode()
    return text.removesuffix("\r\n").split("\r\n")


def check_folded(data: bytes) -> None:
    """RFC 5545, 3.1: lines end with CRLF and have 75 octets at most; no character is split."""
    assert data.endswith(b"\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"")
    for line in data.removesuffix(b"\r\n").split(b"\r\n"):
        assert len(line) <= 75
        line.decode("utf-8")


@pytest.mark.parametrize(
    "title", ["a" * 100, "a" * 66 + "éb", "a" * 67, "a" * 68, "é" * 80, "🙂" * 40, "short"]
)
def test_long_lines_are_folded_and_nothing_is_lost(title: str) -> None:
    """The lengths at which folding sets in (M13 to M15): the library folds an octet early."""
    data = calendar_file([Event("order-1-due", DAY, title, title)], "Shop", NOW)
    check_folded(data)
    assert f"SUMMARY:{title}" in unfolded(data)
    assert f"DESCRIPTION:{title}" in unfolded(data)


def test_the_rfcs_own_long_line_reads_as_one() -> None:
    """M14, RFC 5545, 3.1: the example of a folded description."""
    folded = b"DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n"
    assert unfolded(folded) == [
        "DESCRIPTION:This is a long description that exists on a long line."
    ]


@given(
    st.text(st.characters(exclude_categories=("Cs", "Cc"), include_characters="\n"), max_size=200)
)
def test_another_reader_reads_what_was_meant(says: str) -> None:
    data = calendar_file([Event("market-3", DAY, "Fair; a, b\\c", says.strip())], "Shop", NOW)
    check_folded(data)
    [event] = icalendar.Calendar.from_ical(data).walk("VEVENT")
    assert event["SUMMARY"] == "Fair; a, b\\c"
    assert event.get("DESCRIPTION", "") == says.strip()
    assert (event["DTSTART"].dt, event["DTEND"].dt) == (DAY, date(2027, 3, 2))
    assert event["UID"] == "market-3@tallyfold"


def test_what_a_file_must_have() -> None:
    """RFC 5545, 3.6: PRODID and VERSION once; of an event UID and DTSTAMP."""
    lines = unfolded(calendar_file([], "Shop", NOW))
    assert [lines[0], lines[-1]] == ["BEGIN:VCALENDAR", "END:VCALENDAR"]
    assert "VERSION:2.0" in lines
    assert sum(line.startswith("PRODID:") for line in lines) == 1
    lines = unfolded(calendar_file([Event("x", DAY, "t")], "Shop", NOW))
    assert "DTSTAMP:20270301T093000Z" in lines
    assert "DTSTART;VALUE=DATE:20270301" in lines
    assert "DESCRIPTION" not in " ".join(lines)
