"""Connections: how long one may keep us waiting, and how many there may be.

What lives here: what aiohttp leaves open to whoever means ill: heads that never end, answers that nobody takes,
connections without end. The body's own patience is in `desk.py`.
"""
from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

from aiohttp import web
from aiohttp.web_protocol import RequestHandler
from aiohttp.web_request import BaseRequest

from adapters.http.problems import of_parser
from adapters.http.sealed import seal

HEAD_WITHIN_S = 60.0        # so long a connection may be there without a whole request
ANSWER_WITHIN_S = 60.0      # so long whoever asked may take to take the answer
FEWEST, MOST, SPARED = 100, 10_000, 200     # connections; files that the rest of the program may need
Handle = Callable[[Any], Awaitable[web.StreamResponse]]


def most() -> int:
    """So many connections at once, by what the system lets us open."""
    try:
        from resource import RLIM_INFINITY, RLIMIT_NOFILE, getrlimit
    except ImportError:     # on Windows
        return MOST
    allowed = getrlimit(RLIMIT_NOFILE)[0]
    return MOST if allowed == RLIM_INFINITY else max(FEWEST, min(MOST, allowed - SPARED))


class Door(RequestHandler):
    """One connection."""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """One more; where that is too many, the one that has kept us waiting longest goes."""
        super().connection_made(transport)
        doors: Any = self._manager
        if len(doors.connections) > doors.most:
            waiting = (one for one in doors.connections if one._current_request is None)
            next(waiting, self)._shut()

    def _shut(self) -> None:
        transport: Any = self.transport
        self.force_close()
        if transport is not None:
            transport.abort()       # what nobody takes would keep a closing connection open

    async def finish_response(
        self, request: BaseRequest, resp: web.StreamResponse, start_time: float | None,
    ) -> tuple[web.StreamResponse, bool]:
        """Send the answer, sealed, but not for ever."""
        if not resp.prepared:
            seal(request, resp)
        try:
            async with asyncio.timeout(ANSWER_WITHIN_S):
                return await super().finish_response(request, resp, start_time)
        except TimeoutError:
            self._shut()
            raise ConnectionResetError("nobody took the answer") from None

    def handle_error(
        self, request: Any, status: int = 500, exc: BaseException | None = None, message: str | None = None,
    ) -> web.StreamResponse:
        """What the parser could not read, as a problem document too."""
        if request.writer.output_size > 0:
            raise ConnectionError("an answer was begun already")
        response = of_parser(status)
        response.force_close()
        return response


class Doors(web.Server):
    """Makes connections of that kind. `most`: so many at once."""

    def __init__(self, handler: Handle, **more: Any) -> None:
        super().__init__(handler, **more)
        self.most = most()

    def __call__(self) -> RequestHandler:
        return Door(self, loop=self._loop, **self._kwargs)
