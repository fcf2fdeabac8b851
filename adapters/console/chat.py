"""One person's talk at the console, with the other phones beside it."""
from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import timedelta

from adapters.channel import Carries, fit
from adapters.clock import span_of
from adapters.console.keyboard import Keyboard
from adapters.console.screen import Screen
from adapters.scheduler import Waker
from adapters.service import Service
from bot.people.model import Club, Person
from bot.step import Refused, Said

CHANNEL = "console"
CARRIES = Carries(choices=99, label=40, text=10_000, numbered=True)
BESIDE = Carries(choices=99, label=40, text=10_000)     # nobody types here on a phone that only shows
GOODBYE = "Everything you marked is kept."
BAD_DAY = "Sorry, something went wrong here and that was not recorded. What came before is kept; please send it again."
LONGEST_WAIT = timedelta(days=366)

log = logging.getLogger(__name__)


def address(club: str, person: str) -> str:
    """Where somebody is on this channel."""
    return f"{club}/{person}"


class Console:
    """A person at the console. `beside`: show other people's phones too; `clock_moves`: `wait 2m` is understood."""

    def __init__(
        self, service: Service, screen: Screen, keyboard: Keyboard, club: Club, me: Person,
        *, beside: bool = False, clock_moves: bool = False,
    ) -> None:
        self._service = service
        self._screen = screen
        self._keyboard = keyboard
        self._club = club
        self._me = me
        self._beside = beside
        self._clock_moves = clock_moves
        self._people: Mapping[str, Person] = {me.id: me}
        self._waker = Waker(service, self._unasked)

    async def run(self) -> None:
        """Talk until the lines end."""
        await self._service.store.meet(CHANNEL, address(self._club.id, self._me.id), self._club.id, self._me.id)
        await self._waker.start()
        try:
            while (line := await self._keyboard.read()) is not None:
                await self._handle(line)
        finally:
            await self._waker.stop()

    async def _handle(self, line: str) -> None:
        """One line. Whatever goes wrong in it is a sentence, and the talk goes on."""
        if not self._keyboard.tty:
            self._screen.typed(self._me.first_name.lower(), line)
        try:
            await self._obey(line.strip())
        except Refused as refused:
            self._screen.note(str(refused))
        except Exception:
            log.exception("a line could not be handled")
            self._screen.note(BAD_DAY)

    async def _obey(self, line: str) -> None:
        if not line:
            return
        word, _, rest = line.partition(" ")
        span = span_of(rest.strip()) if self._clock_moves and word.lower() == "wait" else None
        if span is not None:
            await self._wait(min(span, LONGEST_WAIT))
            return
        sender = address(self._club.id, self._me.id)
        await self._show(await self._service.hear(CHANNEL, sender, text=line))
        await self._show(await self._service.wake())

    async def _wait(self, span: timedelta) -> None:
        """Let that much time pass at once; what falls due on the way comes at its own time."""
        clock = self._service.clock
        async for _, said in self._service.pass_time(clock.now() + span):
            await self._show(said)
        clock.skip(span)        # type: ignore[attr-defined]
        self._screen.note(f"It is {self._screen.clock(clock.now())}.")
        await self._waker.arm()

    async def _unasked(self, said: tuple[Said, ...]) -> None:
        """What fell due by itself, perhaps while somebody is typing."""
        at_prompt = self._keyboard.waiting
        if at_prompt:
            self._screen.over_the_prompt()
        await self._show(said)
        if at_prompt:
            self._screen.prompt_again(self._keyboard.so_far)

    async def _show(self, said: tuple[Said, ...]) -> None:
        for one in said:
            if one.club == self._club.id and one.person == self._me.id:
                self._screen.mine(one.at, fit(one, CARRIES))
            elif self._beside and one.club == self._club.id:
                self._screen.beside(await self._owner(one.person), one.at, fit(one, BESIDE))

    async def _owner(self, person: str) -> str:
        if person not in self._people:
            self._people = {one.id: one for one in await self._service.store.people(self._club.id)}
        known = self._people.get(person)
        return known.first_name if known else person
