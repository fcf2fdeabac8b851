"""From steps to times: each step is put at the earliest moment after those before it, with the best line there is.

The order of the steps is all that a plan has to say; lines, starts and value follow (a serial schedule generation
scheme, Kolisch 1996, from memory). So whatever order is tried, what comes out keeps the rules.
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator

from bot.lesson.plan.table import LATE, Step, Table


class Timetable:
    """Steps with their times, in lists side by side: entry i is one turn; the first entries are the past.

    `steps`, `shows`, `lines` (bits), `tired` (bits of those who must rest after it), `ends`, `tops` (the latest end so
    far) and `values` (of all complete chains so far). And how it stands at the end of them: since when each watcher is
    `free` and `at` which skill, who `opened` what (bits), who (bits) still `owe` each show.
    """

    __slots__ = ("at", "ends", "free", "lines", "opened", "owe", "shows", "steps", "tired", "tops", "values")

    def __init__(
        self, steps: list[int], shows: list[int], lines: list[int], tired: list[int], ends: list[int], tops: list[int],
        values: list[int], free: list[int], at: list[int], opened: int, owe: list[int],
    ) -> None:
        self.steps, self.shows, self.lines, self.tired = steps, shows, lines, tired
        self.ends, self.tops, self.values = ends, tops, values
        self.free, self.at, self.opened, self.owe = free, at, opened, owe

    @property
    def value(self) -> int:
        """Of all complete chains."""
        return self.values[-1]


def key(found: Timetable) -> tuple[int, int]:
    """What is better: more value, then the earlier finish."""
    return found.values[-1], -found.tops[-1]


def beginning(table: Table) -> Timetable:
    """Nothing planned yet: the past."""
    ends = [end for end, _, _, _ in table.past]
    return Timetable(
        [-1] * len(ends), [2 * skill for _, skill, _, _ in table.past], [line for _, _, line, _ in table.past],
        [tired for _, _, _, tired in table.past], ends, ends[:], [0] * len(ends), table.free[:], table.at[:],
        table.opened, table.owe[:],
    )


def put(table: Table, made: Timetable, step: int, line: int, start: int) -> None:
    """One turn more, with a line and a start that keep the rules."""
    show, skill, watcher, _, seconds, _, _, _, bit, tires, last, _ = table.steps[step]
    end, row, worth = start + seconds, table.value[skill], 0
    if last:
        worth = sum(value for child, value in enumerate(row) if line >> child & 1)
    made.owe[show] &= ~line
    if not last:
        made.owe[show + 1] |= line
    made.free[watcher], made.at[watcher] = end, skill
    made.opened |= bit
    for entries, new in (
        (made.steps, step), (made.shows, show), (made.lines, line), (made.tired, line if tires else 0),
        (made.ends, end), (made.tops, max(end, made.tops[-1])), (made.values, made.values[-1] + worth),
    ):
        entries.append(new)


def change(table: Table, made: Timetable, watcher: int, skill: int) -> int:
    """Seconds before a watcher can begin with a skill, from where she is then."""
    if made.at[watcher] == skill:
        return 0
    return (table.switch if made.opened >> (skill * table.watchers + watcher) & 1 else table.setup)[skill]


def rested(table: Table, made: Timetable, show: int, child: int, soonest: int) -> int:
    """From when on, but not before `soonest`, a child (a bit) can show, as far as what she has shown goes."""
    rest, ready, entry = table.rest[show], soonest, len(made.ends) - 1
    while made.tops[entry] + rest > ready:
        if made.lines[entry] & child:
            rests = made.tired[entry] & child or made.shows[entry] >> 1 == show >> 1
            ready = max(ready, made.ends[entry] + (rest if rests else 0))
        entry -= 1
    return ready


def soonest(table: Table, made: Timetable, step: int, start: int, stop: int) -> tuple[int, int]:
    """When a step whose watcher is there by `start` can begin, and who is able to show by then; nobody: (start, 0)."""
    show, skill, _, group, seconds, rest = table.steps[step][:6]
    if start + seconds > stop:
        return start, 0
    among, entry = made.owe[show], len(made.ends) - 1
    able = among & table.come[start] & table.stay[start + seconds]
    while made.tops[entry] > start - rest:
        end = made.ends[entry]
        if end > start or (end > start - rest and made.shows[entry] >> 1 == skill):
            able &= ~made.lines[entry]
        elif end > start - rest:
            able &= ~made.tired[entry]
        entry -= 1
    want = min(group, among.bit_count())
    if able.bit_count() >= want:
        return start, able
    so_far = made.ends, made.tops, made.shows, made.lines, made.tired
    return _wait(table, table.steps[step], among, able, start, want, stop, so_far)


def extend(table: Table, known: Timetable, keep: int, todo: list[int], stop: int) -> Timetable:
    """The first `keep` entries of a timetable, and then `todo`. A step that nobody can fill in time is left out.

    Long on purpose: it is the inner loop, and in Python each call in it would cost as much as what it does.
    """
    steps, shows, lines, tired = known.steps[:keep], known.shows[:keep], known.lines[:keep], known.tired[:keep]
    ends, tops, values = known.ends[:keep], known.tops[:keep], known.values[:keep]
    if keep == len(known.steps):
        owe, free, at, opened = known.owe[:], known.free[:], known.at[:], known.opened
    else:
        owe, free, at, opened = _stood(table, known, keep)
    all_steps, picks, pick = table.steps, table.picks, table.pick
    come, stay, several = table.come, table.stay, table.watchers > 1
    value, top, pending, wait = values[-1], tops[-1], -1, _wait
    for step in _by_the_clock(table, todo, free, owe) if several else todo:
        show, skill, watcher, group, seconds, rest, setup, switch, bit, tires, last, manner = all_steps[step]
        among = owe[show]
        if not among:
            continue
        start = free[watcher]
        if skill != at[watcher]:
            start += switch if opened & bit else setup
        end = start + seconds
        if end > stop:
            continue
        able = among & come[start] & stay[end]
        if tires and not several:
            if rest:                            # who is still resting
                since, entry, resting = start - rest, len(ends) - 1, 0
                while ends[entry] > since:
                    resting |= tired[entry]
                    entry -= 1
                able &= ~resting
        elif rest or several:                   # the same, or watched by somebody else
            since, entry = start - rest, len(ends) - 1
            while tops[entry] > since:
                if ends[entry] > since:
                    if ends[entry] > start or shows[entry] >> 1 == skill:
                        able &= ~lines[entry]
                    else:
                        able &= ~tired[entry]
                entry -= 1
        if able != among:
            want = among.bit_count()
            if want > group:
                want = group
            if able.bit_count() < want:
                so_far = ends, tops, shows, lines, tired
                start, able = wait(table, all_steps[step], among, able, start, want, stop, so_far)
                if not able:
                    continue
                end = start + seconds
        if manner and (tires or manner > 1):
            if pending < 0:
                pending = 0
                for waiting in owe[1::2]:
                    pending |= waiting
            fresh = able & ~pending
            if manner > 1:
                able = fresh
                if not able:
                    continue
            elif fresh and fresh != able:
                able = _fresh_first(table, show, fresh, able)
        found = picks[show].get(able)
        line, worth = found if found is not None else pick(show, able)
        owe[show] = among & ~line
        if last:
            value += worth
            if show & 1:
                pending = -1
        else:
            owe[show + 1] |= line
            pending = -1
        free[watcher] = end
        at[watcher] = skill
        opened |= bit
        if end > top:
            top = end
        steps.append(step)
        shows.append(show)
        lines.append(line)
        tired.append(line if tires else 0)
        ends.append(end)
        tops.append(top)
        values.append(value)
    return Timetable(steps, shows, lines, tired, ends, tops, values, free, at, opened, owe)


def _stood(table: Table, known: Timetable, keep: int) -> tuple[list[int], list[int], list[int], int]:
    """How it stood after the first entries: who owed each show, who was free and at which skill, what was opened."""
    owe, free, at, opened, past = table.owe[:], table.free[:], table.at[:], table.opened, len(table.past)
    done = table.done
    for step, line in zip(known.steps[past:keep], known.lines[past:keep], strict=True):
        show, then, bit = done[step]
        owe[show] ^= line
        owe[then] |= line
        opened |= bit
    missing, entry = (1 << table.watchers) - 1, keep
    while missing and entry > past:
        entry -= 1
        _, skill, watcher = table.steps[known.steps[entry]][:3]
        if missing >> watcher & 1:
            missing ^= 1 << watcher
            free[watcher], at[watcher] = known.ends[entry], skill
    return owe, free, at, opened


def _by_the_clock(table: Table, todo: list[int], free: list[int], owe: list[int]) -> Iterator[int]:
    """Always the next step of the watcher who is free first, of those for whose next step there is somebody by now.

    `free` and `owe` are read as they change.
    """
    queues: list[list[int]] = [[] for _ in free]
    for step in reversed(todo):
        queues[table.steps[step][2]].append(step)
    done = table.done
    while True:
        best, first = None, LATE
        for watcher, queue in enumerate(queues):
            if queue:
                since = free[watcher] if owe[done[queue[-1]][0]] else LATE - 1
                if since < first:
                    best, first = queue, since
        if best is None:
            return
        yield best.pop()


Entries = tuple[list[int], list[int], list[int], list[int], list[int]]


def _wait(
    table: Table, step: Step, among: int, able: int, start: int, want: int, stop: int, entries: Entries,
) -> tuple[int, int]:
    """Whom it pays to wait for: when the line then begins, and who is able. Nobody at all: (start, 0)."""
    seconds, best = step[4], (start, able)
    lost = seconds / want           # what an empty place costs
    cost = (want - able.bit_count()) * lost if able else 1e9
    for ready, more in _ready(table, step, among & ~able, start, entries):
        end = ready + seconds
        if end > stop or ready - start >= cost:
            break
        able |= more
        there = able & table.come[ready] & table.stay[end]
        waiting = ready - start + max(0, want - there.bit_count()) * lost
        if there and waiting < cost:
            best, cost = (ready, there), waiting
    return best


def _ready(table: Table, step: Step, blocked: int, start: int, entries: Entries) -> Iterable[tuple[int, int]]:
    """From when on which of the blocked children can show, the soonest first."""
    ends, tops, shows, lines, tired = entries
    skill, rest, entry, found = step[1], step[5], len(ends) - 1, []
    while tops[entry] > start - rest:
        end = ends[entry]
        if end > start - rest:
            who = blocked & (lines if shows[entry] >> 1 == skill else tired)[entry]
            if who:
                found.append((end + rest, who))
            if end > start and blocked & lines[entry]:
                found.append((end, blocked & lines[entry]))
        entry -= 1
    for before, since in enumerate(table.arrivals):
        who = blocked & ~table.come[table.arrivals[before - 1] if before else table.now]
        if since > start and who:
            found.append((since, who))
    if len(found) < 2:
        return found
    found.sort(reverse=True)
    waves = []
    for ready, who in found:        # the last of her hindrances counts
        who &= blocked
        if who:
            waves.append((ready, who))
            blocked &= ~who
    return reversed(waves)


def _fresh_first(table: Table, show: int, fresh: int, able: int) -> int:
    """A line of those who wait for no second show, filled up with the others."""
    line, _ = table.pick(show, fresh)
    room = table.group[show] - line.bit_count()
    for bit in table.order[show]:
        if room <= 0:
            break
        if able & ~line & bit:
            line |= bit
            room -= 1
    return line
