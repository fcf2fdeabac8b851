"""Pushing: unasked messages are sent to a gateway's own URL, signed as the Standard Webhooks specification says.

What lives here: one `Push` for each gateway that wants it, and in it one line of messages for each person: a message
that can't be delivered holds up its person and nobody else. What became of each is told to the store as if the
gateway had reported it, so that a restart forgets nothing.
"""
from __future__ import annotations

import asyncio
import contextlib
import logging
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from secrets import token_hex
from time import perf_counter

from aiohttp import ClientError, ClientSession, ClientTimeout
from standardwebhooks import Webhook

from adapters.clock import Clock
from adapters.http.bell import Bell
from adapters.http.letters import LOOK_S, letter, retry_at
from adapters.http.log import event
from adapters.http.metrics import Metrics
from bot.port import Gateway, Letter, Store
from bot.step import Refused

AT_ONCE = 50            # so many people of one gateway are written to at the same time
READ_AHEAD = 1000       # so many messages wait here; the others in the store
PAGE = 100
TIMEOUT_S = 15.0
HOLD = timedelta(seconds=10)    # so soon another program takes over from one that is gone
LOG = logging.getLogger("sprung.http")


def headers(gateway: Gateway, message: str, body: str, at: datetime) -> dict[str, str]:
    """What the specification asks for; `at` is when it is sent, by the real clock, for the receiver has no other."""
    assert gateway.push_secret is not None
    return {
        "Content-Type": "application/json", "webhook-id": message, "webhook-timestamp": str(int(at.timestamp())),
        "webhook-signature": Webhook(gateway.push_secret).sign(message, at, body),
    }


@dataclass(slots=True)
class _Line:
    """The messages to one person that were read and not sent yet."""

    letters: deque[Letter] = field(default_factory=deque)
    failed: int = -1        # at which reading it failed last: what was read before is held in the store by now


class Push:
    """Sends what waits at one gateway."""

    def __init__(
        self, gateway: Gateway, store: Store, clock: Clock, bell: Bell, metrics: Metrics, session: ClientSession,
        sent_at: Callable[[], datetime], jitter: Callable[[], float], address: str = "",
    ) -> None:
        self.gateway = gateway
        self._address = address         # where we are found from outside
        self._store, self._clock, self._bell, self._metrics = store, clock, bell, metrics
        self._session, self._sent_at, self._jitter = session, sent_at, jitter
        self._lines: dict[tuple[str, str], _Line] = {}
        self._tasks: set[asyncio.Task[None]] = set()
        self._slots = asyncio.Semaphore(AT_ONCE)
        self._reading = 0
        self._after = 0

    async def run(self) -> None:
        """Until cancelled."""
        try:
            while True:
                ringing = self._bell.ringing()
                more = await self._read()
                if not more:
                    await self._bell.wait(ringing, LOOK_S)
                if self._bell.stopped:
                    return
        finally:
            for task in self._tasks:
                task.cancel()

    async def _read(self) -> bool:
        """Read on; is there more at once?"""
        if sum(len(line.letters) for line in self._lines.values()) >= READ_AHEAD:
            return False
        self._reading += 1
        reading = self._reading
        try:
            found = await self._store.letters(self.gateway.name, self._after, PAGE)
        except Refused as busy:
            LOG.warning("what is to be pushed could not be read", exc_info=busy)
            return False
        for one in found:
            self._after = one.cursor
            self._queue(one, reading)
        return len(found) == PAGE

    def _queue(self, one: Letter, reading: int) -> None:
        key = (one.said.club, one.said.person)
        line = self._lines.setdefault(key, _Line())
        if line.failed >= reading:
            return      # it was held while it was read; it comes again, behind a later cursor
        line.letters.append(one)
        if len(line.letters) == 1:
            task = asyncio.create_task(self._send_all(key, line))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)

    async def _send_all(self, key: tuple[str, str], line: _Line) -> None:
        """One message after another, until one of them fails."""
        while line.letters:
            one = line.letters[0]
            async with self._slots:
                began = perf_counter()
                delivered = await self._send(one)
                self._tried(one, "delivered" if delivered else "failed", perf_counter() - began)
            again = None if delivered else retry_at(self._clock.now(), one.tries, self._jitter)
            await self._settle(one, again)
            if delivered:
                line.letters.popleft()
            else:
                line.failed = self._reading
                line.letters.clear()
        if line.failed < self._reading:
            self._lines.pop(key, None)

    def _tried(self, one: Letter, how: str, seconds: float) -> None:
        self._metrics.pushes.labels("gateway", how).inc()
        event("push", gateway=self.gateway.name, message=one.said.id, outcome=how, ms=round(seconds * 1000, 1))

    async def _send(self, one: Letter) -> bool:
        assert self.gateway.push_url is not None
        shape = letter(one, self._address)
        text = shape.model_dump_json()
        try:
            async with self._session.post(
                self.gateway.push_url, data=text.encode(), allow_redirects=False,
                headers=headers(self.gateway, shape.id, text, self._sent_at()),
                timeout=ClientTimeout(total=TIMEOUT_S),
            ) as response:
                return 200 <= response.status < 300
        except (ClientError, TimeoutError, OSError):
            return False

    async def _settle(self, one: Letter, again: datetime | None) -> None:
        """Tell the store, however busy it is: what it does not hear it takes for not delivered."""
        while True:
            try:
                await self._store.settle(self.gateway.name, one.said.id, again)
                self._metrics.settled.labels("failed" if again else "delivered").inc()
                return
            except Refused as busy:
                LOG.warning("what became of a message could not be kept", exc_info=busy)
                await asyncio.sleep(LOOK_S)


class Pushes:
    """One `Push` for each gateway that wants it, as they come and go."""

    def __init__(self, make: Callable[[Gateway], Push], store: Store, now: Callable[[], datetime]) -> None:
        self._make, self._store, self._now = make, store, now
        self._me = token_hex(8)
        self._held: dict[str, datetime] = {}        # gateway → until when it is ours alone
        self._running: dict[Gateway, asyncio.Task[None]] = {}

    async def run(self) -> None:
        """Until cancelled."""
        try:
            while True:
                await self.once()
                await asyncio.sleep(LOOK_S)
        finally:
            for task in self._running.values():
                task.cancel()
            await asyncio.gather(*self._running.values(), return_exceptions=True)
            for gateway in self._held:
                with contextlib.suppress(Refused):
                    await self._hold(gateway, timedelta())

    async def once(self) -> None:
        """Begin with those that are new, end with those that are gone or another program's."""
        try:
            known = [one for one in await self._store.gateways() if one.push_url is not None]
            wanted = {one for one in known if await self._ours(one.name)}
        except Refused as busy:
            LOG.warning("the gateways could not be read", exc_info=busy)
            wanted = {one for one in self._running if self._held[one.name] > self._now()}
        for gone in self._running.keys() - wanted:
            self._running.pop(gone).cancel()
        for new in wanted - self._running.keys():
            self._running[new] = asyncio.create_task(self._make(new).run())

    async def _ours(self, gateway: str) -> bool:
        """Do we push there, and no other program on the same database?"""
        if self._held.get(gateway, self._now()) - self._now() > HOLD / 2:
            return True
        if await self._hold(gateway, HOLD):
            return True
        self._held.pop(gateway, None)
        return False

    async def _hold(self, gateway: str, longest: timedelta) -> bool:
        now = self._now()
        if not await self._store.hold(f"push to {gateway}", self._me, now, now + longest):
            return False
        self._held[gateway] = now + longest
        return True
