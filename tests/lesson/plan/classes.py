"""Classes to plan for, drawn at random, as their files are; and the orders of a coach with a clipboard."""
from __future__ import annotations

from random import Random

SIZES = {"children": (1, 24), "skills": (1, 18), "minutes": (5, 45)}


def draw(seed, children=None, skills=None, watchers=None, minutes=None):
    """A class: the same for the same seed. Late comers, early leavers, lessons that have begun, shows done already."""
    chance = Random(seed)
    children = children or chance.randint(*SIZES["children"])
    skills = skills or chance.randint(*SIZES["skills"])
    minutes = minutes or chance.choice([5, 10, 20, 30, 45])
    watchers = watchers or chance.choice([1, 1, 2])
    end, now = minutes * 60, chance.choice([0, 0, 0, chance.randrange(minutes * 30)])
    problem = {
        "format": "class-plan/1", "minutes": minutes, "now": now, "rest": chance.choice(["real", "light"]),
        "skills": [_skill(chance, f"s{at}") for at in range(1, skills + 1)],
        "watchers": [{"id": f"w{at}"} for at in range(1, watchers + 1)],
        "children": [_child(chance, f"c{at}", now, end) for at in range(1, children + 1)],
    }
    problem["owed"] = _owed(chance, problem, now)
    if now:
        for one in problem["watchers"]:
            opened = [skill["id"] for skill in problem["skills"] if chance.random() < 0.3]
            one.update(free=now + chance.choice([0, 0, 25]), opened=opened)
            if opened:
                one["at"] = chance.choice(opened)
    return problem


def _skill(chance, name):
    seconds, group = chance.choice([10, 15, 20, 25, 30, 40, 45, 60]), chance.choice([1, 1, 2, 3, 4, 5, 6])
    shows = [{"seconds": seconds, "rest_before": chance.choice([0] * 19 + [30]), "group": group}]
    if chance.random() < 0.6:
        unlike = chance.random() < 0.2
        shows.append({
            "seconds": chance.choice([10, 15, 20]) if unlike else seconds,
            "rest_before": chance.choice([30, 45, 60, 60, 90, 120, 150, 180]),
            "group": max(1, group + chance.choice([-1, 1])) if unlike else group,
        })
    return {
        "id": name, "light": chance.random() < 0.4, "setup": chance.choice([20, 25, 30, 40, 45, 60, 75, 90]),
        "switch": chance.choice([5, 8, 10]), "shows": shows,
    }


def _child(chance, name, now, end):
    one = {"id": name, "from": now, "until": end}
    luck = chance.random()
    if luck < 0.1:
        one["from"] = now + (end - now) * chance.choice([1, 2, 3]) // 6
    elif luck < 0.2:
        one["until"] = now + (end - now) * chance.choice([3, 4, 5]) // 6
    if now and chance.random() < 0.5:
        one["last_end"] = chance.randrange(now)
    return one


def _owed(chance, problem, now):
    rows = []
    for child in problem["children"]:
        share, weights = chance.uniform(0.3, 0.9), chance.choice([[1.0, 2.0], [0.5, 1.0, 2.0, 3.0, 4.0]])
        for skill in problem["skills"]:
            if chance.random() < share:
                passes = round(chance.uniform(0.5, 0.98), 2)
                row = {
                    "child": child["id"], "skill": skill["id"], "weight": chance.choice(weights),
                    "pass": [passes, min(0.98, round(passes + 0.05, 2))][:len(skill["shows"])],
                }
                if now and len(skill["shows"]) == 2 and child.get("last_end") and chance.random() < 0.15:
                    row.update(done=1, prev_end=child["last_end"])
                rows.append(row)
    return rows


def coach(problem, by_value=False):
    """As on a clipboard, written out line by line: skill by skill, all first shows, then all second shows.

    Lines are made up of the children as they are listed, of those who are here when it begins, and wait till all of
    them have rested; nobody begins what can't be ended. Each watcher takes the next skill when free.
    """
    skills = list(problem["skills"])
    if by_value:
        skills.sort(key=lambda skill: -_worth(problem, skill))
    free = {one["id"]: max(problem["now"], one.get("free", 0)) for one in problem["watchers"]}
    at = {one["id"]: one.get("at") for one in problem["watchers"]}
    opened = {one["id"]: set(one.get("opened", [])) for one in problem["watchers"]}
    book = _Book(problem)
    for skill in skills:
        watcher = min(free, key=lambda one: (free[one], one))
        begun = False
        for number, show in enumerate(skill["shows"], 1):
            waiting = book.waiting(skill, number)
            while waiting:
                change = 0
                if not begun and at[watcher] != skill["id"]:
                    change = skill["switch"] if skill["id"] in opened[watcher] else skill["setup"]
                line = book.line(waiting, skill, show, free[watcher] + change)
                if not line:
                    break
                start = max(free[watcher] + change, max(book.ready(child, skill, show) for child in line))
                waiting = [child for child in waiting if child not in line]
                if book.shown(line, watcher, skill, number, start):
                    free[watcher], at[watcher], begun = start + show["seconds"], skill["id"], True
                    opened[watcher].add(skill["id"])
    return {"turns": book.turns}


def _worth(problem, skill):
    value = 0
    for one in problem["owed"]:
        if one["skill"] == skill["id"] and one.get("done", 0) < len(skill["shows"]):
            chance = 1.0
            for passes in one["pass"][one.get("done", 0):]:
                chance *= passes
            value += round(1000 * one["weight"] * chance)
    return value


class _Book:
    """Who has shown what, and when."""

    def __init__(self, problem):
        self.problem, self.turns, self.ends = problem, [], {}
        self.who = {one["id"]: one for one in problem["children"]}
        self.skills = {one["id"]: one for one in problem["skills"]}
        self.light = problem["rest"] == "light"

    def waiting(self, skill, number):
        """Who owes this show, in the list's order."""
        return [
            one["child"] for one in self.problem["owed"]
            if one["skill"] == skill["id"]
            and number == 1 + max(one.get("done", 0), (one["child"], skill["id"], 1) in self.ends)
        ]

    def ready(self, child, skill, show):
        """From when on a child can show."""
        rest, since = show["rest_before"], self.who[child]["from"]
        if rest and self.who[child].get("last_end") is not None:
            since = max(since, self.who[child]["last_end"] + rest)
        since = max([since, *(
            one["prev_end"] + rest for one in self.problem["owed"]
            if one["child"] == child and one["skill"] == skill["id"] and one.get("prev_end") is not None
        )])
        for (who, other, _), end in self.ends.items():
            if who == child:
                rests = other == skill["id"] or not (self.light and self.skills[other]["light"])
                since = max(since, end + (rest if rests else 0))
        return since

    def line(self, waiting, skill, show, start):
        """The next line: those who can show soonest after the others, in the list's order."""
        here = [child for child in waiting if self.who[child]["from"] <= start]
        able = [
            child for child in here
            if max(start, self.ready(child, skill, show)) + show["seconds"] <= self.who[child]["until"]
        ]
        return able[:show["group"]]

    def shown(self, line, watcher, skill, number, start):
        """Write a line down, if all of it ends in time."""
        end = start + skill["shows"][number - 1]["seconds"]
        if end > min([self.problem["minutes"] * 60, *(self.who[child]["until"] for child in line)]):
            return False
        self.turns.append({
            "start": start, "watcher": watcher, "skill": skill["id"], "show": number, "children": list(line),
        })
        self.ends.update({(child, skill["id"], number): end for child in line})
        return True
