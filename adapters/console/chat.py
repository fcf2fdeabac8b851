"""One person's talk at the console, with the other phones beside it."""
from __future__ import annotations

import asyncio
import logging
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from adapters.channel import Carries, fit
from adapters.clock import ShiftedClock
from adapters.console import CARRIES, CHANNEL
from adapters.console.keyboard import Keyboard
from adapters.console.post import Post
from adapters.console.saved import Saved
from adapters.console.screen import Screen
from adapters.console.waiting import NotSoLong, wait_of
from adapters.scheduler import Waker
from adapters.service import Service
from bot.people.model import Club, Person
from bot.port import NotFired, Outgoing
from bot.step import Refused, Said

BESIDE = Carries(choices=99, label=40, text=10_000)     # nobody types here on a phone that only shows
GOODBYE = "All that you said here is kept."
BAD_DAY = "Sorry, something went wrong here and that was not recorded. What came before is kept; please send it again."
LATELY = timedelta(hours=1)
LOOK_EVERY_S = 1.0      # how soon what another process let fall due shows here

log = logging.getLogger(__name__)


def address(club: str, phone: str) -> str:
    """Where somebody is on this channel."""
    return f"{club}/{phone}"


class Console:
    """A phone at the console. `beside`: show the other phones too."""

    def __init__(
        self, service: Service, screen: Screen, keyboard: Keyboard, club: Club, phone: str, *, beside: bool = False,
    ) -> None:
        self._service = service
        self._screen = screen
        self._keyboard = keyboard
        self._club = club
        self._phone = phone
        self._beside = beside
        self._address = address(club.id, phone)
        self._people: Mapping[str, Person] = {}
        self._post = Post(service.store)
        self._saved = Saved(service)
        self._one = asyncio.Lock()
        self._waker = Waker(service, self._woken)

    async def run(self) -> None:
        """Talk until the lines end."""
        await self._post.begin()
        since = max(self._service.clock.now() - LATELY, await self._last_answered())
        for one in await self._post.lately(since, (CHANNEL, self._address)):
            await self._show(one)
        await self._waker.start()
        others = asyncio.create_task(self._look_again())
        try:
            while (line := await self._keyboard.read()) is not None:
                await self._handle(line)
        finally:
            others.cancel()
            await self._waker.stop()
            self._saved.close()

    async def _handle(self, line: str) -> None:
        """One line. Whatever goes wrong in it is a sentence, and the talk goes on."""
        if not self._keyboard.tty:
            self._screen.typed(self._phone, line)
        try:
            await self._obey(line.strip())
        except (Refused, NotSoLong) as told:
            self._screen.note(str(told))
        except Exception:
            log.exception("a line could not be handled")
            self._screen.note(BAD_DAY)

    async def _obey(self, line: str) -> None:
        if not line:
            return
        clock = self._service.clock
        until = wait_of(line, clock.now(), self._club.tz) if isinstance(clock, ShiftedClock) else None
        if until is not None and isinstance(clock, ShiftedClock):
            await self._wait(clock, until)
            return
        for one in await self._service.hear(CHANNEL, self._address, text=line):
            await self._mine(one)
        try:
            await self._service.wake()
        except NotFired as failed:      # what was typed is recorded, and what is due comes when the waker looks again
            log.error("what was due could not be said", exc_info=failed.__cause__)
        await self.look()

    async def _wait(self, clock: ShiftedClock, until: datetime) -> None:
        """Let time pass at once; what falls due on the way comes at its own time."""
        async for _ in self._service.pass_time(until):
            await self.look()
        clock.skip(until - clock.now())
        self._screen.note(f"It is {self._screen.clock(clock.now())}.")
        await self._waker.arm()

    async def _mine(self, said: Said) -> None:
        message = fit(said, CARRIES)
        self._screen.mine(said.at, message)
        for saved in await self._saved.save(said, message):
            self._screen.note(saved)

    # --- what comes unasked ------------------------------------------------------------------------

    async def _last_answered(self) -> datetime:
        """When this phone was last answered: what came before that was seen then."""
        store, long_ago = self._service.store, datetime.min.replace(tzinfo=UTC)
        desk = await store.desk(CHANNEL, self._address, self._service.clock.now())
        if desk.club is None or desk.me is None:
            return long_ago
        said = await store.said(desk.club.id, desk.me.id, 0)
        return max((one.at for one in said if one.in_reply_to is not None), default=long_ago)

    async def look(self) -> None:
        """Show what came unasked, perhaps while somebody is typing."""
        async with self._one:
            come = [one for one in await self._post.new() if self._shows(one)]
            typed = self._keyboard.so_far if come and self._keyboard.waiting else None
            if typed is not None:
                self._screen.over_the_prompt(typed)
            for one in come:
                await self._show(one)
            if typed is not None:
                self._screen.prompt_again(typed)

    async def _woken(self, _: tuple[Said, ...]) -> None:
        await self.look()

    async def _look_again(self) -> None:
        """Look now and then for what another process on the same database did."""
        while True:
            await asyncio.sleep(LOOK_EVERY_S)
            try:
                await self.look()
                await self._waker.arm()
            except Exception:       # a database that is busy, say: the next look will do
                log.exception("could not look for what is new")

    def _shows(self, one: Outgoing) -> bool:
        return (CHANNEL, self._address) in one[2] or (self._beside and one[1].club == self._club.id)

    async def _show(self, one: Outgoing) -> None:
        _, said, reach = one
        if (CHANNEL, self._address) in reach:
            await self._mine(said)
        else:
            self._screen.beside(await self._owner(said.person), said.at, fit(said, BESIDE))

    async def _owner(self, person: str) -> str:
        if person not in self._people:
            self._people = {one.id: one for one in await self._service.store.people(self._club.id)}
        known = self._people.get(person)
        if known is not None and known.role == "parent":
            return "A parent's phone"
        return f"{known.first_name if known else person}'s phone"
