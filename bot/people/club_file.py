"""`club.toml`: who and when, as a club officer writes it, and what may be wrong with it.

What lives here: the file's own shape (its keys and the many ways to write a day or a time), and the questions
that it has to answer as a whole. What becomes of it is a `Club` and its people (`model.py`).
"""
from __future__ import annotations

import zoneinfo
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from bot.people.model import DAYS, Closed, Club, ClubClass, Cover, Day, Frozen, Person, Planning, Printing
from bot.scheme.faults import Fault, Source, parse
from bot.scheme.lines import Path
from bot.scheme.mend import validated
from bot.scheme.model import Id, Label, Words
from bot.scheme.words import fold, meant, slug


def _day(value: Any) -> Any:
    """A day of the week by its name or the beginning of it, from two letters: `Tue`, `THURS`."""
    said = fold(value) if isinstance(value, str) else ""
    found = [day for day in DAYS if len(said) >= 2 and day.startswith(said.removesuffix("s") or said)]
    if len(found) != 1:
        raise ValueError(f'"{value}" is not a day of the week')
    return found[0]


def _clock(value: Any) -> Any:
    """A time of day: `17:00`, `17.00`, `9:30`, or TOML's own 17:00:00."""
    if isinstance(value, time):
        return value.replace(second=0, microsecond=0)
    said = value.strip().replace(".", ":") if isinstance(value, str) else ""
    hours, _, minutes = said.partition(":")
    if not (hours.isdecimal() and minutes[:2].isdecimal() and len(minutes) in (2, 5)):
        raise ValueError(f'"{value}" is not a time of day on the 24 hour clock')
    if int(hours) > 23 or int(minutes[:2]) > 59:
        raise ValueError(f'there is no "{value}" on a clock')
    return time(int(hours), int(minutes[:2]))


def _date(value: Any) -> Any:
    """A day of the calendar, quoted or not."""
    if isinstance(value, datetime):
        return value.date()
    try:
        return value if isinstance(value, date) else date.fromisoformat(str(value).strip())
    except ValueError:
        raise ValueError(f'"{value}" is not a date, which is year-month-day') from None


def _small(value: Any) -> Any:
    return value.strip().lower() if isinstance(value, str) else value


class ClassRow(Frozen):
    """One [[class]]."""

    id: Id | None = None
    name: Label | None = None
    day: Annotated[Day, BeforeValidator(_day)]
    start: Annotated[time, BeforeValidator(_clock)]
    minutes: Annotated[int, Field(ge=5, le=600)] = 60
    watch_minutes: Annotated[int, Field(ge=1, le=600)] | None = None
    coach: Words = ()
    assistant: Words = ()
    helper: Words = ()

    @property
    def key(self) -> str:
        """Its id, or one made of its name, or of its day."""
        return self.id or slug(self.name or "") or self.day


class PersonRow(Frozen):
    """One [[person]]."""

    id: Id
    name: Label | None = None
    role: Annotated[Literal["coach", "assistant", "helper"], BeforeValidator(_small)]


class ClosedRow(Frozen):
    """One [[closed]]: its last day is the first where no other is given."""

    first: Annotated[date, BeforeValidator(_date)] = Field(alias="from")
    last: Annotated[date | None, BeforeValidator(_date)] = Field(default=None, alias="to")


class CoverRow(Frozen):
    """One [[cover]]: who stands in for a class, and until when."""

    class_id: Label = Field(alias="class")
    person: Label
    first: Annotated[date, BeforeValidator(_date)] = Field(alias="from")
    last: Annotated[date | None, BeforeValidator(_date)] = Field(default=None, alias="to")


