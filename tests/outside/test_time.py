"""Class times, rests and retest days over clock changes, against published values.

Source: data/04_time.json: the IANA time zone database and RFC 5545; each case was computed by at least two of zoneinfo,
python-dateutil, recurring-ical-events and whenever (named in its `agree`). RFC example dates were typed from memory and
confirmed by those libraries.
"""
from __future__ import annotations

import json
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.facts import Mark
from bot.lesson.due import due
from bot.lesson.timetable import next_lesson, starts_at
from bot.marks.standing import Outcome, Rules, fold, view
from bot.people.model import DAYS, Closed, Club, ClubClass
from bot.scheme.model import Award, Scheme, Show, Skill

CASES = json.loads((Path(__file__).parent / "data" / "04_time.json").read_text(encoding="utf-8"))["cases"]


def cases(*starts: str) -> list[dict]:
    """The cases whose id begins so."""
    return [case for case in CASES if case["id"].startswith(starts)]


def ids(case: dict) -> str:
    return case["id"]


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


def a_club(zone: str, first: datetime, closed: tuple[Closed, ...] = ()) -> tuple[Club, ClubClass]:
    """A club of one class that meets weekly at that local time."""
    one = ClubClass(id="c", name="C", day=DAYS[first.weekday()], start=first.time(), coach=("jo",))
    return Club(id="x", name="X", timezone=zone, classes=(one,), closed=closed), one


def lessons(club: Club, one: ClubClass, first: date, count: int) -> list[date]:
    """The first lessons from a day on, that day included."""
    days = [next_lesson(club, one, first - timedelta(days=1))]
    while len(days) < count:
        days.append(next_lesson(club, one, days[-1]))
    return days


@pytest.mark.parametrize("case", cases("weekly1700"), ids=ids)
def test_a_weekly_class_keeps_its_wall_clock(case):
    """Lessons at 17:00 fall on the published instants before and after a clock change in four zones."""
    first = datetime.fromisoformat(case["input"]["first_local"])
    club, one = a_club(case["input"]["zone"], first)
    days = lessons(club, one, first.date(), len(case["expected_utc"]))
    assert [starts_at(club, one, day) for day in days] == [utc(text) for text in case["expected_utc"]]


@pytest.mark.parametrize("case", cases("skipped", "ambiguous", "normal", "rfc5545_335"), ids=ids)
def test_a_skipped_or_doubled_time_is_read_as_rfc_5545_says(case):
    """RFC 5545 3.3.5: a skipped local time is read with the offset before the gap, a doubled one is the first."""
    local = datetime.fromisoformat(case["input"]["local"])
    club, one = a_club(case["input"]["zone"], local)
    expected = case["expected"].get("rfc5545_utc") or case["expected"]["utc"]
    assert starts_at(club, one, local.date()) == utc(expected)


@pytest.mark.parametrize("case", cases("rule_hits_skipped"), ids=ids)
def test_a_class_in_the_skipped_hour_is_held_that_week_too(case):
    """RFC 5545 3.3.5 again, by the week: no lesson is lost to a clock change."""
    first = datetime.strptime(case["input"]["dtstart"], "%Y%m%dT%H%M%S")  # noqa: DTZ007 - local on purpose
    club, one = a_club(case["input"]["zone"], first)
    days = lessons(club, one, first.date(), 3)
    assert [starts_at(club, one, day) for day in days] == [utc(text) for text in case["expected_utc"]]


def test_weekly_by_the_rfc_example():
    """RFC 5545 3.8.5.3, "Weekly for 10 occurrences": ours are the same days."""
    (case,) = cases("rfc5545_weekly_10")
    first = datetime.strptime(case["input"]["dtstart_local"], "%Y%m%dT%H%M%S")  # noqa: DTZ007 - local on purpose
    club, one = a_club(case["input"]["tzid"], first)
    assert [day.isoformat() for day in lessons(club, one, first.date(), 10)] == case["expected_local_dates"]


