"""Whom a coach is told to call, and what a number, an undo or a question does to that."""
from __future__ import annotations

from datetime import timedelta

import pytest

from tests.talk.hall import Hall
from tests.talk.test_plan import SHORT, Planned


@pytest.fixture
def hall():
    made = Planned()
    yield made
    made.close()


@pytest.fixture
def small():
    made = Hall()
    made.say("jo", "start")
    made.tap("jo", "Everyone")
    yield made
    made.close()


def last(hall: Hall, person: str = "jo") -> str:
    return hall.last[person][-1].text


@pytest.mark.parametrize("spared", ["ava no landings", "ava no landings 3 weeks"])
def test_who_is_spared_a_load_is_not_called_to_it_when_she_has_rested(hall: Planned, spared: str) -> None:
    """She showed it once before that was said. Neither coach nor assistant hears her name, and no line has it."""
    hall.began()
    hall.say("jo", "ava, ben seen split jump")
    hall.say("jo", spared)
    hall.wait(240)
    for person in ("jo", "sam"):
        rested = [one.text for one in hall.said[person] if one.text.startswith("Rested:") and "Split jump" in one.text]
        assert any("Ben" in text for text in rested)
        assert not any("Ava" in text for text in rested)
    hall.say("jo", "split jump")
    hall.tap("jo", "Go")
    assert "Ava" not in last(hall)


def test_a_line_loses_whoever_is_spared_what_it_loads(hall: Planned) -> None:
    """She stands there already; all seen is not about her."""
    hall.began()
    hall.say("jo", "split jump")
    hall.tap("jo", "Go")
    assert "1 Ava" in last(hall)
    hall.say("jo", "ava no landings")
    assert "Ava" not in last(hall).splitlines()[-1]
    hall.say("jo", "all seen")
    assert hall.snapshot("short").books["tue"].standing("c-ava-short", "jump").tries == 0


def test_a_rested_line_is_no_longer_than_a_line(hall: Planned) -> None:
    """Six have rested; the line is four: two lines, one after the other."""
    hall.began()
    hall.say("jo", "ava, ben, chidi, dara, efa, finn seen bridge")
    hall.wait(70)
    text = hall.said["sam"][-1].text
    assert text.startswith("Rested: Ava, Ben, Chidi, Dara; then Efa, Finn. Bridge, second show.")
    hall.say("sam", "all seen bridge")
    standings = hall.snapshot("short").books["tue"].standings
    assert sum(of["bridge"].ticked for of in standings.values()) == 4
    hall.say("sam", "all seen bridge")
    standings = hall.snapshot("short").books["tue"].standings
    assert sum(of["bridge"].ticked for of in standings.values()) == 6


def test_what_was_put_off_does_not_come_back_by_its_rests(hall: Planned) -> None:
    """Jo skips the bridge; Sam, who did not, hears that they have rested."""
    hall.began()
    hall.say("jo", "bridge")
    hall.tap("jo", "Go")
    hall.say("jo", "all seen")
    hall.say("jo", "bridge")
    hall.say("jo", "skip")
    hall.wait(120)
    assert any("Bridge, second show" in one.text for one in hall.said["sam"])
    assert not any(one.text.startswith("Rested:") and "Bridge" in one.text for one in hall.said["jo"])


def test_undo_after_a_skip_brings_the_skill_back_and_takes_back_no_mark(small: Hall) -> None:
    """Once; the next undo is about marks again."""
    small.say("jo", "ava seen hop")
    small.say("jo", "stand")
    small.say("jo", "skip")
    small.say("jo", "undo")
    assert last(small).startswith("Stand is not put off any more.")
    assert small.standings()["ava", "hop"]["standing"] == "ticked"
    small.say("jo", "undo")
    assert last(small).startswith("Taken back: Ava seen")


def test_after_a_mark_undo_is_about_the_mark(small: Hall) -> None:
    """The skip is over and done with."""
    small.say("jo", "stand")
    small.say("jo", "skip")
    small.say("jo", "ava seen hop")
    small.say("jo", "undo")
    assert last(small).startswith("Taken back: Ava seen")


def test_a_question_in_between_leaves_the_choices_of_the_line_as_they_are(small: Hall) -> None:
    """The number of All seen from before `owed` still is All seen, as the line still stands."""
    small.say("jo", "hop")
    small.tap("jo", "Go")
    number = small.last["jo"][-1].choices[0].number
    small.say("jo", "owed")
    small.say("jo", str(number))
    assert "seen" in last(small)
    assert "earlier message" not in last(small)


def test_several_who_need_another_go_are_tapped_one_after_the_other(small: Hall) -> None:
    """Also by the numbers of their choices."""
    small.say("jo", "hop")
    small.tap("jo", "Go")
    small.tap("jo", "Some not yet")
    first, second = (choice.number for choice in small.last["jo"][-1].choices[:2])
    small.say("jo", str(first))
    small.say("jo", str(second))
    assert "earlier message" not in last(small)
    state = small.standings()
    assert state["ava", "hop"]["standing"] == state["ben", "hop"]["standing"] == "retest"
    assert state["chidi", "hop"]["standing"] == "ticked"


def test_another_skill_is_named_also_where_it_was_spoken_of_before(small: Hall) -> None:
    """A mark on another skill, typed: what comes next says its name."""
    small.say("jo", "hop")
    small.tap("jo", "Go")
    small.say("jo", "ava, ben, chidi, dara seen hop; efa seen wheel")
    head = next(row for row in last(small).splitlines() if row.startswith(("Next", "Back", "Still")))
    assert head.startswith("Back to hop")


def test_why_nobody_owes_a_skill_that_was_missed(small: Hall) -> None:
    """A miss comes back at the next lesson, and that is said to whoever asks for the skill."""
    small.say("jo", "ava, ben, chidi, dara, efa not yet hop; finn seen hop")
    small.say("jo", "hop")
    assert last(small).startswith("Ava, Ben, Chidi, Dara and Efa missed hop today and show it at the next lesson;")


def test_who_has_gone_or_sits_out_is_not_among_those_who_rest(hall: Planned) -> None:
    """`resting` is about whom can be called."""
    hall.began()
    hall.say("jo", "ava, ben, chidi seen bridge")
    hall.say("jo", "ben sits")
    hall.say("jo", f"chidi leaves {(SHORT + timedelta(seconds=30)):%H:%M}")
    hall.wait(60)
    hall.say("jo", "resting")
    assert "Ava" in last(hall)
    assert "Ben" not in last(hall)
    assert "Chidi" not in last(hall)


def test_a_plan_leaves_nothing_for_next_week_that_is_being_watched(hall: Planned) -> None:
    """The last line of a skill stands there."""
    hall.began(12)
    hall.say("jo", "waltz turn")
    hall.tap("jo", "Go")
    hall.say("jo", "plan")
    assert "waltz turn (" not in last(hall)


def test_a_number_without_a_verdict_is_called_by_name(small: Hall) -> None:
    """The line has been answered; the number beside her name is still hers."""
    small.say("jo", "hop")
    small.tap("jo", "Go")
    small.say("jo", "all seen")
    small.say("jo", "wheel")
    small.say("jo", "2 please")
    assert last(small).startswith("2 (Ben): what did you see?")
