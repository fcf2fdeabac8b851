"""The port of the store: what the house asks of whoever keeps things, and what is kept beside the talk.

What lives here: shapes and promises. What a step is made of is in `step.py`; the stores are in `storage/`.
"""
from __future__ import annotations

from collections.abc import Awaitable, Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from bot.facts import Filed, Recorded
from bot.lesson.book import Child, ClassBook
from bot.people.hall import Hall
from bot.people.model import Club, Person
from bot.scheme.model import Scheme
from bot.step import Decide, Desk, Heard, Invitation, Said, Shown, Wake, Want


@dataclass(frozen=True, slots=True)
class Loaded:
    """What loading a hall changed, in sentences."""

    club: str
    changes: tuple[str, ...]


Outgoing = tuple[int, Said, tuple[tuple[str, str], ...]]


@dataclass(frozen=True, slots=True)
class Gateway:
    """A program that brings messages in and takes unasked ones out. `push_url`: where it wants them sent."""

    name: str
    push_url: str | None = None
    push_secret: str | None = None  # what is sent is signed with it, so it is kept as it is


@dataclass(frozen=True, slots=True)
class Key:
    """A gateway's bearer key. Only a digest of it is kept; `id` is the part of it that may be shown."""

    digest: str
    id: str
    gateway: str
    ended: bool = False


@dataclass(frozen=True, slots=True)
class Subscription:
    """Where a browser's maker takes word for it while its page is closed (W3C Push API, RFC 8030, RFC 8291).

    `endpoint`: a URL of the push service; `p256dh`: the browser's public key, `auth`: its secret, both base64url.
    """

    endpoint: str
    p256dh: str
    auth: str


@dataclass(frozen=True, slots=True)
class Phone:
    """A browser on which somebody has come in. Only a digest of its secret is kept.

    `id`: its address on the channel `web`, by which it may be shown and ended. `subscription`: where its owner asked.
    """

    digest: str
    id: str
    club: str
    person: str
    since: datetime
    ended: bool = False
    subscription: Subscription | None = None


@dataclass(frozen=True, slots=True)
class Feed:
    """A secret link by which a calendar program takes somebody's lessons. Only a digest of it is kept."""

    digest: str
    club: str
    person: str


@dataclass(frozen=True, slots=True)
class Letter:
    """An unasked message on its way through a gateway. `tries`: how often that failed so far."""

    cursor: int
    said: Said
    channel: str
    address: str
    tries: int = 0


@dataclass(frozen=True, slots=True)
class Trouble:
    """A message or a reminder that a fault of ours keeps from being handled. No word of it is kept, and no name.

    `id`: the message's, after its gateway's name, or one of the store's own; `what`: `message`, or `reminder` with its
    kinds; `tries`: how often it was tried so far; `kind`, `place`: the error's class, and where it was raised, the last
    place first; `at`: when that was, by the service's clock.
    """

    id: str
    club: str                       # empty: a stranger's
    what: str
    tries: int
    kind: str
    place: str
    at: datetime


class NotFired(Exception):
    """Something that is due could not be said; it is due still. `said`: what could be. Its cause says why."""

    def __init__(self, said: tuple[Said, ...]) -> None:
        super().__init__("something that is due could not be said")
        self.said = said


@dataclass(frozen=True, slots=True)
class Queue:
    """Unasked messages that wait at one gateway: how many, and when the oldest of them was said."""

    letters: int
    oldest: datetime


@dataclass(frozen=True, slots=True)
class Waits:
    """What waits in a store: reminders that are due and did not fire yet, and letters by gateway."""

    due: int
    due_since: datetime | None          # the earliest of them; None: none is due
    letters: Mapping[str, Queue]


@dataclass(frozen=True, slots=True)
class Sight:
    """Somebody saw something of a child, a class or a club on a day of the club; `at`: the last time on that day.

    `person`: one of the club's people, or `@LOGIN` for whoever sat at the computer itself. `shown.child` is
    `FORGOTTEN` where she was forgotten since.
    """

    person: str
    day: date
    at: datetime
    shown: Shown


@dataclass(frozen=True, slots=True)
class Change:
    """A fact, who sent its message (empty: it came by itself), and when that was heard, where it is known."""

    recorded: Recorded
    by: str
    at: datetime | None


@dataclass(frozen=True, slots=True)
class Trail:
    """Who saw what, in the order of their times; and who changed what, in order of receipt."""

    sights: tuple[Sight, ...]
    changes: tuple[Change, ...]


