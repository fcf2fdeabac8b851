"""The store in an SQLite file: one thread writes, another reads beside it.

What lives here: which of the two does what. What is peculiar to SQLite is in `sqlite_file.py`.
"""
from __future__ import annotations

import asyncio
import logging
import os
from collections.abc import Callable, Collection
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from typing import TypeVar

from sqlalchemy.exc import DBAPIError

from bot.step import Decide, Desk, Heard, Refused, Said, Want
from storage import migrations, phones, unit
from storage.cache import LESSONS
from storage.jobs import Jobs
from storage.pad import Broken
from storage.session import Session
from storage.shelf import Shelf
from storage.sql import SqlShelf
from storage.sqlite_file import Database, copy, empty_log, engine_for, private, reason, upsert
from storage.store import BaseStore, Plan

T = TypeVar("T")
LOG = logging.getLogger("sprung.storage")
NOT_READ = "That could not be looked up just now. Please try again in a moment."


class SqliteStore(BaseStore):
    """The store in one file. What each method promises is said in `bot.port.Store`."""

    def __init__(self, path: str, lessons: int | None = None) -> None:
        self._path = path
        try:
            self._open(path, lessons or LESSONS)
        except (DBAPIError, OSError) as error:
            raise Refused(f"{path} can't be opened as a database of ours.") from error

    def _open(self, path: str, lessons: int) -> None:
        private(path)
        engine = engine_for(path)
        try:
            with engine.begin() as connection:
                migrations.upgrade(connection)
        except BaseException:
            engine.dispose()
            raise
        self._jobs = Jobs(Database(engine, lessons))
        self._reader = ThreadPoolExecutor(1, "sprung-reader")
        self._reading = engine_for(path, "BEGIN")

    def step(self, heard: Heard, decide: Decide) -> asyncio.Future[tuple[Said, ...]]:
        """Handle a message once."""
        heard = unit.readable(heard)        # or looking it up would spoil the batch that it is in
        return self._jobs.put(lambda shelf: unit.step(shelf, heard, decide), heard.message)

    async def desk(
        self, channel: str, address: str, now: datetime, wants: Collection[Want] = ()
    ) -> Desk:
        """What a message from there would find, out of what the writer remembers."""
        return await self._do(lambda shelf: phones.desk(shelf, channel, address, now, wants), shared=True)

    async def forget(self, club: str, child: str) -> None:
        """Remove a child, and what her rows leave behind in the file."""
        await super().forget(club, child)
        await self._aside(lambda: empty_log(self._path))

    async def backup(self, path: str) -> None:
        """Copy the file while it is written to."""
        if os.path.exists(path):
            raise Refused(f"{path} is there already; nothing was copied.")
        await self._aside(lambda: copy(self._path, path))

    def measured(self, told: Callable[[float], None]) -> None:
        """Hear how long each commit takes."""
        self._jobs.timed = told

    async def close(self) -> None:
        """Finish what is queued and let go."""
        await asyncio.to_thread(self._jobs.close)
        await asyncio.to_thread(self._reader.shutdown)
        self._reading.dispose()

    async def _do(self, plan: Plan[T], club: str | None = None, *, shared: bool = False) -> T:
        """Hand it to the one thread that writes: there, everybody's turns are one after another."""
        done: T = await self._jobs.put(plan, shared=shared)
        return done

    # --- beside the writer ---

    async def _read(self, ask: Callable[[Shelf], T]) -> T:
        """Read at one instant, on a connection of its own."""
        def reading() -> T:
            try:
                with self._reading.connect() as connection, connection.begin():
                    return ask(SqlShelf(Session(connection, upsert)))
            except (DBAPIError, Broken) as error:
                LOG.error("something could not be read: %s", reason(error))
                raise Refused(NOT_READ) from error

        return await self._aside(reading)

    async def _aside(self, work: Callable[[], T]) -> T:
        try:
            working = asyncio.get_running_loop().run_in_executor(self._reader, work)
        except RuntimeError as error:
            raise Refused("The store is closed.") from error
        return await working
