"""Lessons, closed days and retests over clock changes, beside a calendar library.

Source: RFC 5545 (the rules of data/04_time.json from its section 3.8.5.3, EXDATE, UNTIL, 3.3.5 for skipped and doubled
times, 3.3.6: a duration in minutes is exact) and the IANA time zone database (tzdata 2026.6). The second opinion is
recurring-ical-events 3.8.2: a class is a weekly event in it, each closed day an EXDATE.
"""
from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from itertools import islice
from pathlib import Path

import icalendar
import pytest
import recurring_ical_events
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.facts import Mark
from bot.frozen import replace
from bot.lesson.due import due
from bot.lesson.timetable import ends_at, lesson_id, next_lesson, on_now, starts_at
from bot.marks.standing import Rules, fold, view
from bot.people.model import DAYS, Closed, Club, ClubClass
from bot.scheme.model import Award, Scheme, Skill

CASES = json.loads((Path(__file__).parent / "data" / "04_time.json").read_text(encoding="utf-8"))["cases"]
ZONES = ("Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata")
DAY, WEEK = timedelta(days=1), timedelta(days=7)


def cases(*starts: str) -> list[dict]:
    """The cases whose id begins so."""
    return [case for case in CASES if case["id"].startswith(starts)]


def ids(case: dict) -> str:
    return case["id"]


def local(text: str) -> datetime:
    return datetime.strptime(text[:15], "%Y%m%dT%H%M%S")  # noqa: DTZ007 - local on purpose


def a_class(day: int, start: time, minutes: int = 60) -> ClubClass:
    return ClubClass(id=DAYS[day], name="C", day=DAYS[day], start=start, minutes=minutes)


def a_club(zone: str, *classes: ClubClass, closed: tuple[Closed, ...] = ()) -> Club:
    return Club(id="x", name="X", timezone=zone, classes=classes, closed=closed)


def lessons(club: Club, first: date) -> Iterator[date]:
    """The days of all lessons of the club from a day on, that day included."""
    day = first - DAY
    while True:
        day = min(next_lesson(club, one, day) for one in club.classes)
        yield day


# --- rules of RFC 5545 ------------------------------------------------------------------------------

def off_weeks(rule: dict[str, str], first: date) -> tuple[Closed, ...]:
    """INTERVAL=2: every other week, counted from that of the first day, begins on WKST and is left out."""
    if rule.get("INTERVAL") != "2":
        return ()
    begins = first - timedelta(days=(first.weekday() - {"MO": 0, "SU": 6}[rule["WKST"]]) % 7)
    return tuple(Closed(first=begins + (n + 1) * WEEK, last=begins + (n + 2) * WEEK - DAY) for n in range(0, 40, 2))


WEEKLY = [case for case in cases("rfc5545") if "WEEKLY" in case["input"].get("rrule", "")]


@pytest.mark.parametrize("case", WEEKLY, ids=ids)
def test_weekly_rules_give_the_same_days(case):
    """RFC 5545 3.8.5.3: a class for each day of a rule, weeks that it leaves out closed, WKST and all."""
    first = local(case["input"]["dtstart_local"])
    rule = dict(part.split("=") for part in case["input"]["rrule"].split(";"))
    days = [("MO", "TU", "WE", "TH", "FR", "SA", "SU").index(day) for day in rule.get("BYDAY", "").split(",") if day]
    classes = [a_class(day, first.time()) for day in days or [first.weekday()]]
    club = a_club(case["input"]["tzid"], *classes, closed=off_weeks(rule, first.date()))
    expected = [date.fromisoformat(day) for day in case["expected_local_dates"]]
    assert list(islice(lessons(club, first.date()), len(expected))) == expected


@pytest.mark.parametrize("case", cases("until_utc_exdate"), ids=ids)
def test_a_term_with_a_week_off(case):
    """EXDATE is a closed week; UNTIL is an instant, and the lesson that begins at it is the last (RFC 5545 3.3.10)."""
    stamp, zone = case["input"]["dtstart"].split()
    first, off = local(stamp), local(case["input"]["exdate"]).date()
    until = local(case["input"]["rrule"].partition("UNTIL=")[2]).replace(tzinfo=UTC)
    one = a_class(first.weekday(), first.time())
    club = a_club(zone, one, closed=(Closed(first=off - 2 * DAY, last=off + 2 * DAY),))
    term = [day for day in islice(lessons(club, first.date()), 10) if starts_at(club, one, day) <= until]
    assert [day.isoformat() for day in term] == case["expected_local_dates"]


# --- beside a calendar library ----------------------------------------------------------------------

