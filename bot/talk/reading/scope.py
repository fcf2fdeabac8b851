"""What earlier words say about a segment, what it may settle to, and the two things both halves need."""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from bot.talk.reading.bag import Bag, Named
from bot.talk.reading.standard import Problem
from bot.talk.requests import Typed, Why


class Choice(NamedTuple):
    """An ambiguous name and the child taken for it."""

    at: int
    stop: int
    child: str


class Settled(NamedTuple):
    """One thing that a segment may ask for; `skill` is what later marks may leave out."""

    requests: tuple[Typed, ...]
    choices: tuple[Choice, ...] = ()
    skill: str = ""
    heading: str = ""


class Scope(NamedTuple):
    """What earlier words of the message say about this segment."""

    at: datetime | None = None
    heading: str = ""       # `cartwheel` on a line of its own: for all marks that follow
    carry: str = ""         # the skill named last, where nothing else says one


Picked = Mapping[tuple[str, ...], str]
Outcome = tuple[Typed, ...] | Problem


def children_of(names: Sequence[Named], picked: Picked) -> tuple[str, ...]:
    """The children named, each once, an ambiguous name as it was picked."""
    return tuple(dict.fromkeys(picked[one.ids] if len(one.ids) > 1 else one.ids[0] for one in names))


def problem_of(why: Why, bag: Bag, named: Named | None = None) -> Problem:
    """Why a bag asks for nothing, shown at its first word or at a name."""
    at = named.at if named else max(bag.begin, 0)
    return Problem(why, at, named.stop if named else at + 1)
