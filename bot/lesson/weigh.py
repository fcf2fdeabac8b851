"""What a tick is worth to the planner, and how likely it is: said openly, and set in `club.toml`.

A tick is worth 1. It is worth more where an award is near, where a retest is due, and where a child was watched less
than the others lately, so that nobody is starved who is slower to pass. The chance of passing is the child's own
(`likely.py`), and never taken as less than the floor.
"""
from __future__ import annotations

from collections.abc import Collection, Mapping
from statistics import median

from bot.lesson.book import ClassBook
from bot.lesson.lesson import Lesson
from bot.lesson.likely import Likely
from bot.marks.standing import Standing
from bot.people.model import Planning
from bot.scheme.model import Award

LESSONS = 3             # how far back "lately" goes, the lesson that is open included
NOTHING: Mapping[str, Standing] = {}


class Worth:
    """What the ticks of one child are worth. `behind`: how far she is behind the others in being watched, 0 to 1."""

    def __init__(self, ways: Planning, award: Award, ticked: frozenset[str], behind: float) -> None:
        self._usual = 1 + ways.not_seen_lately * behind
        self._retest = ways.retest
        missing = set(award.must) - ticked
        left = max(award.goal(ticked) - sum(skill.id in ticked for skill in award.skills), len(missing))
        self._near = ways.near_award / left if left else 0.0
        self._only = missing if left == len(missing) else None      # nothing else brings the award nearer

    def of(self, skill: str, *, retest: bool) -> float:
        """The weight of one tick."""
        near = self._near if self._only is None or skill in self._only else 0.0
        return self._usual + near + (self._retest if retest else 0.0)


def chances(ways: Planning, likely: Likely, shows: int) -> tuple[float, ...]:
    """The chance of each show, none less than the floor; who has shown it once, shows it again."""
    first = max(ways.likely_at_least, likely.mean)
    return (first, (1 + first) / 2)[:shows]


def behind(book: ClassBook, lesson: Lesson, here: Collection[str]) -> dict[str, float]:
    """How far each child who is here is behind the middle one in skills shown lately: 0 not at all, 1 wholly."""
    lately = sorted((one for one in book.lessons.values() if one.day <= lesson.day), key=lambda one: one.day)[-LESSONS:]
    rates = {child: _rate(book.standings.get(child, NOTHING), child, lately) for child in here}
    middle = median(rates.values()) if rates else 0
    return {child: max(0.0, 1 - rate / middle) if middle else 0.0 for child, rate in rates.items()}


def _rate(of_child: Mapping[str, Standing], child: str, lately: Collection[Lesson]) -> float:
    """Skills shown in each of these lessons in which the child was there."""
    there = {one.id for one in lately if child not in one.away}
    shown = sum(one.lesson in there for one in of_child.values())
    return shown / max(1, len(there))
