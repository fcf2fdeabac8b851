"""The store in memory: the same steps over plain dicts, for playing scripts and for tests.

What lives here: the store around a shelf of dicts. The data outlives the store object (`restarted`), as a
file outlives a program.
"""
from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

from bot.people.hall import Hall
from bot.people.model import Club, Person
from bot.step import (
    Decide,
    Desk,
    Gateway,
    Heard,
    Invitation,
    Key,
    Letter,
    Loaded,
    Outgoing,
    Phone,
    Refused,
    Said,
    Snapshot,
    Subscription,
    Wake,
)
from storage import house, letters, phones, unit, waking
from storage.dicts import Data, MemoryShelf
from storage.shelf import Shelf
from storage.unit import Done

T = TypeVar("T")


class MemoryStore:
    """The store in memory. What each method promises is said in `bot.step.Store`."""

    def __init__(self, data: Data | None = None) -> None:
        self._data = Data() if data is None else data
        self._shelf = MemoryShelf(self._data)
        self._open = True

    def restarted(self) -> MemoryStore:
        """Another store around the same data: what a program finds that is started again."""
        return MemoryStore(self._data)

    async def step(self, heard: Heard, decide: Decide) -> tuple[Said, ...]:
        """Handle a message once."""
        return self._do(lambda shelf: unit.step(shelf, heard, decide))

    async def wake(self, now: datetime, wake: Wake) -> tuple[Said, ...]:
        """Fire what is due."""
        async def put(plan: Callable[[Shelf], Done[Any]]) -> Any:
            return self._do(plan)

        return await waking.wake_all(put, now, wake)

    async def load(self, hall: Hall, now: datetime) -> Loaded:
        """Load or update a club."""
        return self._do(lambda shelf: house.load(shelf, hall, now))

    async def meet(self, channel: str, address: str, club: str, person: str) -> None:
        """From now on this address is that person."""
        self._do(lambda shelf: house.meet(shelf, channel, address, club, person))

    async def invite(self, invitation: Invitation, code: str) -> None:
        """Keep an invitation."""
        self._do(lambda shelf: house.invite(shelf, invitation, code))

    async def forget(self, club: str, child: str) -> None:
        """Remove a child."""
        self._do(lambda shelf: house.forget(shelf, club, child))

    async def snapshot(self, club: str) -> Snapshot:
        """All of a club at one instant."""
        return house.snapshot(self._opened(), club)

    async def clubs(self) -> tuple[Club, ...]:
        """Every club."""
        return house.clubs(self._opened())

    async def people(self, club: str) -> tuple[Person, ...]:
        """The people of a club."""
        return house.people(self._opened(), club)

    async def next_due(self) -> datetime | None:
        """When the earliest reminder is due."""
        return self._opened().next_due()

    async def outbox(self, after: int, limit: int = 100) -> tuple[Outgoing, ...]:
        """Unasked messages behind a cursor."""
        return self._opened().outbox(after, limit)

    async def keep_key(self, gateway: Gateway, key: Key) -> None:
        """Keep a gateway's new key."""
        self._do(lambda shelf: letters.keep_key(shelf, gateway, key))

    async def end_keys(self, gateway: str, key: str | None = None) -> int:
        """End one key or all of them."""
        return self._do(lambda shelf: letters.end_keys(shelf, gateway, key))

    async def key(self, digest: str) -> Key | None:
        """The key of that digest."""
        return self._opened().key(digest)

    async def gateways(self) -> tuple[Gateway, ...]:
        """Every gateway with a key that works."""
        return letters.gateways(self._opened())

    async def keep_phone(self, phone: Phone) -> None:
        """Keep a phone."""
        self._do(lambda shelf: phones.keep(shelf, phone))

    async def phone(self, digest: str) -> Phone | None:
        """The phone of that digest."""
        return self._opened().phone(digest)

    async def phones(self, club: str, person: str) -> tuple[Phone, ...]:
        """Somebody's phones that work."""
        return phones.working(self._opened(), club, person)

    async def end_phones(self, club: str, person: str, phone: str | None = None) -> int:
        """End one phone or all of them."""
        return self._do(lambda shelf: phones.end(shelf, club, person, phone))

    async def subscribe(self, club: str, person: str, phone: str, subscription: Subscription | None) -> None:
        """Where a phone is told while its page is closed."""
        self._do(lambda shelf: phones.subscribe(shelf, club, person, phone, subscription))

    async def desk(self, channel: str, address: str, now: datetime) -> Desk:
        """What a message from there would find."""
        return self._do(lambda shelf: phones.desk(shelf, channel, address, now))

    async def said(self, club: str, person: str, after: int, limit: int = 100) -> tuple[Said, ...]:
        """What was said to somebody last."""
        return self._opened().latest(club, person, after, limit)

    async def letters(self, gateway: str, after: int, limit: int = 100) -> tuple[Letter, ...]:
        """What waits at a gateway."""
        return self._opened().letters(gateway, after, limit)

    async def settle(self, gateway: str, message: str, retry_at: datetime | None = None) -> bool:
        """That message is out, given up, or failed for now."""
        return self._do(lambda shelf: letters.settle(shelf, gateway, message, retry_at))

    async def release(self, now: datetime, said_since: datetime) -> tuple[int, int]:
        """Let go on what waited, give up what is too old."""
        return self._do(lambda shelf: letters.release(shelf, now, said_since))

    async def backup(self, path: str) -> None:
        """There is no file to copy."""
        raise Refused("What is kept in memory alone can't be copied to a file.")

    async def close(self) -> None:
        """Let go; the data stays with whoever holds it."""
        self._open = False

    def _opened(self) -> MemoryShelf:
        if not self._open:
            raise Refused("The store is closed.")
        return self._shelf

    def _do(self, plan: Callable[[Shelf], Done[T]]) -> T:
        """Plan, write, and keep it all or nothing."""
        shelf = self._opened()
        try:
            done = plan(shelf)
            if done.written is not None:
                shelf.keep(done.written)
        except BaseException:
            shelf.rollback()
            raise
        shelf.done()
        return done.value
