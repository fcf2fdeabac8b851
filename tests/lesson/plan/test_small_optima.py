"""Small classes against the best plan there is, proven by OR-Tools CP-SAT (a part of the tests, not of the program)."""
from __future__ import annotations

import json
import os
from random import Random

import pytest

from bot.lesson.plan.bound import upper_bound
from bot.lesson.plan.files import read_problem
from bot.lesson.plan.planner import plan
from tests.lesson.plan.classes import draw

SEEDS = range(8)
TRIALS = 3000


@pytest.fixture(scope="module")
def optimum():
    """The exact solver, or a skip with the reason."""
    try:
        from tests.lesson.plan.exact import optimum as found
    except ImportError as missing:
        if os.environ.get("SPRUNG_REQUIRE_ALL"):
            raise
        pytest.skip(f"OR-Tools is not installed: {missing}")
    return found


def found(optimum, seed, skills, watchers):
    """(value of our plan, proven optimum) of a class of three children and five minutes."""
    problem = draw(2000 + seed, children=3, skills=skills, watchers=watchers, minutes=5)
    best, proven = optimum(problem)
    assert proven
    ours = read_problem(json.dumps(problem))
    assert best <= upper_bound(ours)
    made = plan(ours, Random(1), lambda done: done / TRIALS)
    assert made.value <= best
    return made.value, best


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("watchers", [1, 2])
def test_three_skills(optimum, seed, watchers):
    """Three children, three skills: the planner finds the proven optimum, and the bound is none below it."""
    made, best = found(optimum, seed, 3, watchers)
    assert made == best


@pytest.mark.parametrize("watchers", [1, 2])
def test_four_skills(optimum, watchers):
    """Four skills: the optimum in most classes, and nineteen twentieths of it in all of them together."""
    pairs = [found(optimum, seed, 4, watchers) for seed in SEEDS]
    assert sum(made == best for made, best in pairs) > len(pairs) / 2
    assert sum(made for made, _ in pairs) >= 0.95 * sum(best for _, best in pairs)
