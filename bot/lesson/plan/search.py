"""Simulated annealing on the order of the steps (Kirkpatrick, Gelatt & Vecchi 1983).

A change is tried, the timetable worked out anew from there on, and the change kept if it is better, or, while it is
warm, a little worse. The end of the lesson is soft: what goes beyond costs as much as time is worth, and more the
longer the search goes on (a Lagrangian price; Fisher 1981, from memory); so an order may pass through too much on
its way to the right measure. What counts as found fits the lesson.

Small changes don't lead everywhere. So now and then the best plan is cut off somewhere, and a beam search with prices
that are a little off lays the rest anew (ruin and recreate, Schrimpf et al. 2000, from memory).
"""
from __future__ import annotations

from collections.abc import Callable
from math import exp
from typing import Protocol

from bot.lesson.plan.beam import Beam
from bot.lesson.plan.knapsack import Filled
from bot.lesson.plan.moves import Moves
from bot.lesson.plan.table import Table
from bot.lesson.plan.timetable import Timetable, beginning, extend, key

HOT, COLD = 0.15, 0.04      # what it is warm for, in typical chains
SOFT, HARD = 0.9, 2.0       # how dear time beyond the end is, times its price
EARLY, LATELY = 0.9, 0.25   # what time that is left is worth, times its price, at first and at last
ANEW = 100                  # trials, one of which lays the rest anew: it takes as long as 20 to 60 others

Used = Callable[[int], float]


class Chance(Protocol):
    """What is needed of `random.Random`."""

    def random(self) -> float:
        """The next number from 0 up to 1."""


class Price:
    """What a timetable is worth with time at a price: that of the knapsack, and no less than a share of the mean."""

    def __init__(self, table: Table, filled: Filled) -> None:
        mean = filled.value / max(1, table.room)
        self.end, self.all = table.end, sum(sum(row) for row in table.value)
        self.early = self.left = max(filled.price, 0.2 * mean)
        self.late = max(filled.price, 0.5 * mean)
        self.dear = 0.5 * filled.value / max(1, filled.seconds)

    def of(self, found: Timetable, over: float) -> float:
        """Value, with what time is left and less what is too much, `over` times as dear.

        What is left counts half until all watchers have done, so that they end together.
        """
        worth, last = float(found.values[-1]), max(found.free)
        for free in found.free:
            left = self.end - free
            worth += left * (self.early if left >= 0 else self.late * over) - (last - free) * self.early / 2
        return worth

    def settle(self, best: Timetable, done: float) -> None:
        """Time that is left is worth less and less; but where nothing more is to be had, only the finish counts."""
        self.early = self.dear if best.values[-1] == self.all else self.left * (EARLY + (LATELY - EARLY) * done)


def anneal(table: Table, filled: Filled, start: Timetable, chance: Chance, used: Used) -> Timetable:
    """The best timetable that fits, from a start on. `used`: how much patience so many trials used up."""
    moves, past, trials = Moves(table, chance.random), len(table.past), 0
    price, typical = Price(table, filled), _typical(table)
    beam = Beam(table, filled, price.early)
    now, best = start, fitting(table, start)
    while (done := used(trials)) < 1:
        trials += 1
        if trials % ANEW:
            change = moves.draw(now)
            if change is None:
                continue
            order, place = change
            new = extend(table, now, past + place, order[place:], table.soft_end)
        else:
            new = _laid_anew(table, best, beam, chance)
        price.settle(best, done)
        heat = typical * HOT * (COLD / HOT) ** done
        over = SOFT + (HARD - SOFT) * done
        gain = price.of(new, over) - price.of(now, over)
        if gain >= 0 or chance.random() < exp(gain / heat):
            now = new
            if key(new) > key(best):
                fits = fitting(table, new)
                if key(fits) > key(best):
                    best = fits
    return best


def _laid_anew(table: Table, best: Timetable, beam: Beam, chance: Chance) -> Timetable:
    """The plan up to somewhere, and from there what the likeliest visits make of it."""
    past = len(table.past)
    kept = past + int(chance.random() * (len(best.steps) - past))
    return beam.shaken(chance.random).best(lambda: 1, extend(table, best, kept, [], table.end))


def fitting(table: Table, found: Timetable) -> Timetable:
    """The same order, as far as it fits the lesson."""
    if found.tops[-1] <= table.end:
        return found
    return extend(table, beginning(table), len(table.past), found.steps[len(table.past):], table.end)


def _typical(table: Table) -> float:
    """What one chain is worth, on the average."""
    values = [value for row in table.value for value in row if value]
    return max(1.0, sum(values) / max(1, len(values)))
