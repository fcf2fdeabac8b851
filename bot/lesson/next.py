"""Whom to watch next, by the simple rule: where there is no plan (`follow.py`), or none that holds.

In this order: second shows whose rest is over; what is left of the skill being watched; retests
that are due; the skill that most of the class owe. Children who stand together on a mat stay together; nobody turns to
another skill for less than a full line where a rest is nearly over.
"""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import ceil

from bot.lesson.book import Child, ClassBook
from bot.lesson.hall import Hall, spared_loads
from bot.lesson.pace import paced, paced_changeover
from bot.marks.standing import Standing, View
from bot.scheme.model import Scheme, Skill

NOTHING: Mapping[str, Standing] = {}


@dataclass(frozen=True, slots=True)
class Next:
    """The line to watch next. `owe`: how many owe the skill now; `minutes`: how long all of them take."""

    skill: str
    show: int
    children: tuple[str, ...]
    owe: int
    minutes: int
    why: str = "most owe it"


@dataclass
class Owing:
    """Who could show one skill, by show: now, or (`soon`: show, child, when) once a rest is over."""

    skill: Skill
    first: list[str] = field(default_factory=list)
    second: list[str] = field(default_factory=list)
    soon: list[tuple[int, str, datetime]] = field(default_factory=list)
    retests: int = 0

    @property
    def owe(self) -> int:
        """How many owe it, those who rest included."""
        return len(self.first) + len(self.second) + len(self.soon)

    def ready_by(self, at: datetime, show: int) -> list[str]:
        """Who could show that by a time."""
        now = self.first if show == 1 else self.second
        return [*now, *(child for of, child, ready in self.soon if of == show and ready <= at)]


def choose(hall: Hall) -> Next | None:
    """The simple rule."""
    owing = owing_of(hall)
    for pick in (_rested, _going_on, _retests, _most):
        found = pick(hall, owing)
        if found is not None:
            return found if _worth_turning_to(hall, found) else None
    return None


def _worth_turning_to(hall: Hall, found: Next) -> bool:
    """To set out another skill for less than a full line takes longer than waiting for a rest nearly over."""
    skill = hall.scheme.skills[found.skill]
    if hall.turned in (None, found.skill) or hall.only is not None or len(found.children) >= hall.size(skill):
        return True
    done = hall.now + timedelta(seconds=paced_changeover(hall.book, skill) + paced(hall.book, skill, found.show))
    ends = (
        one.rested_at
        for of_child in hall.book.standings.values()
        if (one := of_child.get(hall.turned)) is not None and one.lesson == hall.lesson.id and not one.ticked
    )
    return not any(end is not None and hall.now < end <= done for end in ends)


def working_on(hall: Hall, child: str) -> Mapping[str, Skill]:
    """The skills that are suggested for a child: those of her award, until it is earned."""
    of_child, entry = hall.book.standings.get(child, NOTHING), hall.book.children[child]
    known = hall.kept.get(child)
    if isinstance(known, _Open) and known.of_child is of_child and known.entry is entry and known.scheme is hall.scheme:
        return known.working_on
    award = hall.scheme.award_by_id(entry.award)
    if award is None or award.id in hall.done(child):
        return {}
    return award.suggested


def open_to(hall: Hall, child: str, skill: str) -> View | None:
    """How a child stands with a skill, where there is something left to show today."""
    standing = hall.book.standing(child, skill)
    if standing.ticked:
        return None
    seen_as = hall.view(child, skill)
    if seen_as.label == "ticked":
        return None
    due = hall.due(child, skill)
    return None if due is not None and due > hall.lesson.day else seen_as


_Left = tuple[tuple[str, Skill, View], ...]


@dataclass(slots=True)
class _Open:
    """What is open to one child, and what that was worked out from: while it is the same, so is this.

    A rest that ends changes it, and the beginning of a day; days begin on a quarter of an hour in every zone.
    """

    of_child: Mapping[str, Standing]
    entry: Child
    scheme: Scheme
    working_on: Mapping[str, Skill]
    lessons: tuple[str, str | None]
    since: datetime
    until: datetime
    rests_until: datetime | None        # before that only what is light may be shown
    seen_as: Mapping[str, View | None]  # skill → how she stands, or None where nothing is left to show
    left: _Left                         # of these where something is

    def holds(self, hall: Hall, entry: Child, lessons: tuple[str, str | None]) -> bool:
        """Is it still so, but for the skills whose standing changed?"""
        same = self.entry is entry and self.scheme is hall.scheme and self.lessons == lessons
        return same and self.since <= hall.now < self.until


def _open(hall: Hall, child: str, lessons: tuple[str, str | None]) -> _Open:
    of_child, entry = hall.book.standings.get(child, NOTHING), hall.book.children[child]
    known = hall.kept.get(child)
    if not isinstance(known, _Open) or not known.holds(hall, entry, lessons):
        known = None
    elif known.of_child is of_child:
        return known
    skills = working_on(hall, child)
    if known is not None and (known.working_on is skills or known.working_on == skills):
        changed = [skill for skill in skills if known.of_child.get(skill) is not of_child.get(skill)]
        seen_as = {**known.seen_as, **{skill: open_to(hall, child, skill) for skill in changed}}
    else:
        seen_as = {skill: open_to(hall, child, skill) for skill in skills}
    left = tuple([(skill, skills[skill], view) for skill, view in seen_as.items() if view is not None])
    made = hall.kept[child] = _Open(
        of_child, entry, hall.scheme, skills, lessons, hall.now, *_rests(hall, of_child), seen_as, left,
    )
    return made


