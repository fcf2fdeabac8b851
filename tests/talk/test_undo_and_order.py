"""Undo gives back exactly what was; and it does not matter in which order judged marks arrive."""
from __future__ import annotations

import itertools
import os
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.talk.hall import Hall

EXAMPLES = int(os.environ.get("SPRUNG_EXAMPLES", "25"))
QUICK = settings(max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))

WAYS = ["", 'after_a_miss = "same show"', "repeat_within = 7"]
BEFORE = ["ava seen stand", "ben not yet hop knees", "chidi seen wheel left", "dara seen medley galop", "mia away",
          "efa away", "red is ava ben", "ava, ben, chidi seen hop", "all seen", "not ava", "go", "next", "ben sits",
          "later ben 3 weeks", "finn seen hop; finn seen wheel; finn seen medley; finn seen stand"]
UNDOABLE = ["ava seen hop", "ben not yet stand hips", "ava, ben, chidi seen wheel", "chidi seen wheel right", "close",
            "efa away", "finn sits", "dara leaves 17:30", "ava no landings", "red is dara efa", "add Zoe Quill",
            "everyone", "all seen", "none yet", "not dara",
            "ava seen hop; ben seen medley polka"]


def opened(ways: str = "") -> Hall:
    hall = Hall(ways=ways)
    hall.say("jo", "start")
    return hall


def book(hall: Hall) -> tuple:
    """What is kept beside the export: the register, the groups, who is in the class, its pace."""
    of_class = hall.snapshot().books["tue"]
    lessons = [(one.id, one.is_open, one.registered, one.away, one.sits, dict(one.leaves), dict(one.spared))
               for one in of_class.lessons.values()]
    return dict(of_class.groups), sorted(of_class.children), dict(of_class.pace), lessons


@QUICK
@given(before=st.lists(st.tuples(st.sampled_from(BEFORE), st.sampled_from([0, 5, 61])), max_size=8),
       message=st.sampled_from(UNDOABLE), ways=st.sampled_from(WAYS))
def test_undo_restores_the_export_exactly(before, message, ways):
    """Whatever stood before: a message and its undo leave the export, the register, groups and pace as they were."""
    hall = opened(ways)
    for text, seconds in before:
        hall.say("jo", text)
        hall.wait(seconds)
    was, was_book = hall.export(), book(hall)
    seconds_now = hall.clock.now()
    hall.say("jo", message)
    recorded = (hall.export(), book(hall)) != (was, was_book)
    if recorded:
        hall.say("jo", "undo")
    assert hall.clock.now() - seconds_now < timedelta(seconds=1)
    assert hall.export() == was
    assert book(hall) == was_book
    hall.close()


def test_undo_again_and_again_leads_back_to_the_start():
    """Undo repeated takes back one message after another, to the opening of the lesson and no further."""
    hall = opened()
    states = [hall.export()]
    for text in ("everyone", "ava seen hop", "ben seen stand", "ava, chidi seen wheel", "close"):
        hall.say("jo", text)
        states.append(hall.export())
    for state in reversed(states[:-1]):
        hall.say("jo", "undo")
        assert hall.export() == state
    assert "nothing of yours" in hall.say("jo", "undo")[0].text
    hall.close()


JUDGED = [
    ("jo", "ava seen stand", 300), ("jo", "ava seen stand", 220), ("jo", "ben seen wheel left", 290),
    ("sam", "ben seen wheel right", 270), ("sam", "ava not yet hop", 260), ("jo", "ava seen hop", 200),
    ("jo", "chidi not yet stand hips", 250), ("jo", "chidi seen stand", 240), ("sam", "chidi seen stand", 100),
    ("jo", "dara seen medley galop", 180), ("jo", "dara seen medley", 175), ("sam", "dara seen medley", 60),
]


def standings_after(order, messages, ways: str) -> dict:
    """The standings after these messages arrived in that order, each with the time at which it was judged."""
    hall = opened(ways)
    hall.say("jo", "everyone")
    hall.clock.move_to(hall.clock.now() + timedelta(seconds=600))
    end = hall.clock.now()
    for n in order:
        person, text, ago = messages[n]
        hall.say(person, text, ago=ago - (end - hall.clock.now()).total_seconds())
    hall.clock.move_to(end + timedelta(seconds=60))
    found = {key: {k: v for k, v in state.items() if k != "due"} for key, state in hall.standings().items()}
    hall.close()
    return found


@QUICK
@given(order=st.permutations(range(len(JUDGED))), ways=st.sampled_from(WAYS))
def test_any_order_of_arrival_gives_the_same_standings(order, ways):
    """Judged marks of two people, delivered in any order: what they amount to is the same."""
    assert standings_after(order, JUDGED, ways) == standings_after(range(len(JUDGED)), JUDGED, ways)


@pytest.mark.parametrize("ways", ["", "repeat_within = 7"])
def test_a_close_has_its_own_time(ways):
    """A close among three marks, all four delivered in every order: the same standings each time."""
    messages = [("jo", "ava seen stand", 300), ("jo", "ava seen stand", 200), ("jo", "ben seen stand", 190),
                ("jo", "close", 150)]
    expected = standings_after(range(4), messages, ways)
    for order in itertools.permutations(range(4)):
        assert standings_after(order, messages, ways) == expected
