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

SMALL = [(seed, watchers) for watchers in (1, 2) for seed in range(12)]


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


@pytest.mark.parametrize(("seed", "watchers"), SMALL)
def test_small_classes(optimum, seed, watchers):
    """Four children, three skills: the planner finds the proven optimum, and the bound is none below it."""
    problem = draw(1000 + seed, children=4, skills=3, watchers=watchers, minutes=5)
    best, proven = optimum(problem)
    assert proven
    made = plan(read_problem(json.dumps(problem)), Random(1), lambda done: done / 3000)
    assert best <= upper_bound(read_problem(json.dumps(problem)))
    assert made.value == best
