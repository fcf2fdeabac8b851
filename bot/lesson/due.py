"""When a child is to show a skill again: retests, and second shows that were left for another lesson."""
from __future__ import annotations

from datetime import date, timedelta

from bot.lesson.timetable import class_and_day, next_lesson
from bot.marks.standing import Standing, View
from bot.people.model import Club, ClubClass


def due(standing: Standing, seen_as: View, club: Club, one: ClubClass, open_lesson: str | None) -> date | None:
    """The day of the lesson at which it is due, or None where nothing is, or it is due in the lesson now open.

    A retest is due at the class's next lesson that is not closed, never on the same day, and not before
    the day it was moved to.
    """
    if seen_as.label == "retest" and standing.retest_from is not None:
        day = next_lesson(club, one, standing.retest_from)
        if standing.moved_to is not None and standing.moved_to > day:
            day = next_lesson(club, one, standing.moved_to - timedelta(days=1))
        return day
    between = seen_as.label in ("ready", "resting", "owed") and standing.lesson is not None
    if between and standing.lesson != open_lesson:
        _, day = class_and_day(standing.lesson or "")
        return next_lesson(club, one, day)
    return None
