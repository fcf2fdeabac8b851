"""Simulated annealing on the order of the steps (Kirkpatrick, Gelatt & Vecchi 1983).

A change is tried, the timetable worked out anew from there on, and the change kept if it is better, or, while it is
warm, a little worse. The end of the lesson is soft: what goes beyond costs as much as time is worth, and more the
longer the search goes on (a Lagrangian price; Fisher 1981, from memory); so an order may pass through too much on
its way to the right measure. What counts as found fits the lesson.
"""
from __future__ import annotations

from collections.abc import Callable, Iterable
from math import exp
from typing import Protocol

from bot.lesson.plan.knapsack import fill
from bot.lesson.plan.moves import Moves
from bot.lesson.plan.table import Table
from bot.lesson.plan.timetable import Timetable, beginning, extend

Key = tuple[int, int]
Used = Callable[[int], float]


class Chance(Protocol):
    """What is needed of `random.Random`."""

    def random(self) -> float:
        """The next number from 0 up to 1."""


def key(found: Timetable) -> Key:
    """What is better: more value, then the earlier finish."""
    return found.values[-1], -found.tops[-1]


class Price:
    """What a timetable is worth with time at a price."""

    def __init__(self, table: Table) -> None:
        filled = fill(table, table.room)
        mean = filled.value / max(1, table.room)
        self.end = table.end
        self.early = 0.9 * max(filled.price, EARLY * mean)
        self.late = max(filled.price, LATE_ * mean)

    def of(self, found: Timetable, over: float) -> float:
        """Value, and the time that is left or too much."""
        worth = float(found.values[-1])
        for free in found.free:
            worth += (self.end - free) * (self.early if free <= self.end else self.late * over)
        return worth
EARLY, LATE_ = .2, .5
HOT, COLD, SOFT, HARD = .3, .04, .9, 2.


def anneal(table: Table, orders: Iterable[list[int]], chance: Chance, used: Used) -> Timetable:
    """The best timetable that fits, from the best of some orders on. `used`: how much of the patience is used up."""
    price, moves, past = Price(table), Moves(table, chance.random), len(table.past)
    empty = beginning(table)
    starts = [extend(table, empty, past, order, table.soft_end) for order in orders]
    now = max(starts, key=lambda start: price.of(start, HARD))
    best = extend(table, empty, past, now.steps[past:], table.end)
    typical = _typical(table)
    over = SOFT
    worth = price.of(now, over)
    trials = 0
    draw, random, of = moves.draw, chance.random, price.of
    heat = HOT * typical
    while True:
        trials += 1
        if not trials & 15:
            done = used(trials)
            if done >= 1:
                return best
            heat = typical * HOT * (COLD / HOT) ** done
            over = SOFT + (HARD - SOFT) * done
            worth = of(now, over)
        change = draw(now)
        if change is None:
            continue
        order, place = change
        new = extend(table, now, past + place, order[place:], table.soft_end)
        gain = of(new, over) - worth
        if gain >= 0 or random() < exp(gain / heat):
            now, worth = new, worth + gain
            if new.values[-1] > best.values[-1]:
                fits = new if new.tops[-1] <= table.end else extend(table, empty, past, new.steps[past:], table.end)
                if key(fits) > key(best):
                    best = fits


def _typical(table: Table) -> float:
    """What a full line is worth, on the average of those who owe."""
    values = [value for row in table.value for value in row if value]
    return sum(values) / max(1, len(values))
