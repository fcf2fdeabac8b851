"""The lesson as the simple rule would lead it (`bot/lesson/next.py`): skill by skill, each second show as it is rested.

Where all that can be had is had that way too, there is nothing to be gained by another order, and the class goes on as
coaches are used to: those most of the class owe first, line after line in the order of the list.
"""
from __future__ import annotations

from bot.lesson.plan.model import Plan, Problem
from bot.lesson.plan.planner import as_plan
from bot.lesson.plan.table import ANYBODY, LATE, Table
from bot.lesson.plan.timetable import Timetable, beginning, change, put, rested

SPARE = 0.15        # of the time left: so much has to be to spare, or the plan is better from now on


def better_by_rule(problem: Problem, plan: Plan, ruled: Plan) -> bool:
    """Is a lesson left to the simple rule, as it gets as much as the plan does with time to spare?"""
    spare = SPARE * (problem.end - problem.now)
    return ruled.value >= plan.value and (not plan.turns or ruled.finish <= problem.end - spare)


def by_rule(problem: Problem) -> Plan:
    """The plan that comes of the simple rule."""
    table = Table(problem)
    return as_plan(table, _led(table))


def _led(table: Table) -> Timetable:
    made = beginning(table)
    while min(made.free) < table.end:
        watcher = made.free.index(min(made.free))
        found = _next(table, made, watcher)
        if found is None:
            made.free[watcher] = LATE
            continue
        start, show, line = found
        put(table, made, table.step(show, watcher, ANYBODY), line, start)
    return made


def _next(table: Table, made: Timetable, watcher: int) -> tuple[int, int, int] | None:
    """(start, show, children): a rested second show, else more of this skill, else what most owe; else the soonest."""
    now = made.free[watcher]
    soonest: tuple[int, int, int] | None = None
    for show in _in_turn(table, made, made.at[watcher]):
        ready = now + change(table, made, watcher, show >> 1)
        start, line = _line(table, made, show, ready)
        if line and start == ready:
            return start, show, line
        if line and (soonest is None or start < soonest[0]):
            soonest = start, show, line
    return soonest


def _in_turn(table: Table, made: Timetable, at: int) -> list[int]:
    """The shows that are owed, in the order of the rule."""
    owe = made.owe
    second = [show for show in range(1, 2 * table.skills, 2) if table.two[show >> 1] and owe[show]]
    first = [show for show in range(0, 2 * table.skills, 2) if owe[show]]
    second.sort(key=lambda show: (show >> 1 != at, -owe[show].bit_count()))
    first.sort(key=lambda show: (show >> 1 != at, -owe[show].bit_count()))
    return second + first


def _line(table: Table, made: Timetable, show: int, soonest: int) -> tuple[int, int]:
    """Who can show it by then; where nobody can, the first who can, and when. Nobody: (LATE, 0)."""
    line, room, first, alone = 0, table.group[show], LATE, 0
    waiting = made.owe[show]
    while waiting and room:
        bit = waiting & -waiting
        waiting ^= bit
        ready = rested(table, made, show, bit, soonest)
        end = ready + table.seconds[show]
        if end > table.end or not table.stay[end] & bit or not table.come[ready] & bit:
            continue
        if ready == soonest:
            line, room = line | bit, room - 1
        elif ready < first:
            first, alone = ready, bit
    return (soonest, line) if line else (first, alone)