class ClubFile(Frozen):
    """The whole file."""

    id: Id | None = None
    name: Label
    timezone: str = "Europe/London"
    quiet: tuple[Annotated[time, BeforeValidator(_clock)], Annotated[time, BeforeValidator(_clock)]] = (
        time(20), time(8),
    )
    tell_awards: Annotated[Literal["presented", "earned"], BeforeValidator(_small)] = "presented"
    welfare: str = ""
    keep_months: Annotated[int, Field(ge=1, le=240)] = 24
    audit_months: Annotated[int, Field(ge=1, le=240)] = 24
    forgotten: Annotated[Literal["gone", "counted"], BeforeValidator(_small)] = "gone"
    classes: tuple[ClassRow, ...] = Field(default=(), alias="class")
    people: tuple[PersonRow, ...] = Field(default=(), alias="person")
    closed: tuple[ClosedRow, ...] = ()
    cover: tuple[CoverRow, ...] = ()
    planning: Planning = Planning()
    printing: Printing = Printing()


KNOWN: dict[str, tuple[str, ...]] = {
    "": (
        "id", "name", "timezone", "quiet", "tell_awards", "welfare", "keep_months", "audit_months",
        "forgotten",
        "class", "person", "closed", "cover", "planning", "printing",
    ),
    "class": tuple(ClassRow.model_fields), "person": tuple(PersonRow.model_fields), "closed": ("from", "to"),
    "cover": ("class", "person", "from", "to"), "planning": tuple(Planning.model_fields),
    "printing": tuple(Printing.model_fields),
}

Said = Iterator[tuple[Path, str]]


def examine_club(text: str) -> tuple[Club | None, tuple[Person, ...], tuple[Fault, ...]]:
    """The club and its people as a text has them, and all that is wrong with it.

    With faults the club is a mended one, good for further questions only; None: past mending.
    """
    source = parse(text)
    if isinstance(source, Fault):
        return None, (), (source,)
    source = _unwrapped(source)
    file, found = validated(source, ClubFile, KNOWN)
    faults = list(found.values())
    if not isinstance(file, ClubFile):
        return None, (), tuple(sorted(faults))
    for question in (_zone, _class_ids, _people_ids, _given, _watched, _closed, _covers):
        faults += [source.fault(path, says) for path, says in question(file) if path not in found]
    faults += [
        source.fault(path, says) for path, says in _helpers_do_not_coach(file, frozenset(found))
    ]
    return _club(file), _people(file), tuple(dict.fromkeys(sorted(faults)))


def _unwrapped(source: Source) -> Source:
    """Some write the club's own keys below a [club]; that is as good."""
    inner = source.raw.get("club")
    if not isinstance(inner, dict):
        return source
    lines = {(path[1:] if path[0] == "club" else path): line for path, line in source.lines.items() if path}
    return Source({**inner, **{key: value for key, value in source.raw.items() if key != "club"}}, lines)


# --- what becomes of it -----------------------------------------------------------------------------------

def _club(file: ClubFile) -> Club:
    helpers = {person.id for person in file.people if person.role == "helper"}
    return Club(
        id=file.id or slug(file.name) or "club", name=file.name, timezone=file.timezone, quiet=file.quiet,
        tell_awards=file.tell_awards, welfare=file.welfare, keep_months=file.keep_months,
        audit_months=file.audit_months, forgotten=file.forgotten,
        classes=tuple(_class(row, helpers) for row in file.classes),
        closed=tuple(Closed(first=row.first, last=row.last or row.first) for row in file.closed),
        covers=tuple(_cover(row, file) for row in file.cover), planning=file.planning,
        printing=file.printing,
    )


def _cover(row: CoverRow, file: ClubFile) -> Cover:
    assists = any(one.id == row.person and one.role == "assistant" for one in file.people)
    role: Literal["coach", "assistant"] = "assistant" if assists else "coach"
    return Cover(class_id=row.class_id, person=row.person, role=role, first=row.first, last=row.last or row.first)


def _class(row: ClassRow, helpers: set[str]) -> ClubClass:
    """A helper who is written down as an assistant still helps only: the smaller right holds."""
    helping = (*row.helper, *(one for one in row.assistant if one in helpers))
    return ClubClass(
        id=row.key, name=row.name or row.key.replace("-", " ").capitalize(), day=row.day, start=row.start,
        minutes=row.minutes, watch_minutes=row.watch_minutes, coach=tuple(dict.fromkeys(row.coach)),
        assistant=tuple(one for one in dict.fromkeys(row.assistant) if one not in helpers),
        helper=tuple(dict.fromkeys(helping)),
    )


