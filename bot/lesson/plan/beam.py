"""Beam search: the most promising beginnings of a plan are led on side by side, until the lesson is over.

Time has a price, that of the knapsack, and each show that a child owes has a fair share of it: her part of a full line.
A visit is worth the fair shares of its children less the time that it really takes, so all that it is short of is
waste: waiting, half-empty lines, coming back to a skill. Beginnings are compared when they are about equally long, and
only the best are led on (filtered beam search, Ow & Morton 1988, from memory).
"""
from __future__ import annotations

from collections.abc import Callable, Iterator
from copy import copy

from bot.lesson.plan.knapsack import Filled
from bot.lesson.plan.table import LATE, Table
from bot.lesson.plan.timetable import Timetable, beginning, extend, key, soonest

WIDTH = 5           # beginnings that are led on
BRANCH = 3          # visits that each is led on with
STAGES = 35         # so often are they compared, for each watcher
SURPLUS = 0.3       # what a tick is worth more than its time counts so much: of equal waste, the best skills first
LONG = 180          # seconds of rest
TAIL = 0.02         # what a second of rest counts: of equal waste, the longest rests first
SHAKEN = 0.15       # so far are prices off at most, of themselves


# What could come next. How much it gains, when it ends; so many lines of which step.
Visit = tuple[float, int, int, int]

# Of which show a watcher could see which children, so many seconds away; was the skill opened by nobody; is it done
# with then?
Ask = tuple[int, int, int, bool, bool]

# A plan so far: its score, a number, the timetable; what comes next.
Beginning = tuple[float, int, Timetable, Visit]

NOTHING: Visit = 0.0, 0, 0, 0


