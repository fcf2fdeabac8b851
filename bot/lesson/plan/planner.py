"""The planner: from a problem to a plan, the best that is found while patience lasts."""
from __future__ import annotations

from collections.abc import Iterator

from bot.lesson.plan.beam import WIDTH, Beam
from bot.lesson.plan.knapsack import Counts, Filled, fill
from bot.lesson.plan.model import Plan, Problem, Turn
from bot.lesson.plan.orders import by_tail, by_value, by_worth, clipboard, interleaved
from bot.lesson.plan.search import HARD, Chance, Price, Used, anneal
from bot.lesson.plan.table import ANYBODY, LATE, Table
from bot.lesson.plan.timetable import Timetable, beginning, change, extend, key, put, rested

LAGS = (0, 1, 2, 3, 99)
WORTH_A_CHANGE = 0.01   # of the value
EARLY = 0.1         # of the patience: so little is used up where there is time for several beginnings
HEAT = 0.1          # of the patience for each of them
NEAR = 0.95         # of the knapsack: a good beginning
MANY = 200          # turns of all watchers: these take too long for more, and the orders are good for them
STARTING = 0.8      # of the patience: from then on the start is made in haste
WIDER = 0.4         # of the patience for a wider beam search, where several watch: small changes find less there


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
    filled = fill(table, table.room)
    starts = _begin(table, filled, [one.steps[len(table.past):] for one in sure], before, used)
    found = max([_searched(table, filled, starts, chance, used), *sure], key=key)
    if before is not None:      # people have seen it
        kept = _replayed(table, before)
        if kept.value >= max(found.value * (1 - WORTH_A_CHANGE), *(one.value for one in sure)):
            return as_plan(table, kept)
    return as_plan(table, tidied(table, found))


def _replayed(table: Table, before: Plan) -> Timetable:
    """The turns of a plan, with those of their children who still owe them, each as soon as it can be."""
    made = beginning(table)
    for skill, watcher, turn in _known(table, before):
        show, start = 2 * skill + turn.show - 1, made.free[watcher] + change(table, made, watcher, skill)
        line = made.owe[show] & sum(1 << table.child_of[child] for child in turn.children if child in table.child_of)
        start = max((rested(table, made, show, 1 << child, max(start, who.since))
                     for child, who in enumerate(table.problem.children) if line >> child & 1), default=LATE)
        end = start + table.seconds[show]
        if end <= table.end and table.come[start] & table.stay[end] & line == line:
            put(table, made, table.step(show, watcher, ANYBODY), line, start)
    return made


def _known(table: Table, before: Plan) -> Iterator[tuple[int, int, Turn]]:
    """(skill, watcher, turn) of a plan made before, as far as its skills and watchers are still there."""
    watchers = {one.id: at for at, one in enumerate(table.problem.watchers)}
    for turn in before.turns:
        if turn.skill in table.skill_of and turn.watcher in watchers:
            yield table.skill_of[turn.skill], watchers[turn.watcher], turn


def _begin(
    table: Table, filled: Filled, orders: list[list[int]], before: Plan | None, used: Used,
) -> list[Timetable]:
    """Where the search may begin, the best first, with time at a price.

    What a beam search makes of the skills that fit the time by the knapsack, and the best of the orders given, the plan
    from before and, where there is patience, what leads from skill by skill to all first shows before all second ones.
    """
    empty, past, price, beams = beginning(table), len(table.past), Price(table, filled), list[Timetable]()
    if before is not None:
        orders.append(_again(table, before))
    made = [extend(table, empty, past, order, table.soft_end) for order in orders]
    if before is None:
        many = max(len(one.steps) for one in made) * table.watchers >= MANY
        if not many and used(0) < STARTING / 2:
            beams += _beams(table, Beam(table, filled, price.early), NEAR * filled.value, used)
        if many or not filled.price or used(0) < EARLY:
            made += [extend(table, empty, past, order, table.soft_end) for order in _interleaved(table, filled.counts)]
    return _dearest_first(price, [*_dearest_first(price, made)[:1], *beams])


def _dearest_first(price: Price, made: list[Timetable]) -> list[Timetable]:
    return sorted(made, key=lambda one: price.of(one, HARD), reverse=True)


def _interleaved(table: Table, counts: Counts) -> Iterator[list[int]]:
    """Orders of the skills that fit the time, those of most worth and those of the longest rests first."""
    for skills in (by_worth(table), by_tail(table)):
        for lag in LAGS:
            yield interleaved(table, [skill for skill in skills if skill in counts], counts, lag, ANYBODY)


def _beams(table: Table, beam: Beam, near: float, used: Used) -> Iterator[Timetable]:
    """What a beam search finds, and, where several watch and it is not near the best there can be, a wider one."""
    width = max(1, WIDTH // table.watchers)

    def led_on() -> int:
        return width if used(0) < STARTING else int(used(0) < (1 + STARTING) / 2)

    since = used(0)
    found = beam.best(led_on)
    yield found
    took = used(0) - since
    if table.watchers > 1 and found.value < near and took:
        wider = int(width * WIDER / took)
        if wider > width:
            width = wider
            yield beam.best(led_on)


def _searched(table: Table, filled: Filled, starts: list[Timetable], chance: Chance, used: Used) -> Timetable:
    """What the search finds. Where there is patience, each start has its share of it, and the best of them the rest."""
    if len(starts) < 2 or used(0) > EARLY:
        return anneal(table, filled, starts[0], chance, used)
    spent, found = 0, list[Timetable]()
    for start in starts:
        before, since = spent, used(spent)

        def share(trials: int, before: int = before, since: float = since) -> float:
            nonlocal spent
            spent = before + trials
            now = used(spent)
            return max((now - since) / HEAT, now)

        found.append(anneal(table, filled, start, chance, share))
    best = max(found, key=key)
    return max(best, anneal(table, filled, best, chance, lambda trials: used(spent + trials)), key=key)


def _again(table: Table, before: Plan) -> list[int]:
    """The steps of a plan made before."""
    return [
        table.step(2 * skill + turn.show - 1, watcher, ANYBODY) for skill, watcher, turn in _known(table, before)
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
