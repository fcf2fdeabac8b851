"""`at 17:10`, `on tuesday at 17:10`, `yesterday at 5.10pm`: judged earlier, entered now."""
from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import Final, Literal, NamedTuple

from bot.talk.reading.tokens import Token
from bot.talk.reading.vocabulary import DAY_OF

OLDEST: Final = timedelta(days=14)
FAR: Final = timedelta(days=800)
DAYTIME: Final = 8      # an hour before this one is one of the afternoon, unless it says am
Why = Literal["time", "future", "too old"]
_MONTHS: Final = {
    name[:size]: number
    for number, name in enumerate(
        (
            "january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
            "november", "december",
        ),
        1,
    )
    for size in (3, 4, len(name))
}
_CLOCK: Final = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))? ?(?:([ap])\.?m\.?)?", re.ASCII)
_ORDINAL: Final = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?", re.ASCII)


class When(NamedTuple):
    """A prefix found: where the words after it begin, and either the instant or why there is none."""

    end: int
    at: datetime | None
    why: Why | None = None


class _Day(NamedTuple):
    """A day as named: the latest date that fits, and how far the one before it lies."""

    end: int
    latest: date | None
    back: Literal["week", "year", "none"]


def clocks(text: str) -> tuple[time, ...]:
    """What a time as typed may be: `5.30` is said of the morning and of the afternoon, `05:30` and `17:30` are not."""
    plain = clock(text)
    if plain is None:
        return ()
    loose = 0 < plain.hour < 12 and text[0] != "0" and text[-1] not in "m."
    return (plain, plain.replace(hour=plain.hour + 12)) if loose else (plain,)


def clock(text: str) -> time | None:
    """A time of day as typed, by 24 hours or with am and pm."""
    match = _CLOCK.fullmatch(text)
    if match is None:
        return None
    hour, minute, half = int(match[1]), int(match[2] or 0), match[3]
    if half is not None:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "p" else 0)
    return time(hour, minute) if hour < 24 and minute < 60 else None


def prefix(tokens: Sequence[Token], start: int, now: datetime, on: date | None = None) -> When | None:
    """The time that stands at `start`, or None where no prefix begins there. Without `at` it needs a beginning.

    `on`: the day of a time before it in the same message, which holds on where none is named.
    """
    day = _day(tokens, start, now)
    place = day.end if day else start
    bare = place < len(tokens) and tokens[place].kind == "time"
    if not bare and not _is_word(tokens, place, "at"):
        # `on tuesday` without an hour says no instant.
        return When(place, None, "time") if day and day.end > start else None
    place += not bare
    if place >= len(tokens) or tokens[place].kind != "time":
        return When(place, None, "time")
    hours = clocks(tokens[place].word)
    end = place + 1
    if day is None:
        day = _day(tokens, end, now)
        end = day.end if day else end
    if day is None and on is not None and on != now.date():
        day = _Day(end, on, "none")
    if end < len(tokens) and tokens[end].kind == "comma":
        end += 1
    if not hours or (day is not None and day.latest is None):
        return When(end, None, "time")
    return _instant(day, _hour(hours, day, now), end, now)


def _hour(hours: tuple[time, ...], day: _Day | None, now: datetime) -> time:
    """Of morning and afternoon: today the later that is past, on another day the one when classes are held."""
    if len(hours) == 1:
        return hours[0]
    early, late = hours
    if day is None or day.latest == now.date():
        return late if late <= now.time() else early
    return late if early.hour < DAYTIME else early


def _instant(day: _Day | None, hour: time, end: int, now: datetime) -> When:
    """The latest such instant that is not in the future; none where the clock skipped it."""
    local = now.replace(tzinfo=None)
    chosen = day.latest if day and day.latest else local.date()
    if abs(chosen - local.date()) > FAR:    # also keeps the calendar's own ends out of the sums below
        return When(end, None, "too old" if chosen < local.date() else "future")
    wall = datetime.combine(chosen, hour)
    if wall > local and day is not None:
        wall = _before(wall, day.back)
    at = wall.replace(tzinfo=now.tzinfo, fold=0)
    if at.astimezone(UTC).astimezone(now.tzinfo).replace(tzinfo=None) != wall:
        return When(end, None, "time")
    age = now.astimezone(UTC) - at.astimezone(UTC)
    if age < timedelta(0):
        return When(end, None, "future")
    return When(end, None, "too old") if age > OLDEST else When(end, at)


def _before(wall: datetime, back: str) -> datetime:
    if back == "week":
        return wall - timedelta(days=7)
    if back == "year" and not (wall.month == 2 and wall.day == 29):
        return wall.replace(year=wall.year - 1)
    return wall


def _day(tokens: Sequence[Token], start: int, now: datetime) -> _Day | None:
    """`on tuesday`, `yesterday`, `on 24 nov`, `on 2026-11-24`, with or without the `on`."""
    place = start + 1 if _is_word(tokens, start, "on") else start
    if place >= len(tokens):
        return None
    token, today = tokens[place], now.date()
    if token.kind == "date":
        year, month, number = map(int, token.word.split("-"))
        return _Day(place + 1, _date(year, month, number), "none")
    if token.word == "last" and place + 1 < len(tokens) and tokens[place + 1].word in DAY_OF:
        place, token = place + 1, tokens[place + 1]
    if token.word in DAY_OF:
        return _Day(place + 1, today - timedelta(days=(today.weekday() - DAY_OF[token.word]) % 7), "week")
    if token.word in ("today", "yesterday"):
        return _Day(place + 1, today - timedelta(days=token.word == "yesterday"), "none")
    return _calendar(tokens, place, today)


def _calendar(tokens: Sequence[Token], place: int, today: date) -> _Day | None:
    """`24 nov`, `nov 24`, `24th november 2026`."""
    if place + 1 >= len(tokens):
        return None
    first, second = tokens[place].word, tokens[place + 1].word
    if first in _MONTHS:
        first, second = second, first
    number = _ORDINAL.fullmatch(first)
    if second not in _MONTHS or number is None:
        return None
    end, month, day = place + 2, _MONTHS[second], int(number[1])
    if end < len(tokens) and tokens[end].kind == "number" and len(tokens[end].word) == 4:
        return _Day(end + 1, _date(int(tokens[end].word), month, day), "none")
    latest = _date(today.year, month, day)
    if latest is not None and latest > today:
        latest = _date(today.year - 1, month, day)
    return _Day(end, latest, "year")


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _is_word(tokens: Sequence[Token], place: int, word: str) -> bool:
    return place < len(tokens) and tokens[place].kind == "word" and tokens[place].word == word
