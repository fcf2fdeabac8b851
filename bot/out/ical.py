"""Calendars as RFC 5545 writes them. Pure text: what stands in one is `bot/talk/calendar.py`.

Instants are written in UTC (form 2 of section 3.3.5), so that a calendar needs no time zones of its own.
"""
from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

LONGEST_LINE = 75           # octets, the end of the line not counted (3.1)
_UNWRITABLE = re.compile("[\0-\x08\x0b-\x1f\x7f]")      # CONTROL (3.1)


@dataclass(frozen=True, slots=True)
class Event:
    """One event. `uid`: the same for the same event whenever it is written (3.8.4.7)."""

    uid: str
    begins: datetime
    ends: datetime
    summary: str
    description: str = ""


def calendar(name: str, events: Iterable[Event], now: datetime) -> str:
    """A calendar of these events, as of an instant."""
    lines = [
        "BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Sprung//Lessons//EN", "CALSCALE:GREGORIAN",
        f"NAME:{text(name)}", f"X-WR-CALNAME:{text(name)}", "REFRESH-INTERVAL;VALUE=DURATION:PT1H",
    ]
    for event in events:
        lines += _event(event, now)
    return "".join(f"{part}\r\n" for line in [*lines, "END:VCALENDAR"] for part in folded(line))


def _event(event: Event, now: datetime) -> list[str]:
    lines = [
        "BEGIN:VEVENT", f"UID:{event.uid}", f"DTSTAMP:{_instant(now)}", f"DTSTART:{_instant(event.begins)}",
        f"DTEND:{_instant(event.ends)}", f"SUMMARY:{text(event.summary)}",
    ]
    if event.description:
        lines.append(f"DESCRIPTION:{text(event.description)}")
    return [*lines, "END:VEVENT"]


def _instant(at: datetime) -> str:
    return f"{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def text(value: str) -> str:
    """A value of the type TEXT (3.3.11)."""
    clean = _UNWRITABLE.sub(" ", value.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " "))
    return clean.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def folded(line: str) -> Iterator[str]:
    """A line in parts of 75 octets at most, all but the first with a space before them; no letter is cut in two."""
    part, size, room = "", 0, LONGEST_LINE
    for letter in line:
        octets = len(letter.encode("utf-8", "replace"))
        if size + octets > room:
            yield part
            part, size = " ", 1
        part, size = part + letter, size + octets
    yield part
