"""The bell: whoever waits for something to go out hears when to look."""
from __future__ import annotations

import asyncio
import contextlib


class Bell:
    """Rings for everybody who waits, and once for all when the program stops."""

    def __init__(self) -> None:
        self._next = asyncio.Event()
        self.stopped = False

    def ring(self) -> None:
        """There may be something new."""
        rung, self._next = self._next, asyncio.Event()
        rung.set()

    def stop(self) -> None:
        """Nobody shall wait any more."""
        self.stopped = True
        self.ring()

    def ringing(self) -> asyncio.Event:
        """What is set at the next ring. Take it before you look, or you miss what comes while you do."""
        return self._next

    async def wait(self, ringing: asyncio.Event, longest_s: float) -> None:
        """Wait for that ring, but not longer."""
        if not self.stopped:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(ringing.wait(), longest_s)
