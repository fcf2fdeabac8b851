"""The class sheet as plain data: it says how things stand, and to each no more than they may see."""
from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from bot.talk.rulings import RULINGS
from bot.talk.sheet import cards, sheet
from tests.talk.hall import Hall


@pytest.fixture
def hall() -> Iterator[Hall]:
    """A hall with its lesson open and everyone here."""
    made = Hall()
    made.say("jo", "start")
    made.say("jo", "everyone")
    yield made
    made.close()


def seen_by(hall: Hall, person: str, club: str = "Bench") -> dict[str, Any]:
    """The sheet of somebody now; it is data that JSON can hold."""
    found = sheet(hall.run(hall.service().desk(club, person)), hall.clock.now())
    return json.loads(json.dumps(found))


def test_a_sheet_says_what_the_export_says(hall: Hall) -> None:
    """Each standing of the sheet is that of the export, with its rest; what nobody asks of a child is left out."""
    hall.say("jo", "ava, ben seen stand; chidi not yet stand")
    hall.say("jo", "dara seen hop")
    hall.say("jo", "efa away")
    found = seen_by(hall, "jo")
    exported = {child["id"]: child["skills"] for child in hall.export()["children"] if child["class"] == "tue"}
    assert found["marks"].keys() == exported.keys()
    for child, skills in found["marks"].items():
        for skill, one in skills.items():
            assert (one["is"], one["show"]) == (exported[child][skill]["standing"], exported[child][skill]["show"])
            assert ("rested_at" in one) == ("rested_at" in exported[child][skill])
    assert [one["name"] for one in found["children"] if not one["here"]] == ["Efa"]


def test_the_plan_is_of_those_who_are_here(hall: Hall) -> None:
    """Lines to come name only children who are here and owe it, also where no plan was made."""
    hall.say("jo", "efa away")
    found = seen_by(hall, "jo")
    assert found["plan"]
    planned = {child for turn in found["plan"] for child in turn["children"]}
    assert planned == {one["id"] for one in found["children"] if one["here"]}


def test_whose_line_it_is_is_said(hall: Hall) -> None:
    """A line that stands is mine or another's; one that I am asked about again once it has rested is mine too."""
    hall.tap("jo", "Go")
    line = hall.said["jo"][-1].choices[0].tap.line
    assert [one["mine"] for one in seen_by(hall, "jo")["lines"]] == [True]
    assert [(one["mine"], one["by"]) for one in seen_by(hall, "sam")["lines"]] == [(False, "Jo")]
    hall.say("jo", "stand")
    hall.tap("jo", "Go")
    hall.tap("jo", "All seen")
    hall.wait(100)
    assert [(one["mine"], one["skill"]) for one in seen_by(hall, "jo")["lines"]][-1] == (True, "stand")
    assert line.skill != "stand"


def test_nobody_sees_more_than_they_may(hall: Hall) -> None:
    """A helper gets first names and lines, a parent and a stranger nothing of the class, another club its own."""
    hall.tap("jo", "Go")
    hall.parent("dad", "ava")
    helper = seen_by(hall, "kit")
    assert {one["name"] for one in helper["children"]} == {"Ava", "Ben", "Chidi", "Dara", "Efa", "Finn"}
    assert "Price" not in json.dumps(helper)
    assert (helper["marks"], helper["plan"]) == ({}, [])
    for person in ("dad", "nobody"):
        found = seen_by(hall, person)
        assert (found["class"], found["children"], found["lines"]) == (None, [], [])
    assert {one["whole"] for one in seen_by(hall, "jo", "Elsewhere")["children"]} == {"Otto Canary"}


def test_cards_are_for_those_who_judge(hall: Hall) -> None:
    """Coach and assistant get the cards of skills that there are, nobody else any."""
    def of(person: str) -> set[str]:
        return set(cards(hall.run(hall.service().desk("Bench", person, RULINGS)), ["hop", "stand", "gone"]))

    assert of("jo") == of("sam") == {"hop", "stand"}
    assert of("kit") == of("nobody") == set()
