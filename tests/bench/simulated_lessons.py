"""Whole lessons as they come: shows that take up to a fifth longer or shorter, misses, late comers, early leavers.

Nobody knows any of it beforehand. The planner goes by what the service goes by: after every mark it plans again for
30 ms of CPU time on top of the plan from before, leaves it to the simple rule where that gets as much with time to
spare, and thinks on while the line is watched, not knowing what will come of it: for 300 ms here, a third of what the
service takes. A coach with a clipboard goes skill by skill (all first shows, then all second shows), in the order of
the list or with the most valuable skills first. Ticks of the same lessons are compared, and with what nobody can exceed
who knows all of it beforehand (our bound for the shows that will pass, at their true lengths).

    python tests/bench/simulated_lessons.py [LESSONS] [MILLISECONDS] [MILLISECONDS WHILE A LINE IS WATCHED]

Goals: 1.45 times the coach's ticks, 1.10 times those of the order by value, 90 % of the clairvoyant's bound.
"""
from __future__ import annotations

import json
import statistics
import sys
from dataclasses import replace
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from random import Random
from time import process_time

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from bot.lesson.plan.bound import upper_bound
from bot.lesson.plan.files import read_problem
from bot.lesson.plan.planner import plan
from bot.lesson.plan.rule import better_by_rule, by_rule
from tests.lesson.plan.classes import draw