class Beam:
    """Leads on beginnings with the skills of a knapsack."""

    def __init__(self, table: Table, filled: Filled, price: float) -> None:
        self.table, self.price, self.skills = table, price, list(filled.counts)
        shows = range(2 * table.skills)
        self.fair = [self._share(show, filled.counts.get(show >> 1, (0, 0))) for show in shows]
        two = [table.two[show >> 1] and not show & 1 for show in shows]
        self.later = [self.fair[show + 1] if two[show] else 0.0 for show in shows]
        self.tail = [TAIL * price * min(table.rest[show + 1], LONG) if two[show] else 0.0 for show in shows]
        self._hopes: dict[Ask, float] = {}
        self._worth: dict[tuple[int, int], tuple[int, float]] = {}

    def _share(self, show: int, counts: tuple[int, int]) -> float:
        """Seconds for a child on a show, in lines as full as they come with so many children."""
        table, children = self.table, counts[show & 1 if self.table.two[show >> 1] else 1]
        return table.seconds[show] * (table.lines(show, children) / children if children else 1 / table.group[show])

    def shaken(self, random: Callable[[], float]) -> Beam:
        """One that finds another plan: its price and its shares are a little off, each by chance."""
        def off(price: float) -> float:
            return price * (1 + SHAKEN * (2 * random() - 1))

        other = copy(self)
        other.price, other.fair, other._hopes, other._worth = off(self.price), [*map(off, self.fair)], {}, {}
        return other

    def best(self, width: Callable[[], int], start: Timetable | None = None) -> Timetable:
        """The best plan that comes of a start, or of nothing yet.

        `width`: how many beginnings are led on from here; with none it gives up.
        """
        table, best, number = self.table, start or beginning(self.table), 0
        since, stages = min(best.free), [[(0.0, 0, best, NOTHING)]]
        size = max(1, (table.end - min(table.free)) // (STAGES * table.watchers))
        for place, stage in enumerate(stages):
            wide = width()
            if not wide:
                break
            for score, made in self._kept(stage, wide):
                watcher, visits = self._visits(made)
                if not visits and key(made) > key(best):
                    best = made
                others = min([LATE, *made.free[:watcher], *made.free[watcher + 1:]])
                for visit in visits:
                    number -= 1         # of equal ones the first is the best
                    to = max(place + 1, (min(visit[1], others) - since) // size)
                    stages += [[] for _ in range(len(stages), to + 1)]
                    stages[to].append((score + visit[0], number, made, visit))
        return best

    def _kept(self, stage: list[Beginning], width: int) -> Iterator[tuple[float, Timetable]]:
        """The best of a stage with their visits made, none twice."""
        table, seen = self.table, set()
        for score, _, made, (_, _, step, lines) in sorted(stage, reverse=True):
            if lines:
                made = extend(table, made, len(made.steps), [step] * lines, table.end)
            known = *made.owe, *made.free
            if known not in seen:
                seen.add(known)
                yield score, made
            if len(seen) == width:
                return

    def _visits(self, made: Timetable) -> tuple[int, list[Visit]]:
        """The best that could come next, for the first watcher who is free and can do something.

        A skill that another watcher opened is left to that one, where there is anything else.
        """
        free = made.free
        for watcher in sorted(range(len(free)), key=free.__getitem__) if len(free) > 1 else (0,):
            asks = self._asks(made, watcher)
            visits = self._likeliest(made, watcher, asks[0]) or self._likeliest(made, watcher, asks[1])
            if visits:
                return watcher, visits
        return 0, []

    def _asks(self, made: Timetable, watcher: int) -> tuple[list[Ask], list[Ask]]:
        """All that a watcher could do; and that with skills that others opened."""
        table, owe, mine, asks, others = self.table, made.owe, 1 << watcher, list[Ask](), list[Ask]()
        watchers, at, opened = table.watchers, made.at[watcher], made.opened
        everybody = (1 << watchers) - 1
        for skill in self.skills:
            first, second = owe[2 * skill], owe[2 * skill + 1]
            if first or second:
                by = opened >> skill * watchers & everybody
                away = 0 if skill == at else (table.switch if by & mine else table.setup)[skill]
                to = others if by & ~mine else asks
                if first:
                    to.append((2 * skill, first, away, not by, False))
                if second:
                    to.append((2 * skill + 1, second, away, not by, not first))
        return asks, others

    def _likeliest(self, made: Timetable, watcher: int, asks: list[Ask]) -> list[Visit]:
        """The best visits. Those are looked at first that would be best if nobody had to rest, while they could be."""
        table, now, hopes, found, least = self.table, made.free[watcher], self._hopes, list[Visit](), -1e18
        hoped = []
        for ask in asks:
            hope = hopes.get(ask)
            if hope is None:
                hope = hopes[ask] = max(self._lines(ask, 0, 0, ask[1], ask[2], LATE))[0]
            hoped.append((hope, ask))
        hoped.sort(reverse=True)
        for hope, ask in hoped:
            if hope <= least:
                break
            step = ask[0] * table.watchers + watcher
            start, able = soonest(table, made, step, now + ask[2], table.end)
            if able:
                found += self._lines(ask, step, now, able, start - now, table.end - now)
                if len(found) >= BRANCH:
                    found.sort(reverse=True)
                    del found[BRANCH:]
                    least = found[-1][0]
        found.sort(reverse=True)
        return found

    def _lines(self, ask: Ask, step: int, now: int, able: int, wait: int, room: int) -> list[Visit]:
        """A visit of one line, and, where there is one watcher, one of the best number of lines."""
        show, children, away, fresh, last = ask
        table, price, worths = self.table, self.price, self._worth
        gain, seconds, end, lines = self.tail[show] - price * wait, table.seconds[show], wait, 0
        one = best = None
        if self.later[show]:
            room -= table.rest[show + 1] + table.seconds[show + 1]
        if fresh and not show & 1:
            gain += price * away        # that was counted when the skill was chosen
        back = price * away if last and able == children else 0.0
        while able and end + seconds <= room:
            line, worth = worths.get((show, able)) or self._line(show, able)
            able ^= line
            end += seconds
            lines += 1
            gain += worth
            if best is None or gain > best[0] or (not able and gain + back > best[0]):
                best = gain if able else gain + back, now + end, step, lines
                one = one or best
            if table.watchers > 1:
                break
        return [] if best is None or one is None else [best] if best is one else [best, one]

    def _line(self, show: int, able: int) -> tuple[int, float]:
        """The best line of some children, and its gain."""
        price, fair, later = self.price, self.fair[show], self.later[show]
        line, value = self.table.pick(show, able)
        children = line.bit_count()
        surplus = value * fair / (fair + later) - price * fair * children
        gain = min(value - price * later * children, price * fair * children) - price * self.table.seconds[show]
        found = self._worth[show, able] = line, gain + SURPLUS * surplus
        return found
