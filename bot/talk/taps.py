"""What a choice asks for when it is tapped: frozen requests, complete in themselves.

What lives here: plain data that is stored with the message and comes back hours later. A request names
the children, the skill and the show that its message spoke of, never "the current line".
"""
from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from bot.facts import Mark
from bot.lesson.line import Line
from bot.talk.requests import Typed


@dataclass(frozen=True, slots=True)
class Answer:
    """All seen, or none yet, for exactly this line."""

    line: Line
    verdict: Literal["seen", "not yet"]
    kind: Literal["answer"] = "answer"


@dataclass(frozen=True, slots=True)
class Some:
    """Some not yet: ask who needs another go."""

    line: Line
    kind: Literal["some"] = "some"


@dataclass(frozen=True, slots=True)
class Again:
    """This child of the line is not yet; the others are seen. A further one corrects only its own child."""

    line: Line
    child: str
    kind: Literal["again"] = "again"


@dataclass(frozen=True, slots=True)
class Those:
    """These of the line are not yet, all picked at once; the others are seen."""

    line: Line
    children: tuple[str, ...]
    kind: Literal["those"] = "those"


@dataclass(frozen=True, slots=True)
class Watch:
    """Go: these children stand there for this show."""

    line: Line
    kind: Literal["watch"] = "watch"


@dataclass(frozen=True, slots=True)
class Another:
    """Another skill than this one: show which."""

    lesson: str
    skill: str | None = None
    kind: Literal["another"] = "another"


@dataclass(frozen=True, slots=True)
class Turn:
    """Watch this skill next."""

    lesson: str
    skill: str
    kind: Literal["turn"] = "turn"


@dataclass(frozen=True, slots=True)
class Card:
    """The standard of a skill."""

    skill: str
    kind: Literal["card"] = "card"


@dataclass(frozen=True, slots=True)
class Register:
    """Everyone is here; or ask who is missing; or ask later."""

    lesson: str
    answer: Literal["everyone", "some", "later"]
    kind: Literal["register"] = "register"


@dataclass(frozen=True, slots=True)
class Count:
    """Held marks are counted after all: an early repeat, a child marked away, what a second person meant.

    `others` are held for another reason and asked about next.
    """

    marks: tuple[Mark, ...]
    how: Literal["early", "here", "second look", "next show", "overturn"]
    kind: Literal["count"] = "count"


@dataclass(frozen=True, slots=True)
class Leave:
    """Held marks are let go: Wait, Not here, Leave it."""

    children: tuple[str, ...]
    why: Literal["wait", "not here", "leave it", "not now"]
    kind: Literal["leave"] = "leave"


@dataclass(frozen=True, slots=True)
class Correct:
    """A mark was a slip of the thumb: it was the other verdict."""

    mark: Mark
    verdict: Literal["seen", "not yet"]
    kind: Literal["correct"] = "correct"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why somebody was not yet there."""

    marks: tuple[Mark, ...]
    points: tuple[str, ...]
    kind: Literal["reason"] = "reason"


@dataclass(frozen=True, slots=True)
class Reasons:
    """Show the other points that can be missed."""

    marks: tuple[Mark, ...]
    after: int = 0                      # how many points were shown already
    kind: Literal["reasons"] = "reasons"


@dataclass(frozen=True, slots=True)
class Undo:
    """Take back exactly this message."""

    message: str
    kind: Literal["undo"] = "undo"


@dataclass(frozen=True, slots=True)
class Open:
    """Start this class's lesson of that day, and then do what was held for it."""

    class_id: str
    day: date | None = None             # None: today
    held: tuple[Typed, ...] = ()
    sent_at: datetime | None = None     # when what was held was sent
    kind: Literal["open"] = "open"


@dataclass(frozen=True, slots=True)
class Shut:
    """Close this lesson."""

    lesson: str
    kind: Literal["shut"] = "shut"


@dataclass(frozen=True, slots=True)
class Do:
    """One of several readings: what was typed, made clear. Judged when it was typed."""

    requests: tuple[Typed, ...]
    sent_at: datetime
    kind: Literal["do"] = "do"


@dataclass(frozen=True, slots=True)
class Order:
    """These awards go a step on: on the order, sent for, arrived, handed over; or off their way."""

    awards: tuple[tuple[str, str], ...]     # (child, award)
    to: Literal["ordered", "sent", "arrived", "presented", "dropped"] = "ordered"
    kind: Literal["order"] = "order"


@dataclass(frozen=True, slots=True)
class WhoseNot:
    """These awards go a step on but for some: ask whose do not."""

    awards: tuple[tuple[str, str], ...]
    to: Literal["arrived", "presented"]
    kind: Literal["whose not"] = "whose not"


