"""One lesson: open or closed, who is here and fit for what. Folded from its facts, one at a time."""
from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from bot.facts import (
    ChildNoted,
    Fact,
    HelperShowed,
    LessonClosed,
    LessonOpened,
    LessonPaused,
    LookAsked,
    LookDeclined,
    Mark,
    NewsReleased,
    ReasonGiven,
    Recorded,
    RegisterTaken,
    in_force,
)
from bot.frozen import replace
from bot.lesson.line import Line
from bot.lesson.looks import Looks, with_mark, with_reason
from bot.lesson.pace import Answers
from bot.lesson.timetable import class_and_day


@dataclass(frozen=True, slots=True)
class Lesson:
    """The state of one lesson. Children are ids; nothing about why anybody is away or sits out."""

    id: str
    class_id: str
    day: date
    runner: str                                 # who started it
    opened_at: datetime
    closes: tuple[LessonClosed, ...] = ()
    is_open: bool = True
    registered: bool = False                    # was "Everyone here?" answered?
    away: frozenset[str] = frozenset()
    sits: frozenset[str] = frozenset()
    leaves: Mapping[str, datetime] = field(default_factory=dict)
    spared: Mapping[str, tuple[str, ...]] = field(default_factory=dict)     # child → loads
    paused: bool = False
    lines: Mapping[str, Line] = field(default_factory=dict)     # person → the line they watch; no fact
    shown: tuple[HelperShowed, ...] = ()        # what a helper says was shown
    looked_after: frozenset[str] = frozenset()  # who had a bump; no detail is kept
    released_at: datetime | None = None         # when the coach said that families may hear of it
    held: frozenset[str] = frozenset()          # whose families wait all the same
    freed: frozenset[str] = frozenset()         # whose news waited without the coach's asking, and does not any more
    looks: tuple[Looks, ...] = ()               # second looks that were asked for
    watched: Answers = field(default_factory=dict)      # what lines were answered last, while it is open; no fact

    def here(self, child: str, now: datetime) -> bool:
        """Is that child in the hall now, as far as we were told?"""
        return child not in self.away and not (child in self.leaves and now >= self.leaves[child])

    def can_show(self, child: str, loads: Iterable[str], now: datetime) -> bool:
        """Is that child here, not sitting out, and not spared what the skill loads?"""
        return (
            self.here(child, now)
            and child not in self.sits
            and not set(loads) & set(self.spared.get(child, ()))
        )

    @property
    def gone(self) -> frozenset[str]:
        """Who can't be waited for: away, or sitting out."""
        return self.away | self.sits

    @property
    def news_waits(self) -> frozenset[str]:
        """Whose news waits for a coach: those held, and whoever was looked after or spared something today."""
        return self.held | ((self.looked_after | self.spared.keys()) - self.freed)

    def holds(self, judged_at: datetime) -> bool:
        """Does a judgement made then belong to this lesson? Not once it was closed, unless it is open again."""
        if self.is_open:
            return True
        return judged_at < max(close.at for close in self.closes)


def advance(lesson: Lesson | None, fact: Fact) -> Lesson | None:
    """The lesson after one more fact; facts of other things leave it as it is."""
    if isinstance(fact, LessonOpened):
        return _opened(lesson, fact)
    if lesson is None:
        return None
    match fact:
        case LessonClosed():
            return replace(
                lesson, is_open=False, paused=False, closes=(*lesson.closes, fact), released_at=None, watched={},
            )
        case LessonPaused():
            return replace(lesson, paused=fact.paused)
        case RegisterTaken():
            return replace(lesson, registered=True, away=frozenset(fact.away))
        case ChildNoted():
            return _noted(lesson, fact)
        case HelperShowed():
            return replace(lesson, shown=(*lesson.shown, fact))
        case NewsReleased():
            return replace(
                lesson, released_at=fact.at if fact.word else lesson.released_at,
                held=frozenset(fact.held), freed=frozenset(fact.freed),
            )
        case Mark():
            return _marked(lesson, fact)
        case LookAsked():
            return replace(lesson, looks=(*lesson.looks, Looks(fact)))
        case LookDeclined():
            return replace(lesson, looks=tuple(
                replace(one, declined=True) if (one.asked.of, one.asked.skill, one.asked.at)
                == (fact.by, fact.skill, fact.asked_at) else one for one in lesson.looks
            ))
        case ReasonGiven() if lesson.looks:
            return replace(lesson, looks=with_reason(lesson.looks, fact))
        case _:
            return lesson


def _marked(lesson: Lesson, mark: Mark) -> Lesson:
    if lesson.looks:
        lesson = replace(lesson, looks=with_mark(lesson.looks, mark))
    return lesson if lesson.registered or mark.aside else replace(lesson, away=lesson.away - {mark.child})


def _opened(lesson: Lesson | None, fact: LessonOpened) -> Lesson:
    if lesson is not None:
        return replace(lesson, is_open=True, runner=fact.by or lesson.runner, opened_at=fact.at)
    class_id, day = class_and_day(fact.lesson)
    return Lesson(fact.lesson, class_id, day, fact.by, fact.at)


def _noted(lesson: Lesson, fact: ChildNoted) -> Lesson:
    child = fact.child
    match fact.what:
        case "away":
            return replace(lesson, away=lesson.away | {child})
        case "here":
            leaves = {who: at for who, at in lesson.leaves.items() if who != child}
            return replace(lesson, away=lesson.away - {child}, leaves=leaves)
        case "sits":
            return replace(lesson, sits=lesson.sits | {child})
        case "back":
            spared = {who: loads for who, loads in lesson.spared.items() if who != child}
            return replace(lesson, sits=lesson.sits - {child}, away=lesson.away - {child}, spared=spared)
        case "bump":
            return replace(lesson, sits=lesson.sits | {child}, looked_after=lesson.looked_after | {child})
        case "leaves" if fact.until is not None:
            return replace(lesson, leaves={**lesson.leaves, child: fact.until})
        case "spared" if fact.load is not None:
            loads = (*lesson.spared.get(child, ()), fact.load)
            return replace(lesson, spared={**lesson.spared, child: loads})
        case _:
            return lesson


def fold(record: Iterable[Recorded]) -> Lesson | None:
    """The lesson that its facts amount to (with the voids that touch them, in order of receipt)."""
    lesson: Lesson | None = None
    for one in in_force(tuple(record)):
        lesson = advance(lesson, one.fact)
    return lesson
