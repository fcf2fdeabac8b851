"""The planning problem and its plan. All times are whole seconds since the start of the lesson."""
from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class Watcher:
    """Somebody who may judge. `at`: the skill that is set up now; `opened`: those that were, a short way to go."""

    id: str
    free: int = 0
    at: str | None = None
    opened: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Child:
    """A child who is here or expected. `last_end`: the end of the last show, not counting light ones."""

    id: str
    since: int
    until: int
    last_end: int | None = None


@dataclass(frozen=True, slots=True)
class Show:
    """One performance of a line: how long it takes, the rest before it, and how many can be watched at once."""

    seconds: int
    rest_before: int
    group: int


@dataclass(frozen=True, slots=True)
class Skill:
    """`setup`: seconds before a watcher's first turn on it; `switch`: before each later return to it."""

    id: str
    light: bool
    setup: int
    switch: int
    shows: tuple[Show, ...]


class Owed(NamedTuple):
    """One skill of one child: its weight, the chance of passing each show, and what is shown already.

    A tuple, for there are hundreds of them, and they are handed from process to process.
    """

    child: str
    skill: str
    weight: float
    chances: tuple[float, ...]
    done: int = 0
    prev_end: int | None = None

    @property
    def value(self) -> int:
        """What it is worth to plan all the shows that remain: thousandths of an expected, weighted tick."""
        chance = 1.0
        for one in self.chances[self.done:]:
            chance *= one
        return round(1000 * self.weight * chance)


@dataclass(frozen=True, slots=True)
class Problem:
    """Who may watch whom show what, until when. `light_rest`: light skills may be shown in a rest from another."""

    minutes: int
    now: int
    light_rest: bool
    watchers: tuple[Watcher, ...]
    children: tuple[Child, ...]
    skills: tuple[Skill, ...]
    owed: tuple[Owed, ...]

    @property
    def end(self) -> int:
        """When the lesson is over."""
        return self.minutes * 60


@dataclass(frozen=True, slots=True)
class Turn:
    """A line watched on one show (1 or 2). The children begin at `start`; the changeover lies before it."""

    start: int
    watcher: str
    skill: str
    show: int
    children: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """The turns to come, by start, and what they amount to: `value` in thousandths, `finish` in seconds."""

    turns: tuple[Turn, ...]
    value: int
    finish: int
