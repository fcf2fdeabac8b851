"""Where everything is kept: stores that fulfil the port of `bot.port`.

What lives here: `open_store`, which picks one by its address. Nothing heavy is imported before it is called.
"""
from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.port import Store

MEMORY = "memory:"
SQLITE = "sqlite:///"
POSTGRES = ("postgresql://", "postgres://")


def open_store(url: str, lessons: int | None = None) -> Store:
    """Open the store at `memory:`, `postgresql://…`, `sqlite:///PATH` or a bare path, brought up to date.

    `lessons`: of so many that are on it keeps all at hand; else as many as it thinks fit (`cache.py`).
    Raises Refused, with a sentence, where it can't be opened or was written by a newer program.
    """
    from bot.step import Refused

    if url == MEMORY:
        from storage.memory import MemoryStore

        return MemoryStore()
    if url.startswith(POSTGRES):
        return _postgres(url, lessons)
    path = url.removeprefix(SQLITE)
    if not path or "://" in path:
        raise Refused(f"{url} is no store that we know; give memory:, sqlite:///FILE, postgresql://… or a file.")
    from storage.sqlite import SqliteStore

    return SqliteStore(path, lessons)


def _postgres(url: str, lessons: int | None) -> Store:
    from bot.step import Refused

    try:
        import psycopg  # noqa: F401 - an extra, since most clubs need no server
    except ImportError:
        raise Refused("For a PostgreSQL database one package more is needed: pip install 'sprung[postgres]'") from None
    from storage.postgres import PostgresStore

    return PostgresStore(url, lessons)
