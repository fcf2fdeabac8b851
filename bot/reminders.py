"""Which reminders the facts call for. Derived anew in every step; the store keeps the difference.

A reminder is never an order: when it fires it is derived once more, and one that makes no sense any more
is dropped. One row for each child's rest and person; those that end within 15 s of each other on one show
of one skill share the last one's time, so that they fire as one message.
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from bot.frozen import replace
from bot.lesson.book import ClassBook, Reminder
from bot.lesson.lesson import Lesson
from bot.lesson.timetable import CLOSES_ITSELF, LEFT_OPEN, ends_at, lesson_id, next_lesson, starts_at
from bot.marks.standing import Standing
from bot.news import AFTER_CLOSE, asked_again_at, dated, of_dated, waiting
from bot.people.model import Club, ClubClass

TOGETHER = timedelta(seconds=15)
LAST_MINUTES = timedelta(minutes=5)
BEFORE = timedelta(minutes=30)
EVE = time(18, 0)
DAY = timedelta(days=1)
AFTER_THE_END = {"left open": LEFT_OPEN, "closes itself": CLOSES_ITSELF}
BY_TIMETABLE = ("before", "eve", "awards")


Kept = dict[object, Any]    # what was worked out for a class before, each beside what it was worked out from


def queued(
    book: ClassBook, club: Club, now: datetime, kept: Kept | None = None
) -> tuple[dict[str, Reminder], frozenset[str]]:
    """What is to be sent for a class, and the keys of what was sent and is still called for.

    A time that was put off stays put off. Of what goes by the timetable nothing earlier than now is queued
    anew: history begins when a club is loaded. `kept` may hold anything that an earlier call put there for the
    same class; the result is the same without it.
    """
    derived = derive(book, club, now, {} if kept is None else kept)
    fired = frozenset(key for key in book.fired if key in derived)
    pending: dict[str, Reminder] = {}
    for key, one in derived.items():
        known = book.pending.get(key)
        if key in fired or (known is None and one.kind in BY_TIMETABLE and one.due_at <= now):
            continue
        if known is None and one.kind == "news":
            one = _with_time_to_undo(one, now)
        if known is None and one.kind in AFTER_THE_END and one.due_at <= now:   # a close was taken back, not forgotten
            one = replace(one, due_at=now + AFTER_THE_END[one.kind])
        if known is None and one.kind == "last minutes" and one.due_at <= now:
            continue
        put_off = known is not None and known.due_at > one.due_at
        pending[key] = known if known is not None and (put_off or known is one or known == one) else one
    return pending, fired


def _with_time_to_undo(news_: Reminder, now: datetime) -> Reminder:
    """News of what was said just now can still be taken back before it goes."""
    return news_ if news_.due_at >= now + AFTER_CLOSE else replace(news_, due_at=now + AFTER_CLOSE)


def derive(book: ClassBook, club: Club, now: datetime, kept: Kept) -> dict[str, Reminder]:
    """All that is due for a class, key → reminder; what was sent already is among them."""
    found = {
        one.key: one for one in _timetable(book, club, now, kept)
        if one.lesson not in book.lessons or one.kind == "awards"
    }
    for lesson in book.lessons.values():
        if not lesson.is_open:
            continue
        for one in (*_lesson_times(lesson, club, book), *_shown(lesson)):
            found[one.key] = one
        if not lesson.paused:
            for one in _grouped(list(_rests(lesson, club, book, kept))):
                found[one.key] = one
    for one in _families(book, club, now, kept):
        found[one.key] = one
    return found


# --- by the timetable ------------------------------------------------------------------------------------

def _timetable(book: ClassBook, club: Club, now: datetime, kept: Kept) -> tuple[Reminder, ...]:
    """What to know before a class, for the lessons to come: one may be on its way already."""
    known = kept.get("timetable")
    if known is not None and known[0] is club and known[1] <= now < known[2]:
        return known[3]     # type: ignore[no-any-return]
    one = club.by_class.get(book.class_id)
    if one is None:
        return ()
    rows: list[tuple[Reminder, datetime]] = []
    day, ahead = now.astimezone(club.tz).date() - timedelta(days=3), 0
    while ahead < 2:
        day = next_lesson(club, one, day)
        rows += [row for row in _of_lesson(club, one, day) if now < row[1]]
        ahead += starts_at(club, one, day) > now
    found = tuple(reminder for reminder, _ in rows)
    kept["timetable"] = club, now, min((dropped for _, dropped in rows), default=now + DAY), found
    return found


def _of_lesson(club: Club, one: ClubClass, day: date) -> Iterator[tuple[Reminder, datetime]]:
    """What one lesson to come calls for, each with when it is dropped."""
    key, start = lesson_id(one.id, day), starts_at(club, one, day)
    eve = datetime.combine(day - timedelta(days=1), EVE, club.tz).astimezone(UTC)
    for person in dict.fromkeys((*club.there(one, "coach", day), *club.there(one, "assistant", day))):
        yield Reminder(f"eve/{key}/{person}", person, "eve", eve, key), start
        yield Reminder(f"before/{key}/{person}", person, "before", start - BEFORE, key), start
    for person in club.coaches(one, day):
        yield Reminder(f"awards/{key}/{person}", person, "awards", start - BEFORE, key), start + DAY


# --- families --------------------------------------------------------------------------------------------

def _families(book: ClassBook, club: Club, now: datetime, kept: Kept) -> Iterator[Reminder]:
    """News for those who asked for it, and the question after a year whether they still do."""
    if not book.contacts:
        return
    waits = waiting(book, club, now)
    released = tuple((one.id, one.released_at, one.closes) for one in book.lessons.values()
                     if one.released_at is not None and not one.is_open)
    for child, contacts in book.contacts.items():
        made_of = book.standings.get(child), book.awards.get(child), released, club
        for parent, contact in contacts.items():
            known = kept.get(("told", child, parent))
            if known is None or known[0] is not contact or known[1] != made_of:
                asked = asked_again_at(club, contact.since)
                key = f"renewal/{child}/{parent}/{contact.since.isoformat()}"
                known = kept["told", child, parent] = (
                    contact, made_of, dated(book, child, contact, club),
                    Reminder(key, parent, "renewal", asked, "", child),
                )
            fresh = None if child in waits or not known[2] else of_dated(known[2], contact, club, now)
            if fresh is not None:
                day = fresh.due_at.astimezone(club.tz).date()
                yield Reminder(f"news/{child}/{parent}/{day}", parent, "news", fresh.due_at, "", child)
            yield known[3]


# --- in a lesson -------------------------------------------------------------------------------------------

def _rests(lesson: Lesson, club: Club, book: ClassBook, kept: Kept) -> Iterator[Reminder]:
    """The ends of rests, for the assistants and whoever runs the lesson."""
    one = club.by_class.get(lesson.class_id)
    assistants = club.assistants(one, lesson.day) if one is not None else ()
    people = tuple(person for person in dict.fromkeys((*assistants, lesson.runner)) if person)
    for child, of_child in book.standings.items():
        known = kept.get((lesson.id, child))
        if known is None or known[0] is not of_child or known[1] != people:
            rests = tuple(_of_child(lesson.id, child, of_child, people))
            known = kept[lesson.id, child] = of_child, people, rests
        if known[2] and child not in lesson.sits:
            yield from (rest for rest in known[2] if lesson.here(child, rest.due_at))


def _of_child(
    lesson: str, child: str, of_child: Mapping[str, Standing], people: tuple[str, ...]
) -> Iterator[Reminder]:
    for skill, standing in of_child.items():
        rested = standing.rested_at
        if rested is None or standing.lesson != lesson or standing.ticked or standing.seen:
            continue
        if standing.last is None or rested > standing.last.at:      # else a breather: there is no time to wait for
            yield from _rest(lesson, child, skill, standing, people)


def _rest(lesson: str, child: str, skill: str, standing: Standing, people: tuple[str, ...]) -> tuple[Reminder, ...]:
    assert standing.rested_at is not None
    head = f"rest/{lesson}/{child}/{skill}/{standing.rested_at.isoformat()}"
    return tuple(
        Reminder(f"{head}/{person}", person, "rest", standing.rested_at, lesson, child, skill, standing.show)
        for person in people
    )


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
        yield one if one.due_at == cluster[-1].due_at else replace(one, due_at=cluster[-1].due_at)


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
