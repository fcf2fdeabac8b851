"""What is left of the marks of children who were forgotten, where the club keeps counts."""
from __future__ import annotations

import json

from bot.facts import Counted
from bot.people.hall import read_hall
from tests.talk.hall import CLUB, ROSTER, SCHEME, START, Hall

MESSAGES = (
    "ava, ben seen hop", "ava not yet stand hips", "ava seen stand", "chidi seen hop", "dara not yet hop",
    "ava seen wheel left", "undo", "owed ava",
)


def ways(hall: Hall, kept: str | None) -> None:
    """What the club says becomes of marks; None: it says nothing of it."""
    club = CLUB.format(name="Bench", cls="tue")
    if kept is not None:
        club = f'forgotten = "{kept}"\n{club}'
    hall.run(hall.store.load(read_hall(SCHEME.format(ways=""), club, ROSTER), START))


def marked(hall: Hall, kept: str | None) -> None:
    """The same, and some of a lesson is marked."""
    ways(hall, kept)
    for text in MESSAGES:
        hall.say("jo", text)


def forget(hall: Hall, name: str) -> None:
    """She is forgotten."""
    whose = {one["name"]: one["id"] for one in hall.export()["children"]}
    hall.run(hall.store.forget("bench", whose[name]))


def test_marks_become_counts_of_all_who_were_forgotten(hall: Hall) -> None:
    """What was taken back is not counted; a second child is added to the first; the others keep what is theirs."""
    marked(hall, "counted")
    others = [one for one in hall.export()["children"] if one["name"] not in ("Ava Price", "Chidi Eze")]
    assert "forgotten" not in hall.export()
    forget(hall, "Ava Price")
    assert hall.export()["forgotten"] == {"hop": {"seen": 1, "not yet": 0}, "stand": {"seen": 1, "not yet": 1}}
    forget(hall, "Chidi Eze")
    assert hall.export()["forgotten"] == {"hop": {"seen": 2, "not yet": 0}, "stand": {"seen": 1, "not yet": 1}}
    assert hall.export()["children"] == others
    hall.say("jo", "ben not yet stand")
    assert hall.standings()["ben", "stand"]["standing"] == "retest"


def test_counts_say_of_nobody_whose_they_are(hall: Hall) -> None:
    """No child, no coach, no day, no lesson and no message is with them, in the record or in a file of the club."""
    marked(hall, "counted")
    forget(hall, "Ava Price")
    whole = hall.run(hall.store.whole("bench"))
    counts = [one for one in whole.record if isinstance(one.recorded.fact, Counted)]
    assert [one.recorded.fact for one in counts] == [Counted("hop", 1, 0), Counted("stand", 1, 1)]
    assert {(one.by, one.lesson, one.class_id, one.recorded.message) for one in counts} == {("", None, None, "")}
    assert "ava" not in json.dumps(hall.export()).lower().replace("counted", "")


def test_else_they_go(hall: Hall) -> None:
    """Where the club says nothing, or says so, nothing is counted; what was counted before stays."""
    marked(hall, None)
    forget(hall, "Ava Price")
    assert "forgotten" not in hall.export()
    ways(hall, "counted")
    forget(hall, "Ben Okafor")
    ways(hall, "gone")
    forget(hall, "Chidi Eze")
    assert hall.export()["forgotten"] == {"hop": {"seen": 1, "not yet": 0}}
