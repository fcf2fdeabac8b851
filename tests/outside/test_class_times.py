"""Classes' times from calendars that another library wrote, and from the rules of data/04_time.json.

Sources: RFC 5545 (3.8.5.1 EXDATE, 3.8.5.3 RRULE, 3.8.4.4 RECURRENCE-ID, 3.6.1 the end of an all-day event) and the
weekly cases of data/04_time.json, on which zoneinfo, dateutil, recurring-ical-events and whenever agree.
"""
from __future__ import annotations

import json
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import pytest

from adapters.calendars import occurrences
from bot.lesson.timetable import starts_at
from bot.people.model import DAYS, Closed, Club, ClubClass
from bot.people.table import TableErrors
from bot.people.times import Times, times

CASES = json.loads((Path(__file__).parent / "data" / "04_time.json").read_text(encoding="utf-8"))["cases"]
WEEKLY = [case for case in CASES if case["id"].startswith("weekly1700")]
TODAY = date(2026, 11, 23)      # a Monday
TUESDAY = ClubClass(id="tue", name="Tuesday Lanterns", day="tuesday", start=time(16), minutes=60, watch_minutes=50)
THURSDAY = ClubClass(id="thu", name="Thursday Mixed", day="thursday", start=time(16))


def club(zone: str = "Europe/London", *classes: ClubClass, **more: Any) -> Club:
    return Club(id="x", name="X", timezone=zone, classes=classes or (TUESDAY, THURSDAY), **more)


def event(title: str, begins: Any, minutes: int = 60, **more: Any) -> icalendar.Event:
    """A weekly event, unless told otherwise."""
    made = icalendar.Event()
    made.add("summary", title)
    made.add("uid", f"{title}@test")
    made.add("dtstart", begins)
    if isinstance(begins, datetime):
        made.add("duration", timedelta(minutes=minutes))
    for key, value in {"rrule": {"freq": "weekly", "count": 20}, **more}.items():
        if value is not None:
            made.add(key.replace("_", "-"), value)
    return made


def laid(folder: Path, at: Club, *events: icalendar.Event, today: date = TODAY, **said: str) -> Times:
    """What a file of these comes to."""
    whole = icalendar.Calendar()
    for one in events:
        whole.add_component(one)
    file = folder / "classes.ics"
    file.write_bytes(whole.to_ical())
    return times(occurrences(file, at, today), at, said, today)


@pytest.mark.parametrize("case", WEEKLY, ids=lambda case: case["id"])
def test_a_weekly_rule_is_the_clubs_time_over_a_clock_change(case: dict, tmp_path: Path) -> None:
    """Five o'clock by a rule is five o'clock here, and our lessons are at the instants that the rule has."""
    zone, first = case["input"]["zone"], datetime.fromisoformat(case["input"]["first_local"])
    at = club(zone, ClubClass(id="c", name="Little ones", day="monday", start=time(9)))
    made = laid(tmp_path, at, event("Little ones", first.replace(tzinfo=ZoneInfo(zone))), today=first.date())
    one = made.club.classes[0]
    assert (one.day, one.start, one.minutes) == (DAYS[first.weekday()], time(17), 60)
    ours = [starts_at(made.club, one, first.date() + timedelta(days=7 * n)) for n in range(len(case["expected_utc"]))]
    assert ours == [datetime.fromisoformat(text) for text in case["expected_utc"]]


def test_another_zone_is_brought_into_the_clubs(tmp_path: Path) -> None:
    """Six in Berlin is five in London; a floating time is the club's own (3.3.5, form 1)."""
    made = laid(
        tmp_path, club(), event("Tuesday Lanterns", datetime(2026, 11, 24, 18, tzinfo=ZoneInfo("Europe/Berlin")), 45),
        event("thu", datetime(2026, 11, 26, 16, 30)),      # noqa: DTZ001
    )
    tue, thu = made.club.classes
    assert (tue.day, tue.start, tue.minutes, tue.watch_minutes) == ("tuesday", time(17), 45, 45)
    assert (thu.start, thu.minutes) == (time(16, 30), 60)
    assert '"Tuesday Lanterns" is the class Tuesday Lanterns: Tuesday 17:00, 45 minutes, until now ' \
           "Tuesday 16:00, 60 minutes." in made.words


def london(month: int, day: int, hour: int = 16, year: int = 2026) -> datetime:
    return datetime(year, month, day, hour, tzinfo=ZoneInfo("Europe/London"))


def test_exceptions_of_all_classes_are_a_break_and_of_one_a_day(tmp_path: Path) -> None:
    """Two weeks in which nothing is are one closed span; a day that one class leaves out is closed by itself; a day on
    which another class of that day is held is not."""
    tue = event("tue", london(11, 24), exdate=[london(12, 22), london(12, 29), london(2, 9, year=2027)])
    thu = event("thu", london(11, 26), exdate=[london(12, 24), london(12, 31)])
    made = laid(tmp_path, club(), tue, thu)
    assert made.club.closed == (
        Closed(first=date(2026, 12, 22), last=date(2026, 12, 31)),
        Closed(first=date(2027, 2, 9), last=date(2027, 2, 9)),
    )
    assert "Closed from 2026-12-22 to 2026-12-31." in made.words
    early = ClubClass(id="early", name="Early", day="tuesday", start=time(15))
    made = laid(tmp_path, club("Europe/London", TUESDAY, THURSDAY, early), tue, thu, event("early", london(11, 24, 15)))
    assert all(date(2027, 2, 9) not in span for span in made.club.closed)