@dataclass(frozen=True, slots=True)
class ButHers:
    """These awards go a step on but for this child's. A further one corrects only its own child."""

    child: str
    awards: tuple[tuple[str, str], ...]
    to: Literal["arrived", "presented"]
    kind: Literal["but hers"] = "but hers"


@dataclass(frozen=True, slots=True)
class HandOver:
    """Hand over what is here of a class: the names first, then how many; or the list."""

    class_id: str                           # empty: of whichever class has some
    show: Literal["count", "list"] = "count"
    kind: Literal["hand over"] = "hand over"


@dataclass(frozen=True, slots=True)
class NamesRight:
    """These names are right as they will be printed; then hand over what is here of the class."""

    class_id: str
    names: tuple[tuple[str, str], ...]      # (child, name)
    kind: Literal["names right"] = "names right"


@dataclass(frozen=True, slots=True)
class ChangeName:
    """One of the names that will be printed is wrong: say how it is put right."""

    class_id: str
    child: str                              # whose name is the example
    kind: Literal["change name"] = "change name"


@dataclass(frozen=True, slots=True)
class OrderSheet:
    """What is on the order, less what is in the cupboard."""

    kind: Literal["order sheet"] = "order sheet"


@dataclass(frozen=True, slots=True)
class Quiet:
    """Pause, or carry on."""

    lesson: str
    paused: bool
    kind: Literal["quiet"] = "quiet"


@dataclass(frozen=True, slots=True)
class Showed:
    """A helper says that this line has shown it."""

    line: Line
    kind: Literal["showed"] = "showed"


@dataclass(frozen=True, slots=True)
class Agree:
    """A parent says yes, or no, to what was put to them."""

    yes: bool
    child: str
    words: str                          # what was shown
    kind: Literal["agree"] = "agree"


@dataclass(frozen=True, slots=True)
class Release:
    """The families may hear of this lesson, but for those held."""

    lesson: str
    kind: Literal["release"] = "release"


@dataclass(frozen=True, slots=True)
class ShowNews:
    """Show what the families would read of this lesson."""

    lesson: str
    kind: Literal["show news"] = "show news"


@dataclass(frozen=True, slots=True)
class WhomToHold:
    """Ask whose news of this lesson waits."""

    lesson: str
    kind: Literal["whom to hold"] = "whom to hold"


@dataclass(frozen=True, slots=True)
class Hold:
    """The news of this child waits, or waits no more; the others' goes."""

    lesson: str
    child: str
    held: bool
    kind: Literal["hold"] = "hold"


@dataclass(frozen=True, slots=True)
class CutOff:
    """Nobody is told anything of this child any more: silently, for all families or for one."""

    child: str
    parents: tuple[str, ...]
    kind: Literal["cut off"] = "cut off"


@dataclass(frozen=True, slots=True)
class EndAgreed:
    """What was agreed for a child ends: a way on a skill, or a load spared."""

    child: str
    skill: str | None = None
    load: str | None = None
    kind: Literal["end agreed"] = "end agreed"


@dataclass(frozen=True, slots=True)
class EndRuling:
    """The ruling on a point is taken away."""

    skill: str
    point: str
    kind: Literal["end ruling"] = "end ruling"


@dataclass(frozen=True, slots=True)
class NoLook:
    """Whoever was asked for a second look can't just now."""

    lesson: str
    skill: str
    asked_at: datetime
    kind: Literal["no look"] = "no look"


@dataclass(frozen=True, slots=True)
class BeginAnew:
    """What was learned of this class's pace is forgotten."""

    class_id: str
    kind: Literal["begin anew"] = "begin anew"


@dataclass(frozen=True, slots=True)
class Enrol:
    """These names are new children of this class, on this award."""

    class_id: str
    names: tuple[str, ...]
    award: str
    kind: Literal["enrol"] = "enrol"


@dataclass(frozen=True, slots=True)
class Relist:
    """The list that was understood is not right: nothing of it is done, and it is said how to send another."""

    class_id: str
    kind: Literal["relist"] = "relist"


@dataclass(frozen=True, slots=True)
class Help:
    """What can be done here."""

    kind: Literal["help"] = "help"


Tap = (
    Answer | Some | Again | Watch | Another | Turn | Card | Register | Count | Leave | Correct | Reason | Reasons
    | Undo | Open | Shut | Do | Order | Quiet | Showed | Agree | Help
    | Release | ShowNews | WhomToHold | Hold | CutOff | EndAgreed | BeginAnew | Those
    | WhoseNot | ButHers | HandOver | NamesRight | ChangeName | OrderSheet | EndRuling | NoLook | Enrol | Relist
)
TAP: TypeAdapter[Tap] = TypeAdapter(Annotated[Tap, Field(discriminator="kind")])
