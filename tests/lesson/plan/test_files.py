"""The planning file: what is wrong in it is said in a sentence each, and nothing else is refused."""
from __future__ import annotations

import json
from copy import deepcopy

import pytest

from bot.lesson.plan.files import PlanErrors, read_problem, write_plan
from bot.lesson.plan.model import Plan, Turn
from tests.lesson.plan.classes import draw

GOOD = {
    "format": "class-plan/1", "minutes": 20,
    "watchers": [{"id": "w1"}],
    "children": [{"id": "c1"}, {"id": "c2", "from": 60, "until": 900, "last_end": 5}],
    "skills": [
        {"id": "s1", "light": False, "setup": 30, "switch": 5, "shows": [
            {"seconds": 20, "rest_before": 0, "group": 4}, {"seconds": 20, "rest_before": 60, "group": 4}]},
        {"id": "s2", "setup": 0, "switch": 0, "shows": [{"seconds": 10, "group": 1}]},
    ],
    "owed": [
        {"child": "c1", "skill": "s1", "weight": 2, "pass": [0.9, 1]},
        {"child": "c2", "skill": "s1", "weight": 0.5, "pass": [0.9, 0.5], "done": 1, "prev_end": 0},
    ],
}


def test_what_may_be_left_out():
    """Optional keys have the meaning that the format gives them; unknown ones are passed over."""
    given = deepcopy(GOOD) | {"bounds": {"upper": 1}, "name": "x"}
    problem = read_problem(json.dumps(given))
    assert (problem.now, problem.light_rest, problem.end) == (0, False, 1200)
    assert [(one.since, one.until, one.last_end) for one in problem.children] == [(0, 1200, None), (60, 900, 5)]
    assert [one.value for one in problem.owed] == [1800, 250]


@pytest.mark.parametrize(("path", "value", "says"), [
    (("format",), "class-plan/2", 'The file must say "format": "class-plan/1".'),
    (("minutes",), 0, "The lesson: minutes must be a whole number from 1 to 1440."),
    (("minutes",), 20.5, "The lesson: minutes must be a whole number from 1 to 1440."),
    (("now",), -1, "The lesson: now must be a whole number from 0 to 604800."),
    (("rest",), "some", "The lesson: rest must be real or light."),
    (("watchers",), {}, "watchers must be a list."),
    (("watchers", 0), 7, "watchers[0] must be an object."),
    (("watchers", 0, "at"), "s9", 'watchers[0]: there is no skill "s9".'),
    (("watchers", 0, "opened"), "s1", "watchers[0]: opened must be a list of skills."),
    (("children", 1, "id"), "", "children[1]: id must be a name."),
    (("children", 1, "id"), "c1", "children: c1 stands there more than once."),
    (("children", 0, "from"), True, "children[0]: from must be a whole number from 0 to 604800."),
    (("skills", 0, "light"), "no", "skills[0]: light must be true or false."),
    (("skills", 1, "shows"), [], "skills[1]: shows must be one or two, not 0."),
    (("skills", 1, "shows", 0, "group"), 0, "skills[1].shows[0]: group must be a whole number from 1 to 604800."),
    (("owed", 0, "child"), "c9", 'owed[0]: there is no child "c9".'),
    (("owed", 0, "weight"), -1, "owed[0]: weight must be a number that is not negative."),
    (("owed", 0, "pass"), [0.9], "owed[0]: pass has 1 chances, but s1 has 2 shows."),
    (("owed", 0, "pass"), [0.9, 1.1], "owed[0]: pass must be a list of chances from 0 to 1."),
    (("owed", 1, "done"), 3, "owed[1]: done says 3, but s1 has 2 shows."),
    (("owed", 1, "child"), "c1", "owed: c1 s1 stands there more than once."),
])
def test_what_is_wrong_is_said(path, value, says):
    """One slip, a sentence that says where it is and what would be right."""
    given = deepcopy(GOOD)
    place = given
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    with pytest.raises(PlanErrors) as wrong:
        read_problem(json.dumps(given))
    assert says in wrong.value.lines


@pytest.mark.parametrize("text", ["", "[", "[]", "null", '{"format": "class-plan/1"}', "[" * 100_000])
def test_no_planning_file_at_all(text):
    """Anything else is refused in words."""
    with pytest.raises(PlanErrors) as wrong:
        read_problem(text)
    assert all(line.endswith(".") for line in wrong.value.lines)


def test_all_that_is_wrong_is_said_at_once():
    """Several slips, several sentences."""
    given = deepcopy(GOOD)
    given["minutes"], given["owed"][0]["skill"], given["skills"][1]["setup"] = None, "s7", 1.5
    with pytest.raises(PlanErrors) as wrong:
        read_problem(json.dumps(given))
    assert len(wrong.value.lines) == 3


def test_a_drawn_class_is_read():
    """Nothing is lost on the way in."""
    given = draw(5)
    problem = read_problem(json.dumps(given))
    assert len(problem.owed) == len(given["owed"])
    assert {one.id for one in problem.skills} == {one["id"] for one in given["skills"]}


def test_a_plan_is_written():
    """A plan's file holds its turns and nothing else."""
    made = Plan((Turn(30, "w1", "s1", 2, ("c1", "č2")),), 1800, 50)
    assert json.loads(write_plan(made)) == {
        "turns": [{"start": 30, "watcher": "w1", "skill": "s1", "show": 2, "children": ["c1", "č2"]}],
    }
