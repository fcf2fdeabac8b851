"""Small changes to an order of steps, for the search. Each gives the new order and the first place where it differs.

A **run** is the same step several times in a row: the lines of one show, one after the other.
"""
from __future__ import annotations

from collections.abc import Callable

from bot.lesson.plan.table import MANNERS, Table
from bot.lesson.plan.timetable import Timetable

Changed = tuple[list[int], int]


class Moves:
    """Draws a random change of a timetable's order."""

    def __init__(self, table: Table, random: Callable[[], float]) -> None:
        self.table, self.random = table, random
        self.skills = [skill for skill in range(table.skills) if table.owe[2 * skill] | table.owe[2 * skill + 1]]
        self.known: Timetable | None = None
        self.gaps: list[int] = []
        self.manners = 2 * table.skills * table.watchers

    def draw(self, known: Timetable) -> Changed | None:
        """A change, or None where the one that was drawn changes nothing."""
        order = known.steps[len(self.table.past):]
        if known is not self.known:
            self.known, self.gaps = known, self._gaps(known)
        if len(order) < 2:
            return self.add(order, known.owe, len(order))
        luck = self.random()
        if luck < 0.28:
            return self.shift(order)
        if luck < 0.34:
            return self.swap(order)
        if luck < 0.40:
            return self.turn_over(order)
        if luck < 0.66:
            return self.add(order, known.owe, len(order))
        fewer, place, skill = self.drop(order) if luck < 0.94 else self.drop_skill(order)
        return (fewer, place) if luck < 0.72 else self.add(fewer, known.owe, place, skill)

    def _gaps(self, known: Timetable) -> list[int]:
        """The places in the order before which somebody waits, for a rest or a child."""
        table, past = self.table, len(self.table.past)
        ends, found = table.free[:], []
        at = table.at[:]
        opened = table.opened
        for place in range(past, len(known.steps)):
            _, skill, watcher, _, seconds, _, setup, switch, bit, _, _, _ = table.steps[known.steps[place]]
            change = 0 if skill == at[watcher] else switch if opened & bit else setup
            if known.ends[place] - seconds - change > ends[watcher]:
                found.append(place - past)
            ends[watcher], at[watcher] = known.ends[place], skill
            opened |= bit
        return found

    def _below(self, count: int) -> int:
        return int(self.random() * count)

    def _run(self, order: list[int], place: int) -> tuple[int, int]:
        """Where the run around a place begins and ends."""
        step, begin, end = order[place], place, place + 1
        while begin and order[begin - 1] == step:
            begin -= 1
        while end < len(order) and order[end] == step:
            end += 1
        return begin, end

    def _between(self, order: list[int], since: int = 0) -> int:
        """A random place where one run ends and the next begins, mostly; sometimes any place."""
        if self.gaps and self.random() < 0.3:
            place = self.gaps[self._below(len(self.gaps))]
            if since <= place <= len(order):
                return place
        place = since + self._below(len(order) + 1 - since)
        if self.random() < 0.85:
            while 0 < place < len(order) and order[place - 1] == order[place]:
                place += 1
        return place

    def shift(self, order: list[int]) -> Changed | None:
        """A run, or a part of it, goes elsewhere, often next to other shows of its skill, or to whoever watches there."""
        place = self._below(len(order))
        begin, end = self._run(order, place)
        if end - begin > 1 and self.random() < 0.3:
            cut = begin + 1 + self._below(end - begin - 1)
            begin, end = (begin, cut) if self.random() < 0.5 else (cut, end)
        moved, rest = order[begin:end], order[:begin] + order[end:]
        to = self._beside(rest, moved[0]) if self.random() < 0.4 else self._between(rest)
        if self.table.watchers > 1 and rest and self.random() < 0.4:
            moved = self._by(moved, rest[min(to, len(rest) - 1)])
        elif to == begin:
            return None
        return rest[:to] + moved + rest[to:], min(begin, to)

    def _beside(self, order: list[int], step: int) -> int:
        """Before or after another show of the same skill, where there is one."""
        steps, skill = self.table.steps, self.table.steps[step][1]
        places = [at for at, other in enumerate(order) if steps[other][1] == skill]
        return places[self._below(len(places))] + self._below(2) if places else self._between(order)

    def swap(self, order: list[int]) -> Changed | None:
        """Two runs change places, and watchers."""
        one, other = sorted((self._below(len(order)), self._below(len(order))))
        (begin, end), (since, until) = self._run(order, one), self._run(order, other)
        if since < end:
            return None
        former, latter = self._by(order[begin:end], order[since]), self._by(order[since:until], order[begin])
        return order[:begin] + latter + order[end:since] + former + order[until:], begin

    def _by(self, steps: list[int], like: int) -> list[int]:
        """The same steps by the watcher of another step."""
        watchers = self.table.watchers
        return [step - step % watchers + like % watchers for step in steps]

    def turn_over(self, order: list[int]) -> Changed:
        """A run goes to another watcher, or one step picks its line in another manner."""
        place = self._below(len(order))
        step, watchers = order[place], self.table.watchers
        if watchers > 1 and self.random() < 0.6:
            begin, end = self._run(order, place)
            if self.random() < 0.5:
                begin = place
            other = step - step % watchers + (step + 1 + self._below(watchers - 1)) % watchers
            return order[:begin] + [other] * (end - begin) + order[end:], begin
        manner = self.manners * (1 + self._below(len(MANNERS) - 1))
        return [*order[:place], (step + manner) % (self.manners * len(MANNERS)), *order[place + 1:]], place

    def add(self, order: list[int], owe: list[int], place: int, but: int = -1) -> Changed | None:
        """Lines for children who have none, on any skill `but` one: first shows, and second ones behind them."""
        able = [skill for skill in self.skills if (owe[2 * skill] or owe[2 * skill + 1]) and skill != but]
        if not able:
            return None if but < 0 else (order, place)
        skill = able[self._below(len(able))]
        steps, table = self.table.steps, self.table
        there = [at for at, step in enumerate(order) if steps[step][1] == skill]
        lines = table.lines(2 * skill, owe[2 * skill].bit_count())
        if lines > 1 and (there or self.random() < 0.4):
            lines = 1 if there and self.random() < 0.6 else 1 + self._below(lines)
        watcher = self._below(table.watchers)
        if there and self.random() < 0.8:
            watcher = steps[order[there[self._below(len(there))]]][2]
        order = order[:]
        behind = 0
        if lines:
            to = self._near(order, [at for at in there if steps[order[at]][2] == watcher])
            order[to:to] = [table.step(2 * skill, watcher, self._below(3))] * lines
            place, behind = min(place, to), to + lines
            there = [at + lines for at in there if at >= to]
        if table.two[skill]:
            waiting = lines * table.group[2 * skill] + owe[2 * skill + 1].bit_count()
            to = self._near(order, there, behind)
            order[to:to] = [table.step(2 * skill + 1, watcher, self._below(3))] * table.lines(2 * skill + 1, waiting)
            place = min(place, to)
        return order, place

    def _near(self, order: list[int], there: list[int], since: int = 0) -> int:
        """Mostly before or after one of the places given, else anywhere."""
        if there and self.random() < 0.7:
            return there[self._below(len(there))] + self._below(2)
        return self._between(order, since)

    def drop(self, order: list[int]) -> tuple[list[int], int, int]:
        """A line is not watched: neither its first show nor its second."""
        place = self._below(len(order))
        steps, show = self.table.steps, self.table.steps[order[place]][0]
        new = order[:place] + order[place + 1:]
        skill = show >> 1
        if self.table.two[skill]:
            for other in range(place - 1, -1, -1) if show & 1 else range(place, len(new)):
                if steps[new[other]][0] == show ^ 1:
                    del new[other]
                    return new, min(place, other), skill
        return new, place, skill

    def drop_skill(self, order: list[int]) -> tuple[list[int], int, int]:
        """A skill is not watched at all."""
        steps = self.table.steps
        place = self._below(len(order))
        skill = steps[order[place]][1]
        new = [step for step in order if steps[step][1] != skill]
        first = next(at for at, step in enumerate(order) if steps[step][1] == skill)
        return new, first, skill
