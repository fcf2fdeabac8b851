"""What every store does alike: each method of the port as one plan that writes, or one question that only reads.

What lives here: no transaction and no thread. Those are where a store differs, and so it says how it does a plan, and
how it answers a question.
"""
from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from datetime import date, datetime
from typing import Any, TypeVar

from bot.people.hall import Hall
from bot.people.model import Club, Person
from bot.port import (
    Feed,
    Gateway,
    Key,
    Letter,
    Loaded,
    Outgoing,
    Phone,
    Snapshot,
    Subscription,
    Trail,
    Trouble,
    Waits,
    Whole,
)
from bot.step import Desk, Invitation, Said, Shown, Wake
from storage import feeds, house, letters, phones, sights, tidying, waking
from storage.shelf import Lease, Shelf
from storage.trouble import TRIES
from storage.unit import Done

T = TypeVar("T")
Plan = Callable[[Shelf], Done[T]]


class BaseStore(ABC):
    """What each method promises is said in `bot.port.Store`. A message, a desk and the end are each store's own."""

    @abstractmethod
    async def _do(self, plan: Plan[T], club: str | None = None, *, shared: bool = False) -> T:
        """Carry out a plan, all of it or nothing. `club`: whose it is, where it is one's.

        `shared`: there are many like it, so it may share a commit.
        """

    @abstractmethod
    async def _read(self, ask: Callable[[Shelf], T]) -> T:
        """Answer a question as things are at one instant."""

    async def wake(self, now: datetime, wake: Wake, go_on: Callable[[], bool] = lambda: True) -> tuple[Said, ...]:
        """Fire what is due."""
        return await waking.wake_all(self._fire, now, wake, go_on)

    async def _fire(self, plan: Plan[Any], club: str | None, *, patient: bool) -> Any:
        """Where one process does all that is written, nobody has to be waited for."""
        return await self._do(plan, club, shared=True)

    async def load(self, hall: Hall, now: datetime) -> Loaded:
        """Load or update a club."""
        return await self._do(lambda shelf: house.load(shelf, hall, now), hall.club.id)

    async def meet(self, channel: str, address: str, club: str, person: str) -> None:
        """From now on this address is that person."""
        await self._do(lambda shelf: house.meet(shelf, channel, address, club, person), club)

    async def invite(self, invitation: Invitation, code: str) -> None:
        """Keep an invitation."""
        await self._do(lambda shelf: house.invite(shelf, invitation, code), invitation.club)

    async def forget(self, club: str, child: str) -> None:
        """Remove a child."""
        await self._do(lambda shelf: house.forget(shelf, club, child), club)

    async def whole(self, club: str) -> Whole:
        """A club to be kept elsewhere."""
        return await self._read(lambda shelf: house.whole(shelf, club))

    async def restore(self, whole: Whole) -> None:
        """Take in a club."""
        await self._do(lambda shelf: house.restore(shelf, whole), whole.club.id)

    async def snapshot(self, club: str) -> Snapshot:
        """All of a club at one instant."""
        return await self._read(lambda shelf: house.snapshot(shelf, club))

    async def troubles(self) -> tuple[Trouble, ...]:
        """What was put aside."""
        return await self._read(lambda shelf: shelf.troubles(TRIES))

    async def clubs(self) -> tuple[Club, ...]:
        """Every club."""
        return await self._read(lambda shelf: shelf.clubs())

    async def people(self, club: str) -> tuple[Person, ...]:
        """The people of a club."""
        return await self._read(lambda shelf: house.people(shelf, club))

    async def next_due(self) -> datetime | None:
        """When the earliest reminder is due."""
        return await self._read(lambda shelf: shelf.next_due())

    async def waits(self, now: datetime) -> Waits:
        """What waits by now."""
        return await self._read(lambda shelf: shelf.waits(now))

    async def saw(self, club: str, person: str, shown: tuple[Shown, ...], now: datetime) -> None:
        """Keep who was shown what."""
        await self._do(lambda shelf: sights.saw(shelf, club, person, shown, now), club)

    async def trail(self, club: str) -> Trail:
        """Who saw and changed what."""
        return await self._read(lambda shelf: sights.trail(shelf, club))

    async def prune(self, club: str, now: datetime) -> None:
        """Let go of who saw what long ago."""
        await self._do(lambda shelf: sights.prune(shelf, club, now), club)

    def measured(self, told: Callable[[float], None]) -> None:  # noqa: B027 - what has no commits has none to measure
        """Nothing takes any time here."""

    async def outbox(self, after: int, limit: int = 100) -> tuple[Outgoing, ...]:
        """Unasked messages behind a cursor."""
        return await self._read(lambda shelf: shelf.outbox(after, limit))

    async def keep_key(self, gateway: Gateway, key: Key) -> None:
        """Keep a gateway's new key."""
        await self._do(lambda shelf: letters.keep_key(shelf, gateway, key))

    async def end_keys(self, gateway: str, key: str | None = None) -> int:
        """End one key or all of them."""
        return await self._do(lambda shelf: letters.end_keys(shelf, gateway, key))

    async def key(self, digest: str) -> Key | None:
        """The key of that digest."""
        return await self._read(lambda shelf: shelf.key(digest))

    async def gateways(self) -> tuple[Gateway, ...]:
        """Every gateway with a key that works."""
        return await self._read(letters.gateways)

    async def keep_phone(self, phone: Phone) -> None:
        """Keep a phone."""
        await self._do(lambda shelf: phones.keep(shelf, phone), phone.club)

    async def phone(self, digest: str) -> Phone | None:
        """The phone of that digest."""
        return await self._read(lambda shelf: shelf.phone(digest))

    async def phones(self, club: str, person: str) -> tuple[Phone, ...]:
        """Somebody's phones that work."""
        return await self._read(lambda shelf: phones.working(shelf, club, person))

    async def end_phones(self, club: str, person: str, phone: str | None = None) -> int:
        """End one phone or all of them."""
        return await self._do(lambda shelf: phones.end(shelf, club, person, phone), club)

    async def subscribe(self, club: str, person: str, phone: str, subscription: Subscription | None) -> None:
        """Where a phone is told while its page is closed."""
        await self._do(lambda shelf: phones.subscribe(shelf, club, person, phone, subscription), club)

    async def keep_feed(self, feed: Feed) -> None:
        """Keep somebody's feed."""
        await self._do(lambda shelf: feeds.keep(shelf, feed), feed.club)

    async def end_feed(self, club: str, person: str) -> bool:
        """End somebody's feed."""
        return await self._do(lambda shelf: feeds.end(shelf, club, person), club)

    async def feed(self, digest: str) -> Feed | None:
        """The feed of that digest."""
        return await self._read(lambda shelf: shelf.feed(digest))

    async def desk_of(self, club: str, person: str, now: datetime) -> Desk:
        """What somebody may look at."""
        return await self._do(lambda shelf: feeds.desk(shelf, club, person, now), club, shared=True)

    async def said(self, club: str, person: str, after: int, limit: int = 100) -> tuple[Said, ...]:
        """What was said to somebody last."""
        return await self._read(lambda shelf: shelf.latest(club, person, after, limit))

    async def outlived(self, club: str, left_before: date) -> tuple[str, ...]:
        """Who left so long ago."""
        return await self._read(lambda shelf: tidying.outlived(shelf, club, left_before))

    async def tidy(self, club: str, said_before: datetime) -> int:
        """Old answers and reminders go."""
        return await self._do(lambda shelf: tidying.tidy(shelf, club, said_before), club)

    async def attached(self, secret: str, now: datetime) -> tuple[Desk, Said] | None:
        """A message with files, and what its person may look at now."""
        said = await self._read(lambda shelf: shelf.attached(secret))
        if said is None:
            return None
        desk = await self._do(lambda shelf: phones.attached(shelf, said, now), said.club, shared=True)
        return None if desk is None else (desk, said)

    async def letters(self, gateway: str, after: int, limit: int = 100) -> tuple[Letter, ...]:
        """What waits at a gateway."""
        return await self._read(lambda shelf: shelf.letters(gateway, after, limit))

    async def hold(self, name: str, holder: str, now: datetime, until: datetime) -> bool:
        """Something is the holder's alone until then."""
        return await self._do(lambda shelf: letters.hold(shelf, Lease(name, holder, until), now))

    def heed(self, told: Callable[[], None]) -> None:  # noqa: B027 - most have nothing to tell
        """Here nobody can tell us of others: it has to be looked."""

    async def settle(self, gateway: str, message: str, retry_at: datetime | None = None) -> bool:
        """That message is out, given up, or failed for now."""
        return await self._do(lambda shelf: letters.settle(shelf, gateway, message, retry_at))

    async def release(self, now: datetime, said_since: datetime) -> tuple[int, int]:
        """Let go on what waited, give up what is too old."""
        return await self._do(lambda shelf: letters.release(shelf, now, said_since))
