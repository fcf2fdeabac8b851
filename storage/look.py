"""Looking at a database from outside, as it is: nothing is made, brought up to date or written.

What lives here: how a file and a server are opened for that, and the questions that no running program asks. The
answers are shapes of `bot/health.py`; what to make of them is for whoever asked.
"""
from __future__ import annotations

import os
import sqlite3
from dataclasses import replace
from datetime import datetime
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, StaticPool, create_engine, func, select, text
from sqlalchemy.exc import SQLAlchemyError

from bot.health import COPIED, Kept, Keys, Looked, Zone
from bot.step import Refused
from storage import MEMORY, POSTGRES, SQLITE, house, migrations, tables
from storage.codec import instant
from storage.pad import Broken
from storage.session import Session
from storage.sql import SqlShelf
from storage.sqlite_file import BUSY_MS, upsert

LOG_ENDS = ("", "-wal", "-shm")     # the file itself, its log, and the index of that
UNREADABLE = (SQLAlchemyError, Broken, OSError, ValueError, Refused)


def look(url: str, now: datetime, club: str | None = None) -> Looked:
    """What can be seen of the database at an address; of one club, if asked for, all of it. Raises nothing."""
    if url == MEMORY:
        return Looked("memory", url)
    if url.startswith(POSTGRES):
        return _server(url, now, club)
    return _file(url.removeprefix(SQLITE), now, club)


def files_of(path: str) -> tuple[str, ...]:
    """A database file with what lies beside it while it is in use, as far as it is there."""
    return tuple(path + end for end in LOG_ENDS if os.path.exists(path + end))


# --- a file ---------------------------------------------------------------------------------------------

def _file(path: str, now: datetime, club: str | None) -> Looked:
    if not os.path.exists(path):
        return Looked("sqlite", path, "it is not there yet; load a hall, which makes it: sprung hall FOLDER")
    files = files_of(path)
    seen = Looked("sqlite", path, version=sqlite3.sqlite_version, size=sum(map(os.path.getsize, files)), files=files)
    engine = create_engine("sqlite://", creator=lambda: _read_only(path), poolclass=StaticPool)
    try:
        with engine.connect() as connection:
            connection.exec_driver_sql("BEGIN")
            damage = _damage(connection)
            revision = migrations.current(connection)
            kept = _kept(connection, now, club) if revision == migrations.HEAD else None
            return replace(seen, damage=damage, revision=revision, known=migrations.REVISIONS, kept=kept)
    except UNREADABLE as error:
        return replace(seen, fault=_why(error))
    finally:
        engine.dispose()


def _read_only(path: str) -> sqlite3.Connection:
    """Where no program has it open, not even the files of a log are made beside it."""
    alone = "" if os.path.exists(f"{path}-wal") else "&immutable=1"
    return sqlite3.connect(
        f"file:{quote(os.path.abspath(path))}?mode=ro{alone}", uri=True, isolation_level=None, timeout=BUSY_MS / 1000,
    )


def _damage(connection: Connection) -> str | None:
    found = [row[0] for row in connection.exec_driver_sql("PRAGMA quick_check(3)")]
    return None if found == ["ok"] else "; ".join(" ".join(str(one).split()) for one in found)[:200]


def _why(error: Exception) -> str:
    """Only the driver's own few words: what stands around them may hold a statement with its values."""
    cause = error.__cause__ if isinstance(error, Broken) else error
    said = str(getattr(cause, "orig", None) or type(cause).__name__)
    return f"it can't be read ({' '.join(said.split())[:100]}); if it is damaged, put your last copy in its place"


# --- a server -------------------------------------------------------------------------------------------

def _server(url: str, now: datetime, club: str | None) -> Looked:
    try:
        from storage import postgres_server as server
    except ImportError:
        return Looked("postgresql", "PostgreSQL", "one package more is needed for it: pip install 'sprung[postgres]'")
    try:
        address = server.url_of(url)
    except Refused as refused:
        return Looked("postgresql", "PostgreSQL", str(refused))
    where = server.named(address)
    engine = server.engine_for(address)
    line = server.Line(engine)
    try:
        connection = line.begin(server.LOOKING)
        version: Any = connection.execute(text("SHOW server_version")).scalar()
        size: Any = connection.execute(text("SELECT pg_database_size(current_database())")).scalar()
        revision = migrations.current(connection)
        kept = _kept(connection, now, club) if revision == migrations.HEAD else None
        return Looked(
            "postgresql", where, version=str(version), size=size, revision=revision, known=migrations.REVISIONS,
            kept=kept,
        )
    except Refused:
        return Looked("postgresql", where, "it can't be reached; see that it runs, and to its name, user and password")
    except UNREADABLE as error:
        return Looked("postgresql", where, f"it did not answer ({type(error.__cause__ or error).__name__})")
    finally:
        line.close()
        engine.dispose()


# --- what is kept ---------------------------------------------------------------------------------------

def _kept(connection: Connection, now: datetime, club: str | None) -> Kept:
    shelf = SqlShelf(Session(connection, upsert))
    clubs = shelf.clubs()
    lease = shelf.lease(COPIED)
    return Kept(
        shelf.waits(now), _newest(connection), None if lease is None else lease.until,
        tuple(Zone(one.id, one.timezone) for one in clubs),
        tuple(
            Keys(one.name, sum(not key.ended for key in shelf.keys(one.name)), one.push_url is not None)
            for one in shelf.gateways()
        ),
        _subscribed(connection),
        house.snapshot(shelf, club) if club is not None and club in {one.id for one in clubs} else None,
    )


def _newest(connection: Connection) -> datetime | None:
    """When the last message came, or the last unasked one was said: the later of the two."""
    said, heard = tables.said, tables.heard
    last_said = select(said.c.at).where(said.c.cursor.is_not(None)).order_by(said.c.cursor.desc()).limit(1)
    found = (connection.execute(one).scalar() for one in (last_said, select(func.max(heard.c.received_at))))
    newest = max((at for at in found if at is not None), default=None)
    return None if newest is None else instant(newest)


def _subscribed(connection: Connection) -> int:
    phone = tables.phone
    count: int = connection.execute(
        select(func.count()).select_from(phone).where(phone.c.endpoint.is_not(None), phone.c.ended.is_(False)),
    ).scalar_one()
    return count
