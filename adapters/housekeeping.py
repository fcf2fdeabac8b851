"""What a running program does by itself about what nobody needs any more.

What lives here: how long answers are kept, and the round that looks for what is older.
"""
from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from datetime import timedelta
from typing import TypeVar

from adapters.clock import Clock
from bot.lesson.timetable import day_in_zone
from bot.people.consent import months_before
from bot.people.model import Club
from bot.port import Store
from bot.step import Refused

# A gateway may bring a message again for 30 days (README): its answer is there for twice that.
SAID_FOR = timedelta(days=60)
ROUND_S = 3600.0
T = TypeVar("T")
LOG = logging.getLogger("sprung.housekeeping")


class Housekeeping:
    """Looks again and again, an hour apart. Any number of programs on one database may do so."""

    def __init__(self, store: Store, clock: Clock, told: Callable[[str], None] = lambda what: None) -> None:
        """`told` hears what was done by itself, in words that name nobody."""
        self._store, self._clock, self._told = store, clock, told

    async def run(self) -> None:
        """Until cancelled: every club once a round, spread over it, so that no message waits for all of them."""
        while True:
            clubs = await self._surely(self._store.clubs()) or ()
            for club in clubs:
                await self._surely(self.look_at(club))
                await asyncio.sleep(ROUND_S / len(clubs))
            if not clubs:
                await asyncio.sleep(ROUND_S)

    async def _surely(self, work: Awaitable[T]) -> T | None:
        """What is refused is left to the next round: nothing is lost, and the other clubs have their turn."""
        try:
            return await work
        except Refused as busy:
            LOG.warning("what is old could not be looked at", exc_info=busy)
            return None

    async def look_at(self, club: Club) -> None:
        """One club. A few hundred rows go at a time, so that nobody waits for long."""
        now = self._clock.now()
        await self._store.prune(club.id, now)       # who saw what too long ago
        left_before = months_before(day_in_zone(club, now), club.keep_months)
        for child in await self._store.outlived(club.id, left_before):
            await self._store.forget(club.id, child)
            self._told("a child who left long ago is forgotten")
        while await self._store.tidy(club.id, now - SAID_FOR):
            await asyncio.sleep(0)
