"""The store in an SQLite file: one thread writes, another reads beside it.

What lives here: all that is peculiar to SQLite. The driver's own transaction control is off and BEGIN is
issued by us: with the driver's, a nested transaction commits when its savepoint is released, and a
rollback of the outer one does not undo it (a test shows it).
"""
from __future__ import annotations

import asyncio
import os
import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine, Table, create_engine, event
from sqlalchemy.dialects.sqlite import Insert, insert
from sqlalchemy.exc import DBAPIError

from bot.people.hall import Hall
from bot.people.model import Club, Person
from bot.step import Decide, Heard, Invitation, Loaded, Refused, Said, Snapshot, Wake
from storage import house, migrations, unit
from storage.jobs import Jobs
from storage.pad import Broken
from storage.session import Session
from storage.shelf import Shelf
from storage.sql import SqlShelf

T = TypeVar("T")
BUSY_MS = 10_000        # so long we wait for another process to finish writing


def upsert(table: Table) -> Insert:
    """Insert a row, or replace what has the same key."""
    new = insert(table)
    key = [column.name for column in table.primary_key.columns]
    others = {column.name: new.excluded[column.name] for column in table.columns if not column.primary_key}
    return new.on_conflict_do_update(index_elements=key, set_=others)


def engine_for(path: str, begin: str = "BEGIN IMMEDIATE") -> Engine:
    """An engine whose transactions begin when, and as, we say."""
    engine = create_engine(
        f"sqlite:///{path}",
        connect_args={"isolation_level": None, "check_same_thread": False, "timeout": BUSY_MS / 1000},
    )

    @event.listens_for(engine, "connect")
    def _connected(raw: sqlite3.Connection, _record: object) -> None:
        for pragma in ("journal_mode=WAL", "synchronous=FULL", f"busy_timeout={BUSY_MS}"):
            raw.execute(f"PRAGMA {pragma}").close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


class Database:
    """The connection of the writing thread."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._connection = engine.connect()
        self._session = Session(self._connection, upsert)
        self._version: int | None = None
        self.shelf = SqlShelf(self._session)

    def begin(self) -> None:
        """Take the write lock; forget what another process may have changed since."""
        try:
            self._connection.begin()
            version = self._connection.exec_driver_sql("PRAGMA data_version").scalar()
        except DBAPIError as error:
            raise Broken from error
        if version != self._version:
            self._session.renew()
            self._version = version

    def commit(self) -> None:
        """Write what waits, durably. Raises Broken."""
        self._session.pad.flush()
        if not self.intact():
            raise Broken
        try:
            self._connection.commit()
        except DBAPIError as error:
            raise Broken from error
        self._session.done()

    def rollback(self) -> None:
        """As if nothing had been since `begin`."""
        self._session.undo()
        self._connection.rollback()

    def expect(self, messages: list[str]) -> None:
        """Look these up in one go."""
        self.shelf.expect(messages)

    def alone(self, work: Callable[[], Any]) -> Any:
        """Do some work behind a savepoint."""
        point = self._connection.begin_nested()
        try:
            value = work()
            self._session.pad.flush()
        except Exception:
            self._session.undo()
            if self.intact():
                point.rollback()
            raise
        point.commit()
        return value

    def intact(self) -> bool:
        """Are we still in the transaction? SQLite ends it by itself when the disk is full."""
        raw = self._connection.connection.dbapi_connection
        return raw is not None and bool(raw.in_transaction)

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()
        self._engine.dispose()


class SqliteStore:
    """The store in one file. What each method promises is said in `bot.step.Store`."""

    def __init__(self, path: str) -> None:
        self._path = path
        try:
            self._open(path)
        except (DBAPIError, OSError) as error:
            raise Refused(f"{path} can't be opened as a database of ours.") from error

    def _open(self, path: str) -> None:
        _private(path)
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
        return self._jobs.put(lambda shelf: unit.step(shelf, heard, decide), heard.message)

    async def wake(self, now: datetime, wake: Wake) -> tuple[Said, ...]:
        """Fire what is due."""
        return await house.wake_all(self._jobs.put, now, wake)

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
        """Remove a child, and overwrite where she stood in the file."""
        await self._jobs.put(lambda shelf: house.forget(shelf, club, child))
        await self._aside(self._scrub)

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

    async def outbox(
        self, after: int, limit: int = 100,
    ) -> tuple[tuple[int, Said, tuple[tuple[str, str], ...]], ...]:
        """Unasked messages behind a cursor."""
        return await self._read(lambda shelf: shelf.outbox(after, limit))

    async def backup(self, path: str) -> None:
        """Copy the file while it is written to."""
        if os.path.exists(path):
            raise Refused(f"{path} is there already; nothing was copied.")
        await self._aside(lambda: _copy(self._path, path))

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

    def _scrub(self) -> None:
        """Rewrite the file without what was deleted from it, and empty its log."""
        with sqlite3.connect(self._path, isolation_level=None, timeout=BUSY_MS / 1000) as raw:
            raw.execute("VACUUM")
            raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        raw.close()


def _private(path: str) -> None:
    """The file is for nobody but its owner: it holds the names of children."""
    Path(path).parent.mkdir(parents=True, exist_ok=True)
    os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))


def _copy(source: str, target: str) -> None:
    """A copy that carries its name only once it is whole."""
    part = f"{target}.part"
    _private(part)
    try:
        here, there = sqlite3.connect(source), sqlite3.connect(part)
        try:
            here.backup(there)
        finally:
            here.close()
            there.close()
        os.replace(part, target)
    except (OSError, sqlite3.Error) as error:
        Path(part).unlink(missing_ok=True)
        raise Refused(f"{target} can't be written.") from error