def test_an_all_day_holiday_is_closed(tmp_path: Path) -> None:
    """From its first day to the day before its end (3.6.1), and what was closed stays so."""
    before = Closed(first=date(2027, 4, 1), last=date(2027, 4, 5))
    holiday = event("Half term", date(2027, 2, 15), dtend=date(2027, 2, 20), rrule=None)
    made = laid(tmp_path, club(closed=(before,)), event("tue", london(11, 24)), holiday)
    assert made.club.closed == (Closed(first=date(2027, 2, 15), last=date(2027, 2, 19)), before)


def test_one_lesson_that_is_moved_does_not_move_the_class(tmp_path: Path) -> None:
    """A single changed day (RECURRENCE-ID) leaves the usual time as it is."""
    weekly = event("tue", london(11, 24))
    moved = event("tue", london(12, 2, 18), rrule=None, recurrence_id=london(12, 1))
    made = laid(tmp_path, club(), weekly, moved)
    assert (made.club.classes[0].day, made.club.classes[0].start) == ("tuesday", time(16))


def test_the_same_calendar_again_changes_nothing(tmp_path: Path) -> None:
    """What was taken is there, breaks too."""
    events = (event("tue", london(11, 24, 17), exdate=[london(12, 22, 17)]), event("thu", london(11, 26)))
    once = laid(tmp_path, club(), *events).club
    assert laid(tmp_path, once, *events).club == once


@pytest.mark.parametrize(("events", "says"), [
    ((event("Swimming", london(11, 24)),), '"Swimming" is none of our classes (tue, thu): say --class'),
    ((event("tue", london(11, 24)), event("Tuesday Lanterns", london(11, 24))), "would both be tue"),
    ((event("tue", london(11, 24), rrule=None),), "is no weekly class"),
    ((event("tue", london(11, 24), 900),), "lasts 900 minutes"),
    ((event("tue", london(11, 24), rrule={"freq": "weekly", "interval": 2}),), "is not held every week"),
    ((event("tue", london(11, 24), rrule={"freq": "minutely"}),), "repeats minutely; no class does"),
])
def test_what_is_no_class_is_told(tmp_path: Path, events: tuple[icalendar.Event, ...], says: str) -> None:
    """An event that is none of our classes, or no weekly one, is said with what to do; nothing is taken."""
    with pytest.raises(TableErrors) as error:
        laid(tmp_path, club(), *events)
    assert says in str(error.value)


@pytest.mark.parametrize("case", [case for case in CASES if case["id"].startswith("until_utc_exdate")],
                         ids=lambda case: case["id"])
def test_an_end_in_utc_and_an_exception(tmp_path: Path, case: dict) -> None:
    """UNTIL is in UTC and counts itself in (3.3.10); the week that EXDATE leaves out is closed."""
    begins, _, zone = case["input"]["dtstart"].partition(" ")
    lines = ["BEGIN:VCALENDAR", "BEGIN:VEVENT", "SUMMARY:tue", "UID:u", f"DTSTART;TZID={zone}:{begins}",
             f"RRULE:{case['input']['rrule']}", f"EXDATE;TZID={zone}:{case['input']['exdate']}", "END:VEVENT",
             "END:VCALENDAR", ""]
    (tmp_path / "x.ics").write_text("\r\n".join(lines))
    today = date(2026, 10, 14)
    found = occurrences(tmp_path / "x.ics", club(zone), today)
    assert sorted(one.begins.date().isoformat() for one in found) == case["expected_local_dates"]
    made = times(found, club(zone), {}, today).club
    assert (made.classes[0].day, made.classes[0].start) == ("wednesday", time(17))
    assert made.closed == (Closed(first=date(2026, 10, 28), last=date(2026, 10, 28)),)


def test_what_was_worked_out_of_the_old_club_is_gone(tmp_path: Path) -> None:
    """The club with the new times finds its classes as they are now."""
    at = club()
    assert at.by_class["tue"].start == time(16)
    made = laid(tmp_path, at, event("tue", london(11, 24, 17)))
    assert made.club.by_class["tue"].start == time(17)


def test_a_title_can_be_told(tmp_path: Path) -> None:
    """Where the names don't tell, it is said which class a title is."""
    made = laid(tmp_path, club(), event("Little ones", london(11, 24, 17)), **{"little ones": "tue"})
    assert made.club.classes[0].start == time(17)


@pytest.mark.parametrize("data", [b"", b"nothing of the kind", b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n", b"\xff\xfe\x00",
                                  b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nSUMMARY:x\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"])
def test_a_file_that_is_no_calendar_is_told(tmp_path: Path, data: bytes) -> None:
    """Whatever the libraries make of it: one sentence, or no event."""
    (tmp_path / "x.ics").write_bytes(data)
    try:
        assert occurrences(tmp_path / "x.ics", club(), TODAY) == []
    except TableErrors as error:
        assert "no calendar that can be read" in str(error)  # noqa: PT017
