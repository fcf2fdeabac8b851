"""The hall's pace: how long a line's show and a changeover really take here, beside what the scheme says.

What lives here: how one line is timed, what is kept of it, and what the lines timed lately amount to. Pure, in whole
seconds, and about classes and skills alone: no child, and nobody's pace but the hall's. The people in it are only
needed to tell when somebody's line began, and are forgotten after a few lines.

*When a line began.* It was put up in the answer to the line before, or that one was answered later than it was put up
(two were open): then it begins with that answer, and a changeover lies in it where the skill is another one. Where Go
was tapped it begins with the tap, and all was set up by then. Of every other line (put up by a reminder, or after a
typed mark) nobody knows when it began, and it is not timed.

*What it amounts to.* For each skill a factor on the scheme's seconds, and one factor for all changeovers of the hall,
because a skill is turned to too seldom to have one of its own. A factor is the **median** of the ratios of the
`COUNTED` latest lines together with `PRIOR` ratios of 1.0 that stand for the scheme. The median is moved by half of
what it is made of and by nothing less, so a coach who wandered off moves nothing (Huber, Robust Estimation of a
Location Parameter, 1964; Tukey, Exploratory Data Analysis, 1977; from memory). Ratios that are imagined beside those
seen draw few lines towards the scheme and many hardly (additive smoothing, Laplace's rule of succession; from memory).
A line with a changeover in it says one sum of two things. It is taken apart as in one round of Tukey's median polish:
the shows by the lines without, then the changeovers by what is left, then the shows anew by all.

A line that was timed while the scheme asked for other seconds counts no more for its show: who puts the scheme right
is not put right once more. The bounds and counts of this file are chosen by us, no source.
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from statistics import median
from typing import TYPE_CHECKING

from bot.frozen import replace
from bot.lesson.line import Line
from bot.scheme.model import Skill

if TYPE_CHECKING:
    from bot.lesson.book import ClassBook

SHORTEST = 3                    # seconds; an answer that comes sooner was tapped after the show, or by mistake
LONGEST = 4                     # times what the scheme says; then somebody was elsewhere
LATE = timedelta(seconds=30)    # a message that was under way for longer
COUNTED = 15                    # lines of a skill, and changeovers of the hall, that count
KEPT = COUNTED + 3              # so that what an undo takes away is filled up again
WATCHED = 4                     # answers of one person that are kept, for the same reason
PRIOR = 3                       # ratios of 1.0 that stand for the scheme
LEAST, MOST = 0.5, 2.0          # no hall differs by more


@dataclass(frozen=True, slots=True)
class Watched:
    """A line's answer, as far as the time of the next line depends on it."""

    message: str
    skill: str
    show: int
    asked_at: datetime          # when the line was put up
    at: datetime                # when it was answered, by the sender's clock
    heard_at: datetime          # when that was heard, and the next line put up


@dataclass(frozen=True, slots=True)
class Timed:
    """One line that was timed: whole seconds, beside what the scheme said then."""

    message: str
    at: datetime                # when it was answered
    show: int
    seconds: int
    asked: int                  # of the scheme, for the show
    change: int = 0             # of the scheme, for the changeover that lies in it; 0: none does


@dataclass(frozen=True, slots=True)
class Pace:
    """The lines of one skill that were timed lately in a class, in order of receipt."""

    lines: tuple[Timed, ...] = ()
    since: datetime | None = None       # earlier ones do not count: a coach began anew

    @property
    def counted(self) -> tuple[Timed, ...]:
        """Those that count."""
        return tuple(one for one in self.lines if self.since is None or one.at >= self.since)[-COUNTED:]


NOT_TIMED = Pace()
Answers = Mapping[str, tuple[Watched, ...]]      # person → their latest, the latest last


# --- one line --------------------------------------------------------------------------------------

def timed(line: Line, skill: Skill, answered: Watched, before: tuple[Watched, ...]) -> Timed | None:
    """What a line's answer says of the time it took, or None where it says nothing.

    `before`: the answers of the same person in the same lesson, the latest last.
    """
    begun = _begun(line, before)
    if begun is None or any(_line_of(one) == _line_of(answered) for one in before):
        return None
    if line.shown_at is not None or answered.heard_at - answered.at > LATE:
        return None
    at, turned = begun
    asked, change = skill.shows[line.show - 1].seconds, skill.changeover_s if turned else 0
    seconds = round((answered.at - at).total_seconds())
    if not SHORTEST <= seconds <= LONGEST * (asked + change):
        return None
    return Timed(answered.message, answered.at, line.show, seconds, asked, change)


