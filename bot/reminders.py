"""Which reminders the facts call for. Derived anew in every step; the store keeps the difference.

A reminder is never an order: when it fires it is derived once more, and one that makes no sense any more
is dropped. One row for each child's rest and person; those that end within 15 s of each other on one show
of one skill share the last one's time, so that they fire as one message.
"""
from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from operator import is_
from typing import Any, TypeVar, TypeVarTuple

from bot.frozen import replace
from bot.lesson.book import AwardWay, ClassBook, Contact, Reminder
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
NO_STANDINGS: Mapping[str, Standing] = {}
NO_WAYS: Mapping[str, AwardWay] = {}
NEVER_NEW_LATE = (*BY_TIMETABLE, "last minutes")


def queued(
    book: ClassBook, club: Club, now: datetime, kept: Kept | None = None
) -> tuple[dict[str, Reminder], frozenset[str]]:
    """What is to be sent for a class, and the keys of what was sent and is still called for.

    A time that was put off stays put off. `kept` may hold anything that an earlier call put there for the
    same class; the result is the same without it.
    """
    derived = derive(book, club, now, {} if kept is None else kept)
    fired = book.fired.intersection(derived)
    was = book.pending.get
    pending: dict[str, Reminder] = {}
    for key, one in derived.items():
        known = was(key)
        if known is None:
            known = _new(one, now)
        elif known is not one and known.due_at <= one.due_at and known != one:      # mostly it is the same
            known = one
        if known is not None and key not in fired:
            pending[key] = known
    return pending, fired


def _new(one: Reminder, now: datetime) -> Reminder | None:
    """How it is queued when it is called for and was not before; None where it is too late to begin with it.

    Of what goes by the timetable nothing is queued for the past: history begins when a club is loaded.
    """
    if one.kind == "news":              # what was said just now can still be taken back
        return replace(one, due_at=max(one.due_at, now + AFTER_CLOSE))
    if one.due_at > now:
        return one
    if one.kind in AFTER_THE_END:       # a close was taken back, not forgotten
        return replace(one, due_at=now + AFTER_THE_END[one.kind])
    return None if one.kind in NEVER_NEW_LATE else one


def derive(book: ClassBook, club: Club, now: datetime, kept: Kept) -> Keyed:
    """All that is due for a class, key → reminder; what was sent already is among them."""
    found = _keyed(
        one for one in _timetable(book, club, now, kept) if one.lesson not in book.lessons or one.kind == "awards"
    )
    opened = [lesson for lesson in book.lessons.values() if lesson.is_open]
    of_opened = kept["opened"] = {lesson.id: kept.get("opened", {}).get(lesson.id, {}) for lesson in opened}
    for lesson in opened:
        found |= _in_lesson(lesson, club, book, of_opened[lesson.id])
    return found | _keyed(_families(book, club, now, kept))


def _keyed(several: Iterable[Reminder]) -> Keyed:
    return {one.key: one for one in several}


# --- what was worked out before ----------------------------------------------------------------------------

Keyed = dict[str, Reminder]
Kept = dict[object, Any]    # what was worked out for a class, each beside what it was worked out from
T = TypeVar("T")
Ts = TypeVarTuple("Ts")


def _once(kept: Kept, name: object, work: Callable[[*Ts], T], *made_of: *Ts) -> T:
    """What that work makes of these very values: the same again for as long as they are the same objects."""
    known = kept.get(name)
    if known is None or len(known[0]) != len(made_of) or not all(map(is_, known[0], made_of)):
        known = kept[name] = made_of, work(*made_of)
    found: T = known[1]
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
    shut = _once(kept, "shut", _by_id, *(lesson for lesson in book.lessons.values() if lesson.closes))
    for child, contacts in book.contacts.items():
        standings, ways = book.standings.get(child, NO_STANDINGS), book.awards.get(child, NO_WAYS)
        for parent, contact in contacts.items():
            found = _once(kept, ("told", child, parent), dated, contact, standings, ways, shut, club)
            fresh = None if child in waits else of_dated(found, contact, club, now)
            if fresh is not None:
                day = fresh.due_at.astimezone(club.tz).date()
                yield Reminder(f"news/{child}/{parent}/{day}", parent, "news", fresh.due_at, "", child)
            yield _once(kept, ("renewal", child, parent), _renewal, child, parent, contact, club)


def _by_id(*several: Lesson) -> dict[str, Lesson]:
    return {lesson.id: lesson for lesson in several}


def _renewal(child: str, parent: str, contact: Contact, club: Club) -> Reminder:
    key = f"renewal/{child}/{parent}/{contact.since.isoformat()}"
    return Reminder(key, parent, "renewal", asked_again_at(club, contact.since), "", child)


# --- in a lesson -------------------------------------------------------------------------------------------

def _in_lesson(lesson: Lesson, club: Club, book: ClassBook, kept: Kept) -> Keyed:
    found = _once(kept, "by the clock", _by_the_clock, lesson, club) | _keyed(_shown(lesson))
    if lesson.paused:
        return found
    return found | _rests(lesson, club, book, kept) | _keyed(_looks(lesson, book))


