"""Where the search begins: what a coach with a clipboard does, and an order that uses every rest."""
from __future__ import annotations

from collections.abc import Iterable

from bot.lesson.plan.knapsack import Filled
from bot.lesson.plan.table import ANYBODY, FRESH_FIRST, Table
from bot.lesson.plan.timetable import Timetable, beginning, changeover, put, rested


def clipboard(table: Table, skills: Iterable[int]) -> Timetable:
    """Skill by skill: all first shows, then all second shows, each skill by the watcher who is free first.

    Lines are made up in the order in which the children are listed, of those who are here, and wait until all of them
    have rested; nobody begins what can't be ended.
    """
    made = beginning(table)
    for skill in skills:
        watcher = made.free.index(min(made.free))
        for show in (2 * skill, 2 * skill + 1)[:1 + table.two[skill]]:
            waiting = made.owe[show]
            while waiting:
                line, start = _listed(table, made, show, watcher, waiting)
                if not line:
                    break
                waiting &= ~line
                end = start + table.seconds[show]
                if end <= table.end and table.here(start, end) & line == line:
                    put(table, made, table.step(show, watcher, ANYBODY), line, start)
    return made


def _listed(table: Table, made: Timetable, show: int, watcher: int, waiting: int) -> tuple[int, int]:
    """The next line in the order of the list, and when it can begin."""
    soonest = made.free[watcher] + changeover(table, made, show >> 1, watcher)
    line, start, room = 0, soonest, table.group[show]
    while waiting and room:
        bit = waiting & -waiting
        waiting ^= bit
        ready = max(soonest, rested(table, made, show, bit))
        end = ready + table.seconds[show]
        if end <= table.end and table.here(soonest, end) & bit:
            line, start, room = line | bit, max(start, ready), room - 1
    return line, start


def by_value(table: Table) -> list[int]:
    """The skills, those first on which most is to be had."""
    return sorted(range(table.skills), key=lambda skill: -sum(table.value[skill]))


def by_worth(table: Table) -> list[int]:
    """The skills, those first on which a second of watching is worth most."""
    def worth(skill: int) -> float:
        first, second = table.owe[2 * skill], table.owe[2 * skill + 1]
        seconds = table.reach(skill) + table.watching(skill, first.bit_count(), (first | second).bit_count())
        return -sum(table.value[skill]) / max(1, seconds)

    return sorted(range(table.skills), key=worth)


def longest_tail_first(table: Table, chosen: Filled) -> list[int]:
    """All first shows, the longest rest first; what is shown once; then all second shows in the same order.

    A rest is a tail, and the job with the longest tail goes first (Jackson 1955; with rests Wikum, Llewellyn &
    Nemhauser 1994). Each skill goes to the watcher who has least to do so far, the longest first (Graham 1969).
    """
    skills = sorted(chosen.children, key=lambda skill: -table.watching(skill, *_counts(table, chosen, skill)))
    busy, by = table.free[:], {}
    for skill in skills:
        watcher = by[skill] = busy.index(min(busy))
        busy[watcher] += table.setup[skill] + table.watching(skill, *_counts(table, chosen, skill))
    skills.sort(key=lambda skill: (not table.two[skill], -table.rest[2 * skill + 1] - table.seconds[2 * skill + 1]))
    steps = []
    for show in (0, 1):
        for skill in skills:
            if not show or table.two[skill]:
                lines = table.lines(2 * skill + show, _counts(table, chosen, skill)[show])
                steps += [table.step(2 * skill + show, by[skill], FRESH_FIRST)] * lines
    return steps


def _counts(table: Table, chosen: Filled, skill: int) -> tuple[int, int]:
    """How many children show the skill a first time, and a last time."""
    count = chosen.children[skill]
    return min(count, table.owe[2 * skill].bit_count()), count
