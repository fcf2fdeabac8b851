"""Where the search begins: what a coach with a clipboard does, and an order that uses every rest."""
from __future__ import annotations

from collections.abc import Iterable

from bot.lesson.plan.knapsack import Counts
from bot.lesson.plan.table import ANYBODY, Table
from bot.lesson.plan.timetable import Timetable, beginning, change, put, rested


def clipboard(table: Table, skills: Iterable[int]) -> Timetable:
    """Skill by skill: all first shows, then all second shows, each skill by the watcher who is free first.

    Lines are made up in the order in which the children are listed, of those who are here, and wait until all of them
    have rested; nobody begins what can't be ended.
    """
    made = beginning(table)
    for skill in skills:
        watcher = made.free.index(min(made.free))
        away = change(table, made, watcher, skill)
        for show in (2 * skill, 2 * skill + 1)[:1 + table.two[skill]]:
            waiting = made.owe[show]
            while waiting:
                line, start = _listed(table, made, show, made.free[watcher] + away, waiting)
                if not line:
                    break
                waiting &= ~line
                end = start + table.seconds[show]
                if end <= table.end and table.come[start] & table.stay[end] & line == line:
                    put(table, made, table.step(show, watcher, ANYBODY), line, start)
                    away = 0
    return made


def _listed(table: Table, made: Timetable, show: int, soonest: int, waiting: int) -> tuple[int, int]:
    """The next line in the order of the list, and when it can begin."""
    line, start, room = 0, soonest, table.group[show]
    while waiting and room:
        bit = waiting & -waiting
        waiting ^= bit
        ready = rested(table, made, show, bit, soonest)
        end = ready + table.seconds[show]
        if end <= table.end and table.come[soonest] & table.stay[end] & bit:
            line, start, room = line | bit, max(start, ready), room - 1
    return line, start


def by_value(table: Table) -> list[int]:
    """The skills, those first on which most is to be had."""
    return sorted(range(table.skills), key=lambda skill: -sum(table.value[skill]))


def by_worth(table: Table) -> list[int]:
    """The skills, those first on which a second of watching is worth most."""
    counts = everybody(table)

    def worth(skill: int) -> float:
        return -sum(table.value[skill]) / max(1, table.reach(skill) + table.watching(skill, *counts[skill]))

    return sorted(range(table.skills), key=worth)


def by_tail(table: Table) -> list[int]:
    """The skills with the longest rest first, and what is shown once at the end.

    A rest is a tail, and the job with the longest tail goes first (Jackson 1955; with rests Wikum, Llewellyn &
    Nemhauser 1994).
    """
    return sorted(range(table.skills), key=lambda skill: (not table.two[skill], -table.rest[2 * skill + 1]))


def everybody(table: Table) -> Counts:
    """For each skill, how many owe the first show, and how many the last."""
    return {
        skill: (table.owe[2 * skill].bit_count(), (table.owe[2 * skill] | table.owe[2 * skill + 1]).bit_count())
        for skill in range(table.skills)
    }


def interleaved(table: Table, skills: Iterable[int], counts: Counts, lag: int, manner: int) -> list[int]:
    """First shows skill by skill, and the second shows of each after the first ones of so many other skills.

    Each skill goes to the watcher who has least to do so far (list scheduling, Graham 1969).
    """
    busy: list[int] = table.free[:]
    begun: list[list[int]] = [[] for _ in busy]
    steps: list[int] = []

    def turns(skill: int, number: int, watcher: int) -> None:
        show = 2 * skill + number
        steps.extend([table.step(show, watcher, manner)] * table.lines(show, counts[skill][number]))

    for skill in skills:
        watcher = busy.index(min(busy))
        busy[watcher] += table.setup[skill] + table.watching(skill, *counts[skill])
        turns(skill, 0, watcher)
        if table.two[skill]:
            begun[watcher].append(skill)
        if len(begun[watcher]) > lag:
            turns(begun[watcher].pop(0), 1, watcher)
    for watcher, waiting in enumerate(begun):
        for skill in waiting:
            turns(skill, 1, watcher)
    return steps
