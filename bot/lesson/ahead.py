"""What is ahead of a lesson: the rest of it as a problem for the planner, and the plan in the lesson's own time.

Seconds are those of this hall (`pace.py`). What the planner does not know is mapped before it plans. A line that stands
is watched to its end, and passes. A skill that needs a surface is set out anew for each return where another surface is
wanted too, unless the scheme gives its `switch_s`. A child who is spared a load does not owe what loads it; who leaves
early has to have finished by then. Of the minutes that are left, the share in which the class watches (`watch_minutes`)
is planned. Groups are listed together, so that of equal children those stand together who do anyway; `follow.py` keeps
them together where that costs little.
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

from bot.lesson.book import ClassBook
from bot.lesson.hall import Hall, spared_loads
from bot.lesson.likely import Record
from bot.lesson.line import Line
from bot.lesson.next import open_to, working_on
from bot.lesson.pace import paced, paced_changeover, paced_switch
from bot.lesson.plan.model import Child, Owed, Plan, Problem, Show, Skill, Watcher
from bot.lesson.plan.model import Turn as PlanTurn
from bot.lesson.plan.rule import better_by_rule
from bot.lesson.timetable import ends_at
from bot.lesson.weigh import Worth, behind, chances
from bot.marks.standing import Standing, View
from bot.people.model import Club
from bot.scheme import model as standard

NOTHING: Mapping[str, Standing] = {}
SOON = timedelta(seconds=5)     # until a line is answered that has stood longer than it takes


@dataclass(frozen=True, slots=True)
class Turn:
    """A line to be watched, and when the children begin."""

    at: datetime
    watcher: str
    skill: str
    show: int
    children: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ahead:
    """The plan of what is left of a lesson, made at one moment. `end`: when the last turn has to be over.

    `value`: of all of it, in thousandths of a tick; `worth`: what a tick is worth, (child, skill) → thousandths.
    `at`: the skill that each watcher was at. `by_rule`: the simple rule gets as much, with time to spare: the turns
    are its own, and it is followed.
    """

    lesson: str
    made_at: datetime
    end: datetime
    turns: tuple[Turn, ...]
    value: int
    worth: Mapping[tuple[str, str], int]
    at: Mapping[str, str | None]
    by_rule: bool = False

    def a_minute(self, now: datetime) -> float:
        """What a minute of the rest of the lesson is worth, in thousandths of a tick."""
        return self.value / max(1.0, (self.end - now) / timedelta(minutes=1))


@dataclass(frozen=True, slots=True)
class Thought:
    """A problem to think about, in seconds since `since`; made of a lesson as it was at `now`."""

    lesson: str
    now: datetime
    since: datetime
    problem: Problem
    at: Mapping[str, str | None]    # the skill that each watcher is at

    def ahead(self, plan: Plan, by_rule: Plan) -> Ahead:
        """The better of a plan and what comes of the simple rule, in the lesson's own time."""
        problem = self.problem
        ruled = better_by_rule(problem, plan, by_rule)
        chosen = by_rule if ruled else plan
        turns = tuple(Turn(self._at(one.start), one.watcher, one.skill, one.show, one.children) for one in chosen.turns)
        values = {(one.child, one.skill): one.value for one in problem.owed}
        return Ahead(self.lesson, self.now, self._at(problem.end), turns, chosen.value, values, self.at, ruled)

    def again(self, ahead: Ahead | None) -> Plan | None:
        """What a plan from before still has to come, in this problem's seconds; None where that is nothing."""
        if ahead is None or ahead.lesson != self.lesson or ahead.by_rule:
            return None
        turns = tuple(
            PlanTurn(int((one.at - self.since).total_seconds()), one.watcher, one.skill, one.show, one.children)
            for one in ahead.turns if one.at > self.now
        )
        return Plan(turns, ahead.value, self.problem.end) if turns else None

    def _at(self, seconds: int) -> datetime:
        return self.since + timedelta(seconds=seconds)