FORGOTTEN = "(forgotten)"


class Store(Protocol):
    """Keeps everything. Steps of one person run in order, steps of one class one after another.

    Every method but `close` may raise `Refused`. Each is durable when it returns. Nothing read or written
    by a step ever crosses from one club to another.
    """

    def step(self, heard: Heard, decide: Decide) -> Awaitable[tuple[Said, ...]]:
        """Handle a message once: the answers to its sender, the same again for the same id.

        Raises OtherMessage where the id was used for another message, and whatever a fault in `decide` raises. What
        fails so for the third time is put aside and answered with a sentence, the same again for the same id.
        """

    def wake(
        self, now: datetime, wake: Wake, go_on: Callable[[], bool] = lambda: True,
    ) -> Awaitable[tuple[Said, ...]]:
        """Fire what is due by `now`, earliest first, each in its own transaction. Returns what was said.

        `go_on` is asked before each few: where it says no, what is left stays due.

        Raises NotFired where something could not be; nobody's later ones overtake it. What fails for the third time by
        a fault of ours is put aside, and counts as sent.
        """

    def next_due(self) -> Awaitable[datetime | None]:
        """When the earliest reminder is due, or None."""

    def waits(self, now: datetime) -> Awaitable[Waits]:
        """What waits by now: what is due, and what no gateway took out or delivered."""

    def measured(self, told: Callable[[float], None]) -> None:
        """From now on call this, in any thread, with the seconds that each commit took which wrote something."""

    def load(self, hall: Hall, now: datetime) -> Awaitable[Loaded]:
        """Load or update a club, and say what changed. A skill with marks that is gone is kept as retired."""

    def snapshot(self, club: str) -> Awaitable[Snapshot]:
        """All of a club, read at one instant: what `export` prints."""

    def troubles(self) -> Awaitable[tuple[Trouble, ...]]:
        """What was put aside, of every club, the oldest first."""

    def clubs(self) -> Awaitable[tuple[Club, ...]]:
        """Every club in this store, by id."""

    def people(self, club: str) -> Awaitable[tuple[Person, ...]]:
        """The people of a club, by id."""

    def meet(self, channel: str, address: str, club: str, person: str) -> Awaitable[None]:
        """From now on this address is that person."""

    def invite(self, invitation: Invitation, code: str) -> Awaitable[None]:
        """Keep an invitation under its code (only a hash of the code is kept)."""

    def outbox(self, after: int, limit: int = 100) -> Awaitable[tuple[Outgoing, ...]]:
        """Unasked messages, oldest first, behind a cursor: (cursor, message, addresses of the person)."""

    def saw(self, club: str, person: str, shown: tuple[Shown, ...], now: datetime) -> Awaitable[None]:
        """Keep who was shown what, where that was in no step. Raises Refused where there is no such club."""

    def trail(self, club: str) -> Awaitable[Trail]:
        """Who saw and changed what in a club, as far as it is kept."""

    def prune(self, club: str, now: datetime) -> Awaitable[None]:
        """Let go of who saw what longer ago than the club keeps it."""

    def keep_key(self, gateway: Gateway, key: Key) -> Awaitable[None]:
        """Keep a new key, and the gateway as it is from now on. The keys it had before go on working."""

    def end_keys(self, gateway: str, key: str | None = None) -> Awaitable[int]:
        """End the key of that id, or all of a gateway's; how many worked until now."""

    def key(self, digest: str) -> Awaitable[Key | None]:
        """The key of that digest, ended or not."""

    def gateways(self) -> Awaitable[tuple[Gateway, ...]]:
        """Every gateway with a key that works, by name."""

    def keep_phone(self, phone: Phone) -> Awaitable[None]:
        """Keep a phone on which somebody came in. Raises Refused where there is no such person.

        Raises SignedOut where one of that id was ended.
        """

    def phone(self, digest: str) -> Awaitable[Phone | None]:
        """The phone of that digest, ended or not."""

    def phones(self, club: str, person: str) -> Awaitable[tuple[Phone, ...]]:
        """Somebody's phones that are not ended, the first one first."""

    def end_phones(self, club: str, person: str, phone: str | None = None) -> Awaitable[int]:
        """End the phone of that id, or all of somebody's; how many worked until now."""

    def subscribe(
        self, club: str, person: str, phone: str, subscription: Subscription | None,
    ) -> Awaitable[None]:
        """Where that phone is told of something while its page is closed; None: nowhere. An ended one is left alone."""

    def keep_feed(self, feed: Feed) -> Awaitable[None]:
        """Keep somebody's feed; the one that they had before ends. Raises Refused where there is no such person."""

    def end_feed(self, club: str, person: str) -> Awaitable[bool]:
        """End somebody's feed; False: they had none."""

    def feed(self, digest: str) -> Awaitable[Feed | None]:
        """The feed of that digest; None: there is none, or it was ended."""

    def desk_of(self, club: str, person: str, now: datetime) -> Awaitable[Desk]:
        """What somebody may look at. Nothing is written. Raises Refused where there is no such person."""

    def desk(
        self, channel: str, address: str, now: datetime, wants: Collection[Want] = ()
    ) -> Awaitable[Desk]:
        """What a message from that address would find on its desk, these facts among it. Nothing is written."""

    def said(self, club: str, person: str, after: int, limit: int = 100) -> Awaitable[tuple[Said, ...]]:
        """The latest messages to somebody, at most so many, that have a number beyond `after`; in order."""

    def attached(self, secret: str, now: datetime) -> Awaitable[tuple[Desk, Said] | None]:
        """The message whose files are fetched by that secret, and what its person may look at now.

        None where no message has that secret (any more), or nobody is left to whom it went.
        """

    def letters(self, gateway: str, after: int, limit: int = 100) -> Awaitable[tuple[Letter, ...]]:
        """What waits to be taken out by a gateway behind a cursor, oldest first.

        An unasked message goes where its person was last heard when it was said, and nowhere once that address
        is somebody else's. It waits until it is settled. A person's messages come in their order.
        """

    def settle(self, gateway: str, message: str, retry_at: datetime | None = None) -> Awaitable[bool]:
        """That message is out, or given up; or, with `retry_at`, it failed and waits until then.

        What comes after it for the same person waits with it, and both come again behind new cursors, under
        their old ids. A settled message stays so. False: this gateway has no message of that id.
        """

    def release(self, now: datetime, said_since: datetime) -> Awaitable[tuple[int, int]]:
        """Let go on what waited until now, and give up what was said earlier than that: how many of each."""

    def hold(self, name: str, holder: str, now: datetime, until: datetime) -> Awaitable[bool]:
        """Of several programs on one database only the holder does this until then. False: another one does.

        A holder asks again in time to keep it, and with `until` gone by to let it go.
        """

    def heed(self, told: Callable[[], None]) -> None:
        """From now on call this, in any thread, soon after another program wrote something.

        Where nobody can tell it is never called, so whoever waits for something looks by itself too.
        """

    def whole(self, club: str) -> Awaitable[Whole]:
        """A club with all that its record is made of, to be kept elsewhere. Raises Refused where there is none."""

    def restore(self, whole: Whole) -> Awaitable[None]:
        """Take in a club as it was elsewhere. Raises Refused where a club of that id is here already."""

    def forget(self, club: str, child: str) -> Awaitable[None]:
        """Remove a child and all that is kept of her, for good."""

    def outlived(self, club: str, left_before: date) -> Awaitable[tuple[str, ...]]:
        """The children who left before that day, and of whom nothing was recorded from then on; their ids, in order."""

    def tidy(self, club: str, said_before: datetime) -> Awaitable[int]:
        """Take away some of the answers and reminders of a club that are older than that; how many went.

        The last few to each person stay, and whatever is on its way. Once it is none, nothing is left to do.
        """

    def backup(self, path: str) -> Awaitable[None]:
        """Copy everything to a new file while the work goes on. Raises Refused where that can't be done."""

    def close(self) -> Awaitable[None]:
        """Finish what is under way and let go. Safe to call twice."""


@dataclass(frozen=True)
class Snapshot:
    """A whole club at one instant."""

    club: Club
    schemes: Mapping[int, Scheme]
    people: tuple[Person, ...]
    books: Mapping[str, ClassBook]
    record: tuple[Recorded, ...]        # every fact in order of receipt, the voids too

    @property
    def children(self) -> dict[str, Child]:
        """Every child of the club, by id."""
        return {child.id: child for book in self.books.values() for child in book.children.values()}


@dataclass(frozen=True)
class Whole:
    """A club as it can be carried to another store. Who is reached where, and what was said, is no part of it."""

    club: Club
    schemes: Mapping[int, Scheme]
    people: tuple[Person, ...]          # by id
    books: Mapping[str, ClassBook]
    record: tuple[Filed, ...]           # every fact in order of receipt, the voids too
