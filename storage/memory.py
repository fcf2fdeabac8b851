"""The store in memory: the same steps over plain dicts, for playing scripts and for tests.

What lives here: the store around a shelf of dicts. The data outlives the store object (`restarted`), as a
file outlives a program.
"""
from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import datetime
from typing import TypeVar

from bot.step import Decide, Desk, Heard, Refused, Said, Want
from storage import phones, unit
from storage.data import Data
from storage.dicts import MemoryShelf
from storage.shelf import Shelf
from storage.store import BaseStore, Plan

T = TypeVar("T")


class MemoryStore(BaseStore):
    """The store in memory. What each method promises is said in `bot.port.Store`."""

    def __init__(self, data: Data | None = None) -> None:
        self._data = Data() if data is None else data
        self._shelf = MemoryShelf(self._data)
        self._open = True

    def restarted(self) -> MemoryStore:
        """Another store around the same data: what a program finds that is started again."""
        return MemoryStore(self._data)

    async def step(self, heard: Heard, decide: Decide) -> tuple[Said, ...]:
        """Handle a message once."""
        return await self._do(lambda shelf: unit.step(shelf, heard, decide))

    async def desk(
        self, channel: str, address: str, now: datetime, wants: Collection[Want] = ()
    ) -> Desk:
        """What a message from there would find."""
        return await self._do(lambda shelf: phones.desk(shelf, channel, address, now, wants))

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

    async def _read(self, ask: Callable[[Shelf], T]) -> T:
        """Answer a question."""
        return ask(self._opened())

    async def _do(self, plan: Plan[T], club: str | None = None, *, shared: bool = False) -> T:
        """Plan, write, and keep it all or nothing; nothing else can come between."""
        shelf = self._opened()
        try:
            done = plan(shelf)
            if done.written is not None:
                shelf.keep(done.written)
        except BaseException:
            shelf.rollback()
            raise
        shelf.done()
        return done.told()
