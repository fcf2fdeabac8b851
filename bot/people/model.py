"""A club, its classes and its people, as plain frozen values. Wall-clock times are the club's own."""
from __future__ import annotations

from datetime import date, time
from functools import cached_property
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field

Role = Literal["coach", "assistant", "helper", "parent"]
Day = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
DAYS: tuple[Day, ...] = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


class Frozen(BaseModel):
    """A value that is never changed, with no key that we do not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class ClubClass(Frozen):
    """A class of the club: so many minutes on one day of the week."""

    id: str
    name: str
    day: Day
    start: time
    minutes: Annotated[int, Field(ge=5, le=600)] = 60
    watch_minutes: Annotated[int, Field(ge=1, le=600)] | None = None    # None: all of them
    coach: tuple[str, ...] = ()
    assistant: tuple[str, ...] = ()
    helper: tuple[str, ...] = ()

    @property
    def people(self) -> tuple[str, ...]:
        """Ids of all who are given this class, coaches first."""
        return self.coach + self.assistant + self.helper


class Closed(Frozen):
    """Days without lessons, the first and the last of them included."""

    first: date
    last: date

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last


class Cover(Frozen):
    """Somebody stands in for a class, from one day to another, both included; it ends by itself."""

    class_id: str
    person: str
    role: Literal["coach", "assistant"]
    first: date
    last: date

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last


class Person(Frozen):
    """Somebody who talks with us. A parent has children instead of classes."""

    id: str
    name: str
    role: Role
    children: tuple[str, ...] = ()

    @cached_property
    def first_name(self) -> str:
        """The name that we call them by."""
        return self.name.split()[0] if self.name.split() else self.id


class Planning(Frozen):
    """What the plan of a lesson goes by. A tick is worth 1; these are added to it (`bot/lesson/weigh.py`)."""

    near_award: Annotated[float, Field(ge=0, le=10)] = 1.0          # where it is the last; half where one of two
    retest: Annotated[float, Field(ge=0, le=10)] = 0.25             # where a retest is due
    not_seen_lately: Annotated[float, Field(ge=0, le=10)] = 1.0     # to a child who was not watched at all lately
    likely_at_least: Annotated[float, Field(ge=0.05, le=1)] = 0.6   # no chance of passing is taken as less
    keep_groups: Annotated[float, Field(ge=0, le=60)] = 1.0         # minutes that a group which stays together may cost


class Printing(Frozen):
    """How the club's papers look. Colours are `#rrggbb`."""

    heading: Annotated[str, Field(max_length=80)] = ""              # empty: the club's name
    colour: Annotated[str, Field(pattern=r"^#[0-9a-fA-F]{6}$")] = "#24506b"
    second_colour: Annotated[str, Field(pattern=r"^#[0-9a-fA-F]{6}$")] = "#d9a441"
    signature: Annotated[str, Field(max_length=80)] = ""            # who signs under the line; empty: no line
    paper: Literal["a4", "letter"] = "a4"


class Club(Frozen):
    """A club with its timetable and its ways."""

    id: str
    name: str
    timezone: str = "Europe/London"
    quiet: tuple[time, time] = (time(20), time(8))
    tell_awards: Literal["presented", "earned"] = "presented"
    welfare: str = ""                   # whom to turn to with a worry about a child
    keep_months: Annotated[int, Field(ge=1, le=240)] = 24
    audit_months: Annotated[int, Field(ge=1, le=240)] = 24      # so long it is kept who saw what
    forgotten: Literal["gone", "counted"] = "gone"      # what becomes of the marks of a child who is forgotten
    classes: tuple[ClubClass, ...] = ()
    closed: tuple[Closed, ...] = ()
    covers: tuple[Cover, ...] = ()
    planning: Planning = Planning()
    printing: Printing = Printing()

    @cached_property
    def tz(self) -> ZoneInfo:
        """The club's time zone."""
        return ZoneInfo(self.timezone)

    @cached_property
    def by_class(self) -> dict[str, ClubClass]:
        """Class id → class."""
        return {one.id: one for one in self.classes}

    def is_closed(self, day: date) -> bool:
        """Are there no lessons on that day?"""
        return any(day in span for span in self.closed)

    def classes_of(self, person: str, day: date) -> tuple[ClubClass, ...]:
        """The classes that somebody is given, or stands in for on that day."""
        covered = {one.class_id for one in self.covers if one.person == person and day in one}
        return tuple(one for one in self.classes if person in one.people or one.id in covered)

    def coaches(self, one: ClubClass, day: date) -> tuple[str, ...]:
        """Who coaches a class on a day, whoever stands in included."""
        return self._with_covers(one.coach, one, "coach", day)

    def assistants(self, one: ClubClass, day: date) -> tuple[str, ...]:
        """Who assists in a class on a day, whoever stands in included."""
        return self._with_covers(one.assistant, one, "assistant", day)

    def there(self, one: ClubClass, role: Literal["coach", "assistant"], day: date) -> tuple[str, ...]:
        """Who is looked for in the hall: whoever stands in, and not the one who is stood in for.

        Of several who have the role nobody says who is away, so then all of them are.
        """
        own = one.coach if role == "coach" else one.assistant
        found = self._with_covers(own, one, role, day)
        return tuple(person for person in found if person not in own) or found if len(own) == 1 else found

    def _with_covers(self, own: tuple[str, ...], one: ClubClass, role: str, day: date) -> tuple[str, ...]:
        found = (c.person for c in self.covers if (c.class_id, c.role) == (one.id, role) and day in c)
        return tuple(dict.fromkeys((*own, *found)))


class RosterLine(Frozen):
    """A child as the roster names it. `has`: ids of the skills already ticked elsewhere; `since`: when, where known."""

    child: str
    class_id: str
    award: str
    has: tuple[str, ...] = ()
    id: str | None = None
    since: tuple[tuple[str, date], ...] = ()
    group: str = ""                     # of the class, as it is typed; empty: nothing is said of it
