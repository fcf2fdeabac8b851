"""How good a plan can be at most: a number that no plan exceeds, so that the quality of ours can be shown.

The watchers' time is a knapsack (`knapsack`). A child's time is one too: her shows and, before a second show, her rest
do not overlap. The children's knapsacks are taken into the watchers' at prices (Lagrangian relaxation), which a
subgradient method turns (Held & Karp 1971, both from memory). Every price gives a true bound; the least is kept.
"""
from __future__ import annotations

from math import floor

from bot.lesson.plan.knapsack import fill, points
from bot.lesson.plan.model import Problem
from bot.lesson.plan.table import Table


def upper_bound(problem: Problem, rounds: int = 150) -> int:
    """No plan of the problem is worth more, in thousandths. More rounds, a smaller number."""
    table = Table(problem)
    if not table.free:
        return 0
    takes, room = _takes(table), _room(table)
    prices = best = [0.0] * len(room)
    least, stride, since = fill(table, table.room).value, 1.0, 0
    for _ in range(rounds):
        values = _less(table, takes, prices)
        filled = fill(table, table.room, values)
        bound = filled.value + sum(price * seconds for price, seconds in zip(prices, room, strict=True))
        since += 1
        if bound < least:
            least, since, best = bound, 0, prices
        elif since > 5:
            stride, since = stride * 0.7, 0
        over = [-seconds for seconds in room]
        for skill, (firsts, lasts) in filled.counts.items():
            for child in _chosen(table, values, skill, firsts, lasts):
                over[child] += takes[skill][child]
        norm = sum(one * one for one in over) or 1
        step = stride * 0.05 * least / norm
        prices = [max(0.0, price + step * one) for price, one in zip(prices, over, strict=True)]
    whole = _packed(table, _less(table, takes, best)) + sum(
        price * seconds for price, seconds in zip(best, room, strict=True)
    )
    return floor(min(least, whole) + 1e-6)


def _less(table: Table, takes: list[list[int]], prices: list[float]) -> list[list[float]]:
    """The values, less what each child's time costs."""
    return [
        [max(0.0, value - price * seconds) for value, price, seconds in zip(row, prices, used, strict=True)]
        for row, used in zip(table.value, takes, strict=True)
    ]


def _packed(table: Table, values: list[list[float]]) -> float:
    """The knapsack with each skill taken in whole lines, by dynamic programming (Bellman 1957) over the seconds."""
    best = [0.0] * (table.room + 1)
    for skill in range(table.skills):
        taken = best
        for seconds, value, _ in points(table, skill, values):
            if seconds <= table.room:
                with_it = [one + value for one in best[:len(best) - seconds]]
                taken = taken[:seconds] + list(map(max, taken[seconds:], with_it))
        best = taken
    return best[-1]


def _chosen(table: Table, values: list[list[float]], skill: int, firsts: int, lasts: int) -> list[int]:
    """Which children the knapsack took on a skill."""
    found = []
    for show, count in ((2 * skill, firsts), (2 * skill + 1, lasts - firsts)):
        who = [child for child in range(len(values[skill])) if table.owe[show] >> child & 1]
        found += sorted(who, key=lambda child: -values[skill][child])[:count]
    return found


def _room(table: Table) -> list[int]:
    """How long each child is there from now on."""
    return [
        max(0, min(child.until, table.end) - max(child.since, table.now)) for child in table.problem.children
    ]


def _takes(table: Table) -> list[list[int]]:
    """What each skill takes of each child's time, at least.

    Where light skills are shown during rests, only the others with their rests are sure not to overlap.
    """
    light = table.problem.light_rest and any(one.light for one in table.problem.skills)
    found = []
    for skill, one in enumerate(table.problem.skills):
        first, second = 2 * skill, 2 * skill + 1
        last = table.seconds[second]
        whole = table.seconds[first] + table.rest[second] + last if table.two[skill] else last
        if light and one.light:
            whole = last = 0
        found.append([
            last if table.owe[second] >> child & 1 else whole for child in range(len(table.problem.children))
        ])
    return found
