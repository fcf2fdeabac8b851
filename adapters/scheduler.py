"""The waker: APScheduler, armed for the earliest due time alone.

What is due is the store's knowledge; a job here only says when to look. So nothing is lost with the
process, nothing fires twice after a restart, and a job that comes late still looks.
"""
from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta

from apscheduler.schedulers.asyncio import AsyncIOScheduler  # type: ignore[import-untyped]

from adapters.service import Service
from bot.port import NotFired
from bot.step import Said

Deliver = Callable[[tuple[Said, ...]], Awaitable[None]]

JOB = "wake"
AFTER_A_FAULT = timedelta(seconds=5)
log = logging.getLogger(__name__)


class Waker:
    """Wakes a service when something is due, and is armed anew after each of its steps."""

    def __init__(
        self, service: Service, deliver: Deliver, late: Callable[[float], object] = lambda seconds: None,
    ) -> None:
        """`deliver` hears what was said; `late`, by how many seconds what was due had to wait."""
        self._service = service
        self._deliver = deliver
        self._late = late
        self._due: datetime | None = None
        self._scheduler = AsyncIOScheduler(timezone=UTC)
        self._one = asyncio.Lock()
        self._awake = self._arming = self._again = self._asked = False
        self._later: asyncio.Task[None] | None = None
        service.when_stepped(self._stepped)

    async def start(self) -> None:
        """Begin; what fell due while nobody was awake fires at once."""
        self._scheduler.start()
        self._awake = True
        await self.arm()

    async def stop(self) -> None:
        """Let go, once what is being said just now is said. What else is due stays in the store."""
        self._awake = False         # whoever fires goes on no further, however much is due
        async with self._one:
            if self._scheduler.running:
                self._scheduler.shutdown(wait=False)

    async def _stepped(self) -> None:
        """Arm anew after a step; of steps that end while that is under way, once for all of them."""
        if self._arming:
            self._again = True
            return
        self._arming = True
        try:
            await self.arm()
        finally:
            self._arming = False
        if self._again:
            self._again = False
            self._later = asyncio.create_task(self._stepped())

    async def arm(self) -> None:
        """Set the one job for the earliest due time, or for none. Never raises: a step was taken already."""
        self._asked = True
        if self._one.locked():          # whoever fires arms when that is over
            return
        await self._arm()

    async def _arm(self) -> None:
        self._asked = False
        if not self._awake:
            return
        try:
            due = await self._service.store.next_due()
        except Exception:
            log.exception("what is due could not be read; trying again soon")
            self._set(AFTER_A_FAULT)
            return
        self._due = due
        if due is not None:
            self._set(max(due - self._service.clock.now(), timedelta()))
        elif self._scheduler.get_job(JOB):
            self._scheduler.remove_job(JOB)

    def _set(self, wait: timedelta) -> None:
        # The service's clock may be shifted, the scheduler's never is: only the span between is common.
        # A job is armed from within the one before it, so a second instance must be allowed to begin.
        self._scheduler.add_job(
            self._fire, "date", run_date=datetime.now(UTC) + wait, id=JOB, replace_existing=True,
            misfire_grace_time=None, coalesce=True, max_instances=1000,
        )

    async def _say_what_is_due(self) -> None:
        """What could be said is delivered, whatever became of the rest. Raises NotFired where there is a rest."""
        try:
            said, failed = await self._service.wake(go_on=lambda: self._awake), None
        except NotFired as error:
            said, failed = error.said, error
        if said:
            await self._deliver(said)
        if failed is not None:
            raise failed

    async def _fire(self) -> None:
        if self._one.locked() or not self._awake:       # whoever is at it looks again afterwards
            return
        async with self._one:
            if self._due is not None:
                self._late(max(0.0, (self._service.clock.now() - self._due).total_seconds()))
            try:
                await self._say_what_is_due()
            except Exception as error:      # the next look must come whatever happened in this one
                cause = error.__cause__ if isinstance(error, NotFired) else error
                log.error("what was due could not be sent; trying again soon", exc_info=cause)
                self._set(AFTER_A_FAULT)
                return
            self._asked = True
            while self._asked:      # a step may have ended while we looked what is due
                await self._arm()
