"""What fits the time if rests cost nothing: a fractional knapsack over the skills.

For each skill, how much its best children are worth and how long watching them takes; of that the concave hull
(Sinha & Zoltners 1979, multiple-choice knapsack, from memory), and then the steepest pieces first (Dantzig 1957) until
the time is full. It says which skills are worth setting up and what the last second is worth; and no plan can be worth
more.
"""
from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from bot.lesson.plan.table import Table

Counts = dict[int, tuple[int, int]]             # skill → children who show it a first time, and a last time
Point = tuple[int, float, tuple[int, int]]      # seconds, value, (first shows, last shows)
Values = Sequence[Sequence[float]]              # [skill][child]


@dataclass(frozen=True, slots=True)
class Filled:
    """`counts`: how many children on each skill; `seconds`, `value`: of them; `price`: what one second more would be worth."""

    counts: Counts
    seconds: int
    value: float
    price: float


def fill(table: Table, room: int, values: Values | None = None) -> Filled:
    """The most valuable choice for so many seconds of watching; `values` instead of the table's own."""
    values = table.value if values is None else values
    pieces = sorted((piece for skill in range(table.skills) for piece in _pieces(table, skill, values)), reverse=True)
    counts: Counts = {}
    total, left = 0.0, room
    for slope, seconds, value, skill, count in pieces:
        if seconds > left:
            return Filled(counts, room, total + slope * left, slope)
        left -= seconds
        total += value
        counts[skill] = count
    return Filled(counts, room - left, total, 0.0)


def _pieces(table: Table, skill: int, values: Values) -> list[tuple[float, int, float, int, tuple[int, int]]]:
    """The hull of one skill, as (value a second, seconds, value, skill, counts up to here)."""
    hull: list[Point] = [(0, 0.0, (0, 0))]
    for point in sorted(points(table, skill, values), key=lambda point: (point[0], -point[1])):
        if point[1] <= hull[-1][1]:
            continue
        while len(hull) > 1 and _rises(hull[-2], hull[-1], point):
            hull.pop()
        hull.append(point)
    return [
        ((value - before) / max(1, seconds - since), seconds - since, value - before, skill, count)
        for (since, before, _), (seconds, value, count) in pairwise(hull)
    ]


def _rises(one: Point, two: Point, three: Point) -> bool:
    """Does the middle point lie on or below the line from the first to the third?"""
    return (two[1] - one[1]) * (three[0] - two[0]) <= (three[1] - two[1]) * (two[0] - one[0])


def points(table: Table, skill: int, values: Values) -> Iterator[Point]:
    """The best of those who owe all of it, with the best of those who owe the second show alone."""
    fresh = _best(values[skill], table.owe[2 * skill])
    rested = _best(values[skill], table.owe[2 * skill + 1])
    reach = table.reach(skill)
    for firsts, value in enumerate(fresh):
        for others, more in enumerate(rested):
            seconds = reach + table.watching(skill, firsts, firsts + others)
            if table.two[skill] and firsts and not others:
                seconds += table.returning(skill, firsts)
            if firsts + others:
                yield seconds, value + more, (firsts, firsts + others)


def _best(row: Sequence[float], who: int) -> list[float]:
    """The value of the best 0, 1, 2... of some children."""
    return [0.0, *accumulate(sorted((row[at] for at in range(who.bit_length()) if who >> at & 1), reverse=True))]