def _begun(line: Line, before: tuple[Watched, ...]) -> tuple[datetime, bool] | None:
    """When a line began, and whether a changeover lies in it; None where nobody knows."""
    if line.set_up:
        return line.asked_at, False
    last = before[-1] if before else None
    if last is None or line.asked_at > last.heard_at:
        return None
    return max(line.asked_at, last.at), line.skill != last.skill


def _line_of(one: Watched) -> tuple[str, int, datetime]:
    """A line that is answered in two messages is timed by the first."""
    return one.skill, one.show, one.asked_at


# --- what is kept ----------------------------------------------------------------------------------

def with_line(pace: Pace, one: Timed) -> Pace:
    """One line more; the oldest goes where there are too many."""
    return replace(pace, lines=(*pace.lines, one)[-KEPT:])


def without_message(pace: Pace, message: str) -> Pace | None:
    """As if that message had never come; None where nothing is left."""
    lines = tuple(one for one in pace.lines if one.message != message)
    return replace(pace, lines=lines) if lines else None


def with_answer(watched: Answers, person: str, one: Watched) -> Answers:
    """One answer more; the oldest of that person goes where there are too many."""
    return {**watched, person: (*watched.get(person, ()), one)[-WATCHED:]}


def without_answer(watched: Answers, message: str) -> Answers:
    """As if that message had never come."""
    left = {person: tuple(one for one in several if one.message != message) for person, several in watched.items()}
    return {person: several for person, several in left.items() if several}


# --- what it amounts to ----------------------------------------------------------------------------

class Estimate:
    """What the timed lines of a class amount to. Worked out when it is asked for, and only once."""

    def __init__(self, paces: Mapping[str, Pace]) -> None:
        self._counted = {skill: pace.counted for skill, pace in paces.items()}
        self._shows: dict[tuple[str, tuple[int, ...]], float] = {}

    def lines(self, skill: Skill) -> tuple[Timed, ...]:
        """The lines that count for a skill's shows as the scheme asks for them."""
        asked = dict(enumerate((show.seconds for show in skill.shows), start=1))
        return tuple(one for one in self._counted.get(skill.id, ()) if asked.get(one.show) == one.asked)

    def show(self, skill: Skill) -> float:
        """The factor on the scheme's seconds of a skill's shows: LEAST to MOST."""
        key = skill.id, tuple(show.seconds for show in skill.shows)
        if key not in self._shows:
            change = self.changeover
            self._shows[key] = _factor((one.seconds - change * one.change) / one.asked for one in self.lines(skill))
        return self._shows[key]

    @property
    def changeovers(self) -> int:
        """How many changeovers count."""
        return len(self._turned)

    @cached_property
    def changeover(self) -> float:
        """The factor on the scheme's seconds of every changeover: LEAST to MOST."""
        alone = {
            skill: _factor(one.seconds / one.asked for one in self._counted[skill] if not one.change)
            for skill in {skill for skill, _ in self._turned}
        }
        return _factor((one.seconds - alone[skill] * one.asked) / one.change for skill, one in self._turned)

    @cached_property
    def _turned(self) -> list[tuple[str, Timed]]:
        """The latest lines with a changeover in them, with their skills."""
        turned = [(skill, one) for skill, lines in self._counted.items() for one in lines if one.change]
        return sorted(turned, key=lambda pair: (pair[1].at, pair[0]))[-COUNTED:]


def _factor(ratios: Iterable[float]) -> float:
    return min(MOST, max(LEAST, median([*ratios, *[1.0] * PRIOR])))


def _whole(seconds: float) -> int:
    return int(seconds + 0.5)


# --- for whoever plans -----------------------------------------------------------------------------

def paced(book: ClassBook, skill: Skill, show: int) -> int:
    """Whole seconds, at least 1, that a line's show (1 or 2) of a skill takes in this class's hall."""
    return max(1, _whole(skill.shows[show - 1].seconds * book.estimate.show(skill)))


def paced_changeover(book: ClassBook, skill: Skill) -> int:
    """Whole seconds that it takes in this class's hall to turn to a skill."""
    return _whole(skill.changeover_s * book.estimate.changeover)


def paced_switch(book: ClassBook, skill: Skill) -> int:
    """Whole seconds until the children of a skill can begin that was set out before in this lesson."""
    return min(10, paced_changeover(book, skill)) if skill.switch_s is None else skill.switch_s
