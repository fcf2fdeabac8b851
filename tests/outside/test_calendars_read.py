"""The calendar that goes out, read by somebody else's reader.

Sources: RFC 5545 (3.1 lines of at most 75 octets, folded; 3.3.11 the type TEXT with its example; 3.3.5 form 2, UTC;
3.6.1 what an event must have; 3.8.4.7 a UID that stays) and the weekly cases of data/04_time.json, on which zoneinfo,
dateutil, recurring-ical-events and whenever agree. The readers are icalendar and recurring-ical-events.
"""
from __future__ import annotations

import json
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar
import pytest
import recurring_ical_events
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bot.out.ical import Event, calendar, folded, text
from bot.people.model import DAYS, Closed, Club, ClubClass, Cover, Person
from bot.scheme.model import Scheme
from bot.step import Desk
from bot.talk.calendar import lessons
from bot.talk.state import Talk

CASES = json.loads((Path(__file__).parent / "data" / "04_time.json").read_text(encoding="utf-8"))["cases"]
WEEKLY = [case for case in CASES if case["id"].startswith("weekly1700")]
JO = Person(id="jo", name="Jo Marsh", role="coach")
NOW = datetime(2026, 11, 24, 12, tzinfo=UTC)


def desk(club: Club, me: Person = JO) -> Desk:
    """A desk with no book on it."""
    scheme = Scheme(name="S", award=())
    return Desk(club, me, ("", ""), Talk(), people={me.id: me}, books={}, schemes={1: scheme})


def a_club(zone: str, *classes: ClubClass, **more: object) -> Club:
    return Club(id="x", name="X", timezone=zone, classes=classes, **more)     # type: ignore[arg-type]


def a_class(day: date, start: time = time(17), **more: object) -> ClubClass:
    return ClubClass(id="c", name="C", day=DAYS[day.weekday()], start=start, coach=("jo",), **more)  # type: ignore


def read(written: str) -> list[icalendar.Event]:
    """The events, in the order of their beginnings."""
    found = icalendar.Calendar.from_ical(written).walk("VEVENT")
    return sorted(found, key=lambda one: one["DTSTART"].dt)


@pytest.mark.parametrize("case", WEEKLY, ids=lambda case: case["id"])
def test_a_weekly_class_is_at_its_time_over_a_clock_change(case: dict) -> None:
    """A class at five is at five on the wall in summer and winter."""
    given_ = case["input"]
    first = datetime.fromisoformat(given_["first_local"])
    club = a_club(given_["zone"], a_class(first.date()))
    now = first.replace(tzinfo=ZoneInfo(given_["zone"]))
    begins = [one["DTSTART"].dt for one in read(lessons(desk(club), now))]
    for expected in case["expected_utc"]:
        assert datetime.fromisoformat(expected) in begins


@given(zone=st.sampled_from(["Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata"]),
       today=st.dates(date(2025, 1, 1), date(2030, 1, 1)),
       start=st.builds(time, st.integers(0, 23), st.integers(0, 59)),
       minutes=st.integers(5, 600), shut=st.integers(0, 60))
@settings(deadline=None, max_examples=40)
def test_it_is_what_a_weekly_rule_says(zone: str, today: date, start: time, minutes: int, shut: int) -> None:
    """The lessons written are those that a recurring event of such a class has, closed days as its exceptions."""
    one = a_class(today, start, minutes=minutes)
    closed = Closed(first=today + timedelta(days=7), last=today + timedelta(days=7 + shut))
    tz = ZoneInfo(zone)
    written = lessons(desk(a_club(zone, one, closed=(closed,))), datetime.combine(today, time(12), tz))
    rule = icalendar.Event()
    first = today - timedelta(days=28)
    rule.add("dtstart", datetime.combine(first, start, tz))
    rule.add("duration", timedelta(minutes=minutes))
    rule.add("rrule", {"freq": "weekly"})
    for n in range(60):
        day = first + timedelta(days=7 * n)
        if day in closed:
            rule.add("exdate", datetime.combine(day, start, tz))
    whole = icalendar.Calendar()
    whole.add_component(rule)
    since = datetime.combine(first, time(0), tz)
    wanted = {one["DTSTART"].dt.astimezone(UTC): one["DTEND"].dt.astimezone(UTC)
              for one in recurring_ical_events.of(whole).between(since, since + timedelta(days=28 + 183))}
    assert {one["DTSTART"].dt: one["DTEND"].dt for one in read(written)} == {
        at: at + timedelta(minutes=minutes) for at in wanted
    }


