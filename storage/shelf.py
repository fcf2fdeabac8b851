"""What a store has to be able to do: read the pieces of a desk, and write down what a step came to.

What lives here: `Shelf`, the port inside the house between the one way of doing things (`unit.py`) and the
places where things are kept (`memory.py`, `sql.py`), with the values that cross it. A shelf is used inside
one transaction by one thread: it reads what was written before, and neither commits nor rolls back.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Protocol

from bot.facts import Filed, Recorded
from bot.lesson.book import Changes, ClassBook, Reminder
from bot.people.model import Club, Person
from bot.port import Change, Feed, Gateway, Key, Letter, Outgoing, Phone, Sight, Trouble, Waits
from bot.scheme.model import Scheme
from bot.step import Invitation, Joined, Said, Want
from bot.talk.state import Talk

DUE_AT_ONCE = 64            # so many reminders are looked up together
SAID_KEPT = 6               # so many of the last messages to a person are remembered, for the taps on them
OVERDUE_AT_ONCE = 500       # so many letters are let go in one transaction
Memo = dict[str, object]
NOBODY = ""                 # the club of those who are not known: strangers are answered too


class Apart(Exception):
    """A shelf says so of itself, not of what was read or decided: whoever handles a step's faults lets it through."""


@dataclass(frozen=True, slots=True)
class Home:
    """A club with its people and every version of its scheme."""

    club: Club
    people: Mapping[str, Person]
    schemes: Mapping[int, Scheme]


@dataclass(frozen=True, slots=True)
class Answered:
    """A message that was handled: whose it was, what was in it (a digest), and the numbers of its answers."""

    message: str
    club: str
    person: str
    fingerprint: str
    seqs: tuple[int, ...]
    received_at: datetime


@dataclass(frozen=True, slots=True)
class Queued:
    """A row of the queue: a reminder, or None where it fired and only its key is still needed."""

    reminder: Reminder | None


@dataclass(frozen=True, slots=True)
class Due:
    """What is due to one person at one instant: class id and key, in their order."""

    club: str
    person: str
    at: datetime
    keys: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Reach:
    """Where somebody was last heard, and through which gateway (empty: none)."""

    channel: str
    address: str
    via: str


@dataclass(frozen=True, slots=True)
class Lease:
    """Something that only one program may do at a time, whose it is, and until when."""

    name: str
    holder: str
    until: datetime


@dataclass(frozen=True, slots=True)
class Posted:
    """The way of one unasked message through a gateway. Settled where it has neither a cursor nor a time."""

    id: str
    club: str
    person: str
    seq: int
    reach: Reach
    at: datetime
    cursor: int | None = None           # its place among what can be taken out
    held_until: datetime | None = None
    tries: int = 0

    @property
    def settled(self) -> bool:
        """Is there nothing left to do?"""
        return self.cursor is None and self.held_until is None


@dataclass(frozen=True, slots=True)
class Everything:
    """All that is kept of a club and may name a child."""

    home: Home
    books: Mapping[str, ClassBook]
    record: tuple[Filed, ...]
    said: tuple[Said, ...]
    talks: Mapping[str, Talk]           # by person


@dataclass(frozen=True, slots=True)
class Erasure:
    """What forgetting a child takes away or rewrites. None: gone."""

    child: str
    changes: Changes                    # her, and the lessons and groups in which she was
    books: Mapping[str, ClassBook]
    queue: Mapping[tuple[str, str], Queued | None]
    people: Mapping[str, Person | None]
    record: Mapping[int, Filed | None]
    said: tuple[Said, ...]
    talks: Mapping[str, Talk]


@dataclass(frozen=True, slots=True)
class Written:
    """All that one transaction writes. `books` are the books after it, `queue` the rows that change."""

    club: str
    person: str = ""
    talk: Talk | None = None
    said: tuple[Said, ...] = ()
    answered: Answered | None = None
    record: tuple[Filed, ...] = ()
    changes: Changes = field(default_factory=Changes)
    books: Mapping[str, ClassBook] = field(default_factory=dict)
    queue: Mapping[tuple[str, str], Queued | None] = field(default_factory=dict)    # (class, key)
    joined: tuple[str, str, str, Joined] | None = None  # channel, sender, digest of the code, who that is now
    home: Home | None = None                            # after a load
    met: tuple[str, str, str] | None = None             # channel, address, whose it is now
    invited: tuple[str, Invitation] | None = None       # digest of the code
    heard_on: Reach | None = None                       # where the person is reached from now on
    posted: tuple[Posted, ...] = ()                     # as they are now
    released: tuple[Posted, ...] = ()                   # these get the next cursors, in their order
    gateway: Gateway | None = None
    keys: tuple[Key, ...] = ()                          # new, or changed
    phones: tuple[Phone, ...] = ()                      # new, or changed
    feed: Feed | None = None                            # in place of the one that the person had
    feed_ended: str | None = None                       # whose
    lease: Lease | None = None
    tidied: tuple[Said, ...] = ()                       # old messages that go
    troubles: tuple[Trouble, ...] = ()                  # new, or tried once more
    sights: tuple[Sight, ...] = ()
    sights_since: date | None = None                    # what was seen before that day is let go
    erasure: Erasure | None = None


