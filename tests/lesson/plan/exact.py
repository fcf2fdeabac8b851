"""The best plan there is, proven by OR-Tools CP-SAT: a model of `class-plan/1` of its own, for classes of a few children.

It is written from the rules of the format and shares nothing with the planner. Each skill and show has as many optional
turns as children may need; a circuit for each watcher puts them in a row; children choose turns.
"""
from __future__ import annotations

from itertools import combinations

from ortools.sat.python import cp_model


def optimum(problem, seconds=60):
    """(value, is it proven) of the best plan."""
    return _Model(problem).solve(seconds)


class _Model:
    def __init__(self, problem):
        self.problem, self.model = problem, cp_model.CpModel()
        self.end, self.now = problem["minutes"] * 60, problem.get("now", 0)
        self.skills = {one["id"]: one for one in problem["skills"]}
        self.who = {one["id"]: one for one in problem["children"]}
        self.light = problem.get("rest") == "light"
        self.turns = []         # (skill, show, start, present)
        self.stands = {}        # (turn, child) → chosen
        self.value = self._chains()
        self._children()
        for watcher in problem["watchers"]:
            self._watcher(watcher)
        for at, (_, _, _, present) in enumerate(self.turns):
            self.model.add(sum(self.by[watcher["id"], at] for watcher in problem["watchers"]) == present)

    def solve(self, seconds):
        self.model.maximize(self.value)
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = seconds
        solver.parameters.num_workers = 2
        status = solver.solve(self.model)
        return round(solver.objective_value), status == cp_model.OPTIMAL

    def _seconds(self, turn):
        return self.skills[self.turns[turn][0]]["shows"][self.turns[turn][1]]["seconds"]

    def _chains(self):
        """Who owes what chooses a turn for each show, or none at all."""
        value, self.by = 0, {}
        for name, skill in self.skills.items():
            owing = [one for one in self.problem["owed"] if one["skill"] == name]
            taken = {}
            for one in owing:
                taken[one["child"]] = self.model.new_bool_var("")
                worth = 1.0
                for chance in one["pass"][one.get("done", 0):]:
                    worth *= chance
                value += round(1000 * one["weight"] * worth) * taken[one["child"]]
            for number, show in enumerate(skill["shows"]):
                here = [one for one in owing if one.get("done", 0) <= number]
                self._slots(name, number, show, here, taken)
        return value

    def _slots(self, name, number, show, owing, taken):
        slots = range(len(self.turns), len(self.turns) + len(owing))
        for turn in slots:
            start = self.model.new_int_var(self.now, max(self.now, self.end - show["seconds"]), "")
            present = self.model.new_bool_var("")
            self.turns.append((name, number, start, present))
            line = [self.model.new_bool_var("") for _ in owing]
            self.stands.update({(turn, one["child"]): chosen for one, chosen in zip(owing, line, strict=True)})
            self.model.add(sum(line) <= show["group"])
            self.model.add_max_equality(present, line)
        for one in owing:
            self.model.add(sum(self.stands[turn, one["child"]] for turn in slots) == taken[one["child"]])

    def _children(self):
        for name, child in self.who.items():
            mine = [turn for turn in range(len(self.turns)) if (turn, name) in self.stands]
            for turn in mine:
                skill, number, start, _ = self.turns[turn]
                stands = self.stands[turn, name]
                since, rest = child.get("from", 0), self.skills[skill]["shows"][number]["rest_before"]
                if rest and child.get("last_end") is not None:
                    since = max(since, child["last_end"] + rest)
                for one in self.problem["owed"]:
                    if (one["child"], one["skill"]) == (name, skill) and one.get("prev_end") is not None and number:
                        since = max(since, one["prev_end"] + rest)
                self.model.add(start >= since).only_enforce_if(stands)
                self.model.add(start + self._seconds(turn) <= child.get("until", self.end)).only_enforce_if(stands)
            for one, other in combinations(mine, 2):
                self._apart(one, other, (self.stands[one, name], self.stands[other, name]))

    def _apart(self, one, other, both):
        """Two shows of a child: one after the other, with the rest; the second of a skill after the first."""
        if self.turns[one][:2] == self.turns[other][:2]:
            return
        first = self.model.new_bool_var("")
        if self.turns[one][0] == self.turns[other][0]:
            self.model.add(first == (1 if self.turns[one][1] < self.turns[other][1] else 0))
        for before, after, order in ((one, other, first), (other, one, first.negated())):
            skill, number = self.turns[after][:2]
            rest = self.skills[skill]["shows"][number]["rest_before"]
            former = self.turns[before][0]
            if former != skill and self.light and self.skills[former].get("light"):
                rest = 0
            self.model.add(
                self.turns[after][2] >= self.turns[before][2] + self._seconds(before) + rest
            ).only_enforce_if(order, *both)

    def _watcher(self, watcher):
        arcs, opened = [], set(watcher.get("opened", []))
        free, at = max(self.now, watcher.get("free", 0)), watcher.get("at")
        mine = [self.model.new_bool_var("") for _ in self.turns]
        self.by.update({(watcher["id"], turn): one for turn, one in enumerate(mine)})
        opens = [self.model.new_bool_var("") for _ in self.turns]
        for name in self.skills:
            turns = [turn for turn, one in enumerate(self.turns) if one[0] == name]
            for turn in turns:
                self.model.add_implication(opens[turn], mine[turn])
                if name in opened:
                    self.model.add(opens[turn] == 0)
                    continue
                for other in turns:
                    self.model.add(self.turns[turn][2] <= self.turns[other][2]).only_enforce_if(
                        opens[turn], mine[other])
            if name not in opened and turns:
                some = self.model.new_bool_var("")
                self.model.add_max_equality(some, [mine[turn] for turn in turns])
                self.model.add(sum(opens[turn] for turn in turns) == some)
        idle = self.model.new_bool_var("")
        arcs.append((0, 0, idle))
        for turn, (name, _, start, _) in enumerate(self.turns):
            arcs.append((turn + 1, turn + 1, mine[turn].negated()))
            self.model.add_implication(idle, mine[turn].negated())
            for before in (None, *range(len(self.turns))):
                if before == turn:
                    continue
                arc = self.model.new_bool_var("")
                arcs.append((0 if before is None else before + 1, turn + 1, arc))
                former = at if before is None else self.turns[before][0]
                since = free if before is None else self.turns[before][2] + self._seconds(before)
                skill = self.skills[name]
                if former == name:
                    self.model.add(start >= since).only_enforce_if(arc)
                else:
                    self.model.add(start >= since + skill["setup"]).only_enforce_if(arc, opens[turn])
                    self.model.add(start >= since + skill["switch"]).only_enforce_if(arc, opens[turn].negated())
            arcs.append((turn + 1, 0, self.model.new_bool_var("")))
        self.model.add_circuit(arcs)
