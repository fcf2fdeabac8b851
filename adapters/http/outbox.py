"""`/v1/outbox`: unasked messages are taken out, and it is said what became of them.

Nothing is forgotten by being read: a message waits until it is reported delivered, or is given up. A cursor only says
which of them one has seen; without one, all that still waits comes again, under the same ids.
"""
from __future__ import annotations

import asyncio
import math
from collections.abc import Sequence

from aiohttp import web

from adapters.http.desk import Desk, answer, body, only
from adapters.http.letters import LOOK_S, letter, retry_at
from adapters.http.log import event
from adapters.http.problems import Problem
from adapters.http.shapes import Failed, Nothing, Outbox
from bot.port import Letter

PAGE = 100
LONGEST_WAIT_S = 60
LARGEST_CURSOR = 2**63 - 1


class Outgo:
    """The way out of one program."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._store = desk.service.store

    async def get(self, request: web.Request) -> web.StreamResponse:
        """What waits behind the cursor; with `wait`, not before there is something or the time is over."""
        gateway = await self._desk.gateway(request)
        only(request, "after", "wait")
        after, wait = _after(request), _wait(request)
        self._desk.metrics.polls.inc()
        try:
            found = await self._found(request, gateway, after, wait)
        finally:
            self._desk.metrics.polls.dec()
        last = found[-1].cursor if found else after
        messages = tuple(letter(one, self._desk.address) for one in found)
        return answer(Outbox.model_construct(messages=messages, next=str(last)))

    async def _found(self, request: web.Request, gateway: str, after: int, wait: float) -> Sequence[Letter]:
        loop, bell = asyncio.get_running_loop(), self._desk.bell
        until = loop.time() + wait
        while True:
            ringing = bell.ringing()
            found = await self._store.letters(gateway, after, PAGE)
            left = until - loop.time()
            gone = request.transport is None or request.transport.is_closing()
            if found or left <= 0 or bell.stopped or gone:
                return found
            await bell.wait(ringing, min(left, LOOK_S))

    async def delivered(self, request: web.Request) -> web.StreamResponse:
        """It is out: it never comes again."""
        gateway = await self._desk.gateway(request)
        only(request)
        await body(request, Nothing, empty=Nothing())
        await self._settle(gateway, request, "delivered")
        return web.Response(status=204)

    async def failed(self, request: web.Request) -> web.StreamResponse:
        """It could not be delivered: it comes again later, and before it nothing for the same person."""
        gateway = await self._desk.gateway(request)
        only(request)
        report = await body(request, Failed, empty=Failed())
        await self._settle(gateway, request, "given up" if report.permanent else "failed")
        return web.Response(status=204)

    async def _settle(self, gateway: str, request: web.Request, how: str) -> None:
        desk, message = self._desk, request.match_info["id"]
        again = retry_at(desk.service.clock.now(), 0, desk.jitter) if how == "failed" else None
        if not await self._store.settle(gateway, message, again):
            raise Problem(404, "There is no message of that id for this gateway.")
        desk.metrics.settled.labels(how).inc()
        event("report", gateway=gateway, message=message, outcome=how)


def _after(request: web.Request) -> int:
    text = request.query.get("after", "0")
    if not (text.isascii() and text.isdigit()) or len(text) > 19 or int(text) > LARGEST_CURSOR:
        raise _parameter("after", "it is the `next` of an earlier answer; or leave it out, to begin at the beginning")
    return int(text)


def _wait(request: web.Request) -> float:
    try:
        wait = float(request.query.get("wait", "0"))
    except ValueError:
        wait = math.nan
    if not 0 <= wait <= LONGEST_WAIT_S:
        raise _parameter("wait", f"it is a number of seconds from 0 to {LONGEST_WAIT_S}")
    return wait


def _parameter(name: str, remedy: str) -> Problem:
    return Problem(422, f"{name}: {remedy}.", errors=((name, remedy),))
