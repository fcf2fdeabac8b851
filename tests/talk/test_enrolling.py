"""A pasted list of children, and ticks that were held before: only a coach says so, and what is not clear is asked."""
from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest

from bot.facts import TickBrought
from tests.talk.hall import Hall


@pytest.fixture
def hall() -> Iterator[Hall]:
    """The small hall, no lesson open."""
    made = Hall()
    yield made
    made.close()


def names(hall: Hall) -> list[str]:
    """Everybody in Tuesday's class."""
    return [one["name"] for one in hall.export()["children"] if one["class"] == "tue"]


@pytest.mark.parametrize("text", [
    "add to tuesday: Pip Fell, Zed Quill, Noa Zão", "add to tuesday:\nPip Fell\nZed Quill\nNoa Zão",
    "Add to Tuesday:\n1. Pip Fell\n2) Zed Quill\n- Noa Zão\n\n",
    "add to tuesday: Pip Fell; Zed Quill\n• Noa Zão, Pip Fell",
])
def test_a_list_is_shown_and_then_added(hall: Hall, text: str) -> None:
    """However it was pasted: three names are understood, none is in the class before the tap, all are after it."""
    before = names(hall)
    said = hall.say("jo", text)[-1]
    assert said.text == "For Tuesday, 3 new children on One: Pip Fell, Zed Quill, Noa Zão."
    assert [choice.label for choice in said.choices] == ["Add 3", "Change"]
    assert names(hall) == before
    assert hall.tap("jo", "Add 3")[-1].text.startswith("3 children added. Tuesday has 9 children now.")
    assert sorted(names(hall)) == sorted([*before, "Pip Fell", "Zed Quill", "Noa Zão"])
    assert hall.tap("jo", "Add 3")[-1].text.startswith("All of them are in Tuesday already.")
    hall.tap("jo", "Undo")
    assert names(hall) == before


def test_what_is_not_right_is_sent_once_more(hall: Hall) -> None:
    """Change adds nothing and says how to send the list again."""
    before = names(hall)
    hall.say("jo", "add to tuesday: Pip Fell")
    assert "add to tuesday:" in hall.tap("jo", "Change")[-1].text
    assert names(hall) == before


def test_who_is_there_already_and_who_is_nearly_is_said(hall: Hall) -> None:
    """A name that is there is left out; one that is like it is said to be another child before it becomes one."""
    said = hall.say("jo", "add to tuesday: AVA PRICE, Ava Pryce, Pip Fell")[-1]
    assert said.text == ("For Tuesday, 2 new children on One: Ava Pryce, Pip Fell.\nThere already: Ava Price.\n"
                         "Ava Pryce is like Ava Price, who is here. Added, they are two.")
    assert "All of them are in Tuesday already." in hall.say("jo", "add to tuesday: ava price")[-1].text


def test_only_a_coach_of_the_class_may(hall: Hall) -> None:
    """An assistant and a helper change no list and no tick; of another's class nothing is known."""
    for person in ("sam", "kit"):
        assert "Add 1" not in [c.label for one in hall.say(person, "add to tuesday: Pip Fell") for c in one.choices]
    before = hall.export()
    hall.say("sam", "ava has wheel")
    hall.say("kit", "ava has wheel")
    assert hall.export() == before
    for text in ("add to friday: Pip Fell", "zuleika has wheel"):
        assert hall.say("jo", text)
        assert hall.export() == before


@pytest.mark.parametrize("text", ["add to tuesday:", "add to nowhere: Pip Nye", "add to tuesday: Pip Nye, 12",
                                  "add to tuesday: 07700 900123"])
def test_what_is_no_list_is_told(hall: Hall, text: str) -> None:
    """No class, no name, a telephone number: nothing is taken of it, and it is said how to type it."""
    assert "add to tuesday: Ava Price, Ben Osei" in hall.say("jo", text)[-1].text


def test_a_forgotten_child_is_in_no_list_any_more(hall: Hall) -> None:
    """What was said and offered of a list, the others' names too, is rewritten where a child is forgotten."""
    hall.say("jo", "add to tuesday: Pip Nye, Noa Zão, ava price")
    hall.tap("jo", "Add 2")
    pip = next(one["id"] for one in hall.export()["children"] if one["name"] == "Pip Nye")
    hall.run(hall.store.forget("bench", pip))
    assert "Pip" not in repr(hall.run(hall.store.said("bench", "jo", 0)))
    ava = next(one["id"] for one in hall.export()["children"] if one["name"] == "Ava Price")
    hall.run(hall.store.forget("bench", ava))
    assert "ava" not in repr(hall.run(hall.store.said("bench", "jo", 0))).lower()


# --- held before -------------------------------------------------------------------------------------------

def brought(hall: Hall) -> list[TickBrought]:
    """Every tick that was brought along."""
    return [one.fact for one in hall.snapshot().record if isinstance(one.fact, TickBrought)]


def test_a_tick_held_before_counts(hall: Hall) -> None:
    """It is ticked from its day, by whom it was said; undo takes it back."""
    said = hall.say("jo", "ava has wheel since May")[-1]
    assert said.text.startswith("Ava has held wheel since Friday 1 May. Ticked; no family is told of that.")
    state = hall.standings()["ava", "wheel"]
    assert (state["standing"], state["ticked_on"]) == ("ticked", "2026-05-01")
    assert [(one.by, one.on.isoformat()) for one in brought(hall)] == [("jo", "2026-05-01")]
    assert "had wheel ticked already" in hall.say("jo", "ava has wheel")[-1].text
    assert len(brought(hall)) == 1
    hall.say("jo", "undo")
    assert hall.standings()["ava", "wheel"]["standing"] == "untried"


def test_several_children_and_skills_in_one_message(hall: Hall) -> None:
    """Each on a line of her own; of one thing that is not understood nothing is recorded."""
    hall.say("jo", "ava has wheel, hop since 2026-05\nben had stand")
    found = hall.standings()
    assert {pair for pair, one in found.items() if one["standing"] == "ticked"} == {
        ("ava", "wheel"), ("ava", "hop"), ("ben", "stand")}
    before = hall.export()
    hall.say("jo", "chidi has wheel, flying\ndara has wheel")
    hall.say("jo", "chidi has wheel since 2027-05-01")
    assert hall.export() == before


def test_a_tick_held_before_takes_a_retest_away_and_undo_brings_it_back(hall: Hall) -> None:
    """After a miss in a lesson the tick stands, and without it the retest does."""
    hall.say("jo", "start tuesday")
    hall.say("jo", "everyone")
    hall.say("jo", "ava not yet wheel")
    hall.say("jo", "close")
    hall.wait(600)
    before = hall.export()
    hall.say("jo", "ava has wheel")
    assert hall.standings()["ava", "wheel"]["standing"] == "ticked"
    hall.tap("jo", "Undo")
    assert hall.export() == before


def test_no_family_hears_of_it(hall: Hall) -> None:
    """A tick held before is no news, whatever is said of the lesson; a tick seen is."""
    hall.parent("petra", "ava")
    hall.say("jo", "start tuesday")
    hall.say("jo", "everyone")
    hall.say("jo", "ava has wheel, medley")
    hall.say("jo", "ava seen hop")
    hall.say("jo", "close")
    hall.tap("jo", "Send as usual")
    hall.wait(timedelta(days=8).total_seconds())
    told = " ".join(one.text.lower() for one in hall.said["petra"])
    assert "hop" in told
    assert "wheel" not in told
    assert "medley" not in told
