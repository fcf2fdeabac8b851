"""The API's map: which path leads to which handler, and the runner that serves it.

What lives here: the routes, and one guard around all of them, so that whatever goes wrong ends as a problem document:
in a handler, in the router, and in the parser (`doors.py`), before there is a request at all.
"""
from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

from aiohttp import web

from adapters.http.calendars import PATH, Calendars
from adapters.http.described import described
from adapters.http.desk import LARGEST_BODY, Desk, answer, only
from adapters.http.doors import HEAD_WITHIN_S, Doors
from adapters.http.files import Files
from adapters.http.incoming import Incoming
from adapters.http.log import event
from adapters.http.metrics import MEDIA_TYPE
from adapters.http.outbox import Outgo
from adapters.http.problems import Problem, told
from adapters.http.sealed import before_it_goes
from adapters.http.shapes import State
from adapters.http.underway import LOGGED
from adapters.web import pages
from bot.step import Refused

Handle = Callable[[web.Request], Awaitable[web.StreamResponse]]
STOP_WITHIN_S = 10.0        # so long what is under way may take once we are asked to stop


def application(desk: Desk) -> web.Application:
    """The routes."""
    incoming, outgo, about = Incoming(desk), Outgo(desk), About(desk)
    app = web.Application(client_max_size=LARGEST_BODY)
    app.on_response_prepare.append(before_it_goes)
    app.add_routes([
        web.post("/v1/messages", incoming.post),
        web.get("/v1/outbox", outgo.get, allow_head=False),
        web.post("/v1/outbox/{id}/delivered", outgo.delivered),
        web.post("/v1/outbox/{id}/failed", outgo.failed),
        web.get("/v1/files/{secret}/{place}/{name}", Files(desk).get),
        web.get("/v1/openapi.json", about.description),
        web.get("/healthz", about.alive),
        web.get("/readyz", about.ready),
        web.get("/metrics", about.metrics),
        web.get(PATH, Calendars(desk).get),
        *pages.routes(desk),
    ])
    return app


class About:
    """What the program says about itself; nothing of it needs a key, and nothing of it names anybody."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    async def description(self, request: web.Request) -> web.StreamResponse:
        """The API as OpenAPI 3.1."""
        only(request)
        return web.json_response(described())

    async def alive(self, request: web.Request) -> web.StreamResponse:
        """The program is there."""
        only(request)
        return answer(State(status="ok"))

    async def ready(self, request: web.Request) -> web.StreamResponse:
        """It takes messages: the store answers, and nobody asked us to stop."""
        only(request)
        if self._desk.bell.stopped:
            raise Problem(503, "The program is about to stop.")
        await self._desk.service.store.next_due()
        return answer(State(status="ready"))

    async def metrics(self, request: web.Request) -> web.StreamResponse:
        """Counters."""
        only(request)
        desk, now, aside = self._desk, self._desk.service.clock.now(), 0
        try:
            waits = await desk.service.store.waits(now)
            aside = len(await desk.service.store.troubles())
        except Refused:         # whoever watches is told just that
            waits = None
        desk.metrics.looked(waits, aside, now)
        return web.Response(body=desk.metrics.text(), headers={"Content-Type": MEDIA_TYPE})


# --- the guard ------------------------------------------------------------------------------------------

def guarded(handle: Any, desk: Desk) -> Any:
    """The same, where whatever is raised is answered as a problem document."""
    async def guard(request: web.Request) -> web.StreamResponse:
        try:
            response: web.StreamResponse = await handle(request)
        except Exception as error:
            response = told(error)
            desk.metrics.problems.labels(str(response.status)).inc()
            if not hasattr(error, LOGGED):
                event("problem", path=_path(request), status=response.status)
        return response

    return guard


def _path(request: web.Request) -> str | None:
    """Which of our paths that was, and nothing that somebody made up."""
    found = getattr(request, "_match_info", None)       # which is not there yet where the router itself failed
    resource = None if found is None else found.route.resource
    return None if resource is None else resource.canonical


class Runner(web.AppRunner):
    """Runs the application behind the guard. Call `close` to end it: what is under way is finished first."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(
            application(desk), access_log=None, handle_signals=False, shutdown_timeout=STOP_WITHIN_S,
            keepalive_timeout=HEAD_WITHIN_S,
            auto_decompress=False,      # a body is as large as it comes: nothing small unpacks to something huge
        )
        self._desk = desk

    async def _make_server(self) -> web.Server:
        made: Any = await super()._make_server()
        return Doors(
            guarded(made.request_handler, self._desk), request_factory=made.request_factory, loop=made._loop,
            **made._kwargs,
        )

    async def listen(self, host: str, port: int) -> int:
        """Begin to listen; the port, which may have been left open with 0."""
        await self.setup()
        await web.TCPSite(self, host, port).start()
        found: int = self.addresses[0][1]
        return found

    async def close(self) -> None:
        """Let go of who waits, finish what is under way, end."""
        self._desk.bell.stop()
        self._desk.page_bell.stop()
        await self.cleanup()
