"""A PostgreSQL server: how it is reached, and the transactions of one connection.

What lives here: all that is peculiar to PostgreSQL and its driver. We issue BEGIN and COMMIT ourselves, each with all
that belongs to it in one go, and look what came of the COMMIT: a transaction in which a statement failed is rolled back
by it without an error. Nothing outlives a transaction on its connection, no setting and no prepared statement, so a
pooler may give each transaction another one.
"""
from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Any

import psycopg
from sqlalchemy import URL, Connection, Engine, NullPool, Table, create_engine, make_url
from sqlalchemy.dialects.postgresql import Insert, insert
from sqlalchemy.exc import ArgumentError, DBAPIError

from bot.step import Refused
from storage import migrations
from storage.pad import Broken
from storage.session import replacing

AWAY = "The database can't be reached just now, so nothing of that was kept. Please send it again in a moment."
PATIENCE_S = 10     # so long a lock is waited for, and so long a process that stands still may hold one

# Whoever stands still in the middle loses their turn, and the others go on.
_PATIENCE = "".join(f"; SET LOCAL {name} = '{PATIENCE_S}s'" for name in (
    "lock_timeout", "statement_timeout", "idle_in_transaction_session_timeout",
))
WRITING = f"BEGIN ISOLATION LEVEL READ COMMITTED{_PATIENCE}"
LOOKING = f"BEGIN ISOLATION LEVEL REPEATABLE READ, READ ONLY{_PATIENCE}"
MIGRATING = "BEGIN; SELECT pg_advisory_xact_lock(hashtext('sprung migrations'))"

# A line that is cut without a word is noticed within some seconds, not hours.
_ALIVE = {
    "connect_timeout": 5, "keepalives_idle": 5, "keepalives_interval": 2, "keepalives_count": 3,
    "tcp_user_timeout": PATIENCE_S * 1000,
}


def upsert(table: Table) -> Insert:
    """Insert a row, or replace what has the same key."""
    made: Insert = replacing(insert, table)
    return made


def url_of(address: str) -> URL:
    """The address of a database. Raises Refused where it is none."""
    try:
        url = make_url(address)
    except (ArgumentError, ValueError):
        raise Refused("That is no address of a database; it is like postgresql://user@host/club.") from None
    return url.set(drivername="postgresql+psycopg")


def named(url: URL) -> str:
    """What a database may be called in front of anybody: nothing of how one comes in."""
    host = url.host or url.query.get("host") or "this machine"
    return f"{url.database or url.username or 'postgres'} at {host if isinstance(host, str) else ' or '.join(host)}"


def engine_for(url: URL) -> Engine:
    """Makes connections; none is kept here."""
    return create_engine(
        url, poolclass=NullPool, isolation_level="AUTOCOMMIT", use_native_hstore=False,
        connect_args={"prepare_threshold": None, **_ALIVE},
    )


class Line:
    """One connection, made when it is first needed and again after it broke. For one thread.

    `revision`: what the database has to be at; another program may have brought it further since it was opened.
    """

    def __init__(self, engine: Engine, revision: str | None = None) -> None:
        self._engine = engine
        self._revision = revision
        self._connection: Connection | None = None

    def begin(self, how: str) -> Connection:
        """Begin a transaction. Raises Refused where there is no database to be reached."""
        if self._connection is not None:
            try:
                return self._begun(self._connection, how)
            except psycopg.Error:       # it broke since; nothing has been done on it, so another one will do
                self._drop()
        try:
            self._connection = self._engine.connect()
            if self._revision is not None:
                migrations.check(self._connection, self._revision)
            return self._begun(self._connection, how)
        except (DBAPIError, psycopg.Error, OSError) as error:
            self._drop()
            raise Refused(AWAY) from error
        except Refused:
            self._drop()
            raise

    def commit(self, last: Callable[[], None] = lambda: None) -> None:
        """Make it durable, with the rows that `last` writes: all of it is sent at once and waited for once.

        Raises Broken where it may not be durable.
        """
        try:
            raw = self._raw()
            with raw.pipeline():
                last()
                commit = raw.execute("COMMIT")
        except psycopg.Error as error:
            raise Broken from error
        if commit.statusmessage != "COMMIT":
            raise Broken

    def rollback(self) -> None:
        """As if nothing had been since `begin`. A line that can't do even that is let go, which does the same."""
        try:
            self._raw().execute("ROLLBACK")
        except psycopg.Error:
            self._drop()

    def close(self) -> None:
        """Let go."""
        self._drop()

    def _begun(self, connection: Connection, how: str) -> Connection:
        self._raw().execute(how)
        return connection

    def _raw(self) -> psycopg.Connection[Any]:
        connection = self._connection
        if connection is None or connection.invalidated:
            raise psycopg.OperationalError("the connection is lost")
        raw: psycopg.Connection[Any] = connection.connection.driver_connection      # type: ignore[assignment]
        return raw

    def _drop(self) -> None:
        connection, self._connection = self._connection, None
        if connection is not None:
            with contextlib.suppress(DBAPIError, psycopg.Error, OSError):
                connection.invalidate()
            with contextlib.suppress(DBAPIError, psycopg.Error, OSError):
                connection.close()


def migrate(engine: Engine) -> None:
    """Bring the database up to date; of several programs that start at once, one does it. Raises Refused."""
    line = Line(engine)
    try:
        if migrations.current(line.begin(LOOKING)) != migrations.HEAD:
            line.rollback()
            migrations.upgrade(line.begin(MIGRATING))
            line.commit()
    finally:
        line.close()
