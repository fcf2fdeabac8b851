"""The parts of the planner: the knapsack, the bound, the orders to begin with, the plan from before."""
from __future__ import annotations

import json
from dataclasses import replace
from itertools import product
from pathlib import Path
from random import Random

import pytest

from bot.lesson.plan.bound import upper_bound
from bot.lesson.plan.files import read_problem
from bot.lesson.plan.knapsack import fill
from bot.lesson.plan.model import Plan
from bot.lesson.plan.planner import plan
from bot.lesson.plan.table import Table
from tests.lesson.plan.classes import draw

DATA = Path(__file__).parent / "data"
EXAMPLES = sorted(DATA.glob("n*.json"))


def trials(count):
    return lambda done: done / count


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_bound_is_none(path):
    """The best plan known of each published class is worth no more than our bound; ours is at most 1 % above theirs."""
    text = path.read_text("utf-8")
    bounds, ours = json.loads(text)["bounds"], upper_bound(read_problem(text))
    assert bounds["lower"] <= ours <= bounds["upper"] * 1.01


@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_no_plan_exceeds_the_bound(seed):
    """Nor does any plan that is found."""
    problem = read_problem(json.dumps(draw(seed)))
    assert plan(problem, Random(1), trials(800)).value <= upper_bound(problem, rounds=40)


@pytest.mark.parametrize("seed", range(12))
def test_the_knapsack_is_no_less_than_any_choice(seed):
    """Every choice of how many children on each of three skills, tried one by one, is worth no more."""
    table = Table(read_problem(json.dumps(draw(seed, children=4, skills=3, watchers=1, minutes=5) | {"now": 0})))
    ranked = [sorted(row, reverse=True) for row in table.value]
    owing = [table.owe[2 * skill].bit_count() for skill in range(3)]
    best = 0
    for counts in product(*(range(count + 1) for count in owing)):
        seconds = sum(
            table.setup[skill] + table.watching(skill, count, count) + table.returning(skill, count) * table.two[skill]
            for skill, count in enumerate(counts) if count
        )
        if seconds <= table.room:
            best = max(best, sum(sum(row[:count]) for row, count in zip(ranked, counts, strict=True)))
    assert best <= fill(table, table.room).value + 1e-6


@pytest.mark.parametrize("path", EXAMPLES[2:6], ids=lambda path: path.stem)
def test_the_plan_from_before_is_where_it_goes_on(path):
    """With next to no patience left the plan from before is kept, or bettered; it is never lost."""
    problem = read_problem(path.read_text("utf-8"))
    long = plan(problem, Random(0), trials(2500))
    short = plan(problem, Random(0), trials(1))
    again = plan(problem, Random(0), trials(1), long)
    assert short.value < again.value
    assert again.value >= 0.97 * long.value


def test_a_plan_from_before_that_fits_no_more():
    """Turns of skills and watchers that are gone are passed over."""
    problem = read_problem(json.dumps(draw(3, watchers=2, skills=6, children=8, minutes=20)))
    before = plan(problem, Random(0), trials(100))
    fewer = replace(
        problem, watchers=problem.watchers[:1], skills=problem.skills[1:],
        owed=tuple(one for one in problem.owed if one.skill != problem.skills[0].id),
    )
    fewer = replace(fewer, watchers=(replace(fewer.watchers[0], at=None, opened=frozenset()),))
    assert plan(fewer, Random(0), trials(50), before).turns


@pytest.mark.parametrize("less", ["watchers", "children", "owed"])
def test_nobody_to_watch(less):
    """Without watchers, children, or anything owed there is an empty plan, which ends now."""
    given = draw(4) | {less: []}
    given["owed"] = given["owed"] if less == "watchers" else []
    problem = read_problem(json.dumps(given))
    assert plan(problem, Random(0), trials(10)) == Plan((), 0, problem.now)
    assert upper_bound(problem) == 0


def test_a_lesson_that_is_over():
    """Nothing is planned after the end."""
    given = draw(6, minutes=20, watchers=1) | {"now": 1200}
    assert not plan(read_problem(json.dumps(given)), Random(0), trials(10)).turns


def test_time_to_spare_is_used_up_for_the_finish():
    """Where all can be watched, the plan is as short as it can be made: the proven optimum of one published class."""
    text = (DATA / "n6_k8_m1_t30_1002.json").read_text("utf-8")
    made = plan(read_problem(text), Random(0), trials(6000))
    assert made.value == 25349
    assert made.finish <= json.loads(text)["bounds"]["finish_of_best"]
