"""A small class for the tests of what is ahead: six children, four skills, a lesson of an hour."""
from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from bot.lesson.ahead import Ahead, Turn, thought
from bot.lesson.book import Child, ClassBook
from bot.lesson.hall import Hall, hall_of
from bot.lesson.lesson import Lesson
from bot.lesson.line import Line
from bot.marks.standing import Last, Standing
from bot.people.model import Club, ClubClass
from bot.scheme.model import Award, Scheme, Show, Skill

LESSON = "tue/2026-11-24"
DAY = date(2026, 11, 24)
START = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
CHILDREN = ("ava", "ben", "chidi", "dara", "efa", "finn")
HOP = Skill(id="hop", name="Hop", shows=(Show(seconds=20),), line=3, loads=("landing",), changeover_s=40)
STAND = Skill(
    id="stand", name="Stand", shows=(Show(seconds=30), Show(seconds=30, rest_s=60)), line=2, surface="mat",
    changeover_s=50,
)
WHEEL = Skill(id="wheel", name="Wheel", shows=(Show(seconds=20),), line=4, surface="track", changeover_s=30)
WALTZ = Skill(id="waltz", name="Waltz", shows=(Show(seconds=40),), line=6, light=True, switch_s=7)
SCHEME = Scheme(name="S", award=(Award(id="one", name="One", skill=(HOP, STAND, WHEEL, WALTZ)),))
CLUB = Club(id="c", name="C", classes=(
    ClubClass(id="tue", name="Tue", day="tuesday", start=time(17), minutes=60, coach=("jo",), assistant=("sam",)),
))


def book(standings: dict[tuple[str, str], Standing] | None = None, **lesson: object) -> ClassBook:
    """The class's book, with these standings, and the lesson with these fields."""
    of_children: dict[str, dict[str, Standing]] = {}
    for (child, skill), one in (standings or {}).items():
        of_children.setdefault(child, {})[skill] = one
    open_now = replace(Lesson(LESSON, "tue", DAY, "jo", START, registered=True), **lesson)   # type: ignore[arg-type]
    return ClassBook(
        "tue", {key: Child(key, key.title(), "tue", "one") for key in CHILDREN}, of_children, {LESSON: open_now},
    )


def hall(of: ClassBook, after: float = 0, club: Club = CLUB, **changed: object) -> Hall:
    """The hall so many seconds after the start."""
    made = hall_of(of, of.lessons[LESSON], club, {1: SCHEME}, at(after))
    return replace(made, me="jo", **changed)    # type: ignore[arg-type]


def at(seconds: float) -> datetime:
    """So many seconds after the start."""
    return START + timedelta(seconds=seconds)


def problem(of: ClassBook, after: float = 0, watchers: tuple[str, ...] = ("jo",), club: Club = CLUB, **changed: object):
    """The problem of a hall, and second 0 of it."""
    made = thought(hall(of, after, club, **changed), club, watchers)
    assert made is not None
    return made.problem, made


def seen(after: float, show: int = 1, by: str = "jo") -> Last:
    """The last mark: seen, so many seconds after the start."""
    return Last("m", by, LESSON, at(after), "seen", show, ("",))


def resting(after: float) -> Standing:
    """The first of two shows seen then; the rest is a minute."""
    return Standing(
        show=2, tries=1, began=at(after), rules=1, rested_at=at(after + 60), lesson=LESSON, last=seen(after),
    )


def ticked(after: float = 0) -> Standing:
    """Ticked then."""
    return Standing(tries=1, ticked_on=DAY, ticked_at=at(after), ticked_rules=1, lesson=LESSON, last=seen(after))


def missed(after: float) -> Standing:
    """Not yet, then: not again today."""
    last = replace(seen(after), verdict="not yet")
    return Standing(tries=1, retest_from=DAY, lesson=LESSON, last=last)


def line(skill: str, children: tuple[str, ...], after: float, show: int = 1) -> Line:
    """A line that was put up then."""
    return Line(LESSON, skill, show, children, at(after))


def plan(*turns: tuple[float, str, int, tuple[str, ...]], end: float = 3600, **more: object) -> Ahead:
    """A plan of Jo's: (seconds after the start, skill, show, children), ..."""
    made = tuple(Turn(at(when), "jo", skill, show, children) for when, skill, show, children in turns)
    worth = {(child, skill): 1000 for child in CHILDREN for skill in SCHEME.skills}
    return replace(Ahead(LESSON, START, at(end), made, 10000, worth, {"jo": None}), **more)     # type: ignore[arg-type]
