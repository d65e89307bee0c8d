"""A calendar of whole days as an iCalendar file (RFC 5545), for any calendar program to take in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from icalendar import Calendar
from icalendar import Event as Entry

MAKER = "-//Tallyfold//Tallyfold//EN"


@dataclass(frozen=True)
class Event:
    """Something on a day; the same ``key`` in a later file is the same thing, perhaps moved."""

    key: str
    day: date
    title: str
    says: str = ""
    last_day: date | None = None
    """Where it goes on for several days."""


def calendar_file(events: Sequence[Event], name: str, written: datetime) -> bytes:
    """The events as a file, as of a moment: of two files the later one counts."""
    made = Calendar()
    made.add("prodid", MAKER)
    made.add("version", "2.0")
    made.add("method", "PUBLISH")
    made.add("x-wr-calname", name)
    for event in events:
        entry = Entry()
        entry.add("uid", f"{event.key}@tallyfold")
        entry.add("dtstamp", written)
        entry.add("dtstart", event.day)
        entry.add("dtend", (event.last_day or event.day) + timedelta(days=1))
        entry.add("summary", event.title)
        if event.says:
            entry.add("description", event.says)
        entry.add("transp", "TRANSPARENT")
        made.add_component(entry)
    found: bytes = made.to_ical()
    return found
