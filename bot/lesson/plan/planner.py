"""The planner: from a problem to a plan, the best that is found while patience lasts."""
from __future__ import annotations

from bot.lesson.plan.dispatch import dispatched
from bot.lesson.plan.knapsack import fill
from bot.lesson.plan.model import Plan, Problem, Turn
from bot.lesson.plan.orders import by_tail, by_value, by_worth, clipboard, interleaved
from bot.lesson.plan.search import HARD, Chance, Price, Used, anneal, key
from bot.lesson.plan.table import ANYBODY, Table
from bot.lesson.plan.timetable import Timetable, beginning, extend

LAGS = (0, 1, 2, 3, 99)
NEAR = 0.95         # of the knapsack: a good beginning
MANY = 150          # turns of all watchers: dispatch takes too long for more, and the orders are good for them
WORTH_A_CHANGE = 0.01   # of the value
STARTING = 0.5      # of the patience: after that there is no time for a better one


def plan(problem: Problem, chance: Chance, used: Used, before: Plan | None = None) -> Plan:
    """The lines to watch, never worth less than either of the coach's orders.

    `used` is called with the number of trials so far and says how much of the caller's patience is used up, from 0 to
    1. Where it looks at nothing but the number, the same problem and chance give the same plan. `before`: the plan
    made before the last mark, without the turn that was watched; the search begins with the better of its turns and
    the coach's orders, and it is given up only for a plan worth 1 % more.
    """
    table = Table(problem)
    if not any(table.owe) or not table.free:
        return Plan((), 0, problem.now)
    sure = [clipboard(table, skills) for skills in (range(table.skills), by_value(table))]
    start = _begin(table, [one.steps[len(table.past):] for one in sure], before, used)
    found = max([anneal(table, start, chance, used), *sure], key=key)
    if before is not None:
        found = _steady(table, before, found, max(one.value for one in sure))
    return as_plan(table, tidied(table, found))


def _steady(table: Table, before: Plan, found: Timetable, least: int) -> Timetable:
    """The plan from before at its new times, unless another one is worth a change of plans: people have seen it."""
    kept = extend(table, beginning(table), len(table.past), _again(table, before), table.end)
    return kept if kept.value >= max(least, found.value * (1 - WORTH_A_CHANGE)) else found


def _begin(table: Table, orders: list[list[int]], before: Plan | None, used: Used) -> Timetable:
    """Where the search begins: the best of some orders with time at a price.

    With those given: the plan from before; or what fits the time by the knapsack, from skill by skill to all first
    shows before all second ones, and, where none of them comes near the knapsack, what dispatch makes of it.
    """
    price, past, empty, filled = Price(table), len(table.past), beginning(table), fill(table, table.room)
    likeliest = [skill for skill in by_worth(table) if skill in filled.counts]
    if before is not None:
        orders.append(_again(table, before))
    else:
        for skills in (likeliest, [skill for skill in by_tail(table) if skill in filled.counts]):
            orders += [interleaved(table, skills, filled.counts, lag, ANYBODY) for lag in LAGS]
    starts = [extend(table, empty, past, order, table.soft_end) for order in orders]
    best = max(starts, key=lambda start: price.of(start, HARD))
    few = len(best.steps) * table.watchers < MANY
    if before is None and few and price.of(best, HARD) < NEAR * filled.value and used(0) < STARTING:
        starts.append(dispatched(table, likeliest, filled.counts))
    return max(starts, key=lambda start: price.of(start, HARD))


def _again(table: Table, before: Plan) -> list[int]:
    """The steps of a plan made before, as far as its skills and watchers are still there."""
    watchers = {one.id: at for at, one in enumerate(table.problem.watchers)}
    return [
        table.step(2 * table.skill_of[turn.skill] + turn.show - 1, watchers[turn.watcher], ANYBODY)
        for turn in before.turns if turn.skill in table.skill_of and turn.watcher in watchers
    ]


def tidied(table: Table, found: Timetable) -> Timetable:
    """Without the turns that lead to nothing, if that costs nothing: they may open a skill for later ones."""
    past = len(table.past)
    useful = [
        found.steps[entry] for entry in range(past, len(found.steps))
        if found.lines[entry] & ~_unfinished(table, found, entry)
    ]
    fewer = extend(table, beginning(table), past, useful, table.end)
    return fewer if key(fewer) >= key(found) else found


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
