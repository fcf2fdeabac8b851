"""The hall as it is: all that choosing whom to watch, and planning the rest of a lesson, may look at."""
from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property, partial
from typing import TYPE_CHECKING

from bot.lesson.book import ClassBook
from bot.lesson.due import due
from bot.lesson.lesson import Lesson
from bot.lesson.line import Line, owes_line
from bot.marks.awards import earned
from bot.marks.standing import UNTRIED, Rules, View, view
from bot.people.model import Club
from bot.scheme.home import all_loads
from bot.scheme.model import Scheme, Skill

if TYPE_CHECKING:
    from bot.lesson.ahead import Ahead

QUARTER = timedelta(minutes=15)


def spared_loads(book: ClassBook, lesson: Lesson, child: str, scheme: Scheme, skill: str) -> bool:
    """Is a child spared what a skill loads, today or for longer? A routine loads what the skills in it load."""
    if child not in lesson.spared and child not in book.agreed:
        return False
    loads = set(all_loads(scheme, scheme.skills[skill]))
    return bool(loads & book.agreed_for(child).spared_on(lesson.day)) or bool(loads & set(lesson.spared.get(child, ())))


@dataclass(frozen=True)
class Hall:
    """All that choosing whom to watch may look at."""

    book: ClassBook
    lesson: Lesson
    scheme: Scheme
    now: datetime
    view: Callable[[str, str], View]            # (child, skill) → what it means now
    due: Callable[[str, str], date | None]
    done: Callable[[str], Collection[str]]      # child → awards earned
    turned: str | None = None                   # the skill being watched
    skipped: Collection[str] = ()               # skills put off
    busy: Collection[str] = ()                  # children who stand in another line
    only: str | None = None                     # this skill and no other
    kept: dict[str, object] = field(default_factory=dict)   # what a choice may keep for the next one
    me: str = ""                                # who asks whom to watch
    most: int | None = None                     # no line is to be longer than this
    keep_groups: float = 0                      # minutes that a group which stays together may cost
    ahead: Ahead | None = None                  # the plan, where one was made

    def left(self, line: Line) -> tuple[str, ...]:
        """The children of a line who still have to show it."""
        return tuple(
            child for child in line.children if child in self.book.children and owes_line(
                line, child, self.book.standing(child, line.skill), self.view(child, line.skill), self.lesson, self.now,
                spared=spared_loads(self.book, self.lesson, child, self.scheme, line.skill))
        )

    def size(self, skill: Skill) -> int:
        """How many stand in a line of a skill: as it says, or as few as whoever watches wants."""
        return min(skill.line, self.most or skill.line)

    @cached_property
    def judged(self) -> dict[str, dict[str, datetime]]:
        """Person → the skills that they marked in this lesson, each with when they did so last."""
        found: dict[str, dict[str, datetime]] = {}
        for of_child in self.book.standings.values():
            for skill, one in of_child.items():
                last = one.last
                if last is not None and last.lesson == self.lesson.id:
                    of_person = found.setdefault(last.by, {})
                    of_person[skill] = max(last.at, of_person.get(skill, last.at))
        return found

    @cached_property
    def next_quarter(self) -> datetime:
        """When the quarter of an hour is over."""
        now = self.now
        return now + QUARTER - timedelta(minutes=now.minute % 15, seconds=now.second, microseconds=now.microsecond)


def hall_of(book: ClassBook, lesson: Lesson, club: Club, schemes: Mapping[int, Scheme], now: datetime) -> Hall:
    """The hall of a lesson, made from the book alone."""
    version = max(schemes)
    scheme = schemes[version]
    untried: dict[str, View] = {}       # nobody's first try differs from another's

    def rules(skill: str, asked: int) -> Rules:
        known = schemes.get(asked, scheme)
        known, of = (known, asked) if skill in known.skills else (scheme, version)
        return Rules(of, known.skills[skill], known, club.tz)

    def seen_as(child: str, skill: str) -> View:
        standing = book.standing(child, skill)
        if standing is UNTRIED and skill in untried:
            return untried[skill]
        found = view(standing, now, rules(skill, version), partial(rules, skill))
        return untried.setdefault(skill, found) if standing is UNTRIED else found

    def due_on(child: str, skill: str) -> date | None:
        standing = book.standing(child, skill)
        if standing is UNTRIED:
            return None
        return due(standing, seen_as(child, skill), club, club.by_class[book.class_id], lesson.id)

    def done(child: str) -> Collection[str]:
        return earned(book.standings.get(child, {}), scheme, lambda asked: schemes.get(asked, scheme))

    return Hall(book, lesson, scheme, now, seen_as, due_on, done)
