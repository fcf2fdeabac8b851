"""The port that every channel's adapter fulfils. Adapters register in the entry-point group `sprung.adapters`."""
from __future__ import annotations

from collections.abc import Awaitable
from typing import Protocol

from adapters.channel import Carries, Rendered
from bot.step import Said

GROUP = "sprung.adapters"


class Undelivered(Exception):
    """The channel could not take the message just now; it stays at the head of that person's queue."""


class Hear(Protocol):
    """What an adapter is given to hand on what it heard: `Service.hear`."""

    def __call__(
        self, channel: str, sender: str, *, text: str | None = None, choice: str | None = None, id: str | None = None,
    ) -> Awaitable[tuple[Said, ...]]:
        """Handle a message once; returns the answers to its sender, all of it durable."""


class Adapter(Protocol):
    """A way in and out: a messenger, the console, a gateway."""

    @property
    def channel(self) -> str:
        """The name of the channel, the same in every message that comes through it."""

    @property
    def carries(self) -> Carries:
        """What one message on this channel can carry."""

    async def run(self, hear: Hear) -> None:
        """Hand on what people send, in order for each person, until cancelled. Answers are delivered here."""

    async def deliver(self, address: str, message: Rendered) -> None:
        """Deliver an unasked message. Raises Undelivered where it should be tried again later."""
