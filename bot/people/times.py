"""Classes' times and closed days from a calendar's occurrences, laid beside the classes that a club has. Pure.

What lives here: which weekly time a series of events is, whose class it is, on which days there is nothing. Reading
the file, with its rules, exceptions and time zones, is `adapters/calendars.py`.
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from bot.fold import atoms, fold
from bot.people.model import DAYS, Closed, Club, ClubClass, Day
from bot.people.table import TableErrors
from bot.scheme.faults import Fault

SHUT = frozenset(["closed", "holiday", "holidays", "half", "term", "break", "no", "class", "classes", "off", "bank"])
LONGEST_BREAK = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One event of one day. `series`: its title. All day where `begins` has no time of its own (`minutes` 0)."""

    series: str
    begins: datetime            # aware
    minutes: int
    all_day: bool = False
    last: date | None = None    # of all-day events: the last day


@dataclass(frozen=True, slots=True)
class Weekly:
    """A series as a weekly time of the club's own. `minutes` 0: its events have no end, so the class keeps its own."""

    series: str
    day: Day
    start: time
    minutes: int
    days: tuple[date, ...]      # on which it is


@dataclass(frozen=True, slots=True)
class Times:
    """What a calendar comes to: the club as it would be, and in words."""

    club: Club
    words: tuple[str, ...]


def times(found: Iterable[Occurrence], club: Club, said: Mapping[str, str], today: date) -> Times:
    """Lay a calendar beside a club. `said`: series → class id, where their names don't tell. Raises TableErrors."""
    listed = list(found)
    series = list(_weekly([one for one in listed if not one.all_day], club))
    whose = _whose(series, club, said)
    changed = {key: _changed(club.by_class[key], one) for key, one in whose.items()}
    closed = _closed([whose[key] for key in whose], listed, club, today)
    kept = {name: getattr(club, name) for name in Club.model_fields}      # a copy would keep what was worked out too
    after = Club(**{**kept, "classes": tuple(changed.get(one.id, one) for one in club.classes), "closed": closed})
    return Times(after, tuple(_words(club, after, series, whose)))


def _weekly(listed: list[Occurrence], club: Club) -> Iterator[Weekly]:
    """Each series at its usual day, time and length, in the club's zone. Raises TableErrors where it has none."""
    by_title: dict[str, list[Occurrence]] = {}
    for one in listed:
        by_title.setdefault(one.series, []).append(one)
    faults = []
    for title, several in by_title.items():
        local = [(one.begins.astimezone(club.tz), one.minutes) for one in several]
        usual = Counter((at.weekday(), at.time(), minutes) for at, minutes in local)
        ((day, start, minutes), count), *_ = usual.most_common(1)
        if len(several) < 2 or count * 2 <= len(several):
            faults.append(Fault(0, title, f'"{title}" is no weekly class: it has no usual day and time. Take it out of '
                                          f'the calendar, or leave it out: --not "{title}"'))
        elif minutes and not 5 <= minutes <= 600:
            faults.append(Fault(0, title, f'"{title}" lasts {minutes} minutes; a class lasts 5 to 600'))
        else:
            series = Weekly(title, DAYS[day], start, minutes, tuple(sorted(at.date() for at, _ in local)))
            if sum(1 for _ in _left_out(series)) * 2 >= len(series.days):
                faults.append(Fault(0, title, f'"{title}" is not held every week, as a class here is; leave it out: '
                                              f'--not "{title}"'))
            yield series
    if faults:
        raise TableErrors(tuple(faults))


def _whose(series: list[Weekly], club: Club, said: Mapping[str, str]) -> dict[str, Weekly]:
    """Class id → its series. Raises TableErrors where a title names no class of ours, or two name one."""
    found: dict[str, Weekly] = {}
    faults = []
    for one in series:
        key = said.get(fold(one.series)) or _named(one.series, club)
        if key is None:
            names = ", ".join(each.id for each in club.classes)
            faults.append(f'"{one.series}" is none of our classes ({names}): say --class "{one.series}=ID", or leave '
                          f'it out: --not "{one.series}"')
        elif key in found:
            faults.append(f'"{one.series}" and "{found[key].series}" would both be {key}; leave one out by --not')
        else:
            found[key] = one
    if faults:
        raise TableErrors(tuple(Fault(0, "", says) for says in faults))
    return found


def _named(title: str, club: Club) -> str | None:
    """By the whole name or id; else by the one class all of whose words are in the title."""
    for one in club.classes:
        if fold(title) in (fold(one.id), fold(one.name)):
            return one.id
    words = set(atoms(title))
    inside = [one.id for one in club.classes if set(atoms(one.name)) <= words]
    return inside[0] if len(inside) == 1 else None


def _changed(one: ClubClass, now: Weekly) -> ClubClass:
    minutes = now.minutes or one.minutes
    watch = None if one.watch_minutes is None else min(one.watch_minutes, minutes)
    return one.model_copy(update={"day": now.day, "start": now.start, "minutes": minutes, "watch_minutes": watch})


# --- closed days -------------------------------------------------------------------------------------------

def _closed(series: list[Weekly], listed: list[Occurrence], club: Club, today: date) -> tuple[Closed, ...]:
    """What was closed before, all-day events that say so, and the days on which every class of that day is missing."""
    spans = list(club.closed)
    for one in listed:
        if one.all_day and SHUT & set(atoms(one.series)) and (one.last or one.begins.date()) >= today:
            spans.append(Closed(first=one.begins.date(), last=one.last or one.begins.date()))
    held = {day for one in series for day in one.days}
    missing = sorted({day for one in series for day in _left_out(one) if day >= today and day not in held})
    spans += _runs(missing, held)
    kept: list[Closed] = []
    for span in sorted(spans, key=lambda span: (span.first, -span.last.toordinal())):
        if not any(other.first <= span.first and span.last <= other.last for other in kept):
            kept.append(span)
    return tuple(kept)


def _left_out(one: Weekly) -> Iterator[date]:
    """The weeks between its first and its last day in which it is not."""
    day = one.days[0]
    while DAYS[day.weekday()] != one.day:
        day += timedelta(days=1)
    while day < one.days[-1]:
        if day not in one.days:
            yield day
        day += timedelta(days=7)


def _runs(missing: list[date], held: set[date]) -> Iterator[Closed]:
    """Days that are missing one after another, with no lesson of anybody between them, are one break."""
    while missing:
        first = last = missing[0]
        for day in missing[1:]:
            if any(last < one < day for one in held) or day - last > timedelta(days=7) or day - first > LONGEST_BREAK:
                break
            last = day
        yield Closed(first=first, last=last)
        missing = [day for day in missing if day > last]


# --- in words ----------------------------------------------------------------------------------------------

def _words(club: Club, after: Club, series: list[Weekly], whose: Mapping[str, Weekly]) -> Iterator[str]:
    for key, one in whose.items():
        was, now = club.by_class[key], after.by_class[key]
        same = (was.day, was.start, was.minutes) == (now.day, now.start, now.minutes)
        before = "as it is" if same else f"until now {_at(was)}"
        yield f'"{one.series}" is the class {now.name}: {_at(now)}, {before}.'
    left = [one.name for one in club.classes if one.id not in whose]
    if left:
        yield f"Not in the calendar, and left as they are: {', '.join(left)}."
    new = [span for span in after.closed if span not in club.closed]
    for span in new:
        yield f"Closed on {span.first}." if span.first == span.last else f"Closed from {span.first} to {span.last}."


def _at(one: ClubClass) -> str:
    return f"{one.day.capitalize()} {one.start:%H:%M}, {one.minutes} minutes"
