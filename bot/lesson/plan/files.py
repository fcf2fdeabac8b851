"""The planning problem as JSON and back: `class-plan/1`. Reads and writes text; opens no file."""
from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Mapping
from math import isfinite
from typing import Any, TypeVar

from bot.lesson.plan.model import Child, Owed, Plan, Problem, Show, Skill, Watcher

FORMAT = "class-plan/1"
WEEK, DAY = 7 * 24 * 3600, 24 * 60      # seconds, minutes: what is longer is a slip
RESTS = {"real": False, "light": True}
T = TypeVar("T")


class PlanErrors(Exception):
    """What is wrong with a planning file: `lines`, a sentence each."""

    def __init__(self, lines: Iterable[str]) -> None:
        self.lines = tuple(lines)
        super().__init__("\n".join(self.lines))


def read_problem(text: str) -> Problem:
    """The problem in a file. Unknown keys are passed over. Raises PlanErrors with all that is wrong."""
    try:
        given = json.loads(text)
    except (ValueError, RecursionError) as wrong:
        raise PlanErrors([f"This is not JSON: {wrong}."]) from None
    reader = _Reader()
    problem = reader.problem(given)
    if reader.wrong or problem is None:
        raise PlanErrors(reader.wrong)
    return problem


def write_plan(plan: Plan) -> str:
    """A plan as its file."""
    turns = [
        {
            "start": turn.start, "watcher": turn.watcher, "skill": turn.skill, "show": turn.show,
            "children": list(turn.children),
        }
        for turn in plan.turns
    ]
    return json.dumps({"turns": turns}, ensure_ascii=False, indent=1) + "\n"


