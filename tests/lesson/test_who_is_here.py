"""Who is here and who can be watched: the lesson's own rules, without a talk."""
from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest

from bot.facts import ChildNoted, LessonClosed, LessonOpened, RegisterTaken
from bot.lesson.book import call_apart
from bot.lesson.lesson import advance
from bot.lesson.timetable import lesson_id, next_lesson, on_now
from bot.people.model import Closed, Club, ClubClass

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
LESSON = lesson_id("tue", date(2026, 11, 24))
TUESDAY = ClubClass(id="tue", name="Lanterns", day="tuesday", start=time(17), coach=("jo",))
CLUB = Club(id="c", name="C", classes=(TUESDAY,), closed=(Closed(first=date(2026, 12, 21), last=date(2027, 1, 3)),))


def opened(*facts):
    """A lesson that was opened, after these facts."""
    lesson = advance(None, LessonOpened(LESSON, "jo", NOW))
    for fact in facts:
        lesson = advance(lesson, fact)
    return lesson


def test_away_sits_and_leaves():
    """Away is not here; who sits out is here and shows nothing; who leaves is here until then."""
    lesson = opened(
        RegisterTaken(LESSON, ("mia",), NOW), ChildNoted(LESSON, "ben", "sits", NOW),
        ChildNoted(LESSON, "ava", "leaves", NOW, until=NOW + timedelta(minutes=30)),
    )
    assert [lesson.here(child, NOW) for child in ("mia", "ben", "ava")] == [False, True, True]
    assert not lesson.can_show("ben", (), NOW)
    assert not lesson.here("ava", NOW + timedelta(minutes=30))


def test_spared_a_load_for_today():
    """A child who is spared landings may show what does not land, and is whole again when she is back."""
    lesson = opened(ChildNoted(LESSON, "ava", "spared", NOW, load="landing"))
    assert not lesson.can_show("ava", ("landing",), NOW)
    assert lesson.can_show("ava", ("wrists",), NOW)
    assert advance(lesson, ChildNoted(LESSON, "ava", "back", NOW)).can_show("ava", ("landing",), NOW)


def test_a_judgement_belongs_to_the_lesson_until_its_close():
    """What was judged before the close belongs to it, what came after does not, until it is opened again."""
    shut = LessonClosed(LESSON, "jo", NOW + timedelta(minutes=50))
    lesson = opened(shut)
    assert lesson.holds(shut.at - timedelta(seconds=1))
    assert not lesson.holds(shut.at)
    assert advance(lesson, LessonOpened(LESSON, "jo", shut.at)).holds(shut.at + timedelta(minutes=1))


@pytest.mark.parametrize(("after", "day"), [("2026-11-24", "2026-12-01"), ("2026-11-23", "2026-11-24"),
                                            ("2026-12-15", "2027-01-05")])
def test_the_next_lesson_is_never_the_same_day_and_never_on_a_closed_one(after, day):
    """The next lesson is a week on, or the first one after the holidays."""
    assert next_lesson(CLUB, TUESDAY, date.fromisoformat(after)).isoformat() == day


@pytest.mark.parametrize(("minutes", "on"), [(-61, False), (-60, True), (0, True), (119, True), (120, False)])
def test_a_class_is_on_from_an_hour_before_to_an_hour_after(minutes, on):
    """The class that start opens is the one about to begin, on, or just over."""
    assert bool(on_now(CLUB, (TUESDAY,), NOW + timedelta(minutes=minutes))) is on


def test_children_are_called_by_as_much_as_tells_them_apart():
    """First name; with initials where two share it; the whole name where those are alike too."""
    names = {"1": "Ava Price", "2": "Ana Castro", "3": "Ana Duarte", "4": "Zoe Quill", "5": "Zoe Quinn"}
    assert call_apart(names) == {"1": "Ava", "2": "Ana C", "3": "Ana D", "4": "Zoe Quill", "5": "Zoe Quinn"}
