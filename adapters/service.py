"""The service: what every adapter talks to. It stamps what is heard and lets the store take the step.

What lives here: the one way from an adapter to the dialogue, and how time passes for it. No state but
who wants to know that a step was taken.
"""
from __future__ import annotations

from collections.abc import AsyncIterator, Awaitable, Callable
from datetime import datetime
from uuid import uuid4

from adapters.clock import Clock
from bot.port import Store
from bot.step import Decide, Desk, Heard, Said, Wake, Want
from bot.talk import turn

Stepped = Callable[[], Awaitable[None]]
ROUNDS = 1000       # so many wakes at one instant can only be a fault of ours


class Service:
    """A store, a clock and the dialogue. Any number of adapters share one."""

    def __init__(
        self, store: Store, clock: Clock, decide: Decide = turn.step, wake: Wake = turn.wake,
        *, with_plans: Callable[[Desk], Desk] = lambda desk: desk,
    ) -> None:
        self.store = store
        self.clock = clock
        self._decide = decide
        self._wake = wake
        self._with_plans = with_plans
        self._stepped: list[Stepped] = []

    def when_stepped(self, told: Stepped) -> None:
        """Call this after each step, once all that it caused is durable."""
        self._stepped.append(told)

    async def hear(
        self,
        channel: str,
        sender: str,
        *,
        text: str | None = None,
        choice: str | None = None,
        id: str | None = None,
        sent_at: datetime | None = None,
        via: str = "",
    ) -> tuple[Said, ...]:
        """Handle one message once: the answers to its sender, the same again for the same id.

        `via`: the gateway that brought it, whose own the ids are, and through which this person is reached from now on.
        Raises `bot.step.Refused` with a sentence for the sender, and ValueError where the message has
        both a text and a choice, or neither. A fault of ours raises whatever it is; send the message again then.
        """
        if (text is None) == (choice is None):
            raise ValueError("a message has either a text or a choice")
        now = self.clock.now()
        heard = Heard(id or uuid4().hex, channel, sender, now, sent_at or now, text, choice, via)
        said = await self.store.step(heard, self._decide)
        for told in self._stepped:
            await told()
        return said

    async def desk(self, channel: str, sender: str, *wants: Want) -> Desk:
        """What somebody's next message would find: what a page may show them. Raises `bot.step.Refused`.

        `wants`: facts that are to be on it too.
        """
        return self._with_plans(await self.store.desk(channel, sender, self.clock.now(), wants))

    async def wake(self, now: datetime | None = None, go_on: Callable[[], bool] = lambda: True) -> tuple[Said, ...]:
        """Fire what is due by now; returns what was said, in order for each person. Raises `bot.port.NotFired`.

        `go_on`: asked now and then; where it says no, what is left stays due.
        """
        return await self.store.wake(now or self.clock.now(), self._wake, go_on)

    async def pass_time(self, until: datetime) -> AsyncIterator[tuple[datetime, tuple[Said, ...]]]:
        """Let time pass: each reminder on the way fires at its own time, in order.

        Yields each time at which something was said. The clock itself is the caller's to move.
        """
        last, rounds = None, 0
        while (due := await self.store.next_due()) is not None and due <= until:
            rounds = rounds + 1 if due == last else 0
            if rounds > ROUNDS:
                raise RuntimeError(f"what is due at {due} does not come to rest")
            last = due
            if said := await self.wake(due):
                yield due, said