def by_the_library(club: Club, one: ClubClass, first: date, count: int) -> list[datetime]:
    """When lessons begin, by recurring-ical-events: a weekly event whose closed days are EXDATEs."""
    day = first + timedelta(days=(DAYS.index(one.day) - first.weekday()) % 7)
    event = icalendar.Event()
    event.add("UID", "lesson")
    event.add("DTSTART", datetime.combine(day, one.start, club.tz))
    event.add("DURATION", timedelta(minutes=one.minutes))
    event.add("RRULE", {"FREQ": "WEEKLY"})
    for span in club.closed:
        for n in range((span.last - span.first).days + 1):
            if (span.first + n * DAY).weekday() == day.weekday() and span.first + n * DAY >= day:
                event.add("EXDATE", datetime.combine(span.first + n * DAY, one.start, club.tz))
    calendar = icalendar.Calendar()
    calendar.add("VERSION", "2.0")
    calendar.add("PRODID", "test")
    calendar.add_component(event)
    read_again = icalendar.Calendar.from_ical(calendar.to_ical())
    found = recurring_ical_events.of(read_again).after(datetime.combine(first, time(), club.tz))
    return [event["DTSTART"].dt.astimezone(UTC) for event in islice(found, count)]


SPANS = st.builds(
    lambda first, days: Closed(first=first, last=first + days * DAY),
    st.dates(date(2026, 2, 1), date(2027, 6, 1)), st.integers(0, 20),
)


@settings(max_examples=120, deadline=None, derandomize=True)
@given(
    st.sampled_from(ZONES), st.integers(0, 6), st.times().map(lambda one: one.replace(second=0, microsecond=0)),
    st.dates(date(2026, 2, 1), date(2027, 1, 31)), st.lists(SPANS, max_size=3),
)
def test_lessons_are_those_of_the_library(zone, weekday, start, first, closed):
    """A year of any weekly class in four zones, any days closed: the same instants, and each lasts its minutes."""
    one = a_class(weekday, start, 75)
    club = a_club(zone, one, closed=tuple(closed))
    days = list(islice(lessons(club, first), 40))
    assert [starts_at(club, one, day) for day in days] == by_the_library(club, one, first, 40)
    assert all(ends_at(club, one, day) - starts_at(club, one, day) == timedelta(minutes=75) for day in days)
    assert not any(club.is_closed(day) for day in days)


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("start", [time(hour, minute) for hour in range(4) for minute in (0, 15, 30)], ids=str)
def test_lessons_in_the_hours_that_change(zone, start):
    """Every Sunday of two years, at times that are skipped and shown twice: the same instants again."""
    one = a_class(6, start)
    club = a_club(zone, one)
    days = list(islice(lessons(club, date(2026, 1, 1)), 104))
    assert [starts_at(club, one, day) for day in days] == by_the_library(club, one, date(2026, 1, 1), 104)


# --- retests ----------------------------------------------------------------------------------------

SKILL = Skill(id="s", name="S")
SCHEME = Scheme(name="X", award=(Award(id="a", name="A", skill=(SKILL,)),))


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("weeks", [0, 1, 3])
def test_a_retest_is_due_at_the_next_lesson_that_the_library_knows(zone, weeks):
    """Missed at any lesson of two years with weeks off: due at the next lesson, or at the first after a week or three.

    Judged at the very end of the lesson, so a day that was counted in UTC would be another in some of the zones.
    """
    one = a_class(6, time(23, 0))
    club = a_club(zone, one, closed=(
        Closed(first=date(2026, 3, 23), last=date(2026, 4, 12)),
        Closed(first=date(2026, 10, 26), last=date(2026, 11, 1)),
    ))
    instants = by_the_library(club, one, date(2026, 1, 1), 110)
    rules = Rules(1, SKILL, SCHEME, club.tz)
    for n, begins in enumerate(instants[:100]):
        day = begins.astimezone(club.tz).date()
        at = begins + timedelta(minutes=59)
        mark = Mark("m", "ava", "s", lesson_id(one.id, day), "not yet", "jo", at, at, 1)
        standing, _ = fold([mark], lambda _: rules)
        if weeks:
            standing = replace(standing, moved_to=day + weeks * WEEK)
        found = due(standing, view(standing, at, rules, lambda _: rules), club, one, None)
        assert found is not None
        expected = next(later for later in instants[n + 1:] if later.astimezone(club.tz).date() >= day + weeks * WEEK)
        assert starts_at(club, one, found) == expected


# --- on now -----------------------------------------------------------------------------------------

@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("start", [time(17), time(0, 15), time(1, 30), time(23, 30)], ids=str)
def test_a_lesson_is_on_from_an_hour_before_until_an_hour_after(zone, start):
    """By elapsed minutes around the library's instants, over clock changes and over midnight too."""
    one = a_class(6, start)
    club = a_club(zone, one)
    for begins in by_the_library(club, one, date(2026, 1, 1), 104):
        on = [bool(on_now(club, (one,), begins + timedelta(minutes=after))) for after in (-61, -60, 0, 119, 120)]
        assert on == [False, True, True, True, False]
