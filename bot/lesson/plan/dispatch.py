"""Dispatch: always what is worth most for the seconds that it takes, as it really comes about.

Each next visit is tried on the timetable before it is chosen (list scheduling, Graham 1969, with one step of looking
ahead), so waiting, half-empty lines and the way to another skill all count against it. A first show is worth its share
of the tick.
"""
from __future__ import annotations

from collections.abc import Iterator, Sequence

from bot.lesson.plan.knapsack import Counts
from bot.lesson.plan.table import ANYBODY, Table
from bot.lesson.plan.timetable import Timetable, beginning, extend

OPEN = 5        # how many skills not yet begun are looked at


def dispatched(table: Table, skills: Sequence[int], counts: Counts) -> Timetable:
    """A timetable of these skills, the likeliest first. A visit is one line, or all that are left."""
    made, left = beginning(table), {skill: counts[skill][0] for skill in skills}
    while True:
        best, best_rate = None, 0.0
        for visit in _visits(table, made, left):
            new = extend(table, made, len(made.steps), visit, table.soft_end)
            rate = _rate(table, made, new)
            if rate > best_rate:
                best, best_rate = new, rate
        if best is None:
            return made
        skill = best.shows[-1] >> 1
        left[skill] = counts[skill][0] - (table.owe[2 * skill] & ~best.owe[2 * skill]).bit_count()
        made = best


def _visits(table: Table, made: Timetable, left: dict[int, int]) -> Iterator[list[int]]:
    """What could come next: second shows of what is begun, first shows of the next few skills."""
    fresh = 0
    for skill, more in left.items():
        first, second = made.owe[2 * skill] if more > 0 and fresh < OPEN else 0, made.owe[2 * skill + 1]
        fresh += first > 0
        for show, owing in ((2 * skill, min(more, first.bit_count())), (2 * skill + 1, second.bit_count())):
            lines = table.lines(show, owing) if owing > 0 else 0
            for watcher in range(table.watchers):
                for count in sorted({1, lines}) if lines else ():
                    yield [table.step(show, watcher, ANYBODY)] * count


def _rate(table: Table, made: Timetable, new: Timetable) -> float:
    """What a visit is worth a second, counted from when the first watcher was free."""
    if len(new.steps) == len(made.steps):
        return 0.0
    show = new.shows[-1]
    skill, gain = show >> 1, float(new.values[-1] - made.values[-1])
    end = new.ends[-1]
    if table.two[skill] and not show & 1:
        first, second = table.seconds[show], table.seconds[show + 1]
        if end + second > table.soft_end:
            return 0.0
        row, shown = table.value[skill], made.owe[show] & ~new.owe[show]
        gain = sum(value for child, value in enumerate(row) if shown >> child & 1) * first / (first + second)
    return gain / (end - min(made.free))
