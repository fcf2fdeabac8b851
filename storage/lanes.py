"""A few threads for many lanes: what is in one lane is done one after another, as it came; lanes go side by side.

What lives here: whose turn it is in this process, and what becomes of a job told to whoever waits. No database.
"""
from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from threading import Condition, Thread
from typing import Any, Generic, Protocol, TypeVar

from bot.step import Refused
from storage.jobs import tell, why

SLOW = "That takes too long just now. Please send it again in a moment; nothing is done twice."


class Worker(Protocol):
    """What a thread works with, and nobody else.

    `wanted`: does anybody still wait for what it does just now? What was given up may be left undone, and who was told
    so can ask for it in other words.
    """

    wanted: Callable[[], bool]

    def close(self) -> None:
        """Let go."""


W = TypeVar("W", bound=Worker)


@dataclass(frozen=True, slots=True)
class Errand(Generic[W]):
    """`work` runs in a thread, with what that thread has."""

    work: Callable[[W], Any]
    future: asyncio.Future[Any]

    def wanted(self) -> bool:
        """Does anybody still wait for it?"""
        return not self.future.done()


class Lanes(Generic[W]):
    """One thread for each worker. `longest_s`: who waits so long is told so; what was not begun by then never is."""

    def __init__(self, workers: Sequence[W], longest_s: float = 60) -> None:
        self._longest_s = longest_s
        self._lanes: dict[Hashable, deque[Errand[W]]] = {}      # those in which something waits or is being done
        self._ready: deque[Hashable] = deque()                  # those in which something waits and nothing is done
        self._changed = Condition()
        self._closed = False
        self._threads = [Thread(target=self._run, args=(one,), name="sprung-store", daemon=True) for one in workers]
        for thread in self._threads:
            thread.start()

    def put(
        self, work: Callable[[W], Any], lane: Hashable | None = None, *, behind: Hashable | None = None,
        longest_s: float | None = None,
    ) -> asyncio.Future[Any]:
        """Queue it in a lane; with none, in one of its own. Raises Refused once all is closed.

        `behind`: another lane. While something is in that, it goes there. `longest_s`: where it may take longer.
        """
        loop = asyncio.get_running_loop()
        errand = Errand(work, loop.create_future())
        with self._changed:
            if self._closed:
                raise Refused("The store is closed.")
            chosen = behind if behind is not None and behind in self._lanes else lane
            chosen = object() if chosen is None else chosen
            waiting = self._lanes.get(chosen)
            if waiting is None:
                self._lanes[chosen] = deque((errand,))
                self._ready.append(chosen)
                self._changed.notify()
            else:
                waiting.append(errand)
        patience = loop.call_later(longest_s or self._longest_s, _give_up, errand.future)
        errand.future.add_done_callback(lambda _: patience.cancel())
        return errand.future

    def close(self) -> None:
        """Do all that is queued, and end the threads. Blocks."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()
        for thread in self._threads:
            thread.join()

    # --- in the threads ---

    def _run(self, worker: W) -> None:
        while (lane := self._next()) is not None:
            errand = self._lanes[lane][0]
            worker.wanted = errand.wanted
            value, error = _done(errand.work, worker) if errand.wanted() else (None, None)
            self._over(lane)
            tell([(errand, value, error)])
        worker.close()

    def _next(self) -> Hashable | None:
        """The lane that waits longest; None once there is nothing left and never will be."""
        with self._changed:
            self._changed.wait_for(lambda: self._ready or (self._closed and not self._lanes))
            return self._ready.popleft() if self._ready else None

    def _over(self, lane: Hashable) -> None:
        with self._changed:
            waiting = self._lanes[lane]
            waiting.popleft()
            if waiting:
                self._ready.append(lane)
                self._changed.notify()
            else:
                del self._lanes[lane]
                if self._closed and not self._lanes:
                    self._changed.notify_all()


def _give_up(future: asyncio.Future[Any]) -> None:
    if not future.done():
        future.set_exception(Refused(SLOW))


def _done(work: Callable[[W], Any], worker: W) -> tuple[Any, BaseException | None]:
    try:
        return work(worker), None
    except BaseException as error:      # this thread has to live on
        return None, why(error)