def test_a_half_term_week_is_left_out():
    """RFC 5545 EXDATE: the excluded week has no lesson, the next one has."""
    case = next(case for case in cases("until_utc_exdate") if len(case["expected_local_dates"]) == 4)
    half_term = Closed(first=date(2026, 10, 26), last=date(2026, 10, 30))
    club, one = a_club("Europe/London", datetime(2026, 10, 14, 17), (half_term,))  # noqa: DTZ001 - local on purpose
    assert [day.isoformat() for day in lessons(club, one, date(2026, 10, 14), 4)] == case["expected_local_dates"]


def a_rest(seconds: int, zone: str) -> Rules:
    """A skill of two shows with that rest between them."""
    skill = Skill(id="s", name="S", shows=(Show(seconds=1), Show(seconds=1, rest_s=min(seconds, 3600))))
    award = Award(id="a", name="A", skill=(skill,))
    return Rules(1, skill, Scheme(name="X", rest_s=60, award=(award,)), ZoneInfo(zone))


def a_mark(n: int, at: datetime, verdict: str = "seen") -> Mark:
    return Mark(f"m{n}", "ava", "s", "c/x", verdict, "jo", at, at, 1)  # type: ignore[arg-type]


@pytest.mark.parametrize("case", cases("elapsed"), ids=ids)
def test_a_rest_is_elapsed_time(case):
    """A rest over a clock change lasts its minutes, whatever the clock on the wall does (case values: minutes of rest).

    The cases rest for up to 90 minutes; a scheme's rest is at most an hour, so the same minutes are
    counted in as many rests one after another as it takes.
    """
    zone = ZoneInfo(case["input"]["zone"])
    at = datetime.fromisoformat(case["input"]["local"]).replace(tzinfo=zone).astimezone(UTC)
    left = case["input"]["rest_minutes"] * 60
    while left:
        rules = a_rest(left, case["input"]["zone"])
        rest = min(left, 3600)
        standing, _ = fold([a_mark(1, at)], lambda _, rules=rules: rules)
        assert view(standing, at + timedelta(seconds=rest - 1), rules, lambda _, rules=rules: rules).label == "resting"
        at, left = standing.rested_at, left - rest
    expected = case["expected"]
    assert at == utc(expected["rest_over_utc"])
    assert at.astimezone(zone).replace(tzinfo=None) == datetime.fromisoformat(expected["rest_over_local"])


def test_sixty_seconds_over_the_doubled_hour():
    """Seen at 01:59:30 summer time, 60 s of rest are over at 01:00:30 winter time (IANA: London, 2026-10-25)."""
    first = datetime(2026, 10, 25, 0, 59, 30, tzinfo=UTC)
    rules = a_rest(60, "Europe/London")
    _, outcomes = fold([a_mark(1, first), a_mark(2, first + timedelta(seconds=50))], lambda _: rules)
    assert outcomes["m2"] is Outcome.EARLY
    standing, _ = fold([a_mark(1, first), a_mark(2, first + timedelta(seconds=60))], lambda _: rules)
    assert standing.ticked


@pytest.mark.parametrize("case", cases("retest"), ids=ids)
def test_a_retest_is_calendar_days(case):
    """A retest is due at the class's wall-clock time on the day that the calendar says, over a clock change too."""
    local = datetime.fromisoformat(case["input"]["local"])
    club, one = a_club(case["input"]["zone"], local)
    missed = local.replace(tzinfo=club.tz).astimezone(UTC)
    rules = a_rest(60, case["input"]["zone"])
    standing, _ = fold([a_mark(1, missed, "not yet")], lambda _: rules)
    seen_as = view(standing, missed, rules, lambda _: rules)
    day = due(standing, seen_as, club, one, None)
    for _ in range(case["input"]["days"] // 7 - 1):
        day = next_lesson(club, one, day)
    assert starts_at(club, one, day) == utc(case["expected"]["due_utc"])
    assert datetime.combine(day, time(17)) == datetime.fromisoformat(case["expected"]["due_local"])
