"""`sprung plan`: a planning file in, a plan out. The clock is read here; what makes the plan is `bot/lesson/plan/`."""
from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from random import Random
from time import perf_counter

from bot.lesson.plan.bound import upper_bound
from bot.lesson.plan.files import PlanErrors, read_problem, write_plan
from bot.lesson.plan.model import Plan, Problem
from bot.lesson.plan.planner import plan

AFTER = 0.9        # the share of the time after which the search ends; the rest is for writing the plan down


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan, as its file, and in a sentence."""

    problem: Problem
    plan: Plan
    file: str
    words: str


def planned(file: Path, milliseconds: float, trials: int | None, seed: int, bound: bool = False) -> Planned:
    """Read a planning file and plan it: for so long, or, where it must be the same again, for so many trials.

    `bound`: say also what no plan can exceed, which takes a tenth of a second more. Raises PlanErrors with all that is
    wrong in the file.
    """
    try:
        problem = read_problem(file.read_text(encoding="utf-8-sig"))
    except UnicodeDecodeError:
        raise PlanErrors([f"{file} is not in UTF-8; save it again with that encoding."]) from None
    began = perf_counter()

    def used(done: int) -> float:
        if trials is not None:
            return done / max(1, trials)
        return (perf_counter() - began) * 1000 / max(0.001, milliseconds * AFTER)

    made = plan(problem, Random(seed), used)
    most = upper_bound(problem) if bound else None
    return Planned(problem, made, write_plan(made), _words(made, most))


def _words(made: Plan, most: int | None) -> str:
    if not made.turns:
        return "Nobody can be watched in the time that is left."
    turns = f"{len(made.turns)} turns" if len(made.turns) > 1 else "One turn"
    minutes, seconds = divmod(made.finish, 60)
    worth = f"{made.value / 1000:.1f}" + ("" if most is None else f" of at most {most / 1000:.1f}")
    return f"{turns}, worth {worth} expected ticks by weight; the last ends at {minutes}:{seconds:02}."