def thought(hall: Hall, club: Club, watchers: Sequence[str]) -> Thought | None:
    """What is to be planned, as things stand; None where there is no time left or nothing is owed."""
    one = club.by_class.get(hall.lesson.class_id)
    if one is None or not watchers:
        return None
    end = ends_at(club, one, hall.lesson.day)
    if one.watch_minutes is not None:
        end = hall.now + (end - hall.now) * one.watch_minutes / one.minutes
    if end <= hall.now:
        return None
    minutes = ceil((end - min(hall.now, hall.lesson.opened_at)) / timedelta(minutes=1))
    rest = _Rest(hall, club, end - timedelta(minutes=minutes))
    return rest.thought(minutes, watchers)


class _Rest:
    """The rest of a lesson, as it is turned into a problem."""

    def __init__(self, hall: Hall, club: Club, since: datetime) -> None:
        self.hall, self.ways, self.since = hall, club.planning, since
        self.stands: dict[str, tuple[Line, datetime]] = {}      # child → the line she stands in, and its likely end
        for person, line in hall.lesson.lines.items():
            ends = self._line_ends(person, line)
            for child in hall.left(line):
                self.stands[child] = line, ends

    def _seconds(self, at: datetime) -> int:
        return int((at - self.since).total_seconds())

    def thought(self, minutes: int, watchers: Sequence[str]) -> Thought | None:
        """The whole problem."""
        children = list(self._children())
        owed = list(self._owed([one.id for one in children]))
        if not owed:
            return None
        wanted = dict.fromkeys(one.skill for one in owed)
        problem = Problem(
            minutes, self._seconds(self.hall.now), True,
            tuple(self._watcher(person, wanted) for person in watchers), tuple(children),
            tuple(self._skills(wanted)), tuple(owed),
        )
        at = {person: self._at(person) for person in watchers}
        return Thought(self.hall.lesson.id, self.hall.now, self.since, problem, at)

    # --- who watches -------------------------------------------------------------------------------

    def _watcher(self, person: str, wanted: Mapping[str, object]) -> Watcher:
        line, judged, at = self.hall.lesson.lines.get(person), self.hall.judged.get(person, {}), self._at(person)
        stands = line is not None and bool(self.hall.left(line))
        free = self._line_ends(person, line) if stands and line is not None else self.hall.now
        opened = {*judged, *([at] if at is not None else [])}
        return Watcher(
            person, self._seconds(free), at if at in wanted else None, frozenset(opened & wanted.keys()),
        )

    def _at(self, person: str) -> str | None:
        """The skill that somebody is at: that of their line, else of their last mark."""
        line, judged = self.hall.lesson.lines.get(person), self.hall.judged.get(person, {})
        return line.skill if line is not None else max(judged, key=lambda skill: judged[skill], default=None)

    def _line_ends(self, person: str, line: Line) -> datetime:
        """When a line that stands is likely to be answered."""
        skill = self.hall.scheme.skills[line.skill]
        seconds = paced(self.hall.book, skill, min(line.show, len(skill.shows)))
        if not line.set_up and line.skill not in self.hall.judged.get(person, {}):
            seconds += paced_changeover(self.hall.book, skill)
        return max(line.asked_at + timedelta(seconds=seconds), self.hall.now + SOON)

    # --- who is watched ----------------------------------------------------------------------------

    def _children(self) -> Iterator[Child]:
        hall, end = self.hall, self.hall.now + timedelta(days=1)
        for child in _in_groups(hall):
            if child in hall.lesson.sits or not hall.lesson.here(child, hall.now):
                continue
            line = self.stands.get(child)
            since = hall.now if line is None else line[1]
            until, last = hall.lesson.leaves.get(child, end), self._last_end(child)
            last_end = None if last is None else self._seconds(last)
            yield Child(child, self._seconds(since), self._seconds(until), last_end)

    def _last_end(self, child: str) -> datetime | None:
        """When she last ended a show that tires, or will have."""
        skills = self.hall.scheme.skills
        ends = [
            one.last.at for skill, one in self.hall.book.standings.get(child, NOTHING).items()
            if one.last is not None and one.last.lesson == self.hall.lesson.id
            and skill in skills and not skills[skill].light
        ]
        if child in self.stands and not skills[self.stands[child][0].skill].light:
            ends.append(self.stands[child][1])
        return max(ends, default=None)

    # --- what is owed ------------------------------------------------------------------------------

    def _owed(self, children: Sequence[str]) -> Iterator[Owed]:
        hall = self.hall
        lags = behind(hall.book, hall.lesson, children)
        records: dict[str, Record] = {}
        for child in children:
            award = hall.scheme.award_by_id(hall.book.children[child].award)
            if award is None:
                continue
            ticked = frozenset(k for k, one in hall.book.standings.get(child, NOTHING).items() if one.ticked)
            worth = Worth(self.ways, award, ticked, lags[child])
            for skill, seen_as in self._open_to(child):
                done, ended = self._done(child, skill, seen_as)
                if done >= len(skill.shows):
                    continue
                record = records.get(skill.id) or records.setdefault(skill.id, Record(hall.book, skill.id, hall.now))
                passes = chances(self.ways, record.of(child), len(skill.shows))
                weight = worth.of(skill.id, retest=seen_as.label == "retest")
                yield Owed(child, skill.id, weight, passes, done, ended)

    def _open_to(self, child: str) -> Iterator[tuple[standard.Skill, View]]:
        """What she may show in this lesson."""
        hall = self.hall
        for skill in working_on(hall, child).values():
            if skill.id in hall.skipped or spared_loads(hall.book, hall.lesson, child, hall.scheme, skill.id):
                continue
            if (seen_as := open_to(hall, child, skill.id)) is not None:
                yield skill, seen_as

    def _done(self, child: str, skill: standard.Skill, seen_as: View) -> tuple[int, int | None]:
        """How many shows are seen, and when the last of them ended, with the line that she stands in."""
        line = self.stands.get(child)
        if line is not None and line[0].skill == skill.id:
            return line[0].show, self._seconds(line[1])
        if seen_as.show == 1 or len(skill.shows) == 1:
            return 0, None
        if seen_as.rested_at is None:
            return 1, None
        rest = timedelta(seconds=self.hall.scheme.rest_before(skill, 2))
        return 1, self._seconds(seen_as.rested_at - rest)

    # --- what it is shown on -----------------------------------------------------------------------

    def _skills(self, wanted: Mapping[str, object]) -> Iterator[Skill]:
        book, rest_before = self.hall.book, self.hall.scheme.rest_before
        skills = [self.hall.scheme.skills[skill] for skill in wanted]
        surfaces = {skill.surface for skill in skills if skill.surface is not None}
        for skill in skills:
            shows = tuple(
                Show(paced(book, skill, number), rest_before(skill, number), self.hall.size(skill))
                for number in range(1, len(skill.shows) + 1)
            )
            setup, switch = paced_changeover(book, skill), _switch(book, skill, surfaces)
            yield Skill(skill.id, skill.light, setup, switch, shows)


def _switch(book: ClassBook, skill: standard.Skill, surfaces: set[str]) -> int:
    """Seconds before a return to a skill: the mats that lay there were moved for another one."""
    moved = skill.switch_s is None and skill.surface is not None and len(surfaces) > 1
    return paced_changeover(book, skill) if moved else paced_switch(book, skill)


def _in_groups(hall: Hall) -> list[str]:
    """The children of the class, those of a group after each other."""
    grouped = [child for members in hall.book.groups.values() for child in members if child in hall.book.children]
    return list(dict.fromkeys([*grouped, *hall.book.children]))
