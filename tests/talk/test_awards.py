"""The way of an award in the talk: steps, each taken back, the cupboard, who is away, names. Invented hall."""
from __future__ import annotations

import pytest

from tests.talk.hall import Hall

EARNED = "; ".join(f"{child} seen {skill}" for child in ("ava", "ben", "chidi") for skill in ("hop", "wheel", "medley"))


@pytest.fixture
def hall() -> Hall:
    """Ava, Ben and Chidi have earned award One, each on the same day; the lesson is closed."""
    made = Hall()
    for text in ("start", "everyone", EARNED):
        made.say("jo", text)
    made.wait(90)
    for text in ("; ".join(f"{child} seen medley" for child in ("ava", "ben", "chidi")), "close"):
        made.say("jo", text)
    return made


def stages(hall: Hall) -> list[str]:
    """How far the award of Ava, Ben and Chidi has come, as it is kept: `-` before it is on the order."""
    awards = hall.snapshot().books["tue"].awards
    ids = {child["name"]: child["id"] for child in hall.export()["children"]}
    three = [ids[name] for name in ("Ava Price", "Ben Okafor", "Chidi Eze")]
    return [getattr(awards.get(child, {}).get("one"), "to", "-") for child in three]


def answer(hall: Hall, text: str) -> str:
    return hall.say("jo", text)[0].text


STEPS = [
    ("put on the order", ["ordered"] * 3), ("ordered", ["arrived", "sent", "sent"]),
    ("they have come", ["arrived"] * 3), ("handed over", ["presented"] * 3),
]


def test_every_step_is_undone_by_undo_one_after_the_other(hall):
    """The way forth and back again: after each undo the awards stand where they stood, and so does the cupboard."""
    answer(hall, "cupboard one 1")
    trail = [(stages(hall), answer(hall, "cupboard"))]
    for text, after in STEPS:
        answer(hall, text)
        assert stages(hall) == after
        trail.append((stages(hall), answer(hall, "cupboard")))
    assert "nothing" in trail[-1][1]
    for before in reversed(trail[:-1]):
        answer(hall, "undo")
        assert (stages(hall), answer(hall, "cupboard")) == before


def test_the_export_calls_what_is_sent_for_ordered(hall):
    """The words of the export are a contract: on the order and sent for are both `ordered`."""
    for text in ("put on the order", "ordered"):
        answer(hall, text)
    assert [child["awards"]["one"]["standing"] for child in hall.export()["children"]].count("ordered") == 3


def test_who_is_away_has_hers_at_the_next_lesson(hall):
    """Names typed, or tapped one after the other: theirs stay here, the others are handed over, and each is said."""
    for text in ("put on the order", "ordered", "they have come", "hand over"):
        answer(hall, text)
    hall.tap("jo", "All right")
    hall.tap("jo", "Some away")
    assert "Carried over to next Tuesday: Ben" in answer(hall, "ben")
    assert stages(hall) == ["presented", "arrived", "presented"]
    assert "Ava" in answer(hall, "ava")         # the second one corrects only her own
    assert stages(hall) == ["arrived", "arrived", "presented"]
    answer(hall, "undo")
    answer(hall, "undo")
    hall.tap("jo", "Some away")
    hall.tap("jo", "Ben")
    hall.tap("jo", "Ava")           # the second one corrects only her own
    assert stages(hall) == ["arrived", "arrived", "presented"]


def test_whoever_is_marked_away_in_the_lesson_is_not_counted(hall):
    """`hand over` in a lesson goes by its register."""
    for text in ("put on the order", "ordered", "they have come"):
        answer(hall, text)
    hall.wait(7 * 86400)
    for text in ("start", "ava away"):
        answer(hall, text)
    answer(hall, "hand over")
    told = hall.tap("jo", "All right")[0].text
    assert "2 to hand over, 1 away" in told
    assert "Carried over to next Tuesday: Ava" in told
    hall.tap("jo", "Present all")
    assert stages(hall) == ["arrived", "presented", "presented"]


def test_an_award_that_loses_its_tick_on_its_way_is_said_and_goes_into_the_cupboard(hall):
    """At the undo, in the list, and never among those to be handed over; what came for her is in the cupboard then."""
    for text in ("put on the order", "ordered", "they have come"):
        answer(hall, text)
    marks = next(one for one in hall.said["jo"] if "Medley: Ava" in one.text and "Ticked" in one.text)
    undo = next(id_ for id_, one in zip(marks.choice_ids(), marks.choices, strict=True) if one.label == "Undo")
    assert "Ava has not earned One any more, and it is here already" in hall.say("jo", choice=undo)[0].text
    assert "Not earned any more: One for Ava (here)" in answer(hall, "awards")
    assert "handed over" not in answer(hall, "handed over").lower()
    hall.tap("jo", "Take off")
    assert answer(hall, "cupboard").startswith("In the cupboard: 3 One.")
    assert stages(hall) == ["-", "-", "-"]


def test_names_are_asked_once_and_a_spelling_is_kept_for_print(hall):
    """Each name is looked at before it is printed; one that was spelled stands in the list so, in the class not."""
    for text in ("put on the order", "ordered", "they have come"):
        answer(hall, text)
    assert answer(hall, "hand over").splitlines()[1:] == ["Ava Price", "Ben Okafor", "Chidi Eze"]
    assert answer(hall, "spell ben: Bén Ọkafọr") == "Ben is printed as: Bén Ọkafọr"
    assert answer(hall, "hand over").splitlines()[1:] == ["Ava Price", "Chidi Eze"]
    hall.tap("jo", "All right")
    assert answer(hall, "hand over").startswith("Tuesday: 3 to hand over")
    assert "Bén Ọkafọr, One" in answer(hall, "show list")
    assert "Ben Okafor" in [child["name"] for child in hall.export()["children"]]


@pytest.mark.parametrize(("text", "says"), [
    ("cupboard one", "Type it like this: cupboard"), ("cupboard nothing 4", "Type it like this: cupboard"),
    ("spell ben", "Type it like this: spell"), ("spell otto: Otto", "Type it like this: spell"),
    ("spell ben: 17", "Type it like this: spell"),
])
def test_a_count_or_a_spelling_that_is_none_says_how_it_is_typed(hall, text, says):
    """Nothing is recorded and an example is shown; a child of another club is nobody."""
    before = len(hall.snapshot().record)
    assert answer(hall, text).startswith(says)
    assert len(hall.snapshot().record) == before
