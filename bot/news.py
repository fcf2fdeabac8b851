"""What a family may be told of a child, and when. Pure: no words, nothing recorded.

News is what became new since the parent said yes: skills ticked in lessons that the coach released, awards handed
over. It goes at half past six in the evening or later, never within ten minutes of the close, once a day at most,
never in quiet hours, and not at all once it is a week old. What was told and is so no more is put right.
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from bot.lesson.book import AwardWay, ClassBook, Contact
from bot.lesson.lesson import Lesson
from bot.marks.standing import Standing
from bot.people.consent import renewal_due
from bot.people.model import Club
from bot.people.quiet import not_in_quiet

EVENING = time(18, 30)
AFTER_CLOSE = timedelta(minutes=10)
TOO_OLD = timedelta(days=7)
AWARD = "award:"        # how an award is named among what was told


@dataclass(frozen=True, slots=True)
class News:
    """What is new of one child for one parent: `due_at` when the first of it may go (UTC), and what may by `now`."""

    due_at: datetime
    skills: tuple[str, ...] = ()
    awards: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()         # told, and not so any more: skill ids, and `award:ID`


def news(book: ClassBook, child: str, contact: Contact, club: Club, now: datetime) -> News | None:
    """What a parent may be told of a child, or None. Nothing while a coach holds it."""
    if child in waiting(book, club, now):
        return None
    standings, ways = book.standings.get(child, {}), book.awards.get(child, {})
    return of_dated(dated(contact, standings, ways, book.lessons, club), contact, club, now)


Dated = Mapping[tuple[str, bool], datetime]     # (what, was it wrong) → when it may be told at the earliest
Standings = Mapping[str, Standing]              # a child's, by skill
Ways = Mapping[str, AwardWay]                   # a child's, by award


def dated(
    contact: Contact, standings: Standings, ways: Ways, lessons: Mapping[str, Lesson], club: Club,
) -> Dated:
    """All that there is to tell a parent of a child, whatever the hour and whoever holds it.

    Of the class's lessons those that were never closed don't matter.
    """
    found = {
        **{(skill, False): at for skill, at in _ticked(contact, standings, lessons, club)},
        **{(AWARD + award, False): at for award, at in _handed_over(contact, ways, lessons, club)},
    }
    if contact.told_on is not None:
        evening = _evening(club, contact.told_on + timedelta(days=1))
        found |= {(key, True): evening for key in _taken_back(contact, standings, ways, club)}
    return found


def of_dated(found: Dated, contact: Contact, club: Club, now: datetime) -> News | None:
    """What of it may still go, and when the first of it may."""
    fresh = {key: at for key, at in found.items() if key[1] or now < at + TOO_OLD}
    if not fresh:
        return None
    due_at = _allowed(club, contact, min(fresh.values()))
    ready = [key for key, at in fresh.items() if at <= max(now, due_at)]
    return News(
        due_at,
        tuple(key for key, wrong in ready if not wrong and not key.startswith(AWARD)),
        tuple(key.removeprefix(AWARD) for key, wrong in ready if not wrong and key.startswith(AWARD)),
        tuple(key for key, wrong in ready if wrong),
    )


def waiting(book: ClassBook, club: Club, now: datetime) -> frozenset[str]:
    """The children whose news a coach holds. One who was hurt is held whatever else she did that week."""
    since = now.astimezone(club.tz).date() - TOO_OLD
    return frozenset(child for lesson in book.lessons.values() if lesson.day >= since for child in lesson.news_waits)


def _ticked(
    contact: Contact, standings: Standings, lessons: Mapping[str, Lesson], club: Club,
) -> Iterator[tuple[str, datetime]]:
    for skill, standing in standings.items():
        if standing.ticked_at is None or standing.ticked_at < contact.since or skill in contact.told:
            continue
        lesson = lessons.get(standing.lesson or "")
        at = None if lesson is None else _released(club, lesson)
        if at is not None:
            yield skill, at


def _released(club: Club, lesson: Lesson) -> datetime | None:
    """When the families may hear of a lesson, or None while they may not."""
    if lesson.released_at is None or lesson.is_open or not lesson.closes:
        return None
    shut = max(close.at for close in lesson.closes)
    return _in_the_evening(club, max(shut + AFTER_CLOSE, lesson.released_at))


def _handed_over(
    contact: Contact, ways: Ways, lessons: Mapping[str, Lesson], club: Club,
) -> Iterator[tuple[str, datetime]]:
    """Awards handed over since the parent said yes, where the club tells of them then."""
    for award, way in ways.items():
        if club.tell_awards != "presented" or way.to != "presented" or AWARD + award in contact.told:
            continue
        if way.on >= contact.since.astimezone(club.tz).date():
            shut = [
                max(close.at for close in lesson.closes) + AFTER_CLOSE
                for lesson in lessons.values() if lesson.day == way.on and lesson.closes
            ]
            yield award, max(_evening(club, way.on), *shut) if shut else _evening(club, way.on)


def _taken_back(contact: Contact, standings: Standings, ways: Ways, club: Club) -> tuple[str, ...]:
    """What was told and is so no more."""
    given = {AWARD + award for award, way in ways.items() if way.to == "presented"}
    ticked = {skill for skill, one in standings.items() if one.ticked}
    told_when_given = club.tell_awards == "presented"
    return tuple(
        key for key in contact.told
        if (told_when_given and key not in given if key.startswith(AWARD) else key not in ticked)
    )


# --- when ----------------------------------------------------------------------------------------------

def _allowed(club: Club, contact: Contact, at: datetime) -> datetime:
    """Not on a day on which this parent heard of the child already, and not in quiet hours."""
    day = at.astimezone(club.tz).date()
    if contact.told_on is not None and day <= contact.told_on:
        at = _evening(club, contact.told_on + timedelta(days=1))
    return not_in_quiet(club, at)


def asked_again_at(club: Club, since: datetime) -> datetime:
    """When a parent whose yes is a year old is asked whether it still holds (UTC), never in quiet hours."""
    return not_in_quiet(club, _evening(club, renewal_due(since.astimezone(club.tz).date())))


def _in_the_evening(club: Club, at: datetime) -> datetime:
    """That instant, or half past six on its day where that is later."""
    return max(at, _evening(club, at.astimezone(club.tz).date()))


def _evening(club: Club, day: date) -> datetime:
    return datetime.combine(day, EVENING, club.tz).astimezone(UTC)
