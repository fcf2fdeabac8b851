"""Somebody's lessons as a calendar: when, which class, and how many retests are due. No child's name is in it.

What lives here: what is in the calendar. A helper, who may be young, sees when the lessons are and no more.
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from hashlib import blake2s

from bot.lesson.timetable import day_in_zone, ends_at, lesson_id, next_lesson, scheduled_on, starts_at
from bot.out.ical import Event, calendar
from bot.people.model import ClubClass
from bot.step import Desk
from bot.talk import words
from bot.talk.draft import Draft
from bot.talk.watching import due

BEFORE = timedelta(days=28)
AHEAD = timedelta(days=182)


def lessons(desk: Desk, now: datetime) -> str:
    """The calendar of whoever's desk this is, from four weeks ago for half a year."""
    draft = Draft(desk, "", now, now)
    return calendar(draft.club.name, _events(draft, day_in_zone(draft.club, now)), now)


def _events(draft: Draft, today: date) -> Iterator[Event]:
    club, counted = draft.club, _retests(draft, today)
    for ahead in range((BEFORE + AHEAD).days + 1):
        day = today - BEFORE + timedelta(days=ahead)
        if club.is_closed(day):
            continue
        for one in club.classes_of(draft.me.id, day):
            if scheduled_on(one, day):
                yield Event(
                    _uid(club.id, one, day), starts_at(club, one, day), ends_at(club, one, day), one.name,
                    _in_words(counted[one.id, day]),
                )


def _uid(club: str, one: ClubClass, day: date) -> str:
    """The same for a class's lesson of a day, and for no other; nobody reads anything out of it."""
    return f"{blake2s(f'{club}/{lesson_id(one.id, day)}'.encode(), digest_size=12).hexdigest()}@sprung"


def _retests(draft: Draft, today: date) -> Counter[tuple[str, date]]:
    """(class, day) → how much is to be shown again on that day; what is late counts for the next lesson."""
    found: Counter[tuple[str, date]] = Counter()
    if draft.me.role == "helper":
        return found
    for class_id, book in draft.books.items():
        if class_id not in draft.club.by_class:
            continue
        for child, of_child in book.in_order():
            for skill in of_child:
                if draft.view(child, skill).label == "retest" and (on := due(draft, child, skill)) is not None:
                    found[class_id, _not_gone_by(draft, class_id, on, today)] += 1
    return found


def _not_gone_by(draft: Draft, class_id: str, on: date, today: date) -> date:
    """Nobody showed it at the lesson where it was due: then it is due at the next one."""
    one = draft.club.by_class[class_id]
    return on if on >= today else next_lesson(draft.club, one, today - timedelta(days=1))


def _in_words(count: int) -> str:
    return f"{words.count(count, 'retest')} due." if count else ""