class Shelf(Protocol):
    """Reads see every write before them. Nothing takes a club's data without naming the club."""

    def answered(self, message: str) -> Answered | None:
        """The message of that id, if it was handled before."""

    def known(self, channel: str, address: str) -> tuple[str, str] | None:
        """The club and the person behind an address."""

    def home(self, club: str) -> Home | None:
        """A club with its people and schemes."""

    def memo(self, home: Home, person: str) -> Memo:
        """What steps keep for somebody's next one: empty where the club has changed, or it was let go of."""

    def clubs(self) -> tuple[Club, ...]:
        """Every club, by id."""

    def class_ids(self, club: str) -> AbstractSet[str]:
        """The classes that have children or a lesson, in the timetable or not."""

    def book(self, club: str, class_id: str) -> ClassBook:
        """A class's book; an empty one where nothing is kept of it."""

    def talk(self, club: str, person: str) -> Talk | None:
        """Where somebody's talk is. Raises Refused where a newer program wrote it."""

    def said(self, club: str, person: str, seqs: Sequence[int]) -> tuple[Said, ...]:
        """What was said to somebody under these numbers, in their order; what is missing is left out."""

    def facts(self, club: str, want: Want) -> tuple[Recorded, ...]:
        """What the record holds for a want, with the voids that touch it, in order of receipt."""

    def last_fact(self, club: str) -> int:
        """The number of the last fact in a club's record; 0 where there is none."""

    def invitation(self, digest: str) -> Invitation | None:
        """The invitation kept under the digest of a code."""

    def due(self, until: datetime, but: AbstractSet[tuple[str, str]]) -> tuple[Due, ...]:
        """What is due first, not later than `until`, to anybody but these (club, person): the earliest first."""

    def next_due(self) -> datetime | None:
        """When the earliest reminder is due that was not fired."""

    def waits(self, now: datetime) -> Waits:
        """What is due by now, and what is not settled at each gateway."""

    def outbox(self, after: int, limit: int) -> tuple[Outgoing, ...]:
        """Unasked messages behind a cursor, oldest first, with the addresses of their person."""

    def reach(self, club: str, person: str) -> Reach | None:
        """Where somebody was last heard, if that address is still theirs."""

    def letters(self, via: str, after: int, limit: int) -> tuple[Letter, ...]:
        """What waits at a gateway behind a cursor, oldest first, for addresses that are still their person's."""

    def posted(self, message: str) -> Posted | None:
        """The way of the message of that id."""

    def waiting(self, via: str, club: str, person: str) -> tuple[Posted, ...]:
        """What is not settled for one person at one gateway, in order."""

    def held(self, via: str, club: str, person: str) -> datetime | None:
        """Until when anything is held for one person at one gateway: the latest of it, or None."""

    def overdue(self, now: datetime, said_since: datetime, club: str | None = None) -> tuple[Posted, ...]:
        """What is held until now, or waits and was said too long ago: the oldest, in each person's order.

        Everybody's, or one club's.
        """

    def key(self, digest: str) -> Key | None:
        """The key of that digest."""

    def keys(self, gateway: str) -> tuple[Key, ...]:
        """A gateway's keys, by id."""

    def gateway(self, name: str) -> Gateway | None:
        """The gateway of that name."""

    def gateways(self) -> tuple[Gateway, ...]:
        """Every gateway, by name."""

    def lease(self, name: str) -> Lease | None:
        """Who may do that, or might until lately."""

    def phone(self, digest: str) -> Phone | None:
        """The phone of that digest."""

    def phones(self, club: str, person: str) -> tuple[Phone, ...]:
        """Somebody's phones, ended or not, the first one first."""

    def feed(self, digest: str) -> Feed | None:
        """The feed of that digest."""

    def feed_of(self, club: str, person: str) -> Feed | None:
        """Somebody's feed."""

    def latest(self, club: str, person: str, after: int, limit: int) -> tuple[Said, ...]:
        """What was said to somebody last, at most so many with a number beyond `after`; in order."""

    def spoken_to_before(self, club: str, before: datetime) -> tuple[str, ...]:
        """To whom something was said before then, and more in all than is remembered for the taps on it; sorted."""

    def said_before(self, club: str, person: str, before: datetime, limit: int) -> tuple[Said, ...]:
        """What was said to somebody before then, at most so many, the oldest first."""

    def trouble(self, club: str, id: str) -> Trouble | None:
        """What is noted of that message or reminder, where a fault kept it from being handled."""

    def troubles(self, tries: int) -> tuple[Trouble, ...]:
        """What was tried at least so often, of every club, the oldest first."""

    def sights(self, club: str) -> tuple[Sight, ...]:
        """Who was shown what, in the order of days and people."""

    def first_sight(self, club: str) -> date | None:
        """The first day on which anything was shown to anybody."""

    def changes(self, club: str) -> tuple[Change, ...]:
        """Every fact, in order of receipt, with when its message was heard."""

    def attached(self, secret: str) -> Said | None:
        """The message with files that are fetched by that secret."""

    def everything(self, club: str) -> Everything:
        """All that is kept of a club, uncached."""

    def keep(self, written: Written) -> None:
        """Write all of it."""
