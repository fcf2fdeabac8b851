"""A lesson entered from paper the day after, in one message, is the lesson that was marked as it went."""
from __future__ import annotations

import re
from typing import Any

from tests.talk.hall import Hall

LIVE = [
    (0, "start"), (0, "finn away"),
    (600, "ava, ben, chidi seen stand; dara not yet stand hips"),
    (120, "ava, ben seen stand; chidi not yet stand"),
    (60, "efa seen wheel left; ava seen wheel; ben not yet wheel"),
    (60, "efa seen wheel right"),
    (60, "dara, efa seen medley; ava seen medley galop"),
    (120, "dara seen medley; efa not yet medley polka"),
    (60, "ava, ben, dara seen hop; efa not yet hop knees"),
    (60, "close"),
]
PAPER = """on tuesday at 17:10: stand: ava, ben, chidi seen, dara not yet hips
at 17:12: stand: ava, ben seen, chidi not yet
at 17:13: wheel: efa seen left; ava seen; ben not yet
at 17:14: wheel: efa seen right
at 17:15: medley: dara, efa seen; ava seen galop
at 17:17: medley: dara seen; efa not yet polka
at 17:18: hop: ava, ben, dara seen; efa not yet knees"""


def apart_from_times(export: dict[str, Any]) -> dict[str, Any]:
    """The export without instants; days stay."""
    for mark in export["marks"]:
        mark["judged_at"] = re.sub(r"T.*", "", mark["judged_at"])
    export["marks"].sort(key=lambda mark: (mark["child"], mark["skill"], mark["try"], mark["show"], mark["pieces"]))
    for child in export["children"]:
        for skill in child["skills"].values():
            skill.pop("rested_at", None)
    return export


def next_day(hall: Hall) -> None:
    hall.wait(86400 - (hall.clock.now().timestamp() - 0) % 86400 + 10 * 3600)


def test_from_paper_in_one_message_as_marked_live():
    """Two shows, sides, parts and misses: the exports are the same, but for the times of day."""
    live, paper = Hall(), Hall()
    for seconds, text in LIVE:
        live.wait(seconds)
        live.say("jo", text)
    for hall in (live, paper):
        next_day(hall)
    said = paper.say("jo", PAPER)
    assert "Start it, and enter what you saw?" in said[0].text
    paper.tap("jo", "Start")
    one, other = apart_from_times(live.export()), apart_from_times(paper.export())
    assert one["marks"] == other["marks"]
    assert one == other
