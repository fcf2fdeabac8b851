"""How far two people see the same: figures of agreement, for looks at the same shows. Numbers only, no words.

What lives here: percent agreement, Cohen's kappa and Gwet's AC1, each with its interval at 95 %. Where a figure is 0/0,
or nothing can be said of how sure it is, it is None: "cannot tell" is an answer, and no number stands in its place.

A table counts looks: `table[i][j]` of them were put into category i by the one and j by the other. Its categories are
those that could have been used, not those that were: two (seen, not yet) for marks.
"""
from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from bot.marks.interval import NINETY_FIVE, Interval, students_t, wilson

Table = Sequence[Sequence[int]]


@dataclass(frozen=True, slots=True)
class Figure:
    """A coefficient, 1 at best; `interval` is None where it cannot be told."""

    value: float
    interval: Interval | None


def table_of(pairs: Iterable[tuple[bool, bool]]) -> Table:
    """Looks counted: [[both seen, only the one], [only the other, neither]]."""
    counts = [[0, 0], [0, 0]]
    for one, other in pairs:
        counts[not one][not other] += 1
    return counts


def alike(table: Table) -> tuple[int, int]:
    """How many looks were alike, and of how many."""
    return sum(table[k][k] for k in range(len(table))), sum(map(sum, table))


def percent(table: Table) -> Figure | None:
    """The share that was alike, with Wilson's interval; None where nobody looked."""
    same, n = alike(table)
    return Figure(same / n, wilson(same, n)) if n else None


def kappa(table: Table) -> Figure | None:
    """Cohen's kappa: agreement beyond what the two would reach by chance, each with their own share of seen.

    None where it is 0/0: nobody looked, or both put all into one category. Source: Cohen 1960; standard error of
    Fleiss, Cohen & Everitt 1969. The interval is None where that error is 0, as it is with no look that parts.
    """
    same, n = alike(table)
    sums = _sums(table)
    if not n:
        return None
    chance = sum(row * column for row, column in sums) / n**2
    if chance == 1:
        return None
    value = (same / n - chance) / (1 - chance)
    spread = sqrt(max(0.0, _kappa_variance(table, value, chance, n)))
    z = NormalDist().inv_cdf((1 + NINETY_FIVE) / 2)
    return Figure(value, _around(value, z * spread))


def _kappa_variance(table: Table, value: float, chance: float, n: int) -> float:
    shares = [(row / n, column / n) for row, column in _sums(table)]
    on = off = 0.0
    for i, counts in enumerate(table):
        for j, count in enumerate(counts):
            if i == j:
                on += count / n * (1 - (shares[i][0] + shares[i][1]) * (1 - value)) ** 2
            else:
                off += count / n * (shares[i][1] + shares[j][0]) ** 2
    rest = (value - chance * (1 - value)) ** 2
    return (on + (1 - value) ** 2 * off - rest) / ((1 - chance) ** 2 * n)


def ac1(table: Table) -> Figure | None:
    """Gwet's AC1: as kappa, but not thrown off where nearly all is seen. None where nobody looked.

    Source: Gwet 2008; its variance from look to look with Student's t, as the R package irrCAC does it.
    """
    same, n = alike(table)
    q = len(table)
    if not n or q < 2:
        return None
    used = [(row + column) / (2 * n) for row, column in _sums(table)]
    chance = sum(share * (1 - share) for share in used) / (q - 1)
    value = (same / n - chance) / (1 - chance)
    spread = sqrt(_ac1_variance(table, value, chance, used)) if n > 1 else 0.0
    return Figure(value, _around(value, students_t(NINETY_FIVE, n - 1) * spread) if spread else None)


def _ac1_variance(table: Table, value: float, chance: float, used: Sequence[float]) -> float:
    """The variance of what each look adds to the whole, over the number of looks."""
    n, q = alike(table)[1], len(table)
    squares = 0.0
    for i, counts in enumerate(table):
        for j, count in enumerate(counts):
            by_chance = (1 - (used[i] + used[j]) / 2) / (q - 1)
            adds = ((i == j) - chance) / (1 - chance) - 2 * (1 - value) * (by_chance - chance) / (1 - chance)
            squares += count * (adds - value) ** 2
    return squares / (n * (n - 1))


def _sums(table: Table) -> list[tuple[int, int]]:
    """How often each category was used, by the one and by the other."""
    return [(sum(table[k]), sum(row[k] for row in table)) for k in range(len(table))]


def _around(value: float, half: float) -> Interval | None:
    return Interval(max(-1.0, value - half), min(1.0, value + half)) if half > 0 else None
