"""`sprung times FILE`: classes' times and closed days from an iCalendar file (RFC 5545), shown first.

What lives here: reading the file by libraries (the extra `calendar`), and the order of things. Rules, exceptions, moved
days and time zones are the libraries' business; what it means for the club is `bot/people/times.py`.
"""
from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from adapters.records import Unknown, the_club
from bot.fold import fold
from bot.lesson.timetable import day_in_zone
from bot.people.hall import Hall
from bot.people.model import Club
from bot.people.table import TableErrors, wrong
from bot.people.times import Occurrence, Times, times
from bot.port import Store

LARGEST = 2_000_000
MOST = 20_000               # occurrences
AHEAD = timedelta(days=366)
EXTRA = "Reading a calendar needs one more part: pip install 'sprung[calendar]'"
FULL_DAY_MINUTES = 0


async def timed(
    store: Store, club: str | None, file: Path, said: tuple[str, ...], left_out: tuple[str, ...], now: datetime,
    *, yes: bool,
) -> str:
    """What a calendar comes to, in words, and whether it was done. Raises TableErrors or Unknown."""
    at = await the_club(store, club)
    today = day_in_zone(at, now)
    wanted = {fold(one) for one in left_out}
    found = [one for one in occurrences(file, at, today) if fold(one.series) not in wanted]
    if not found:
        raise wrong(f"{file.name} has no event from {today} on.")
    made = times(found, at, _said(at, said), today)
    if made.club == at:
        return "\n".join([*made.words, "Nothing would change."])
    if not yes:
        return "\n".join([*made.words, "Nothing is changed yet. If that is right, say it again with --yes."])
    whole = await store.snapshot(at.id)
    people = tuple(one for one in whole.people if one.role != "parent")
    await store.load(Hall(whole.schemes[max(whole.schemes)], made.club, people, ()), now)
    return "\n".join([*made.words, "Done. The same for the hall's club.toml, so that loading it changes nothing:", "",
                      *for_the_file(at, made)])


def _said(club: Club, said: tuple[str, ...]) -> dict[str, str]:
    pairs = {}
    for one in said:
        title, equals, key = one.rpartition("=")
        if not equals or key.strip() not in club.by_class:
            raise Unknown(f"--class {one}: say the event's title and a class, as in --class \"Little ones=tuesday\"; "
                          f"there are {', '.join(club.by_class)}.")
        pairs[fold(title)] = key.strip()
    return pairs


def for_the_file(before: Club, made: Times) -> Iterator[str]:
    """What `club.toml` has to say from now on."""
    for one in made.club.classes:
        if before.by_class[one.id] != one:
            day, start = f'day = "{one.day.capitalize()}"', f'start = "{one.start:%H:%M}"'
            yield f"# class {one.id}:  {day}  {start}  minutes = {one.minutes}"
    for span in made.club.closed:
        if span not in before.closed:
            yield f"[[closed]]\nfrom = {span.first}\nto = {span.last}"


# --- the file ----------------------------------------------------------------------------------------------

def occurrences(file: Path, club: Club, today: date) -> list[Occurrence]:
    """Every occurrence from today for a year. Raises TableErrors."""
    try:
        import icalendar
        import recurring_ical_events
    except ImportError:
        raise Unknown(f"{EXTRA}.") from None
    if file.stat().st_size > LARGEST:
        raise wrong(f"{file.name} is larger than {LARGEST // 1_000_000} MB; export the calendar of the classes alone.")
    since = datetime.combine(today, time(0), club.tz)
    try:
        whole = icalendar.Calendar.from_ical(file.read_bytes())
        _bounded(whole)
        events = recurring_ical_events.of(whole).between(since, since + AHEAD)
    except TableErrors:
        raise
    except Exception as error:      # whatever a calendar of any program brings two libraries to
        raise wrong(f"{file.name} is no calendar that can be read ({_short(error)}). Export it again as .ics") from None
    if len(events) > MOST:
        raise wrong(f"{file.name} has more than {MOST} events in a year; export the calendar of the classes alone.")
    return [_occurrence(one, club) for one in events]


def _short(error: Exception) -> str:
    return " ".join(str(error).split())[:120] or type(error).__name__


def _bounded(whole: Any) -> None:
    """No rule that would make events by the minute. Raises TableErrors."""
    for event in whole.walk("VEVENT"):
        rules = event.get("RRULE", ())
        for rule in rules if isinstance(rules, list) else [rules] if rules else []:
            often = str(next(iter(rule.get("FREQ", ())), "")).upper()
            if often in ("SECONDLY", "MINUTELY", "HOURLY"):
                raise wrong(f'"{event.get("SUMMARY", "")}" repeats {often.lower()}; no class does. Take it out.')


def _occurrence(event: Any, club: Club) -> Occurrence:
    begins, ends = event["DTSTART"].dt, event["DTEND"].dt if "DTEND" in event else event["DTSTART"].dt
    title = " ".join(str(event.get("SUMMARY", "")).split())[:80] or "Untitled"
    if not isinstance(begins, datetime):
        last = max(begins, ends - timedelta(days=1))        # a DTEND is the day after the last (3.6.1)
        return Occurrence(title, datetime.combine(begins, time(0), club.tz), FULL_DAY_MINUTES, True, last)
    begins, ends = (at if at.tzinfo else at.replace(tzinfo=club.tz) for at in (begins, ends))   # floating: the club's
    return Occurrence(title, begins, int((ends.astimezone(UTC) - begins.astimezone(UTC)).total_seconds()) // 60)