def _rests(hall: Hall, of_child: Mapping[str, Standing]) -> tuple[datetime, datetime | None]:
    """When the first of a child's rests is over, or the quarter if that comes first; and the last of this lesson's."""
    now, lesson, first = hall.now, hall.lesson.id, hall.next_quarter
    last: datetime | None = None
    for one in of_child.values():
        end = one.rested_at
        if end is not None:
            if now < end < first:
                first = end
            if one.lesson == lesson and one.ticked_on is None and (last is None or end > last):
                last = end
    return first, last


def owing_of(hall: Hall) -> dict[str, Owing]:
    """Who could show what: skill → who owes it, of those who are here, fit for it and in nobody else's line."""
    found: dict[str, Owing] = {}
    lesson, open_lesson = hall.lesson, hall.book.open_lesson
    lessons = (lesson.id, None if open_lesson is None else open_lesson.id)
    for child in hall.book.children:
        if child in hall.busy or child in lesson.sits or not lesson.here(child, hall.now):
            continue
        one = _open(hall, child, lessons)
        rests = one.rests_until is not None and hall.now < one.rests_until
        for key, skill, seen_as in _able(hall, child, one.left):
            owing = found.get(key) or found.setdefault(key, Owing(skill))
            if rests and not skill.light:
                assert one.rests_until is not None
                owing.soon.append((seen_as.show, child, one.rests_until))
                continue
            (owing.second if seen_as.show == 2 else owing.first).append(child)
            owing.retests += seen_as.label == "retest"
    return found


def _able(hall: Hall, child: str, left: _Left) -> _Left:
    """Of what is left to a child that which is asked for and that she is not spared: mostly all of it."""
    if hall.only is not None:
        left = tuple(one for one in left if one[0] == hall.only)
    if child not in hall.lesson.spared and child not in hall.book.agreed:
        return left
    return tuple(one for one in left if not spared_loads(hall.book, hall.lesson, child, hall.scheme, one[0]))


def _rested(hall: Hall, owing: Mapping[str, Owing]) -> Next | None:
    ready = [one for one in owing.values() if one.second and one.skill.id not in hall.skipped]
    if not ready:
        return None
    best = max(ready, key=lambda one: (one.skill.id == hall.turned, len(one.second)))
    return _line(hall, best, 2, best.second, "rested")


def _going_on(hall: Hall, owing: Mapping[str, Owing]) -> Next | None:
    one = owing.get(hall.turned or "")
    return _line(hall, one, 1, one.first, "same skill") if one is not None and one.first else None


def _retests(hall: Hall, owing: Mapping[str, Owing]) -> Next | None:
    due = [one for one in owing.values() if one.retests and one.first and one.skill.id not in hall.skipped]
    best = max(due, key=lambda one: one.retests, default=None)
    return None if best is None else _line(hall, best, 1, best.first, "retest")


def _most(hall: Hall, owing: Mapping[str, Owing]) -> Next | None:
    fresh = [one for one in owing.values() if one.first and one.skill.id not in hall.skipped]
    best = max(fresh, key=lambda one: len(one.first), default=None)
    return None if best is None else _line(hall, best, 1, best.first, "most owe it")


def _line(hall: Hall, owing: Owing, show: int, children: list[str], why: str) -> Next:
    together = _together(children, hall.book.groups, hall.size(owing.skill))
    return Next(owing.skill.id, show, together, owing.owe, minutes(hall.book, hall.scheme, owing.skill, owing.owe), why)


def _together(children: list[str], groups: Mapping[str, tuple[str, ...]], size: int) -> tuple[str, ...]:
    """Those of one group first, the group with most of them; without groups, as the book lists them."""
    best: list[str] = []
    for members in groups.values():
        there = [child for child in members if child in children]
        best = there if len(there) > len(best) else best
    if best:
        return tuple(best[:size])
    return tuple(children[:size])


def minutes(book: ClassBook, scheme: Scheme, skill: Skill, children: int) -> int:
    """How long it takes one person here to watch so many on a skill, using the rests: whole minutes, at least 1."""
    lines = ceil(children / skill.line)
    takes = [paced(book, skill, show) for show in range(1, len(skill.shows) + 1)]
    seconds = lines * takes[0]
    if len(takes) == 2:
        seconds = two_shows_s(lines, takes[0], scheme.rest_before(skill, 2), takes[1])
    return max(1, ceil((paced_changeover(book, skill) + seconds) / 60))


def two_shows_s(lines: int, first_s: int, rest_s: int, second_s: int) -> int:
    """The earliest end, in seconds, of equal lines that each show, rest and show again before one watcher.

    All first shows, then all second ones in the same order; no order is quicker (proof and proven optima:
    tests/outside/test_watching_time.py).
    """
    both = lines * (first_s + second_s)
    return max(both, lines * first_s + rest_s + second_s, first_s + rest_s + lines * second_s)
