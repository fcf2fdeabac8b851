"""Where a talk is: one place, at most one pending question, the lines that are open. Small, frozen, versioned.

What lives here: data and how it is stored. Which place follows which is in `places.py` alone.
"""
from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Literal

from bot.lesson.line import Line

VERSION = 1


class Place(StrEnum):
    """Where somebody is in the talk."""

    STRANGER = "stranger"       # we do not know who this is
    CONSENT = "consent"         # a parent was told what would be sent, and asked
    FAMILY = "family"           # a parent
    OUTSIDE = "outside"         # no lesson of theirs is open
    REGISTER = "register"       # asked who is here
    SUGGESTED = "suggested"     # a line is suggested, nobody stands there yet
    WATCHING = "watching"       # a line stands there
    GAP = "gap"                 # nothing to watch just now
    PAUSED = "paused"           # silence


Asked = Literal["missing", "who", "reason", "child", "early", "away", "look", "start", "skill", "which line",
                "overturn", "order", "class", "reading", "hold", "whose"]


@dataclass(frozen=True, slots=True)
class Question:
    """What was asked last and can be answered in words. The choices of that message hold the requests."""

    about: Asked
    seq: int                            # the message that asked
    line: Line | None = None            # for "who"
    marks: tuple[str, ...] = ()         # for "reason": the marks to explain
    lesson: str | None = None           # for "hold": whose news
    awards: tuple[tuple[str, str], ...] = ()    # for "whose": (child, award), those that go a step on but for some
    to: str = ""                        # for "whose": to which stage


@dataclass(frozen=True, slots=True)
class Offer:
    """A message with choices: its number, its labels, and the first number that can be typed for them."""

    seq: int
    first: int
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Talk:
    """One person's talk. `said` counts the messages to them, `numbers` the choices and `stood` the children."""

    version: int = VERSION
    place: Place = Place.STRANGER
    lesson: str | None = None
    lines: tuple[Line, ...] = ()        # open, the one spoken of last first
    suggested: Line | None = None       # what Go would watch
    question: Question | None = None
    skipped: tuple[str, ...] = ()       # skills put off for this lesson
    said: int = 0
    numbers: int = 0                    # the last number given to a choice
    stood: tuple[str, ...] = ()         # the children of the lines in order: number n is stood[n - 1]
    offers: tuple[Offer, ...] = ()      # the last messages with choices, the latest first
    heard_at: datetime | None = None    # when we last heard from them
    turned: str | None = None           # the skill that is being watched
    eve: bool = False                   # asked to be reminded the day before a class
    most: int | None = None             # no line is to be longer
    marked_in: str | None = None        # the lesson of which their last message recorded something
    just_skipped: bool = False          # nothing was recorded since a skill was put off: undo brings it back