def _looks(lesson: Lesson, book: ClassBook) -> Iterator[Reminder]:
    """Second looks: asked of somebody, declined, and what came of them once both are in."""
    for one in lesson.looks:
        asked = one.asked
        key = f"{lesson.id}/{asked.by}/{asked.of}/{asked.skill}/{asked.at.isoformat()}"
        made = partial(Reminder, lesson=lesson.id, skill=asked.skill, show=asked.show, at=asked.at)
        if one.declined:
            yield made(f"no look/{key}", asked.by, "no look", asked.at)
        elif found := one.all_in(lesson.gone, book.standing):
            at = max(saw.at for both in found.values() for saw in both)
            for person in (asked.by, asked.of):
                if person not in one.told:
                    yield made(f"compared/{key}/{person}", person, "compared", at)
        elif any(one.waits_for(asked.of, child) for child in asked.children if child not in lesson.gone):
            children = tuple(child for child in asked.children if child in book.children)
            yield made(f"look/{key}", asked.of, "look", asked.at, children=children)


def _rests(lesson: Lesson, club: Club, book: ClassBook, kept: Kept) -> Keyed:
    """The ends of rests, for the assistants and whoever runs the lesson."""
    found: Keyed = {}
    people = _once(kept, "people", _people, club, lesson.class_id, lesson.day, lesson.runner)
    if not people:
        return found
    of_skills: dict[str, list[tuple[Reminder, ...]]] = {}
    there = _once(kept, "there", _all, people, lesson.away, lesson.leaves, lesson.sits)
    of_children = kept.setdefault("children", {})
    for child, of_child in book.standings.items():
        known = of_children.get(child)
        if known is None or known[0] is not of_child or known[1] is not there:
            known = of_children[child] = of_child, there, _of_child(lesson, child, of_child, people, kept)
        for skill, rest in known[2]:
            of_skills.setdefault(skill, []).append(rest)
    for skill, several in of_skills.items():
        found |= _once(kept, ("together", skill), _together, *several)
    return found


def _all(*parts: object) -> tuple[object, ...]:
    """All of a lesson that its rests depend on: one object for as long as nothing of it changes."""
    return parts


def _of_child(
    lesson: Lesson, child: str, of_child: Mapping[str, Standing], people: tuple[str, ...], kept: Kept,
) -> list[tuple[str, tuple[Reminder, ...]]]:
    """The rests of a child that somebody waits for, each with its skill."""
    return [
        (skill, _once(kept, (child, skill), _rest, lesson.id, child, skill, standing, people))
        for skill, standing in of_child.items()
        if (ends := standing.rested_at) is not None and _waited_for(standing, ends, lesson.id)
        and child not in lesson.sits and lesson.here(child, ends)
    ]


def _people(club: Club, class_id: str, day: date, runner: str) -> tuple[str, ...]:
    one = club.by_class.get(class_id)
    assistants = club.assistants(one, day) if one is not None else ()
    return tuple(person for person in dict.fromkeys((*assistants, runner)) if person)


def _waited_for(standing: Standing, ends: datetime, lesson: str) -> bool:
    """Does somebody wait for the end of that rest?"""
    if standing.lesson != lesson or standing.ticked or standing.seen:
        return False
    return standing.last is None or ends > standing.last.at     # else a breather: there is no time to wait for


def _rest(lesson: str, child: str, skill: str, standing: Standing, people: tuple[str, ...]) -> tuple[Reminder, ...]:
    assert standing.rested_at is not None
    head = f"rest/{lesson}/{child}/{skill}/{standing.rested_at.isoformat()}"
    return tuple(
        Reminder(f"{head}/{person}", person, "rest", standing.rested_at, lesson, child, skill, standing.show)
        for person in people
    )


def _together(*rests: tuple[Reminder, ...]) -> Keyed:
    """The rests of one skill, those close together moved to the last one's time."""
    found: Keyed = {}
    later = last = None
    for rest in sorted(rests, key=lambda each: each[0].due_at, reverse=True):
        ends = rest[0].due_at
        if later is None or later - ends > TOGETHER:
            last = ends
        later = ends
        found |= _keyed(rest if ends == last else (replace(one, due_at=last) for one in rest))
    return found


def _by_the_clock(lesson: Lesson, club: Club) -> Keyed:
    """What an open lesson calls for by the clock alone."""
    one = club.by_class.get(lesson.class_id)
    if one is None or not lesson.runner:
        return {}
    end = ends_at(club, one, lesson.day)
    last = max(end, lesson.opened_at)
    after = _timed(lesson, "left open", last + LEFT_OPEN), _timed(lesson, "closes itself", last + CLOSES_ITSELF)
    if lesson.paused or lesson.opened_at >= end - LAST_MINUTES:
        return _keyed(after)
    return _keyed((_timed(lesson, "last minutes", end - LAST_MINUTES), *after))


def _timed(lesson: Lesson, kind: str, at: datetime) -> Reminder:
    return Reminder(f"{kind}/{lesson.id}/{lesson.runner}", lesson.runner, kind, at, lesson.id)  # type: ignore[arg-type]


def _shown(lesson: Lesson) -> Iterator[Reminder]:
    """What a helper says was shown, to whoever runs the lesson, at once."""
    for shown in lesson.shown:
        key = f"shown/{lesson.id}/{shown.by}/{shown.skill}/{shown.at.isoformat()}"
        yield Reminder(
            key, lesson.runner, "shown", shown.at, lesson.id, skill=shown.skill, children=shown.children, at=shown.at,
        )
