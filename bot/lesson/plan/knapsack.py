"""What fits the time if rests cost nothing: a fractional knapsack over the skills.

For each skill, how much its best n children are worth and how long watching them takes; of that the concave hull
(Sinha & Zoltners 1979, multiple-choice knapsack, from memory), and then the steepest pieces first (Dantzig 1957) until
the time is full. It says which skills are worth setting up, and what the last second is worth.
"""
from __future__ import annotations

from dataclasses import dataclass

from bot.lesson.plan.table import Table


Point = tuple[int, int, tuple[int, int]]        # seconds, value, (first shows, last shows)


@dataclass(frozen=True, slots=True)
class Filled:
    """`counts`: how many show each skill a first and a last time; what they are worth; the price of a second."""

    counts: dict[int, tuple[int, int]]
    value: float
    price: float


def fill(table: Table, room: int) -> Filled:
    """The most valuable choice for so many seconds of watching."""
    pieces = sorted((piece for skill in range(table.skills) for piece in _pieces(table, skill)), reverse=True)
    counts: dict[int, tuple[int, int]] = {}
    total = price = 0.0
    for slope, seconds, value, skill, count in pieces:
        if seconds > room:
            return Filled(counts, total + slope * room, slope)
        room -= seconds
        total += value
        counts[skill] = count
    return Filled(counts, total, price)


def _pieces(table: Table, skill: int) -> list[tuple[float, int, int, int, tuple[int, int]]]:
    """The hull of one skill, as (value a second, seconds, value, skill, children so far)."""
    hull = [(0, 0, (0, 0))]
    for seconds, value, count in _points(table, skill):
        while hull[-1][0] >= seconds and len(hull) > 1 and value >= hull[-1][1]:
            hull.pop()
        while len(hull) > 1 and _rises(hull[-2], hull[-1], (seconds, value, count)):
            hull.pop()
        hull.append((seconds, value, count))
    return [
        ((value - before) / max(1, seconds - since), seconds - since, value - before, skill, count)
        for (since, before, _), (seconds, value, count) in zip(hull, hull[1:], strict=False)
    ]


def _rises(one: Point, two: Point, three: Point) -> bool:
    """Does the middle point lie on or below the line from the first to the third?"""
    return (two[1] - one[1]) * (three[0] - two[0]) <= (three[1] - two[1]) * (two[0] - one[0])


def _points(table: Table, skill: int) -> list[Point]:
    """How long the best n children take, and what they are worth. Who has shown the first owes the second alone."""
    first, second = table.owe[2 * skill], table.owe[2 * skill + 1]
    both = [(table.value[skill][child], first >> child & 1) for child in range(first.bit_length())]
    rest = [(table.value[skill][child], 0) for child in range(second.bit_length()) if second >> child & 1]
    ranked = sorted([one for one in both if one[1]] + rest, key=lambda one: (one[1], -one[0]))
    begin = table.reach(skill)
    total = firsts = 0
    found = []
    for count, (value, fresh) in enumerate(ranked, 1):
        total, firsts = total + value, firsts + fresh
        found.append((begin + table.watching(skill, firsts, count), total, (firsts, count)))
    return found