class _Reader:
    """Reads value by value and collects what is wrong; a wrong value reads as a harmless one."""

    def __init__(self) -> None:
        self.wrong: list[str] = []

    def problem(self, given: Any) -> Problem | None:
        if not isinstance(given, dict):
            self.wrong.append("A planning file is one JSON object.")
            return None
        if given.get("format") != FORMAT:
            self.wrong.append(f'The file must say "format": "{FORMAT}".')
            return None
        minutes = self.whole(given, "minutes", "The lesson", least=1, most=DAY)
        end = minutes * 60
        skills = self.each(given, "skills", self.skill)
        children = self.each(given, "children", lambda one, name: self.child(one, name, end))
        known = {one.id: one for one in skills}
        watchers = self.each(given, "watchers", lambda one, name: self.watcher(one, name, known))
        who = {one.id for one in children}
        owed = self.each(given, "owed", lambda one, name: self.owed(one, name, who, known))
        for kind, ids in (
            ("watchers", [one.id for one in watchers]), ("children", [one.id for one in children]),
            ("skills", [one.id for one in skills]), ("owed", [f"{one.child} {one.skill}" for one in owed]),
        ):
            self.once(kind, ids)
        return Problem(
            minutes, self.whole(given, "now", "The lesson", 0),
            self.one_of(given, "rest", "The lesson", RESTS), watchers, children, skills, owed,
        )

    def each(self, given: Mapping[str, Any], key: str, read: Callable[[Any, str], T]) -> tuple[T, ...]:
        rows = given.get(key)
        if not isinstance(rows, list):
            self.wrong.append(f"{key} must be a list.")
            return ()
        found = []
        for at, row in enumerate(rows):
            if isinstance(row, dict):
                found.append(read(row, f"{key}[{at}]"))
            else:
                self.wrong.append(f"{key}[{at}] must be an object.")
        return tuple(found)

    def watcher(self, row: Mapping[str, Any], name: str, skills: Mapping[str, Skill]) -> Watcher:
        at, opened = row.get("at"), row.get("opened", [])
        if not isinstance(opened, list):
            self.wrong.append(f"{name}: opened must be a list of skills.")
            opened = []
        for skill in [*([] if at is None else [at]), *opened]:
            self.known(skill, skills, "skill", name)
        return Watcher(
            self.text(row, "id", name), self.whole(row, "free", name, 0), at,
            frozenset(skill for skill in opened if isinstance(skill, str)),
        )

    def child(self, row: Mapping[str, Any], name: str, end: int) -> Child:
        last = None if row.get("last_end") is None else self.whole(row, "last_end", name)
        return Child(
            self.text(row, "id", name), self.whole(row, "from", name, 0), self.whole(row, "until", name, end), last,
        )

    def skill(self, row: Mapping[str, Any], name: str) -> Skill:
        light = row.get("light", False)
        if not isinstance(light, bool):
            self.wrong.append(f"{name}: light must be true or false.")
            light = False
        shows = self.each(row, "shows", lambda show, at: self.show(show, f"{name}.{at}"))
        if len(shows) not in (1, 2):
            self.wrong.append(f"{name}: shows must be one or two, not {len(shows)}.")
        return Skill(
            self.text(row, "id", name), light, self.whole(row, "setup", name), self.whole(row, "switch", name), shows,
        )

    def show(self, row: Mapping[str, Any], name: str) -> Show:
        return Show(
            self.whole(row, "seconds", name, least=1), self.whole(row, "rest_before", name, 0),
            self.whole(row, "group", name, least=1),
        )

    def owed(
        self, row: Mapping[str, Any], name: str, children: Collection[str], skills: Mapping[str, Skill],
    ) -> Owed:
        child = self.known(row.get("child"), children, "child", name)
        skill = self.known(row.get("skill"), skills, "skill", name)
        shows = len(skills[skill].shows) if skill else 0
        weight: Any = row.get("weight")
        if not _number(weight) or weight < 0:
            self.wrong.append(f"{name}: weight must be a number that is not negative.")
            weight = 0.0
        chances = row.get("pass")
        if not isinstance(chances, list) or not all(_number(one) and 0 <= one <= 1 for one in chances):
            self.wrong.append(f"{name}: pass must be a list of chances from 0 to 1.")
            chances = []
        elif shows and len(chances) != shows:
            self.wrong.append(f"{name}: pass has {len(chances)} chances, but {skill} has {shows} shows.")
        done = self.whole(row, "done", name, 0)
        if shows and done > shows:
            self.wrong.append(f"{name}: done says {done}, but {skill} has {shows} shows.")
        ended = None if row.get("prev_end") is None else self.whole(row, "prev_end", name)
        return Owed(child, skill, weight, tuple(chances), done, ended)

    def known(self, value: Any, there: Collection[str], kind: str, name: str) -> str:
        """A name, if it is one of them."""
        if isinstance(value, str) and value in there:
            return value
        self.wrong.append(f"{name}: there is no {kind} {json.dumps(value)}.")
        return ""

    def once(self, kind: str, ids: list[str]) -> None:
        for twice in sorted({one for one in ids if ids.count(one) > 1}):
            self.wrong.append(f"{kind}: {twice} stands there more than once.")

    def text(self, row: Mapping[str, Any], key: str, name: str) -> str:
        value = row.get(key)
        if isinstance(value, str) and value:
            return value
        self.wrong.append(f"{name}: {key} must be a name.")
        return ""

    def whole(
        self, row: Mapping[str, Any], key: str, name: str, default: int | None = None, least: int = 0, most: int = WEEK,
    ) -> int:
        """A whole number (of seconds, minutes, children) from `least` to `most`."""
        value = row.get(key, default)
        if isinstance(value, int) and not isinstance(value, bool) and least <= value <= most:
            return value
        self.wrong.append(f"{name}: {key} must be a whole number from {least} to {most}.")
        return least

    def one_of(self, row: Mapping[str, Any], key: str, name: str, values: Mapping[str, T]) -> T:
        value = row.get(key, next(iter(values)))
        if isinstance(value, str) and value in values:
            return values[value]
        self.wrong.append(f"{name}: {key} must be {' or '.join(values)}.")
        return next(iter(values.values()))


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
