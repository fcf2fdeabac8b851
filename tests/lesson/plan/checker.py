"""Does a plan keep the rules of `class-plan/1`, and what is it worth? An independent checker.

The logic of the stand-alone checker that goes with the file format, rule by rule; it works on the files as they are
and imports nothing of the program, so that no slip of the planner can hide in it.
"""
from __future__ import annotations

from collections import defaultdict
from itertools import pairwise


def check(problem, plan):
    """(errors, score) of a plan. score: value, ticks_planned, expected_ticks, finish."""
    errors = []
    turns = [_Seen(problem, turn, at, errors) for at, turn in enumerate(plan["turns"])]
    if errors:
        return errors, None
    _lines(problem, turns, errors)
    _watchers(problem, turns, errors)
    _children(problem, turns, errors)
    return errors, _chains(problem, turns, errors)


class _Seen:
    """A turn with its times."""

    def __init__(self, problem, turn, at, errors):
        skills = {one["id"]: one for one in problem["skills"]}
        self.name, self.skill, self.start = f"turn {at}", turn["skill"], turn["start"]
        self.number, self.children, self.watcher = turn["show"], turn["children"], turn["watcher"]
        if type(turn["start"]) is not int or type(turn["show"]) is not int:
            errors.append(f"{self.name}: start and show must be whole numbers")
        elif self.skill not in skills or not 1 <= self.number <= len(skills[self.skill]["shows"]):
            errors.append(f"{self.name}: no such skill or show")
        elif self.watcher not in {one["id"] for one in problem["watchers"]}:
            errors.append(f"{self.name}: unknown watcher")
        else:
            self.of = skills[self.skill]
            self.show = self.of["shows"][self.number - 1]
            self.end = self.start + self.show["seconds"]
            self.rest = self.show["rest_before"]


def _lines(problem, turns, errors):
    """Rule 1: who may stand in a line, and when."""
    end = problem["minutes"] * 60
    who = {one["id"]: one for one in problem["children"]}
    owed = {(one["child"], one["skill"]) for one in problem["owed"]}
    for turn in turns:
        if not 1 <= len(turn.children) <= turn.show["group"] or len(set(turn.children)) != len(turn.children):
            errors.append(f"{turn.name}: a line of {turn.children}")
        if turn.start < problem.get("now", 0) or turn.end > end:
            errors.append(f"{turn.name}: outside the lesson")
        for child in turn.children:
            if (child, turn.skill) not in owed:
                errors.append(f"{turn.name}: {child} does not owe {turn.skill}")
            elif turn.start < who[child].get("from", 0) or turn.end > who[child].get("until", end):
                errors.append(f"{turn.name}: {child} is not there")


def _watchers(problem, turns, errors):
    """Rule 2: one line at a time, and the way between."""
    for watcher in problem["watchers"]:
        free = max(problem.get("now", 0), watcher.get("free", 0))
        at, opened = watcher.get("at"), set(watcher.get("opened", []))
        for turn in sorted((one for one in turns if one.watcher == watcher["id"]), key=lambda one: one.start):
            change = turn.of["switch"] if turn.skill in opened else turn.of["setup"]
            if turn.start < free + (0 if turn.skill == at else change):
                errors.append(f"{turn.name}: {watcher['id']} is not ready")
            free, at = max(free, turn.end), turn.skill
            opened.add(turn.skill)


def _children(problem, turns, errors):
    """Rules 3 and 4: one show at a time, rested before each."""
    light_rest = problem.get("rest", "real") == "light"
    for child in problem["children"]:
        mine = sorted((one for one in turns if child["id"] in one.children), key=lambda one: (one.start, one.end))
        last = child.get("last_end")
        for at, turn in enumerate(mine):
            if turn.rest and last is not None and turn.start < last + turn.rest:
                errors.append(f"{turn.name}: {child['id']} still rests from before")
            for before in mine[:at]:
                rests = before.skill == turn.skill or not (light_rest and before.of.get("light"))
                if turn.start < before.end + (turn.rest if rests else 0):
                    errors.append(f"{turn.name}: {child['id']} comes too soon after {before.skill}")


def _chains(problem, turns, errors):
    """Rules 3 and 5, and the score."""
    ends, shows = defaultdict(list), {one["id"]: one["shows"] for one in problem["skills"]}
    for turn in turns:
        for child in turn.children:
            ends[child, turn.skill, turn.number].append((turn.start, turn.end))
    errors += [f"{key}: shown twice" for key, times in ends.items() if len(times) > 1]
    value = ticks = expected = 0
    for one in problem["owed"]:
        chain, done = shows[one["skill"]], one.get("done", 0)
        times = [ends.get((one["child"], one["skill"], number)) for number in range(1, len(chain) + 1)]
        if any(times[:done]):
            errors.append(f"{one}: shown already")
        times = [(None, one.get("prev_end"))] * bool(done) + [None if not row else row[0] for row in times[done:]]
        for (before, after), show in zip(pairwise(times), chain[len(chain) - len(times) + 1:], strict=True):
            if after is not None and before is None:
                errors.append(f"{one}: a show without the one before it")
            elif after is not None and before[1] is not None and after[0] < before[1] + show["rest_before"]:
                errors.append(f"{one}: the rest is too short")
        if done < len(chain) and all(times):
            chance = 1.0
            for passes in one["pass"][done:]:
                chance *= passes
            ticks, expected, value = ticks + 1, expected + chance, value + round(1000 * one["weight"] * chance)
    finish = max((turn.end for turn in turns), default=problem.get("now", 0))
    return {"value": value, "ticks_planned": ticks, "expected_ticks": round(expected, 3), "finish": finish}
