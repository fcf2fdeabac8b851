"""Codes that are tried: so few wrong ones that nobody comes upon a right one in its two weeks.

What lives here: how often they may be tried by one sender, from one address, and by all. What a code is, is in
`adapters/codes.py`; the chance that is left, in `tests/adapters/http/test_not_guessed.py`.
"""
from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from adapters.http.limits import Buckets, Limits
from adapters.http.problems import too_many
from adapters.service import Service


class Tries:
    """Counts them. Whoever is let in has tried no wrong one."""

    def __init__(self, service: Service, limits: Limits) -> None:
        self._service = service
        self._by_sender = Buckets(limits.codes, service.clock)
        self._by_place = Buckets(limits.joins, service.clock)
        self._all = Buckets(limits.all_codes, service.clock)

    @asynccontextmanager
    async def one(self, channel: str, address: str, place: str | None = None) -> AsyncIterator[None]:
        """Around what tries it. `place`: where a page asks from. Raises Problem 429 where too many were wrong."""
        mine = (self._by_sender, (channel, address)) if place is None else (self._by_place, place)
        whose = "to join by this sender" if place is None else "to come in from this address"
        if wait := mine[0].take(mine[1]):
            raise too_many(wait, whose)
        if wait := self._all.take(None):
            raise too_many(wait, "with codes that are not right")
        before = await self._who(channel, address)
        yield
        if await self._who(channel, address) != before:
            mine[0].give(mine[1])
            self._all.give(None)

    async def _who(self, channel: str, address: str) -> object:
        """Who that is to us, and for which children."""
        desk = await self._service.desk(channel, address)
        return None if desk.me is None or desk.club is None else (desk.club.id, desk.me)