def _people(file: ClubFile) -> tuple[Person, ...]:
    return tuple(
        Person(id=row.id, name=row.name or row.id.replace("-", " ").capitalize(), role=row.role)
        for row in file.people
    )


# --- questions to the file as a whole --------------------------------------------------------------------

def _zone(file: ClubFile) -> Said:
    try:
        zoneinfo.ZoneInfo(file.timezone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        known = sorted(zoneinfo.available_timezones())
        city = {zone.rpartition("/")[2]: zone for zone in known}.get(file.timezone.strip().title())
        remedy = f'did you mean "{city}"?' if city else meant(file.timezone, [z for z in known if "/" in z])
        yield ("timezone",), f'there is no time zone "{file.timezone}"; {remedy}'


def _class_ids(file: ClubFile) -> Said:
    yield from _once("class", [row.key for row in file.classes])


def _people_ids(file: ClubFile) -> Said:
    yield from _once("person", [row.id for row in file.people])


def _once(kind: str, ids: Sequence[str]) -> Said:
    met = set[str]()
    for i, one in enumerate(ids):
        if fold(one) in met:
            yield (kind, i, "id"), f'another {kind} has the id "{one}"; give this one an id of its own'
        met.add(fold(one))


def _given(file: ClubFile) -> Said:
    """Whoever has a class has to be among the people."""
    people = [row.id for row in file.people]
    for i, row in enumerate(file.classes):
        for key, ids in (("coach", row.coach), ("assistant", row.assistant), ("helper", row.helper)):
            for j, one in enumerate(ids):
                if one not in people:
                    other = f"{meant(one, people)} or " if people else ""
                    yield ("class", i, key, j), (
                        f'there is no person "{one}"; {other}add a [[person]] with id = "{one}" and a role'
                    )


def _helpers_do_not_coach(file: ClubFile, mended: frozenset[Path]) -> Said:
    helpers = {
        row.id for i, row in enumerate(file.people)
        if row.role == "helper" and ("person", i, "role") not in mended
    }
    for i, row in enumerate(file.classes):
        for j, one in enumerate(row.coach):
            if one in helpers:
                yield ("class", i, "coach", j), (
                    f'"{one}" is a helper and cannot be the coach; write helper = "{one}", '
                    "or change the role of the person"
                )


def _watched(file: ClubFile) -> Said:
    for i, row in enumerate(file.classes):
        if row.watch_minutes is not None and row.watch_minutes > row.minutes:
            yield ("class", i, "watch_minutes"), (
                f"{row.watch_minutes} minutes of watching do not fit into a class of {row.minutes}; "
                f"write watch_minutes = {row.minutes} or less"
            )


def _closed(file: ClubFile) -> Said:
    for i, row in enumerate(file.closed):
        if row.last is not None and row.last < row.first:
            yield ("closed", i, "to"), (
                f"the last day ({row.last}) comes before the first ({row.first}); exchange from and to, "
                "or correct the year"
            )


def _covers(file: ClubFile) -> Said:
    roles = {row.id: row.role for row in file.people}
    keys = [row.key for row in file.classes]
    for i, row in enumerate(file.cover):
        if row.class_id not in keys:
            yield ("cover", i, "class"), f'there is no class "{row.class_id}"; {meant(row.class_id, keys)}'
        if row.person not in roles:
            yield ("cover", i, "person"), f'there is no person "{row.person}"; {meant(row.person, list(roles))}'
        elif roles[row.person] == "helper":
            yield ("cover", i, "person"), f'"{row.person}" is a helper and cannot stand in; name another person'
        if row.last is not None and row.last < row.first:
            yield ("cover", i, "to"), (
                f"the last day ({row.last}) comes before the first ({row.first}); exchange from and to, "
                "or correct the year"
            )
