"""`sprung serve`: the API, the waker and the pushes in one program, from its start to its end."""
from __future__ import annotations

import asyncio
import contextlib
import gc
import logging
import random
import signal
from collections.abc import Callable, Sequence
from datetime import UTC, datetime

from aiohttp import ClientSession, TCPConnector

from adapters.housekeeping import Housekeeping
from adapters.http.app import Runner
from adapters.http.desk import Desk
from adapters.http.letters import Rounds
from adapters.http.limits import Limits
from adapters.http.log import Counting, event, log_to_stderr
from adapters.http.push import Push, Pushes
from adapters.scheduler import Waker
from adapters.service import Service
from adapters.web.qr import qr
from adapters.web.webpush import SERVICES, ServerKey, WebPush
from bot.port import Gateway
from bot.step import Said

LOOK_S = 5.0        # so long at most what another program left behind is late


class Served:
    """A running API: `start`, then `stop`. Whoever starts it owns the store."""

    def __init__(
        self, service: Service, *, limits: Limits | None = None, jitter: Callable[[], float] = random.random,
        key: ServerKey | None = None, services: Sequence[str] = SERVICES, address: str | None = None,
    ) -> None:
        self.desk = Desk(service, limits or Limits(), jitter)
        self._counting = Counting(self.desk.metrics)
        self._service = service
        self._key, self._services, self._address = key, services, address
        self.rounds = Rounds(service.store, service.clock, self.desk.bell, self.desk.metrics)
        self.housekeeping = Housekeeping(service.store, service.clock, event)
        self._runner = Runner(self.desk)
        self._waker = Waker(service, self.woken, self.desk.metrics.late.observe)
        self._tasks: list[asyncio.Task[None]] = []
        service.when_stepped(self._stepped)

    async def start(self, host: str = "127.0.0.1", port: int = 0) -> int:
        """Begin; the port on which it listens. Raises OSError where that is taken."""
        desk, store, clock = self.desk, self._service.store, self._service.clock
        port = await self._runner.listen(host, port)
        desk.address = self._address or address_of(host, port)
        self._session = ClientSession(connector=TCPConnector(limit=0))     # each push has its own: see `AT_ONCE` there

        def push(gateway: Gateway) -> Push:
            return Push(
                gateway, store, clock, desk.bell, desk.metrics, self._session, _real_time, desk.jitter, desk.address,
            )

        self.pushes = Pushes(push, store, _real_time)
        self._loop = asyncio.get_running_loop()
        store.heed(self._others_wrote)
        store.measured(desk.metrics.commits.observe)
        logging.getLogger().addHandler(self._counting)
        if self._key is not None:
            desk.webpush = WebPush(self._key, store, self._session, _real_time, self._services, self._tried)
        await self.rounds.once()    # what is too old by now is not sent
        await self._waker.start()
        runs = (self.rounds.run(), self.pushes.run(), self._look(), self.housekeeping.run())
        self._tasks = [asyncio.create_task(one) for one in runs]
        return port

    async def stop(self) -> None:
        """Finish what is under way and let go."""
        await self._waker.stop()
        await self._runner.close()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        if self.desk.webpush is not None:
            await self.desk.webpush.stop()
        await self._session.close()
        logging.getLogger().removeHandler(self._counting)

    def _tried(self, how: str) -> None:
        """Word went to a phone whose page is closed."""
        self.desk.metrics.pushes.labels("phone", how).inc()
        event("phone told", outcome=how)

    async def _look(self) -> None:
        """Look what is due, again and again: another program may have left it behind, and be gone."""
        while True:
            await asyncio.sleep(LOOK_S)
            await self._waker.arm()

    def _others_wrote(self) -> None:
        """Called in any thread."""
        with contextlib.suppress(RuntimeError):     # we are at our end
            self._loop.call_soon_threadsafe(self._ring)

    def _ring(self) -> None:
        self.desk.bell.ring()
        self.desk.page_bell.ring()

    async def woken(self, said: tuple[Said, ...]) -> None:
        """Time came for something, and this was said: whoever waits for it hears."""
        event("reminders", messages=len(said))
        self._ring()
        if self.desk.webpush is not None:
            self.desk.webpush.tell(said)

    async def _stepped(self) -> None:
        self.desk.page_bell.ring()


def loaded() -> None:
    """The program is loaded: spare the collector of garbage from looking through all of it again and again.

    A message leaves few cycles and many values that live on in the books, which the collector took for a reason to
    look; that was a twentieth of a message's time.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000, 20, 20)


def address_of(host: str, port: int) -> str:
    """A host and a port as a URL; an IPv6 address in brackets."""
    return f"http://{f'[{host}]' if ':' in host else host}:{port}"


def _real_time() -> datetime:
    return datetime.now(UTC)


async def serve(
    service: Service, host: str, port: int, say: Callable[[str], None], address: str | None = None, *,
    draw: bool = False, key: ServerKey | None = None, log: str | None = None,
) -> None:
    """Serve until somebody asks us to stop (SIGTERM, SIGINT). Raises OSError where the port is taken.

    `address`: where phones find the page, if that is elsewhere. `draw`: show it as a QR code too. `key`: with it,
    phones that ask for it are told of something while their page is closed. `log`: each event too, as text or json.
    """
    asked = asyncio.Event()
    loop = asyncio.get_running_loop()
    for one in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(one, asked.set)
    log_to_stderr(log)
    served = Served(service, key=key, address=address)
    port = await served.start(host, port)
    loaded()
    event("started")
    here = address_of(host, port)
    say(f"Serving on {here}  (Ctrl-C ends it)")
    if draw:
        say(f"The page: {address or here}\n{qr(address or here)}")
    await asked.wait()
    await served.stop()
    event("stopped")
    say("Stopped. All that was answered is kept.")
