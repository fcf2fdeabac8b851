"""Taps that come twice or a day late, closes that arrive late, and people who are not where we think they are."""
from __future__ import annotations

from datetime import timedelta

import pytest

from bot.step import Invitation
from tests.talk.hall import Hall

HELD = {
    "an early miss": ([("jo", "ava seen stand"), ("jo", "ava not yet stand")], "Count it"),
    "an early repeat": ([("jo", "ava seen stand"), ("jo", "ava seen stand")], "Count it"),
    "a second look": ([("jo", "ava seen stand"), ("sam", "ava seen stand")], "Second look"),
    "the second show of another": ([("jo", "ava seen stand"), ("sam", "ava seen stand")], "Second show"),
    "one marked away": ([("jo", "ava away"), ("jo", "ava not yet stand")], "Yes here"),
    "no lesson open": ([("jo", "close"), ("jo", "ava not yet stand")], "Start"),
    "an own not yet": (
        [("jo", "stand"), ("jo", "[Go]"), ("jo", "ava not yet stand"), ("jo", "[All seen]")], "Seen now",
    ),
}


@pytest.mark.parametrize("case", HELD)
def test_an_answer_tapped_twice_records_once(hall, case):
    """What was held is recorded by the first tap; the second says so and changes nothing; undone, it works again."""
    said, label = HELD[case]
    for person, text in said:
        hall.tap(person, text[1:-1]) if text.startswith("[") else hall.say(person, text)
        hall.wait(5)
    person = said[-1][0]
    asked = hall.last[person][0]
    choice = asked.choice_ids()[[one.label for one in asked.choices].index(label)]
    before = hall.export()
    hall.say(person, choice=choice)
    once = hall.export()
    assert once["marks"] != before["marks"]
    assert "already" in hall.say(person, choice=choice)[0].text
    assert hall.export() == once
    hall.say(person, "undo")
    hall.say(person, choice=choice)
    assert len(hall.export()["marks"]) == len(once["marks"])


def test_start_tapped_the_next_day_enters_what_waited(hall):
    """A mark that waited for Start is entered in the lesson of its own day, though Start is tapped a day later."""
    hall.say("jo", "close")
    held = hall.say("jo", "ava seen hop")[0]
    hall.wait(86_400)
    hall.say("jo", choice=held.choice_ids()[0])
    assert hall.standings()["ava", "hop"] == {
        "standing": "ticked", "show": 1, "owed_pieces": [], "ticked_on": "2026-11-24",
    }


def test_a_close_that_arrives_late_acts_at_its_own_time(hall):
    """A close sent before a second show was seen ends the try, though the tick was recorded when it arrived."""
    hall.say("jo", "ava seen stand", ago=65)
    hall.say("jo", "ava seen stand")
    assert hall.standings()["ava", "stand"]["standing"] == "ticked"
    hall.say("sam", "close", ago=10)
    assert hall.standings()["ava", "stand"]["standing"] != "ticked"


def test_a_try_belongs_to_one_lesson(hall):
    """A first show marked after a close that came late is no first show of the next lesson."""
    hall.say("jo", "ava seen stand")
    hall.say("sam", "close", ago=30)
    hall.wait(7 * 86_400)
    hall.say("jo", "start")
    assert "Ticked" not in hall.say("jo", "ava seen stand")[0].text
    assert hall.standings()["ava", "stand"]["standing"] == "resting"


def test_entering_what_waited_ends_what_was_open_that_day(hall):
    """Start of an earlier day closes that day again: what is kept is what its facts amount to."""
    hall.say("jo", "ava seen stand")
    hall.say("sam", "close", ago=30)
    held = hall.say("jo", "ben seen hop")[0]
    hall.wait(86_400)
    hall.say("jo", choice=held.choice_ids()[0])
    assert hall.standings()["ava", "stand"]["standing"] == "retest"
    assert hall.standings()["ben", "hop"]["standing"] == "ticked"


def test_who_answers_the_register_has_come_in():
    """Somebody who says who is here in a lesson that another opened is in it, and can take it back and go on."""
    hall = Hall()
    hall.say("jo", "start")
    assert [choice.label for choice in hall.say("sam", "everyone")[0].choices] != ["Start"]
    assert hall.say("sam", "undo")[0].choices[0].label == "Everyone"
    hall.say("jo", "chidi away")
    assert "Chidi is here" in hall.say("sam", "chidi here")[0].text
    hall.close()


def test_a_group_named_after_the_close_starts_nothing(hall):
    """What is said of a class whose lesson another has closed leads to Start, never to a line of that lesson."""
    hall.say("sam", "close")
    assert "Go" not in [choice.label for choice in hall.say("jo", "red is ava ben")[0].choices]


def test_a_coach_with_the_code_of_a_parent_stays_a_coach(hall):
    """A code for a parent does not turn a coach's number into a parent's; it is said, and the code stays good."""
    child = hall.export()["children"][0]["id"]
    until = hall.clock.now() + timedelta(days=14)
    hall.run(hall.store.invite(Invitation("bench", None, child, until, used=False), "PARENT"))
    assert "another number" in hall.say("jo", "join PARENT")[0].text
    hall.say("jo", "ava seen hop")
    assert hall.standings()["ava", "hop"]["standing"] == "ticked"
    assert [choice.label for choice in hall.say("petra", "join PARENT")[0].choices] == ["Yes", "No"]
