"""The planner: from a problem to a plan, the best that is found while patience lasts."""
from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, islice

from bot.lesson.plan.dispatch import dispatched
from bot.lesson.plan.knapsack import fill
from bot.lesson.plan.model import Plan, Problem, Turn
from bot.lesson.plan.orders import by_tail, by_value, by_worth, clipboard, interleaved
from bot.lesson.plan.search import HARD, Chance, Price, Used, anneal, key
from bot.lesson.plan.table import ANYBODY, Table
from bot.lesson.plan.timetable import Timetable, beginning, extend

LAGS = (0, 1, 2, 3, 99)
STARTING = 0.4      # of the patience, at most, for finding where to begin


def plan(problem: Problem, chance: Chance, used: Used, before: Plan | None = None) -> Plan:
    """The lines to watch, never worth less than either of the coach's orders.

    `used` is called with the number of trials so far and says how much of the caller's patience is used up, from 0 to
    1. Where it looks at nothing but the number, the same problem and chance give the same plan. `before`: the plan
    made before the last mark, without the turn that was watched; the search begins with the better of its turns and
    the coach's orders, and so changes them only for a gain.
    """
    table = Table(problem)
    if not any(table.owe) or not table.free:
        return Plan((), 0, problem.now)
    sure = [clipboard(table, skills) for skills in (range(table.skills), by_value(table))]
    orders = _orders(table) if before is None else iter([_again(table, before)])
    start = _best_start(table, [one.steps[len(table.past):] for one in sure], orders, used)
    found = max([anneal(table, start, chance, used), *sure], key=key)
    return as_plan(table, tidied(table, found))


def _best_start(table: Table, sure: list[list[int]], orders: Iterator[list[int]], used: Used) -> Timetable:
    """The best of some orders, with time at a price; while there is patience, but the first of each at least."""
    price, empty, past = Price(table), beginning(table), len(table.past)
    found = []
    for order in chain(islice(orders, 1), sure, orders):
        found.append(extend(table, empty, past, order, table.soft_end))
        if len(found) > len(sure) and used(0) > STARTING:
            break
    return max(found, key=lambda one: price.of(one, HARD))


def _orders(table: Table) -> Iterator[list[int]]:
    """Orders of what fits the time by the knapsack: from skill by skill to all first shows before all second ones."""
    chosen = fill(table, table.room).counts
    likeliest = [skill for skill in by_worth(table) if skill in chosen]
    yield dispatched(table, likeliest, chosen).steps[len(table.past):]
    for skills in (likeliest, [skill for skill in by_tail(table) if skill in chosen]):
        for lag in LAGS:
            yield interleaved(table, skills, chosen, lag, ANYBODY)


def _again(table: Table, before: Plan) -> list[int]:
    """The steps of a plan made before, as far as its skills and watchers are still there."""
    watchers = {one.id: at for at, one in enumerate(table.problem.watchers)}
    return [
        table.step(2 * table.skill_of[turn.skill] + turn.show - 1, watchers[turn.watcher], ANYBODY)
        for turn in before.turns if turn.skill in table.skill_of and turn.watcher in watchers
    ]


def tidied(table: Table, found: Timetable) -> Timetable:
    """Without the turns that lead to nothing, as far as that costs nothing: some open a skill for those after them."""
    past = len(table.past)
    for entry in range(len(found.steps) - 1, past - 1, -1):
        if entry < len(found.steps) and not found.lines[entry] & ~_unfinished(table, found, entry):
            fewer = extend(table, found, entry, found.steps[entry + 1:], table.end)
            if key(fewer) >= key(found):
                found = fewer
    return found


def _unfinished(table: Table, found: Timetable, entry: int) -> int:
    """Those who show at an entry the first of two, and do not come to the second."""
    show = found.shows[entry]
    return found.owe[show + 1] if table.two[show >> 1] and not show & 1 else 0


def as_plan(table: Table, found: Timetable) -> Plan:
    """A timetable in the problem's own names. Who would not come to the second show stands in no line of the first."""
    problem, turns = table.problem, []
    for entry in range(len(table.past), len(found.steps)):
        show, skill, watcher, _, seconds = table.steps[found.steps[entry]][:5]
        line = found.lines[entry] & ~_unfinished(table, found, entry) or found.lines[entry]
        names = tuple(child.id for at, child in enumerate(problem.children) if line >> at & 1)
        start, second = found.ends[entry] - seconds, table.two[skill] and show & 1
        turns.append(Turn(start, problem.watchers[watcher].id, problem.skills[skill].id, 1 + second, names))
    turns.sort(key=lambda turn: (turn.start, turn.watcher))
    return Plan(tuple(turns), found.value, found.tops[-1] if turns else problem.now)
