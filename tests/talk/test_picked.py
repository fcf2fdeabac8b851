"""Several of a line picked with one tap: those are not yet, the others seen, and it is complete in itself."""
from __future__ import annotations

from collections.abc import Iterator

import pytest

from bot.step import places_with
from tests.talk.hall import Hall


@pytest.fixture
def hall() -> Iterator[Hall]:
    """A hall in which a line of four stands."""
    made = Hall()
    made.say("jo", "start")
    made.say("jo", "everyone")
    made.tap("jo", "Go")
    yield made
    made.close()


def some(hall: Hall) -> tuple[str, tuple[str, ...]]:
    """The choice Some not yet of the line that stands there, and its children."""
    said = hall.said["jo"][-1]
    at = [choice.label for choice in said.choices].index("Some not yet")
    return said.choice_ids()[at], said.choices[at].tap.line.children


def verdicts(hall: Hall) -> dict[str, str]:
    """Child → verdict."""
    return {mark["child"]: mark["verdict"] for mark in hall.export()["marks"]}


def test_those_picked_are_not_yet(hall: Hall) -> None:
    """One message marks the whole line."""
    choice, children = some(hall)
    hall.say("jo", choice=f"{choice}~2.4")
    assert verdicts(hall) == dict(zip(children, ["seen", "not yet", "seen", "not yet"], strict=True))


def test_it_means_its_own_line_however_late(hall: Hall) -> None:
    """Tapped after other lines were answered it is still about the children that stood there then."""
    choice, children = some(hall)
    hall.say("jo", "skip")
    hall.tap("jo", "Go")
    hall.wait(600)
    hall.say("jo", choice=f"{choice}~1")
    assert verdicts(hall)[children[0]] == "not yet"
    assert set(verdicts(hall)) == set(children)


@pytest.mark.parametrize("places", ["~0", "~5", "~x", "~1.x", "~-1", "~٣", "~1~2"])
def test_a_place_where_nobody_stands_is_said(hall: Hall, places: str) -> None:
    """A place that is none marks nobody, and the answer says so."""
    choice, _ = some(hall)
    (said,) = hall.say("jo", choice=choice + places)
    assert "not known here" in said.text
    assert verdicts(hall) == {}


def test_only_a_line_can_be_picked_from(hall: Hall) -> None:
    """With any other choice places mean nothing."""
    choice = hall.said["jo"][-1].choice_ids()[0]
    (said,) = hall.say("jo", choice=f"{choice}~1")
    assert "not known here" in said.text
    assert verdicts(hall) == {}


def test_no_place_is_the_choice_itself() -> None:
    """A bare id picks nobody; what are no numbers is told apart from that."""
    assert places_with("c_12_0f2a") == places_with("c_12_0f2a~") == ()
    assert places_with("c_12_0f2a~2.4") == (2, 4)
    assert places_with("c_12_0f2a~2.x") is None
