"""What a message asks of us, in the imperative. Typed text and tapped choices end in the same values.

What lives here: plain frozen data, no behaviour. Children, skills, points and classes are ids.
A choice carries its request whole (these children, this skill, this show), so that a tap hours later
still means what its message said.
"""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time
from typing import Annotated, Literal

from pydantic import Field

from bot.facts import Verdict

# --- marks -----------------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Mark:
    """`ava, ben seen cartwheel left`, `ben not yet hips`, `ava seen show 2`."""

    children: tuple[str, ...]
    verdict: Verdict
    skill: str                              # typed, or the one that is being watched
    pieces: tuple[str, ...] | None = None   # None: all that the show still owes
    show: int | None = None                 # 1 or 2 where it was said
    points: tuple[str, ...] = ()            # ids of the points missed
    way: str | None = None                  # a way of the skill, or the side chosen where it is free
    at: datetime | None = None              # judged then (aware), where the message said so
    kind: Literal["mark"] = "mark"


@dataclass(frozen=True, slots=True)
class MarkLine:
    """`all seen`, `none yet`, `all but gus seen`, `not 7`: the open line; all of it without names."""

    verdict: Verdict = "seen"
    missed: tuple[str, ...] = ()            # these are not yet, the others seen
    left: tuple[str, ...] = ()              # these stay unmarked and are asked about
    points: tuple[str, ...] = ()
    skill: str | None = None                # where the words named one
    at: datetime | None = None
    kind: Literal["line"] = "line"


# --- who is here -----------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Note:
    """`mia away`, `mia here`, `mia sits`, `mia back`, `mia leaves 17:30`, `ava no landings`, `bump ben`."""

    what: Literal["away", "here", "sits", "back", "leaves", "spared", "bump"]
    children: tuple[str, ...]
    until: time | None = None               # for `leaves`, the club's wall clock
    load: str | None = None                 # for `spared`: the load of the scheme
    days: int = 0                           # for `spared`: for so long; 0: today only
    kind: Literal["note"] = "note"


@dataclass(frozen=True, slots=True)
class Family:
    """`hold news ava`, `release ava`, `cut off ava`: what her family hears."""

    what: Literal["held", "freed", "cut off"]
    children: tuple[str, ...]
    kind: Literal["family"] = "family"


@dataclass(frozen=True, slots=True)
class Add:
    """`add Zoe Quill`: a new child of the class, the name as typed."""

    name: str
    kind: Literal["add"] = "add"


@dataclass(frozen=True, slots=True)
class AddTo:
    """`add to tuesday: Ava Price, Ben Osei`: a list of children for a class, the names as typed."""

    class_id: str
    names: tuple[str, ...]
    kind: Literal["add to"] = "add to"


@dataclass(frozen=True, slots=True)
class Held:
    """`ava has shoulder stand since may`: ticked before we knew. `since`: as typed; empty: nobody says when."""

    child: str
    skills: tuple[str, ...]
    since: str = ""
    kind: Literal["held before"] = "held before"


@dataclass(frozen=True, slots=True)
class NameGroup:
    """`red is ava ben chidi dara`."""

    name: str
    children: tuple[str, ...]
    kind: Literal["group"] = "group"


@dataclass(frozen=True, slots=True)
class Names:
    """Only names: an answer to a question that asked for them."""

    children: tuple[str, ...]
    kind: Literal["names"] = "names"


@dataclass(frozen=True, slots=True)
class Points:
    """Only points: why somebody was not yet there."""

    points: tuple[str, ...]
    kind: Literal["points"] = "points"


# --- the lesson ------------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Start:
    """`start`, `start tuesday`: the classes that the words fit; empty: the one that is on now."""

    classes: tuple[str, ...] = ()
    kind: Literal["start"] = "start"


@dataclass(frozen=True, slots=True)
class Later:
    """`later ben 3 weeks`: moves a retest."""

    child: str
    days: int
    skill: str | None = None
    kind: Literal["later"] = "later"


@dataclass(frozen=True, slots=True)
class Agree:
    """`agree ava cartwheel: seated`: how a child shows a skill from now on; an empty way ends that."""

    child: str
    skill: str
    way: str
    kind: Literal["agree"] = "agree"


@dataclass(frozen=True, slots=True)
class Cupboard:
    """`cupboard lantern 5`: so many are there; none named: what is there?"""

    counts: tuple[tuple[str, int], ...] = ()    # (award, how many)
    kind: Literal["cupboard"] = "cupboard"


@dataclass(frozen=True, slots=True)
class Spell:
    """`spell noor: Noor Rahman`: how a child's name is printed."""

    child: str
    name: str
    kind: Literal["spell"] = "spell"


