"""Bringing a database to the shape that this program knows, when it starts.

What lives here: the check of the revision, which costs one query where there is nothing to do, and the
call of Alembic where there is. Each revision is a file in `versions/`; the newest is `HEAD`.
"""
from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from bot.step import Refused

# In order; a test compares them with the files.
REVISIONS = ("0001", "0002", "0003", "0004", "0005", "0006", "0007", "0008", "0009", "0010", "0011", "0012")
HEAD = REVISIONS[-1]
HERE = Path(__file__).parent
NEWER = "This database was written by a newer version of the program. Please update the program."


def current(connection: Connection) -> str | None:
    """The revision that a database is at; None: it has none of our tables."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    revision: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return revision


def upgrade(connection: Connection) -> None:
    """Bring the database up to date, within the transaction that the connection is in.

    Raises Refused where it is newer than this program, and leaves it alone.
    """
    revision = current(connection)
    if revision == HEAD:
        return
    if revision is not None and revision not in REVISIONS:
        raise Refused(NEWER)
    _run(connection)


def check(connection: Connection, revision: str) -> None:
    """Raises Refused where the database is not at that revision any more."""
    if connection.execute(text("SELECT version_num FROM alembic_version")).scalar() != revision:
        raise Refused(NEWER)


def _run(connection: Connection) -> None:
    from alembic import command  # takes a while to import, and is seldom needed
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(HERE).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
