"""`/web/stream`: what was said, and the class sheet as it changes, as they come, over a WebSocket.

What lives here: one connection. It only tells; what a phone says goes by plain HTTP, where each message has its answer.
"""
from __future__ import annotations

import asyncio
import contextlib
import json
from typing import Any

from aiohttp import WSMsgType, web

from adapters.http.desk import Desk
from adapters.web import CHANNEL
from adapters.web.phones import Here, Phones, same_site
from adapters.web.shapes import shown
from bot import step
from bot.step import Refused
from bot.talk.sheet import instant, sheet

LOOK_S = 1.0            # how soon what another process on the same database did is seen here
AT_MOST_EVERY_S = 0.1   # however much goes on, so often and no more is looked
BEAT_S = 15.0           # a phone that hears nothing for longer knows that the line is dead
PATIENCE_S = 5.0        # so soon a page says what it wants to be told
PAGE = 60               # so many messages of before a phone is shown that begins anew
LARGEST_WORD = 1024
SIGNED_OUT = 4401


class Stream:
    """Tells each connected page what is new to it."""

    def __init__(self, desk: Desk, who: Phones) -> None:
        self._desk, self._who = desk, who

    async def run(self, request: web.Request) -> web.StreamResponse:
        """From the first word of the page, which says behind which message it begins, to the end."""
        same_site(request)
        here = await self._who.here(request)
        with self._who.listening(here):
            return await self._listened(request, here)

    async def _listened(self, request: web.Request, here: Here) -> web.StreamResponse:
        socket = web.WebSocketResponse(heartbeat=BEAT_S, max_msg_size=LARGEST_WORD)
        await socket.prepare(request)
        after = await _begun(socket)
        if after is None:
            await socket.close()
            return socket
        telling = asyncio.create_task(_Telling(self._desk, self._who, here, socket, after).run())
        try:
            async for _ in socket:      # nothing else is asked here; it ends when the page goes
                pass
        finally:
            telling.cancel()
            with contextlib.suppress(asyncio.CancelledError, ConnectionError):
                await telling
        return socket


class _Telling:
    """What one page was told so far."""

    def __init__(self, desk: Desk, who: Phones, here: Here, socket: web.WebSocketResponse, after: int) -> None:
        self._desk, self._who, self._here, self._socket, self._after = desk, who, here, socket, after
        self._seen: tuple[Any, ...] = ()

    async def run(self) -> None:
        bell, loop = self._desk.page_bell, asyncio.get_running_loop()
        beat = loop.time()
        while not self._socket.closed:
            ringing = bell.ringing()
            with contextlib.suppress(Refused):      # the next look comes soon
                if not await self._who.still(self._here):
                    await self._socket.close(code=SIGNED_OUT)
                    return
                told = await self._said() | await self._sheet()
                if told or loop.time() >= beat:
                    beat = loop.time() + BEAT_S
                    await self._tell(told)
            if bell.stopped:
                await self._socket.close()
                return
            await bell.wait(ringing, LOOK_S)
            await asyncio.sleep(AT_MOST_EVERY_S)

    async def _tell(self, told: dict[str, Any]) -> None:
        whole = {**told, "now": instant(self._desk.service.clock.now())}
        await self._socket.send_str(json.dumps(whole, ensure_ascii=False, separators=(",", ":")))

    async def _said(self) -> dict[str, Any]:
        phone = self._here.phone
        said = await self._desk.service.store.said(phone.club, phone.person, self._after, PAGE)
        if not said:
            return {}
        self._after = said[-1].seq
        return {"said": [shown(one, phone.id) for one in said]}

    async def _sheet(self) -> dict[str, Any]:
        desk = await self._desk.service.desk(CHANNEL, self._here.phone.id)
        made_of = _made_of(desk)
        if len(made_of) == len(self._seen) and all(a is b for a, b in zip(made_of, self._seen, strict=True)):
            return {}
        self._seen = made_of
        return {"sheet": sheet(desk, self._desk.service.clock.now())}


def _made_of(desk: step.Desk) -> tuple[Any, ...]:
    """What a sheet is made of: all of it frozen, so what is the same object has not changed."""
    books = (part for book in desk.books.values() for part in (book.children, book.standings, book.lessons))
    return (*books, *desk.plans.values(), desk.club, desk.schemes, desk.talk.lines, desk.talk.skipped,
            desk.talk.most)


async def _begun(socket: web.WebSocketResponse) -> int | None:
    """The number in the first word of a page, `{"after": 12}`; None where none comes."""
    try:
        word = await socket.receive(timeout=PATIENCE_S)
        after = json.loads(word.data)["after"] if word.type is WSMsgType.TEXT else None
    except (TimeoutError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return after if isinstance(after, int) and not isinstance(after, bool) and 0 <= after < 2**53 else None
