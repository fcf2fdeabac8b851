"""Which reminders the facts call for. Derived anew in every step; the store keeps the difference.

A reminder is never an order: when it fires it is derived once more, and one that makes no sense any more
is dropped. One row for each child's rest and person; those that end within 15 s of each other on one show
of one skill share the last one's time, so that they fire as one message.
"""
from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from bot.lesson.book import ClassBook, Reminder
from bot.lesson.lesson import Lesson
from bot.lesson.timetable import CLOSES_ITSELF, LEFT_OPEN, ends_at
from bot.people.model import Club

TOGETHER = timedelta(seconds=15)
LAST_MINUTES = timedelta(minutes=5)


def derive(book: ClassBook, club: Club) -> dict[str, Reminder]:
    """All that is due for a class, key → reminder; what was sent already is among them."""
    found: dict[str, Reminder] = {}
    for lesson in book.lessons.values():
        if not lesson.is_open:
            continue
        for one in (*_lesson_times(lesson, club, book), *_shown(lesson)):
            found[one.key] = one
        if not lesson.paused:
            for one in _grouped(list(_rests(lesson, club, book))):
                found[one.key] = one
    return found


def _rests(lesson: Lesson, club: Club, book: ClassBook) -> Iterator[Reminder]:
    """The ends of rests, for the assistants and whoever runs the lesson."""
    one = club.by_class.get(lesson.class_id)
    people = tuple(dict.fromkeys((*(one.assistant if one else ()), lesson.runner)))
    for child, of_child in book.standings.items():
        for skill, standing in of_child.items():
            rested = standing.rested_at
            if rested is None or standing.lesson != lesson.id or standing.ticked or standing.seen:
                continue
            if not lesson.here(child, rested) or child in lesson.sits:
                continue
            for person in people:
                if person:
                    key = f"rest/{lesson.id}/{child}/{skill}/{rested.isoformat()}/{person}"
                    yield Reminder(key, person, "rest", rested, lesson.id, child, skill, standing.show)


def _grouped(rests: list[Reminder]) -> Iterator[Reminder]:
    """The same, those close together moved to the last one's time."""
    rests.sort(key=lambda one: (one.person, one.skill or "", one.due_at))
    cluster: list[Reminder] = []
    for one in rests:
        if cluster and not _joins(cluster[-1], one):
            yield from _at_last(cluster)
            cluster = []
        cluster.append(one)
    yield from _at_last(cluster)


def _joins(before: Reminder, after: Reminder) -> bool:
    same = (before.person, before.skill) == (after.person, after.skill)
    return same and after.due_at - before.due_at <= TOGETHER


def _at_last(cluster: list[Reminder]) -> Iterator[Reminder]:
    for one in cluster:
        yield replace(one, due_at=cluster[-1].due_at)


def _lesson_times(lesson: Lesson, club: Club, book: ClassBook) -> Iterator[Reminder]:
    """What an open lesson calls for by the clock alone."""
    one = club.by_class.get(lesson.class_id)
    if one is None or not lesson.runner:
        return
    end = ends_at(club, one, lesson.day)
    last = max(end, lesson.opened_at)
    if lesson.opened_at < end - LAST_MINUTES and not lesson.paused:
        yield _timed(lesson, "last minutes", end - LAST_MINUTES)
    yield _timed(lesson, "left open", last + LEFT_OPEN)
    yield _timed(lesson, "closes itself", last + CLOSES_ITSELF)


def _timed(lesson: Lesson, kind: str, at: datetime) -> Reminder:
    return Reminder(f"{kind}/{lesson.id}/{lesson.runner}", lesson.runner, kind, at, lesson.id)  # type: ignore[arg-type]


def _shown(lesson: Lesson) -> Iterator[Reminder]:
    """What a helper says was shown, to whoever runs the lesson, at once."""
    for shown in lesson.shown:
        key = f"shown/{lesson.id}/{shown.by}/{shown.skill}/{shown.at.isoformat()}"
        yield Reminder(
            key, lesson.runner, "shown", shown.at, lesson.id, skill=shown.skill, children=shown.children, at=shown.at,
        )
