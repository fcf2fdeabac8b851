"""The problem as whole numbers and bits, for the inner loop. A set of children is an int, one bit a child.

A **step** is one number: which show of which skill, by which watcher, and whether those who wait for a second show are
left in peace. `Table.steps[step]` holds what the timetable needs of it, so that its loop looks up one tuple.
"""
from __future__ import annotations

from collections.abc import Iterable

from bot.lesson.plan.model import Problem

LONG_AGO, LATE = -(10**9), 10**9

# Those who wait for a second show are taken by their value like all others, after the others, or not at all.
MANNERS = ANYBODY, FRESH_FIRST, FRESH_ONLY = range(3)

# show (2 * skill + 0 or 1), skill, watcher, group, seconds, rest, setup, switch, opened bit, tiring?, last of a chain?,
# manner
Step = tuple[int, int, int, int, int, int, int, int, int, bool, bool, int]


class Table:
    """A problem, compiled. Nothing in it changes but `picks`, which remembers choices already made."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.end, self.now = problem.end, problem.now
        self.skills, self.watchers = len(problem.skills), len(problem.watchers)
        self.skill_of = {skill.id: at for at, skill in enumerate(problem.skills)}
        self.child_of = {child.id: at for at, child in enumerate(problem.children)}
        self.all = (1 << len(problem.children)) - 1
        self.two = [len(skill.shows) == 2 for skill in problem.skills]
        self._times()
        self._owed()
        self._presence()
        self._steps()

    def _times(self) -> None:
        skills = self.problem.skills
        shows = [(one.shows[0], one.shows[-1]) for one in skills]
        self.seconds = [show.seconds for pair in shows for show in pair]
        self.rest = [show.rest_before for pair in shows for show in pair]
        self.group = [show.group for pair in shows for show in pair]
        self.setup = [skill.setup for skill in skills]
        self.switch = [skill.switch for skill in skills]
        self.free = [max(self.now, one.free) for one in self.problem.watchers]
        self.at = [-1 if one.at is None else self.skill_of[one.at] for one in self.problem.watchers]
        self.room = sum(max(0, self.end - free) for free in self.free)
        self.soft_end = self.end + (self.end - self.now) // 10
        self.opened = 0
        for at, one in enumerate(self.problem.watchers):
            for skill in one.opened:
                self.opened |= 1 << (self.skill_of[skill] * self.watchers + at)

    def _owed(self) -> None:
        """Who owes which show, what it is worth, and the rests that are under way."""
        self.value = [[0] * len(self.problem.children) for _ in self.two]
        self.owe = [0] * (2 * self.skills + 1)      # by show; the last, which nobody reads: who has done with one
        # What was shown before now, as far as rests go: (end, skill or -1, children, children it tires).
        past: list[tuple[int, int, int, int]] = [(LONG_AGO, -1, 0, 0)]
        for one in self.problem.owed:
            skill, child = self.skill_of[one.skill], self.child_of[one.child]
            if one.done >= 1 + self.two[skill] or not one.value:
                continue
            self.value[skill][child] = one.value
            self.owe[2 * skill + one.done] |= 1 << child
            if one.done and one.prev_end is not None:
                past.append((one.prev_end, skill, 1 << child, 0))
        for child, who in enumerate(self.problem.children):
            if who.last_end is not None:
                past.append((who.last_end, -1, 1 << child, 1 << child))
        self.past = sorted(past)
        self.order = [
            sorted((1 << child for child in range(len(row))), key=lambda bit: -row[bit.bit_length() - 1])
            for row in self.value for _ in "12"
        ]
        self.picks: list[dict[int, tuple[int, int]]] = [{} for _ in self.order]

    def _presence(self) -> None:
        """Who has come by each second of the lesson, and who is still there. The lesson's end is no leaving."""
        children = self.problem.children
        self.arrivals = sorted({child.since for child in children if child.since > self.now})
        leavings = sorted({child.until + 1 for child in children if child.until < self.end})
        size = self.soft_end + 1
        self.come: list[int] = []
        self.stay: list[int] = []
        for since in [0, *self.arrivals]:
            here = _bits(child.since <= max(since, self.now) for child in children)
            self.come[since:] = [here] * (size - since)
        for until in [0, *leavings]:
            here = _bits(child.until >= min(until, self.end) for child in children)
            self.stay[until:] = [here] * (size - until)

    def _steps(self) -> None:
        self.steps: list[Step] = []
        self.done: list[tuple[int, int, int]] = []      # for each step: show, whose turn is next, opened bit
        for manner in MANNERS:
            for show in range(2 * self.skills):
                skill = show >> 1
                tires = not (self.problem.light_rest and self.problem.skills[skill].light)
                for watcher in range(self.watchers):
                    last = bool(show & 1) or not self.two[skill]
                    bit = 1 << (skill * self.watchers + watcher)
                    self.done.append((show, -1 if last else show + 1, bit))
                    self.steps.append((
                        show, skill, watcher, self.group[show], self.seconds[show], self.rest[show],
                        self.setup[skill], self.switch[skill], bit, tires, last, manner,
                    ))

    def pick(self, show: int, among: int) -> tuple[int, int]:
        """The most valuable line among some children, as (children, value)."""
        found = self.picks[show].get(among)
        if found is None:
            room, line, value, row = self.group[show], 0, 0, self.value[show >> 1]
            for bit in self.order[show]:
                if among & bit:
                    line |= bit
                    value += row[bit.bit_length() - 1]
                    room -= 1
                    if not room:
                        break
            found = self.picks[show][among] = (line, value)
        return found

    def step(self, show: int, watcher: int, manner: int) -> int:
        """The number of a step."""
        return (manner * 2 * self.skills + show) * self.watchers + watcher

    def lines(self, show: int, children: int) -> int:
        """How many lines so many children make."""
        return -(-children // self.group[show])

    def reach(self, skill: int) -> int:
        """Seconds before somebody can begin with a skill, at best."""
        if skill in self.at:
            return 0
        known = self.opened >> (skill * self.watchers) & ((1 << self.watchers) - 1)
        return min(self.switch[skill], self.setup[skill]) if known else self.setup[skill]

    def returning(self, skill: int, firsts: int) -> int:
        """Seconds lost at least between so many first shows and their second ones: for coming back, or waiting."""
        show = 2 * skill
        filled = (self.lines(show, firsts) - 1) * self.seconds[show]
        return min(self.switch[skill], self.setup[skill], max(0, self.rest[show + 1] - filled))

    def watching(self, skill: int, firsts: int, lasts: int) -> int:
        """Seconds of watching for so many first and so many last shows of a skill, in full lines."""
        show = 2 * skill
        seconds = -(-lasts // self.group[show + 1]) * self.seconds[show + 1]
        if self.two[skill]:
            seconds += -(-firsts // self.group[show]) * self.seconds[show]
        return seconds


def _bits(who: Iterable[bool]) -> int:
    return sum(1 << at for at, yes in enumerate(who) if yes)
