"""How values become text in a row, and back: JSON for what is only read whole, integers for instants.

What lives here: one adapter for each value. A field that is added with a default reads old rows as they
are; a value that a newer program wrote is refused by its version (`talk_of`), never half understood.
"""
from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache, lru_cache
from typing import Any, TypeVar

from pydantic import TypeAdapter

from bot.attached import Attachment
from bot.facts import FACT, Fact
from bot.lesson.book import Agreed, Contact, Reminder
from bot.lesson.lesson import Lesson
from bot.lesson.pace import Pace
from bot.marks.standing import Standing
from bot.people.model import Club, Person
from bot.scheme.model import Scheme
from bot.step import Choice, Refused
from bot.talk.state import VERSION, Talk

T = TypeVar("T")

AGREED = TypeAdapter(Agreed)
CLUB = TypeAdapter(Club)
CONTACT = TypeAdapter(Contact)
PACE = TypeAdapter(Pace)
PERSON = TypeAdapter(Person)
SCHEME = TypeAdapter(Scheme)
TALK = TypeAdapter(Talk)
LESSON = TypeAdapter(Lesson)
STANDING = TypeAdapter(Standing)
REMINDER = TypeAdapter(Reminder)
ATTACHED = TypeAdapter(tuple[Attachment, ...])
CHOICES = TypeAdapter(tuple[Choice, ...])
NAMES = TypeAdapter(tuple[str, ...])
NUMBERS = TypeAdapter(tuple[int, ...])

__all__ = [
    "AGREED", "ATTACHED", "CHOICES", "CLUB", "CONTACT", "FACT", "LESSON", "NAMES", "NUMBERS", "PACE", "PERSON",
    "REMINDER", "SCHEME", "STANDING", "TALK", "dump", "dump_fact", "instant", "micros", "scheme_of", "talk_of",
]

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)


def dump(adapter: TypeAdapter[T], value: T) -> str:
    """A value as JSON."""
    return adapter.serializer.to_json(value).decode()


def dump_fact(fact: Fact) -> str:
    """A fact as JSON, written as its own kind: to find out which of all kinds it is takes as long again."""
    kind: Any = type(fact)
    return dump(_adapter_of(kind), fact)


@cache
def _adapter_of(kind: type[Any]) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


def micros(at: datetime) -> int:
    """An instant as whole microseconds since 1970, exact and sortable. A naive one is a mistake of ours."""
    return (at - EPOCH) // MICROSECOND


def instant(at: int) -> datetime:
    """The instant of so many microseconds, in UTC."""
    return EPOCH + timedelta(microseconds=at)


@lru_cache(maxsize=64)
def scheme_of(body: str) -> Scheme:
    """A stored scheme. Clubs with the same scheme share one."""
    return SCHEME.validate_json(body)


def talk_of(version: int, body: str) -> Talk:
    """A stored talk. Raises Refused where a newer program left it."""
    if version > VERSION:
        raise Refused("This talk was left by a newer version of the program. Please update it; nothing is lost.")
    return TALK.validate_json(body)
