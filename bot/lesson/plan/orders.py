"""Orders to begin with: the two that a coach with a clipboard takes, and one that uses every rest."""
from __future__ import annotations

from collections.abc import Iterable

from bot.lesson.plan.knapsack import Filled
from bot.lesson.plan.table import ANYBODY, FRESH_FIRST, Table

Count = dict[int, int]


def coach(table: Table) -> list[int]:
    """Skill by skill as listed: all first shows, then all second shows."""
    return _skill_by_skill(table, range(table.skills))


def most_valuable_first(table: Table) -> list[int]:
    """The same, the skills on which a second of watching is worth most first."""
    def worth(skill: int) -> float:
        first, second = table.owe[2 * skill], table.owe[2 * skill + 1]
        owing = first | second
        seconds = table.reach(skill) + table.watching(skill, first.bit_count(), owing.bit_count())
        value = sum(value for child, value in enumerate(table.value[skill]) if owing >> child & 1)
        return -value / max(1, seconds)

    return _skill_by_skill(table, sorted(range(table.skills), key=worth))


def _skill_by_skill(table: Table, skills: Iterable[int]) -> list[int]:
    """Each skill by the watcher who has least to do so far."""
    busy, steps = table.free[:], []
    for skill in skills:
        watcher = busy.index(min(busy))
        counts = table.owe[2 * skill].bit_count(), (table.owe[2 * skill] | table.owe[2 * skill + 1]).bit_count()
        busy[watcher] += table.setup[skill] + table.watching(skill, *counts)
        for show, count in enumerate(counts if table.two[skill] else counts[:1]):
            steps += [table.step(2 * skill + show, watcher, ANYBODY)] * table.lines(2 * skill + show, count)
    return steps


def longest_tail_first(table: Table, chosen: Filled) -> list[int]:
    """All first shows, the longest rest first; what is shown once; then all second shows in the same order.

    A rest is a tail, and the job with the longest tail goes first (Jackson 1955; with rests Wikum, Llewellyn &
    Nemhauser 1994). Each skill goes to the watcher who has least to do so far, the longest first (Graham 1969).
    """
    skills = sorted(chosen.children, key=lambda skill: -table.watching(skill, *_counts(table, chosen, skill)))
    busy, by = table.free[:], {}
    for skill in skills:
        watcher = by[skill] = busy.index(min(busy))
        busy[watcher] += table.setup[skill] + table.watching(skill, *_counts(table, chosen, skill))
    skills.sort(key=lambda skill: (not table.two[skill], -table.rest[2 * skill + 1] - table.seconds[2 * skill + 1]))
    steps = []
    for show in (0, 1):
        for skill in skills:
            if not show or table.two[skill]:
                lines = table.lines(2 * skill + show, _counts(table, chosen, skill)[show])
                steps += [table.step(2 * skill + show, by[skill], FRESH_FIRST)] * lines
    return steps


def _counts(table: Table, chosen: Filled, skill: int) -> tuple[int, int]:
    """How many children show the skill a first time, and a last time."""
    count = chosen.children[skill]
    return min(count, table.owe[2 * skill].bit_count()), count
