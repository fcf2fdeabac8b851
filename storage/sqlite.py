"""The store in an SQLite file: one thread writes, another reads beside it.

What lives here: which of the two does what. What is peculiar to SQLite is in `sqlite_file.py`.
"""
from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from typing import TypeVar

from sqlalchemy.exc import DBAPIError

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
from storage import house, letters, migrations, phones, unit, waking
from storage.jobs import Jobs
from storage.session import Session
from storage.shelf import Shelf
from storage.sql import SqlShelf
from storage.sqlite_file import Database, copy, empty_log, engine_for, private, upsert

T = TypeVar("T")


class SqliteStore:
    """The store in one file. What each method promises is said in `bot.step.Store`."""

    def __init__(self, path: str) -> None:
        self._path = path
        try:
            self._open(path)
        except (DBAPIError, OSError) as error:
            raise Refused(f"{path} can't be opened as a database of ours.") from error

    def _open(self, path: str) -> None:
        private(path)
        engine = engine_for(path)
        try:
            with engine.begin() as connection:
                migrations.upgrade(connection)
        except BaseException:
            engine.dispose()
            raise
        self._jobs = Jobs(Database(engine))
        self._reader = ThreadPoolExecutor(1, "sprung-reader")
        self._reading = engine_for(path, "BEGIN")

    def step(self, heard: Heard, decide: Decide) -> asyncio.Future[tuple[Said, ...]]:
        """Handle a message once."""
        heard = unit.readable(heard)        # or looking it up would spoil the batch that it is in
        return self._jobs.put(lambda shelf: unit.step(shelf, heard, decide), heard.message)

    async def wake(self, now: datetime, wake: Wake) -> tuple[Said, ...]:
        """Fire what is due."""
        return await waking.wake_all(lambda plan: self._jobs.put(plan, shared=True), now, wake)

    async def load(self, hall: Hall, now: datetime) -> Loaded:
        """Load or update a club."""
        loaded: Loaded = await self._jobs.put(lambda shelf: house.load(shelf, hall, now))
        return loaded

    async def meet(self, channel: str, address: str, club: str, person: str) -> None:
        """From now on this address is that person."""
        await self._jobs.put(lambda shelf: house.meet(shelf, channel, address, club, person))

    async def invite(self, invitation: Invitation, code: str) -> None:
        """Keep an invitation."""
        await self._jobs.put(lambda shelf: house.invite(shelf, invitation, code))

    async def forget(self, club: str, child: str) -> None:
        """Remove a child, and what her rows leave behind in the file."""
        await self._jobs.put(lambda shelf: house.forget(shelf, club, child))
        await self._aside(lambda: empty_log(self._path))

    async def snapshot(self, club: str) -> Snapshot:
        """All of a club at one instant."""
        return await self._read(lambda shelf: house.snapshot(shelf, club))

    async def clubs(self) -> tuple[Club, ...]:
        """Every club."""
        return await self._read(house.clubs)

    async def people(self, club: str) -> tuple[Person, ...]:
        """The people of a club."""
        return await self._read(lambda shelf: house.people(shelf, club))

    async def next_due(self) -> datetime | None:
        """When the earliest reminder is due."""
        return await self._read(lambda shelf: shelf.next_due())

    async def outbox(self, after: int, limit: int = 100) -> tuple[Outgoing, ...]:
        """Unasked messages behind a cursor."""
        return await self._read(lambda shelf: shelf.outbox(after, limit))

    async def keep_key(self, gateway: Gateway, key: Key) -> None:
        """Keep a gateway's new key."""
        await self._jobs.put(lambda shelf: letters.keep_key(shelf, gateway, key))

    async def end_keys(self, gateway: str, key: str | None = None) -> int:
        """End one key or all of them."""
        ended: int = await self._jobs.put(lambda shelf: letters.end_keys(shelf, gateway, key))
        return ended

    async def key(self, digest: str) -> Key | None:
        """The key of that digest."""
        return await self._read(lambda shelf: shelf.key(digest))

    async def gateways(self) -> tuple[Gateway, ...]:
        """Every gateway with a key that works."""
        return await self._read(letters.gateways)

    async def keep_phone(self, phone: Phone) -> None:
        """Keep a phone."""
        await self._jobs.put(lambda shelf: phones.keep(shelf, phone))

    async def phone(self, digest: str) -> Phone | None:
        """The phone of that digest."""
        return await self._read(lambda shelf: shelf.phone(digest))

    async def phones(self, club: str, person: str) -> tuple[Phone, ...]:
        """Somebody's phones that work."""
        return await self._read(lambda shelf: phones.working(shelf, club, person))

    async def end_phones(self, club: str, person: str, phone: str | None = None) -> int:
        """End one phone or all of them."""
        ended: int = await self._jobs.put(lambda shelf: phones.end(shelf, club, person, phone))
        return ended

    async def subscribe(self, club: str, person: str, phone: str, subscription: Subscription | None) -> None:
        """Where a phone is told while its page is closed."""
        await self._jobs.put(lambda shelf: phones.subscribe(shelf, club, person, phone, subscription))

    async def desk(self, channel: str, address: str, now: datetime) -> Desk:
        """What a message from there would find, out of what the writer remembers."""
        found: Desk = await self._jobs.put(lambda shelf: phones.desk(shelf, channel, address, now), shared=True)
        return found

    async def said(self, club: str, person: str, after: int, limit: int = 100) -> tuple[Said, ...]:
        """What was said to somebody last."""
        return await self._read(lambda shelf: shelf.latest(club, person, after, limit))

    async def letters(self, gateway: str, after: int, limit: int = 100) -> tuple[Letter, ...]:
        """What waits at a gateway."""
        return await self._read(lambda shelf: shelf.letters(gateway, after, limit))

    async def settle(self, gateway: str, message: str, retry_at: datetime | None = None) -> bool:
        """That message is out, given up, or failed for now."""
        known: bool = await self._jobs.put(lambda shelf: letters.settle(shelf, gateway, message, retry_at))
        return known

    async def release(self, now: datetime, said_since: datetime) -> tuple[int, int]:
        """Let go on what waited, give up what is too old."""
        done: tuple[int, int] = await self._jobs.put(lambda shelf: letters.release(shelf, now, said_since))
        return done

    async def backup(self, path: str) -> None:
        """Copy the file while it is written to."""
        if os.path.exists(path):
            raise Refused(f"{path} is there already; nothing was copied.")
        await self._aside(lambda: copy(self._path, path))

    async def close(self) -> None:
        """Finish what is queued and let go."""
        await asyncio.to_thread(self._jobs.close)
        await asyncio.to_thread(self._reader.shutdown)
        self._reading.dispose()

    # --- beside the writer ---

    async def _read(self, ask: Callable[[Shelf], T]) -> T:
        """Read at one instant, on a connection of its own."""
        def reading() -> T:
            with self._reading.connect() as connection, connection.begin():
                return ask(SqlShelf(Session(connection, upsert)))

        return await self._aside(reading)

    async def _aside(self, work: Callable[[], T]) -> T:
        try:
            working = asyncio.get_running_loop().run_in_executor(self._reader, work)
        except RuntimeError as error:
            raise Refused("The store is closed.") from error
        return await working