class Lesson:
    """One lesson, its chances drawn beforehand, so that each way of leading it meets the same."""

    def __init__(self, seed, **size):
        chance = Random(seed)
        self.seed, given = seed, draw(seed, **size)
        given["now"] = 0
        for one in given["watchers"]:
            for key in ("free", "at", "opened"):
                one.pop(key, None)
        for one in given["owed"]:
            for key in ("done", "prev_end"):
                one.pop(key, None)
            one["weight"] = 1
        self.end = given["minutes"] * 60
        self.come, self.gone = {}, {}
        for one in given["children"]:
            one.update({"from": 0, "until": self.end})
            one.pop("last_end", None)
            luck = chance.random()
            self.come[one["id"]] = chance.randrange(60, self.end // 3) if luck < 0.1 else 0
            self.gone[one["id"]] = chance.randrange(self.end // 2, self.end) if luck > 0.9 else self.end
        self.problem = read_problem(json.dumps(given))
        self.skills = {one.id: one for one in self.problem.skills}
        self.takes = {
            (one.id, number): round(show.seconds * chance.uniform(0.8, 1.2))
            for one in self.problem.skills for number, show in enumerate(one.shows, 1)
        }
        self.passes = {
            (one.child, one.skill, number): chance.random() < pass_
            for one in self.problem.owed for number, pass_ in enumerate(one.chances, 1)
        }

    def bound(self):
        """Ticks that nobody can exceed who knows all of it."""
        skills = tuple(
            replace(one, shows=tuple(
                replace(show, seconds=self.takes[one.id, number]) for number, show in enumerate(one.shows, 1)
            )) for one in self.problem.skills
        )
        children = tuple(
            replace(one, since=self.come[one.id], until=self.gone[one.id]) for one in self.problem.children
        )
        owed = tuple(
            replace(one, chances=(1.0,) * len(one.chances)) for one in self.problem.owed
            if all(self.passes[one.child, one.skill, number] for number in range(1, len(one.chances) + 1))
        )
        return upper_bound(replace(self.problem, skills=skills, children=children, owed=owed)) // 1000


class Hall:
    """The lesson as it goes: who is free when, what was seen, what is still owed."""

    def __init__(self, lesson):
        self.lesson, self.ticks, self.now = lesson, 0, 0
        self.free = {one.id: 0 for one in lesson.problem.watchers}
        self.at, self.opened = dict.fromkeys(self.free), {name: set() for name in self.free}
        self.busy, self.heavy = dict.fromkeys(lesson.come, 0), dict.fromkeys(lesson.come)
        self.owed = {(one.child, one.skill): one for one in lesson.problem.owed}

    def here(self, child):
        """Is the child in the hall just now?"""
        return self.lesson.come[child] <= self.now < self.lesson.gone[child]

    def ready(self, child, skill, number):
        """When a child may show, by what was shown."""
        rest, since = self.lesson.skills[skill].shows[number - 1].rest_before, self.busy[child]
        ends = [self.heavy[child], self.owed[child, skill].prev_end]
        return max([since, *(end + rest for end in ends if rest and end is not None)])

    def change(self, watcher, skill):
        one = self.lesson.skills[skill]
        return 0 if self.at[watcher] == skill else one.switch if skill in self.opened[watcher] else one.setup

    def watch(self, watcher, skill, number, children, start):
        """A line is watched; whoever leaves meanwhile is not seen."""
        lesson, end = self.lesson, start + self.lesson.takes[skill, number]
        self.free[watcher], self.at[watcher] = end, skill
        self.opened[watcher].add(skill)
        light = lesson.problem.light_rest and lesson.skills[skill].light
        for child in children:
            one = self.owed[child, skill]
            self.busy[child] = end
            self.heavy[child] = self.heavy[child] if light else end
            if end > min(lesson.gone[child], lesson.end):
                continue
            if not lesson.passes[child, skill, number]:
                del self.owed[child, skill]
            elif number == len(one.chances):
                self.ticks += 1
                del self.owed[child, skill]
            else:
                self.owed[child, skill] = replace(one, done=number, prev_end=end)

    def run(self, choose):
        """Until the end: whoever is free next asks whom to watch; None: nobody for the next ten seconds."""
        while min(self.free.values()) < self.lesson.end:
            watcher = min(self.free, key=lambda name: self.free[name])
            self.now = self.free[watcher]
            chosen = choose(self, watcher)
            if chosen is None:
                self.free[watcher] += 10
            else:
                self.watch(watcher, *chosen)
        return self.ticks


def clipboard(lesson, by_value):
    """Chooses as a coach does who goes skill by skill."""
    order = [one.id for one in lesson.problem.skills]
    if by_value:
        worth = {name: sum(one.value for one in lesson.problem.owed if one.skill == name) for name in order}
        order.sort(key=lambda name: -worth[name])
    doing = {}

    def choose(hall, watcher):
        while True:
            skill = doing.get(watcher)
            if skill is None:
                if not order:
                    return None
                skill = doing[watcher] = order.pop(0)
            for number, show in enumerate(lesson.skills[skill].shows, 1):
                waiting = [
                    child for (child, name), one in hall.owed.items()
                    if name == skill and one.done == number - 1 and hall.here(child)
                ]
                line = waiting[:show.group]
                if line:
                    soonest = hall.free[watcher] + hall.change(watcher, skill)
                    start = max([soonest, *(hall.ready(child, skill, number) for child in line)])
                    if start + show.seconds <= lesson.end:
                        return skill, number, line, start
            doing[watcher] = None

    return choose


class Planner:
    """Chooses as the service does, planned again before every line on top of the plan from before."""

    def __init__(self, milliseconds, watched):
        self.milliseconds, self.watched = milliseconds, watched
        self.before, self.chance, self.calls = None, Random(1), 0

    def problem(self, hall):
        """The rest of the lesson, as far as anybody knows it."""
        lesson = hall.lesson.problem
        watchers = tuple(
            replace(one, free=hall.free[one.id], at=hall.at[one.id], opened=frozenset(hall.opened[one.id]))
            for one in lesson.watchers
        )
        children = tuple(
            replace(one, since=max(hall.now, hall.busy[one.id]), last_end=hall.heavy[one.id])
            for one in lesson.children if hall.here(one.id)
        )
        there = {one.id for one in children}
        owed = tuple(one for one in hall.owed.values() if one.child in there)
        return replace(lesson, now=hall.now, watchers=watchers, children=children, owed=owed)

    def think(self, problem, milliseconds):
        """So much longer, on top of the plan from before."""
        began = process_time()
        return plan(problem, self.chance, lambda _: (process_time() - began) * 1000 / milliseconds, self.before)

    def __call__(self, hall, watcher):
        """The first turn of the better of plan and simple rule that this watcher has; what is left is kept."""
        problem = self.problem(hall)
        made, ruled = self.think(problem, 0.92 * self.milliseconds), by_rule(problem)
        self.calls += 1
        leads = better_by_rule(problem, made, ruled)
        chosen = ruled if leads else made
        mine = next((turn for turn in chosen.turns if turn.watcher == watcher), None)
        self.before = None if leads else replace(made, turns=tuple(turn for turn in made.turns if turn is not mine))
        if mine is None:
            return None
        if self.watched and not leads:
            self.before = self.think(under_way(problem, mine), self.watched)
        return mine.skill, mine.show, list(mine.children), mine.start


def under_way(problem, turn):
    """The same while a line is watched: as if all in it will pass, in as long as it should take."""
    skill = next(one for one in problem.skills if one.id == turn.skill)
    end, light = turn.start + skill.shows[turn.show - 1].seconds, problem.light_rest and skill.light
    return replace(
        problem,
        watchers=tuple(
            replace(one, free=end, at=skill.id, opened=one.opened | {skill.id}) if one.id == turn.watcher else one
            for one in problem.watchers
        ),
        children=tuple(
            replace(one, since=end, last_end=one.last_end if light else end) if one.id in turn.children else one
            for one in problem.children
        ),
        owed=tuple(
            replace(one, done=turn.show, prev_end=end) if in_it else one
            for one in problem.owed
            if not (in_it := one.child in turn.children and one.skill == skill.id) or turn.show < len(one.chances)
        ),
    )


def led(seed, milliseconds, watched):
    """One lesson led in all ways: its name, the ticks of each and the bound, and how many decisions it took."""
    chance = Random(seed)
    size = {
        "children": chance.randint(8, 24), "skills": chance.randint(8, 18), "minutes": chance.choice([20, 30, 45]),
        "watchers": chance.choice([1, 1, 2]),
    }
    lesson, planner = Lesson(seed, **size), Planner(milliseconds, watched)
    ticks = [Hall(lesson).run(way) for way in (clipboard(lesson, False), clipboard(lesson, True), planner)]
    name = f"{size['children']} × {size['skills']}, {size['minutes']} min, {size['watchers']}"
    return name, [*ticks, lesson.bound()], planner.calls


def main():
    given = dict(enumerate(sys.argv))
    count, milliseconds, watched = int(given.get(1, 24)), float(given.get(2, 30)), float(given.get(3, 300))
    rows, calls = [], 0
    print(f"{'lesson':28} {'coach':>6} {'value':>6} {'plan':>6} {'bound':>6}")
    with Pool() as pool:        # each thinks for so much CPU time, however many do at once
        for name, row, decisions in pool.imap(partial(led, milliseconds=milliseconds, watched=watched), range(count)):
            rows.append(row)
            calls += decisions
            print(f"{name:28} {row[0]:>6} {row[1]:>6} {row[2]:>6} {row[3]:>6}", flush=True)
    coach, value, ours, most = (statistics.mean(column) for column in zip(*rows, strict=True))
    print(f"\n{count} lessons, {calls} decisions of {milliseconds:.0f} ms, and {watched:.0f} ms for each line")
    print(f"ticks a lesson: coach {coach:.1f}, by value {value:.1f}, planned {ours:.1f}, bound {most:.1f}")
    for words, is_, goal in (
        ("times the coach's order", ours / coach, 1.45), ("times the order by value", ours / value, 1.10),
        ("of the clairvoyant's bound", ours / most, 0.90),
    ):
        print(f"{'met   ' if is_ >= goal else 'NOT met'} {is_:.3f} {words} (>= {goal:.2f})")


if __name__ == "__main__":
    main()
