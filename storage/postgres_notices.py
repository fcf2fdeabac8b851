"""Word from one process to the others that something was written, so that whoever waits there looks at once.

What lives here: two threads, each with a connection of its own. Word is sent after the commit and never in it: the
server hands out notices in the order of commits, so that all of them would wait for each other. A notice that is lost,
with its process or behind a pooler that does not keep one's connection, costs a second: so often everybody looks
anyway.
"""
from __future__ import annotations

import contextlib
from collections.abc import Callable
from secrets import token_hex
from threading import Event, Thread
from typing import Any

import psycopg
from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError

CHANNEL = "sprung"
GATHER_S = 0.02         # what is written within it is one notice
LISTEN_S = 0.5          # how soon a listener finds that it is asked to end
AGAIN_S = 1.0           # so long a server that is away is left alone


class Notices:
    """Tells the others, and hears from them."""

    def __init__(self, engine: Engine, told: Callable[[], None]) -> None:
        self._engine, self._told = engine, told
        self._me = token_hex(8)
        self._written, self._ended = Event(), Event()
        self._threads = [
            Thread(target=self._again_and_again, args=(one,), name="sprung-notices", daemon=True)
            for one in (self._tell, self._listen)
        ]
        for thread in self._threads:
            thread.start()

    def wrote(self) -> None:
        """Something was committed here."""
        self._written.set()

    def close(self) -> None:
        """End both. Blocks for a moment."""
        self._ended.set()
        self._written.set()
        for thread in self._threads:
            thread.join()

    # --- in the threads ---

    def _again_and_again(self, work: Callable[[psycopg.Connection[Any]], None]) -> None:
        """Work on a connection, and on another one when it is lost."""
        while not self._ended.is_set():
            with contextlib.suppress(DBAPIError, psycopg.Error, OSError), self._engine.connect() as connection:
                work(connection.connection.driver_connection)       # type: ignore[arg-type]
            self._ended.wait(AGAIN_S)

    def _tell(self, raw: psycopg.Connection[Any]) -> None:
        while self._written.wait():
            if self._ended.is_set():
                return
            self._written.clear()
            raw.execute(f"BEGIN; SET LOCAL synchronous_commit = off; NOTIFY {CHANNEL}, '{self._me}'; COMMIT")
            self._ended.wait(GATHER_S)

    def _listen(self, raw: psycopg.Connection[Any]) -> None:
        raw.execute(f"LISTEN {CHANNEL}")
        self._told()                        # of what was missed before
        while not self._ended.is_set():
            for notice in raw.notifies(timeout=LISTEN_S, stop_after=1):
                if notice.payload != self._me:
                    self._told()
