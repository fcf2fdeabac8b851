"""What happened, in the past tense: the append-only record that everything else is derived from.

What lives here: frozen plain data and the order in which facts count. Every fact comes from one message
(its `message` is the id that the store keeps beside it) and an undo is a fact too: it voids, nothing is
ever removed. All instants are aware, in UTC.
"""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

Verdict = Literal["seen", "not yet"]
Look = Literal["second look", "next show"]


@dataclass(frozen=True, slots=True)
class Mark:
    """One judgement of one child on one skill."""

    id: str                             # `message#n`
    child: str
    skill: str
    lesson: str
    verdict: Verdict
    by: str
    judged_at: datetime                 # the sender's clock, or the time typed
    sent_at: datetime                   # when the message was sent: the sender's own order
    rules: int                          # version of the scheme when it was judged
    pieces: tuple[str, ...] | None = None   # None: all that the show still owes
    show: int | None = None             # the show that the message said; None: whichever is owed
    asked_at: datetime | None = None    # when the line was put up, where a line's choice was tapped
    missed: tuple[str, ...] = ()
    way: str | None = None
    early: bool = False                 # counted although the rest was not over: the coach decided
    look: Look | None = None            # what the person said it was, where that was asked
    aside: bool = False                 # it changed nothing when it came: kept for what may still come before it
    kind: Literal["mark"] = "mark"


@dataclass(frozen=True, slots=True)
class ReasonGiven:
    """Why a child was not yet there, said afterwards."""

    mark: str
    child: str
    skill: str
    points: tuple[str, ...]
    kind: Literal["reason"] = "reason"


@dataclass(frozen=True, slots=True)
class Voided:
    """A message (`undo`) or one mark (a correction) is as if it had never come.

    A correction's void falls with its own message; an undo's void never does.
    """

    target: str                         # a message's id, or a mark's
    undo: bool
    kind: Literal["voided"] = "voided"


@dataclass(frozen=True, slots=True)
class TickBrought:
    """A skill was ticked before we knew: the roster says so, or a coach (`by`). No family hears of it."""

    child: str
    skill: str
    on: date
    by: str = ""
    kind: Literal["brought"] = "brought"


@dataclass(frozen=True, slots=True)
class RetestMoved:
    """A retest is not due before that day."""

    child: str
    skill: str
    to: date
    at: datetime
    kind: Literal["moved"] = "moved"


@dataclass(frozen=True, slots=True)
class LessonOpened:
    """A lesson was started (again)."""

    lesson: str
    by: str
    at: datetime
    kind: Literal["opened"] = "opened"


@dataclass(frozen=True, slots=True)
class LessonClosed:
    """A lesson was closed; `by` is empty where it closed by itself."""

    lesson: str
    by: str
    at: datetime
    kind: Literal["closed"] = "closed"


@dataclass(frozen=True, slots=True)
class RegisterTaken:
    """The question who is here was answered: all but these."""

    lesson: str
    away: tuple[str, ...]
    at: datetime
    kind: Literal["register"] = "register"


@dataclass(frozen=True, slots=True)
class ChildNoted:
    """Something about a child for this lesson alone. No reason is kept."""

    lesson: str
    child: str
    what: Literal["away", "here", "sits", "back", "leaves", "spared", "bump"]
    at: datetime
    until: datetime | None = None       # for `leaves`
    load: str | None = None             # for `spared`
    kind: Literal["noted"] = "noted"


@dataclass(frozen=True, slots=True)
class LessonPaused:
    """Silence, or the end of it."""

    lesson: str
    paused: bool
    at: datetime
    kind: Literal["paused"] = "paused"


@dataclass(frozen=True, slots=True)
class GroupNamed:
    """A lasting group of a class, as the children stand on the mats."""

    class_id: str
    name: str                           # folded
    children: tuple[str, ...]
    kind: Literal["group"] = "group"


@dataclass(frozen=True, slots=True)
class ChildAdded:
    """A new child joined a class."""

    child: str
    name: str
    class_id: str
    award: str
    kind: Literal["added"] = "added"


@dataclass(frozen=True, slots=True)
class AwardMoved:
    """An award went a step on its way to the child: on the order, sent for, here, handed over; or off its way.

    The last one counts, so a step back is said by the stage that it leads back to.
    """

    child: str
    award: str
    to: Literal["ordered", "sent", "arrived", "presented", "dropped"]
    on: date
    kind: Literal["award"] = "award"


@dataclass(frozen=True, slots=True)
class CupboardChanged:
    """So many of an award are in the cupboard (`counted`), or so many went in; fewer than none: they were taken out."""

    award: str
    count: int
    counted: bool
    on: date
    kind: Literal["cupboard"] = "cupboard"


@dataclass(frozen=True, slots=True)
class NamePrinted:
    """So a child's name is printed. It holds for as long as the roster calls her as it did then (`of`)."""

    child: str
    name: str
    of: str
    at: datetime
    kind: Literal["printed"] = "printed"


@dataclass(frozen=True, slots=True)
class HelperShowed:
    """A helper says that children have shown a skill; a grown-up still has to judge it."""

    lesson: str
    by: str
    children: tuple[str, ...]
    skill: str
    at: datetime
    kind: Literal["helper"] = "helper"


@dataclass(frozen=True, slots=True)
class ConsentSaid:
    """A parent said yes, or took it back. `words`: what they were shown when they said it."""

    child: str
    parent: str
    yes: bool
    at: datetime
    words: str = ""
    kind: Literal["consent"] = "consent"


