"""When lessons are: from a class's weekly time to instants, in the club's own zone."""
from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from bot.people.model import DAYS, Club, ClubClass

EARLY_START = timedelta(minutes=60)     # a lesson may be opened so long before its time
LEFT_OPEN = timedelta(minutes=15)       # after the end: asked about
CLOSES_ITSELF = timedelta(minutes=60)   # after the end
ONE_DAY = timedelta(days=1)


def lesson_id(class_id: str, day: date) -> str:
    """The id of a class's lesson on one day."""
    return f"{class_id}/{day.isoformat()}"


def class_and_day(lesson: str) -> tuple[str, date]:
    """The class and the day of a lesson id."""
    class_id, day = lesson.rsplit("/", 1)
    return class_id, date.fromisoformat(day)


def starts_at(club: Club, one: ClubClass, day: date) -> datetime:
    """The instant (UTC) at which a class's lesson on that day begins.

    As RFC 5545 (3.3.5) reads it: a time that the clock skips is as much later, one that it shows twice is the first.
    """
    return datetime.combine(day, one.start, club.tz).astimezone(UTC)


def ends_at(club: Club, one: ClubClass, day: date) -> datetime:
    """The instant (UTC) at which it ends."""
    return starts_at(club, one, day) + timedelta(minutes=one.minutes)


def next_lesson(club: Club, one: ClubClass, after: date) -> date:
    """The day of the class's first lesson later than `after`; closed days have none."""
    ahead = (DAYS.index(one.day) - after.weekday() - 1) % 7 + 1
    day = after + timedelta(days=ahead)
    for _ in range(104):                # two years closed is a club that has ended: then any week will do
        if not club.is_closed(day):
            return day
        day += timedelta(days=7)
    return day


def day_in_zone(club: Club, instant: datetime) -> date:
    """The club's calendar day of an instant."""
    return instant.astimezone(club.tz).date()


def on_now(club: Club, classes: tuple[ClubClass, ...], now: datetime) -> tuple[ClubClass, ...]:
    """The classes whose lesson is on now, or about to be, the nearest start first.

    A closed day counts too: who is in the hall on one may hold the lesson all the same.
    """
    today = day_in_zone(club, now)
    found = [
        (abs(starts_at(club, one, day) - now), one)
        for one in classes
        for day in (today - ONE_DAY, today, today + ONE_DAY)        # a late lesson goes on past midnight
        if scheduled_on(one, day)
        and starts_at(club, one, day) - EARLY_START <= now < ends_at(club, one, day) + CLOSES_ITSELF
    ]
    return tuple(one for _, one in sorted(found, key=lambda pair: pair[0]))


def scheduled_on(one: ClubClass, day: date) -> bool:
    """Does the timetable have a lesson of that class on that day of the week?"""
    return DAYS[day.weekday()] == one.day
