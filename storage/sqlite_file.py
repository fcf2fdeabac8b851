"""An SQLite file: how a connection to it is set up, and the transactions of the thread that writes.

What lives here: all that is peculiar to SQLite. The driver's own transaction control is off and BEGIN is
issued by us: with the driver's, a nested transaction commits when its savepoint is released, and a
rollback of the outer one does not undo it (a test shows it).
"""
from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, Table, create_engine, event
from sqlalchemy.dialects.sqlite import Insert, insert
from sqlalchemy.exc import DBAPIError

from bot.step import Refused
from storage.cache import Cache
from storage.pad import Broken
from storage.session import Session, replacing
from storage.sql import SqlShelf

BUSY_MS = 10_000        # so long we wait for another process to finish writing
REASONS = {
    "SQLITE_FULL": "there is no room on the disk; make some, nothing has to be started anew",
    "SQLITE_BUSY": "another program has been writing for too long",
    "SQLITE_READONLY": "the database may not be written to",
}


def upsert(table: Table) -> Insert:
    """Insert a row, or replace what has the same key."""
    made: Insert = replacing(insert, table)
    return made


def engine_for(path: str, begin: str = "BEGIN IMMEDIATE") -> Engine:
    """An engine whose transactions begin when, and as, we say."""
    engine = create_engine(
        URL.create("sqlite", database=path),        # a name may hold any sign
        connect_args={"isolation_level": None, "check_same_thread": False, "timeout": BUSY_MS / 1000},
    )

    @event.listens_for(engine, "connect")
    def _connected(raw: sqlite3.Connection, _record: object) -> None:
        # secure_delete: who is forgotten shall not be found in the free space of the file.
        # cache_size, mmap_size and wal_autocheckpoint stay SQLite's own: on a file of 300 clubs with 2,600 marks each
        # 16 and 64 MB, 1 GB of map, and checkpoints at 250 and 4,000 pages changed a message's CPU by less than the
        # same setting did from one round to the next (`tests/bench/budget_growth.py`). What was read is remembered
        # decoded, and a class that is not costs 13 to 16 ms, of which the pages are the least.
        for pragma in ("journal_mode=WAL", "synchronous=FULL", f"busy_timeout={BUSY_MS}", "secure_delete=ON"):
            raw.execute(f"PRAGMA {pragma}").close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


class Database:
    """The connection of the writing thread."""

    def __init__(self, engine: Engine, lessons: int) -> None:
        """`lessons`: of so many that are on all is kept at hand."""
        self._engine = engine
        self._connection = engine.connect()
        self._session = Session(self._connection, upsert, Cache(lessons))
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
        except BaseException:
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

    def reason(self, error: BaseException) -> str:
        """Why nothing could be written, with nothing of what was to be."""
        return reason(error)

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()
        self._engine.dispose()


def reason(error: BaseException) -> str:
    """Why SQLite could not do something, for whoever looks after the program; with nothing of what is kept."""
    found: BaseException | None = error
    while found is not None:
        found = getattr(found, "orig", None) or found
        name = getattr(found, "sqlite_errorname", None)
        if name is not None:
            said = next((says for known, says in REASONS.items() if name.startswith(known)), str(found))
            return f"{said} ({name})"
        found = found.__cause__
    return type(error).__name__


def empty_log(path: str) -> None:
    """Take the log into the file, where what was deleted is overwritten, and leave nothing behind in it.

    Another process that reads just now can keep us from it; then the next checkpoint does it.
    """
    raw = sqlite3.connect(path, isolation_level=None, timeout=BUSY_MS / 1000)
    try:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").close()
    finally:
        raw.close()


def private(path: str) -> None:
    """The file is for nobody but its owner: it holds the names of children."""
    Path(path).parent.mkdir(parents=True, exist_ok=True)
    os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))


def copy(source: str, target: str) -> None:
    """A copy that carries its name only once it is whole."""
    part = f"{target}.part"
    try:
        private(part)
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