@dataclass(frozen=True, slots=True)
class NewsReleased:
    """What a coach says of a lesson's news: whose waits, and with `word` that the others' may go.

    `freed`: children whose news waited because they were looked after or spared, and does not any more. The last
    of these holds; the word itself stands until the lesson is closed anew.
    """

    lesson: str
    by: str
    at: datetime
    held: tuple[str, ...] = ()
    freed: tuple[str, ...] = ()
    word: bool = True
    kind: Literal["released"] = "released"


@dataclass(frozen=True, slots=True)
class NewsTold:
    """A parent was told of a child: what was new, and what was taken back."""

    child: str
    parent: str
    on: date
    new: tuple[str, ...] = ()           # skill ids, and `award:ID`
    wrong: tuple[str, ...] = ()
    kind: Literal["told"] = "told"


@dataclass(frozen=True, slots=True)
class WayAgreed:
    """A child shows a skill in a way of her own, from now on; an empty way ends that. Counts fully."""

    child: str
    skill: str
    way: str
    at: datetime
    kind: Literal["way"] = "way"


@dataclass(frozen=True, slots=True)
class LoadSpared:
    """A child is spared a load up to a day, that day included; None ends it. No reason is kept."""

    child: str
    load: str
    until: date | None
    at: datetime
    kind: Literal["load"] = "load"


@dataclass(frozen=True, slots=True)
class PaceReset:
    """What was learned of a class's pace until then does not count any more."""

    class_id: str
    at: datetime
    kind: Literal["pace"] = "pace"


@dataclass(frozen=True, slots=True)
class Ruling:
    """What a coach of the club says of a point, so that all judge it alike. The last one stands; empty words end it."""

    skill: str
    point: str
    words: str
    by: str
    at: datetime
    kind: Literal["ruling"] = "ruling"


@dataclass(frozen=True, slots=True)
class LookAsked:
    """Somebody is asked to judge these children too, on that show; neither hears of the other until both have."""

    lesson: str
    by: str
    of: str
    children: tuple[str, ...]
    skill: str
    show: int
    at: datetime
    kind: Literal["look asked"] = "look asked"


@dataclass(frozen=True, slots=True)
class LookDeclined:
    """Who was asked for a second look can't just now. `asked_at` says which."""

    lesson: str
    by: str
    skill: str
    asked_at: datetime
    at: datetime
    kind: Literal["look declined"] = "look declined"


@dataclass(frozen=True, slots=True)
class Counted:
    """How often a skill was judged so in the marks of children who were forgotten, of all of them together."""

    skill: str
    seen: int
    not_yet: int
    kind: Literal["counted"] = "counted"


Fact = (
    Mark | ReasonGiven | Voided | TickBrought | RetestMoved | LessonOpened | LessonClosed | RegisterTaken
    | ChildNoted | LessonPaused | GroupNamed | ChildAdded | AwardMoved | HelperShowed
    | ConsentSaid | NewsReleased | NewsTold | WayAgreed | LoadSpared | PaceReset | CupboardChanged | NamePrinted
    | Ruling | LookAsked | LookDeclined | Counted
)
FACT: TypeAdapter[Fact] = TypeAdapter(Annotated[Fact, Field(discriminator="kind")])


@dataclass(frozen=True, slots=True)
class Recorded:
    """A fact in the record: by which message it came, and its number in the club's own order of receipt."""

    seq: int
    message: str
    fact: Fact


@dataclass(frozen=True, slots=True)
class Filed:
    """A fact in the record with what it is found by. `by`: its own, else whoever sent the message."""

    recorded: Recorded
    by: str
    lesson: str | None = None
    class_id: str | None = None


def in_force(record: tuple[Recorded, ...]) -> tuple[Recorded, ...]:
    """The facts that still count: nothing of an undone message, no mark that was corrected.

    Nor a mark set aside before something was taken back on the same child and skill: an Undo after a tap that came
    twice undoes what both said. `record` must hold every `Voided` that can touch it. Order is kept.
    """
    undone = {one.fact.target for one in record if isinstance(one.fact, Voided) and one.fact.undo}
    corrected = {
        one.fact.target
        for one in record
        if isinstance(one.fact, Voided) and not one.fact.undo and one.message not in undone
    }
    taken_back = _last_taken_back(record)
    return tuple(
        one
        for one in record
        if not isinstance(one.fact, Voided)
        and (one.message not in undone or _stays(one.fact))
        and not (isinstance(one.fact, Mark) and (one.fact.id in corrected or _overtaken(one.fact, one.seq, taken_back)))
    )


def _overtaken(mark: Mark, seq: int, taken_back: Mapping[tuple[str, str], int]) -> bool:
    """Was anything taken back on the child and skill of this mark after it was set aside?"""
    return mark.aside and seq < taken_back.get((mark.child, mark.skill), -1)


def _last_taken_back(record: tuple[Recorded, ...]) -> dict[tuple[str, str], int]:
    """(child, skill) → the number of the last void that touched a mark of theirs."""
    voids = {one.fact.target: one.seq for one in record if isinstance(one.fact, Voided)}
    last: dict[tuple[str, str], int] = {}
    for one in record if voids else ():
        if isinstance(one.fact, Mark):
            pair = one.fact.child, one.fact.skill
            last[pair] = max(last.get(pair, -1), voids.get(one.message, -1), voids.get(one.fact.id, -1))
    return last


def _stays(fact: Fact) -> bool:
    """That a lesson was opened, or closed by itself, is never taken back: an undo is about what was said in it."""
    return isinstance(fact, LessonOpened) or (isinstance(fact, LessonClosed) and not fact.by)
