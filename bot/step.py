"""One message in, what to record and what to say out.

What lives here are the shapes of a step, all plain frozen data; `step` and `wake` are in `bot/talk/turn.py`, the port
of the store that hands a step its desk in `bot/port.py`. A step is pure: the same heard message on the same desk gives
the same result.

Where a step needs more than the desk holds (the history of a child's marks for an undo), it raises
`MoreNeeded`; the store reads what is wanted, puts it on the desk and calls again, in the same transaction.
"""
from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from hashlib import blake2s
from typing import Annotated, Literal

from pydantic import Field

from bot.attached import Attachment
from bot.facts import Fact, Recorded
from bot.lesson.ahead import Ahead
from bot.lesson.book import Changes, ClassBook, Reminder
from bot.people.model import Club, Person
from bot.scheme.model import Scheme
from bot.talk.state import Talk
from bot.talk.taps import Tap

# --- in --------------------------------------------------------------------------------------------


COMMAND = "command"     # a channel on which somebody gives orders and is not reached: where they were reached stays


@dataclass(frozen=True, slots=True)
class Heard:
    """A message from somebody. Exactly one of `text` and `choice`. Instants are aware.

    `id` is the sender's own (the gateway's, the phone's): the same id again is the same message, if
    channel, sender, text and choice are the same too.
    """

    id: str
    channel: str
    sender: str                     # the address on that channel, normalised
    received_at: datetime
    sent_at: datetime
    text: str | None = None
    choice: str | None = None
    via: str = ""                   # the gateway that brought it, on whatever channel; empty: the channel itself

    @property
    def message(self) -> str:
        """The id under which its facts are kept: a gateway's ids are its own."""
        return f"{self.via or self.channel}:{self.id}"


@dataclass(frozen=True, slots=True)
class Woken:
    """Time has come: these reminders are due to one person."""

    id: str                         # a message id of the store's own
    now: datetime
    due: tuple[Reminder, ...]


@dataclass(frozen=True, slots=True)
class Want:
    """Facts that a step needs beyond its desk: all that match every field given, in order of receipt,

    and with them every `Voided` whose target is one of those facts' messages or marks.
    """

    child: str | None = None
    skill: str | None = None
    lesson: str | None = None       # the lesson in which the message came, or that the fact names
    class_id: str | None = None
    message: str | None = None
    by: str | None = None
    kind: str | None = None


@dataclass(frozen=True, slots=True)
class WantSaid:
    """A message that was said to this person, by its number."""

    seq: int


@dataclass(frozen=True, slots=True)
class WantCode:
    """The invitation behind a code, as typed."""

    code: str


Wanted = Want | WantSaid | WantCode


class MoreNeeded(Exception):
    """The step needs these reads before it can answer."""

    def __init__(self, *wanted: Wanted) -> None:
        super().__init__(f"{len(wanted)} more reads")
        self.wanted = wanted


@dataclass(frozen=True, slots=True)
class Invitation:
    """What a code opens: `person` for one of the club's people, else a parent of `child`."""

    club: str
    person: Person | None
    child: str | None
    expires_at: datetime
    used: bool
    club_name: str = ""             # these two are for whoever reads the code, and not kept with it
    first_name: str = ""            # of the child


@dataclass(frozen=True)
class Desk:
    """All that one step may look at."""

    club: Club | None                               # None: a stranger
    me: Person | None
    address: tuple[str, str]                        # channel, sender
    talk: Talk
    people: Mapping[str, Person] = field(default_factory=dict)
    books: Mapping[str, ClassBook] = field(default_factory=dict)    # the classes this person is given
    schemes: Mapping[int, Scheme] = field(default_factory=dict)     # every version that was ever in force
    tapped: Said | None = None                      # the message whose choice was tapped, if it was theirs
    more: Mapping[Wanted, object] = field(default_factory=dict)
    plans: Mapping[str, Ahead] = field(default_factory=dict)        # lesson → the plan for the rest of it, if any
    memo: dict[str, object] = field(default_factory=dict)   # what a step may keep for this person's next one;
    #                                                         a step gives the same result without it

    @cached_property
    def version(self) -> int:
        """The version of the scheme in force."""
        return max(self.schemes)

    @cached_property
    def scheme(self) -> Scheme:
        """The scheme in force."""
        return self.schemes[self.version]

    def facts(self, *wants: Want) -> tuple[tuple[Recorded, ...], ...]:
        """What the record holds for each want. Raises MoreNeeded (once for all of them) where not yet read."""
        missing = tuple(want for want in wants if want not in self.more)
        if missing:
            raise MoreNeeded(*missing)
        return tuple(self.more[want] for want in wants)     # type: ignore[misc]

    def said(self, seq: int) -> Said | None:
        """An earlier message to this person. Raises MoreNeeded where it was not yet read."""
        want = WantSaid(seq)
        if want not in self.more:
            raise MoreNeeded(want)
        return self.more[want]      # type: ignore[return-value]

    def invitation(self, code: str) -> Invitation | None:
        """What a code opens. Raises MoreNeeded where it was not yet read."""
        want = WantCode(code)
        if want not in self.more:
            raise MoreNeeded(want)
        return self.more[want]      # type: ignore[return-value]


