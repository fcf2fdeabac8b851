"""The parts of the planner: the knapsack, the bound, the orders to begin with, the plan from before."""
from __future__ import annotations

import json
from dataclasses import replace
from itertools import product
from pathlib import Path
from random import Random

import pytest

from bot.lesson.plan.beam import Beam
from bot.lesson.plan.bound import upper_bound
from bot.lesson.plan.files import read_problem
from bot.lesson.plan.knapsack import fill
from bot.lesson.plan.model import Plan
from bot.lesson.plan.orders import by_value, everybody, interleaved
from bot.lesson.plan.planner import plan
from bot.lesson.plan.table import ANYBODY, Table
from bot.lesson.plan.timetable import beginning, extend, put
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


@pytest.mark.parametrize("seed", range(12))
def test_a_timetable_knows_how_it_stands(seed):
    """Cut off anywhere, it says who is free when and where, what was opened and who owes what, as turn by turn."""
    table = Table(read_problem(json.dumps(draw(seed, children=10, skills=8, minutes=20))))
    order = interleaved(table, by_value(table), everybody(table), 2, ANYBODY)
    past, whole = len(table.past), extend(table, beginning(table), len(table.past), order, table.end)
    made = beginning(table)
    for entry in range(past, len(whole.steps) + 1):
        cut = extend(table, whole, entry, [], table.end)
        assert (cut.free, cut.at, cut.opened, cut.owe[:-1]) == (made.free, made.at, made.opened, made.owe[:-1])
        assert cut.values == made.values
        if entry < len(whole.steps):
            step = whole.steps[entry]
            put(table, made, step, whole.lines[entry], whole.ends[entry] - table.steps[step][4])
    assert len(whole.steps) > past


@pytest.mark.parametrize("seed", range(8))
def test_the_rest_of_a_plan_is_laid_anew(seed):
    """What came before stays as it is; shaken prices make other plans of the rest, and leave the first ones alone."""
    table = Table(read_problem(json.dumps(draw(seed, children=12, skills=12, minutes=20))))
    filled = fill(table, table.room)
    beam, chance = Beam(table, filled, max(filled.price, filled.value / table.room / 5)), Random(seed)
    whole = beam.best(lambda: 1)
    kept = (len(table.past) + len(whole.steps)) // 2
    start = extend(table, whole, kept, [], table.end)
    stood = start.free[:], start.at[:], start.opened, start.owe[:]
    others = [beam.shaken(chance.random).best(lambda: 1, start) for _ in range(20)]
    for other in others:
        assert (other.steps[:kept], other.lines[:kept]) == (whole.steps[:kept], whole.lines[:kept])
    assert (start.free, start.at, start.opened, start.owe) == stood
    assert len({(*other.steps, *other.lines) for other in others}) > 1
    assert beam.best(lambda: 1).steps == whole.steps


def test_more_is_tried_where_several_watch_and_there_is_patience():
    """A beam search that used up little is made once more, so much wider; one that used up 2 fifths of it is not."""
    def looked(problem, patience):
        looks = 0

        def used(trials):
            nonlocal looks
            looks += 1
            return 1.0 if trials else looks / patience

        return plan(problem, Random(0), used).value, looks

    narrow, wide = [], []
    for seed in range(100, 106):
        problem = read_problem(json.dumps(draw(seed, children=14, skills=14, watchers=2, minutes=20)))
        (value, looks), (better, more) = looked(problem, 200), looked(problem, 2000)
        assert looks < 100 < 1.5 * looks < more
        narrow.append(value)
        wide.append(better)
    assert sum(wide) > sum(narrow)


def test_a_patience_that_ends_early_is_not_waited_for():
    """Where it is used up while the first of several beginnings is searched, the others are not."""
    problem = read_problem((DATA / "n6_k16_m1_t30_1005.json").read_text("utf-8"))
    asked = []
    assert plan(problem, Random(0), lambda trials: asked.append(trials) or float(trials > 0)).turns
    assert max(asked) < 10


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