@dataclass(frozen=True, slots=True)
class Owed:
    """`owed`, `owed ava`, `owed tuesday`."""

    children: tuple[str, ...] = ()
    skill: str | None = None
    classes: tuple[str, ...] = ()       # none: that of the open lesson, else all of whoever asks
    kind: Literal["owed"] = "owed"


@dataclass(frozen=True, slots=True)
class Standard:
    """`standard`, `standard cartwheel`."""

    skill: str | None = None
    kind: Literal["standard"] = "standard"


@dataclass(frozen=True, slots=True)
class Same:
    """`same standard`, `same standard cartwheel`, `figures`: how alike those judge who looked at the same shows."""

    skill: str | None = None
    figures: bool = False
    kind: Literal["same"] = "same"


@dataclass(frozen=True, slots=True)
class Look:
    """`second look`, `second look sam`, `calibrate cartwheel`: have somebody judge these children too.

    `of`: the ids of whoever the name fits; empty: the other one who judges. `six`: children are chosen for it.
    """

    children: tuple[str, ...] = ()
    skill: str | None = None
    of: tuple[str, ...] = ()
    six: bool = False
    kind: Literal["look"] = "look"


@dataclass(frozen=True, slots=True)
class Rule:
    """`ruling cartwheel legs: a soft knee is fine`; empty words take the ruling away."""

    skill: str
    point: str
    words: str
    kind: Literal["rule"] = "rule"


@dataclass(frozen=True, slots=True)
class Music:
    """`8 eights at 120`, `90 seconds at 120`, `how long is waltz turn at 112`, `click 120 8 eights twice`.

    What was not said is None. `eights` may be of no whole number (half a one is four beats), so they are in `beats`.
    """

    what: Literal["lasts", "click"]
    skill: str | None = None
    bpm: int | None = None
    beats: int | None = None                # once through
    seconds: int | None = None
    times: int | None = None                # through
    count_in: int | None = None             # counts of eight
    kind: Literal["music"] = "music"


@dataclass(frozen=True, slots=True)
class Picture:
    """`grid`, `progress ava`: the class, or one child, to be looked at."""

    child: str | None = None
    class_id: str | None = None         # None: that which is on, or comes next
    kind: Literal["picture"] = "picture"


@dataclass(frozen=True, slots=True)
class Watch:
    """A skill alone (`cartwheel`): watch that one next."""

    skill: str
    kind: Literal["watch"] = "watch"


@dataclass(frozen=True, slots=True)
class Say:
    """A word that needs nothing more."""

    word: Literal[
        "close", "pause", "carry on", "undo", "resting", "next", "skip", "stop", "help", "everyone", "rest here",
        "who here", "plan", "paper", "yes", "no", "agreed", "rulings", "pace", "eve", "no eve", "news", "send news",
        "hold some", "awards", "order", "on order", "sent", "arrived", "hand over", "handed over", "award list",
        "lines of 1", "lines of 2", "lines of 3", "lines of 4", "lines of 5", "lines of 6", "lines as written",
    ]
    kind: Literal["say"] = "say"


@dataclass(frozen=True, slots=True)
class Join:
    """`join CODE`."""

    code: str
    kind: Literal["join"] = "join"


Typed = Annotated[
    Mark | MarkLine | Note | Family | Add | AddTo | Held | NameGroup | Names | Points
    | Start | Later | Agree | Cupboard | Spell | Owed | Standard | Same | Look | Rule | Watch | Say | Join
    | Music | Picture,
    Field(discriminator="kind"),
]


# --- what reading a text ends in --------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Understood:
    """The one complete reading: what to do, in the order typed."""

    requests: tuple[Typed, ...]


@dataclass(frozen=True, slots=True)
class WhichOne:
    """Two or more complete readings, or a name with a slip: asked, never guessed."""

    why: Literal["child", "slip", "reading"]
    word: str                                   # the words in question, as typed
    options: tuple[tuple[str, Understood], ...]  # label of at most 20 characters, what it would mean


Why = Literal[
    "word", "no child", "no verdict", "no skill", "time", "future", "too old", "too long", "empty", "aim",
    "no side", "no such show", "needs name", "needs code", "needs way", "needs count", "needs spelling", "needs list",
    "needs ruling", "ambiguous",
]


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """No complete reading. `word` is the first that was not understood; `why` says more where we know it."""

    word: str
    why: Why = "word"


def mixed(several: Sequence[Typed]) -> bool:
    """Marks and other orders in one message?"""
    judged = sum(isinstance(one, Mark | MarkLine) for one in several)
    return 0 < judged < len(several)