# --- out -------------------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Choice:
    """A quick reply: a label and the request, whole. `number`: what can be typed for it on plain channels."""

    label: str
    tap: Annotated[Tap, Field(discriminator="kind")]
    number: int = 0


@dataclass(frozen=True, slots=True)
class Say:
    """Something to say to the person of this step."""

    text: str
    choices: tuple[Choice, ...] = ()
    attached: tuple[Attachment, ...] = ()


@dataclass(frozen=True, slots=True)
class Said:
    """A message as it is kept and delivered. `seq` counts up for each person, from 1.

    `secret`: by which its files are fetched, known to nobody but whoever got the message; empty where it has none.
    """

    club: str
    person: str
    seq: int
    at: datetime
    text: str
    choices: tuple[Choice, ...]
    in_reply_to: str | None         # the id of the message it answers; None: unasked
    attached: tuple[Attachment, ...] = ()
    secret: str = ""

    @property
    def id(self) -> str:
        """The id under which it is delivered, always the same. It names nobody, and fits into an address."""
        check = blake2s(f"{self.club}\0{self.person}\0{self.seq}".encode(), digest_size=12).hexdigest()
        return f"m_{self.seq}_{check}"

    def choice_ids(self) -> tuple[str, ...]:
        """The id of each choice, in order."""
        return tuple(choice_id(self.club, self.person, self.seq, n) for n in range(len(self.choices)))

    def pick(self, choice: str) -> Choice | None:
        """The choice with that id, or None: another person's tap is never taken for this one's."""
        id_ = choice.partition(WITH)[0]
        for known, one in zip(self.choice_ids(), self.choices, strict=True):
            if known == id_:
                return one
        return None


def choice_id(club: str, person: str, seq: int, index: int) -> str:
    """A choice's id: the number of the message, and a check that binds it to person, message and place."""
    check = blake2s(f"{club}\0{person}\0{seq}\0{index}".encode(), digest_size=6).hexdigest()
    return f"c_{seq}_{check}"


def seq_of_choice(choice: str) -> int | None:
    """The number of the message that a choice id belongs to, or None where it is no id of ours."""
    kind, _, rest = choice.partition("_")
    number, _, check = rest.partition("_")
    ours = kind == "c" and check and number.isascii() and number.isdigit() and len(number) < 12
    return int(number) if ours else None


WITH = "~"      # between the id of a choice and the places of those in its line who were picked with it


def places_with(choice: str) -> tuple[int, ...] | None:
    """The places (from 1) that were picked with a choice, as in `c_12_0f2a~2.4`; None where they are no numbers."""
    places = [one for one in choice.partition(WITH)[2].split(".") if one]
    if not all(one.isascii() and one.isdigit() and len(one) < 4 for one in places):
        return None
    return tuple(int(one) for one in places)


@dataclass(frozen=True, slots=True)
class Joined:
    """Somebody came in with a code: this address is this person from now on."""

    code: str
    club: str
    person: Person                  # known already, or a new parent


@dataclass(frozen=True, slots=True)
class InHand:
    """A lesson as a step left it: what its rest is planned from. `watchers`: those who judge, whoever leads it first.

    `skipped` and `most` (the longest line) are what whoever took the step wants.
    """

    lesson: str
    book: ClassBook
    watchers: tuple[str, ...]
    skipped: tuple[str, ...]
    most: int | None


Seen = Literal["record", "agreed", "news", "awards", "class", "page", "cover", "export", "trail"]
"""What of a child somebody is shown, beyond the lines that they judge: how she stands; what is agreed for her; what her
family would read; awards that wait; a class's record in words, or on a page; a class that they stand in for; an export;
who saw and changed what."""


@dataclass(frozen=True, slots=True)
class Shown:
    """Somebody is shown something of a child; without one, of a class; without either, of the whole club."""

    what: Seen
    child: str = ""
    class_id: str = ""


@dataclass(frozen=True)
class Stepped:
    """What a step came to. The store writes all of it in one transaction, or nothing."""

    talk: Talk
    says: tuple[Say, ...] = ()
    facts: tuple[Fact, ...] = ()
    lesson: str | None = None       # the lesson in which the message came: what an undo looks through
    changes: Changes = field(default_factory=Changes)
    joined: Joined | None = None
    shown: tuple[Shown, ...] = ()   # kept for each person and day once
    in_hand: InHand | None = None   # nothing of it is written; it is there for whoever plans


Decide = Callable[[Heard, Desk], Stepped]
Wake = Callable[[Woken, Desk], Stepped]


class Refused(Exception):
    """The store can't take this message; the text is one sentence for whoever sent it."""


class SignedOut(Refused):
    """This phone was signed out for good; it takes another code to come in on it again."""


class OtherMessage(Refused):
    """This id was used before for another message; nothing was recorded."""
