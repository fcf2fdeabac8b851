"""A line: children watched together."""
from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from bot.marks.standing import Standing, View

if TYPE_CHECKING:
    from bot.lesson.lesson import Lesson


@dataclass(frozen=True, slots=True)
class Line:
    """Children watched together on one show of one skill, from the moment the message that said so was sent."""

    lesson: str
    skill: str
    show: int
    children: tuple[str, ...]
    asked_at: datetime
    shown_at: datetime | None = None    # when a helper saw it; None: it is judged when it is answered
    set_up: bool = False                # it was put up by Go: they stood there, and all was set out
    look: bool = False                  # a second look is asked for: its answers change nothing


def owes_line(
    line: Line, child: str, standing: Standing, seen_as: View, lesson: Lesson | None, now: datetime, *, spared: bool
) -> bool:
    """Does a child of a line still have to show what the line is for? Not where she is spared what it loads."""
    if standing.ticked or seen_as.show != line.show:
        return False
    last = standing.last
    missed_since = (
        last is not None and last.verdict == "not yet" and last.at >= line.asked_at and last.show == line.show
    )
    here = lesson is not None and lesson.is_open and lesson.here(child, now) and child not in lesson.sits
    return here and not missed_since and not spared