def test_a_uid_stays_and_no_two_are_alike() -> None:
    """Asked again on another day, the same lesson has the same UID, and each lesson its own."""
    club = a_club("Europe/London", a_class(NOW.date()))
    today = {one["DTSTART"].dt: str(one["UID"]) for one in read(lessons(desk(club), NOW))}
    later = {one["DTSTART"].dt: str(one["UID"]) for one in read(lessons(desk(club), NOW + timedelta(days=3)))}
    assert len(set(today.values())) == len(today) == 31
    assert {uid for at, uid in today.items() if at in later} == {uid for at, uid in later.items() if at in today}


def test_every_event_has_what_it_must() -> None:
    """UID, DTSTAMP and DTSTART, once each (3.6.1); PRODID and VERSION in the calendar (3.6)."""
    written = lessons(desk(a_club("Europe/London", a_class(NOW.date()))), NOW)
    whole = icalendar.Calendar.from_ical(written)
    assert whole["VERSION"] == "2.0"
    assert whole["PRODID"]
    assert not whole.errors
    for block in written.split("BEGIN:VEVENT")[1:]:
        assert [block.count(f"\r\n{name}:") for name in ("UID", "DTSTAMP", "DTSTART", "DTEND")] == [1, 1, 1, 1]
    assert all(one["DTSTAMP"].dt == NOW for one in read(written))


def test_who_stands_in_has_the_lesson_of_that_day_alone() -> None:
    """A cover puts one lesson into the calendar of whoever stands in."""
    day = date(2026, 12, 8)
    cover = Cover(class_id="c", person="ines", role="coach", first=day, last=day)
    club = a_club("Europe/London", a_class(day), covers=(cover,))
    ines = Person(id="ines", name="Inês Duarte", role="coach")
    assert [one["DTSTART"].dt.date() for one in read(lessons(desk(club, ines), NOW))] == [day]


def test_text_is_written_as_the_example_says() -> None:
    """Commas, semicolons, backslashes and line breaks: the example of 3.3.11, with a comma in it from memory."""
    assert text("Project XYZ Final Review\nConference Room - 3B\nCome Prepared.") == (
        r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared.")
    assert text("a;b,c\\d") == r"a\;b\,c\\d"


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=300))
@example("é" * 200)
@example("\U0001f938" * 60)
@example("x" * 68)
def test_any_words_come_back_and_no_line_is_too_long(words: str) -> None:
    """Whatever a class is called, a reader gets it back, and no line has more than 75 octets nor half a letter."""
    at = datetime(2026, 11, 24, 17, tzinfo=UTC)
    written = calendar("Club", [Event("u@sprung", at, at + timedelta(hours=1), words or "x", words)], at)
    assert written.endswith("END:VCALENDAR\r\n")
    assert all(len(line.encode()) <= 75 for line in written.split("\r\n"))
    plain = "".join(" " if (ord(char) < 32 and char not in "\n\r\t") or ord(char) == 127 else char for char in words)
    plain = plain.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    (event,) = read(written)
    assert str(event.get("DESCRIPTION", "")) == plain


def test_folding_is_undone_by_taking_the_breaks_away() -> None:
    """A line break and a space are all that folding adds (3.1)."""
    line = "DESCRIPTION:" + "This is a lo ng description é" * 9
    parts = list(folded(line))
    assert "".join(part if n == 0 else part[1:] for n, part in enumerate(parts)) == line
    assert len(parts) > 3
