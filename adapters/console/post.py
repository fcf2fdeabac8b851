"""Unasked messages, as a phone gets them: read from the store's outbox, whoever let them fall due.

Another process on the same database may do that; so a phone looks there, and not at what its own service woke.
"""
from __future__ import annotations

from datetime import datetime

from bot.port import Outgoing, Store

PAGE = 100


class Post:
    """What comes unasked, each message once."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._place = 0

    async def begin(self) -> None:
        """From now on: what is there already is not new."""
        low, high = 0, 1            # places only count up: the last is found by halves
        while await self._store.outbox(high, 1):
            low, high = high, high * 2
        while low < high:
            middle = (low + high) // 2
            if await self._store.outbox(middle, 1):
                low = middle + 1
            else:
                high = middle
        self._place = low

    async def lately(self, since: datetime, address: tuple[str, str], most: int = 3) -> tuple[Outgoing, ...]:
        """What came to that address shortly before, the last few."""
        before = await self._store.outbox(max(self._place - PAGE, 0), PAGE)
        return tuple(one for one in before if address in one[2] and one[1].at >= since)[-most:]

    async def new(self) -> tuple[Outgoing, ...]:
        """What came since, in order."""
        come: list[Outgoing] = []
        while page := await self._store.outbox(self._place, PAGE):
            come += page
            self._place = page[-1][0]
        return tuple(come)
