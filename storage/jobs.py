"""The one thread that writes: messages in the order in which they came, several to a commit.

What lives here: the queue, and what a batch means for each message in it. Messages share a transaction
without savepoints as long as all goes well. Where rows can't be written the batch is rolled back and
replayed with a savepoint for each, so that only the message that can't be written fails. A message whose
decision raises has written nothing yet and fails alone anyway. Nobody hears before the commit.
"""
from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from queue import Empty, SimpleQueue
from threading import Thread
from time import perf_counter
from typing import Any, Protocol

from bot.step import Refused
from storage.pad import Broken
from storage.shelf import Shelf, Written

LOG = logging.getLogger("sprung.storage")
BATCH = 64
NOT_SAVED = "That could not be saved just now. Please send it again in a moment."


class Outcome(Protocol):
    """What a job's plan comes to."""

    @property
    def value(self) -> Any: ...

    @property
    def written(self) -> Written | None: ...

    @property
    def error(self) -> Exception | None: ...


@dataclass(frozen=True, slots=True)
class Job:
    """`plan` reads and decides; what it asks for is written. `message`: its id, where it is one.

    `shared`: it may share a commit.
    """

    plan: Callable[[Shelf], Outcome]
    future: asyncio.Future[Any]
    message: str | None = None
    shared: bool = False


class Transactions(Protocol):
    """What the thread needs of a database. Every method runs in the thread."""

    @property
    def shelf(self) -> Shelf: ...

    def begin(self) -> None:
        """Begin, and trust only what is still so."""

    def commit(self) -> None:
        """Write what waits, durably."""

    def rollback(self) -> None:
        """As if nothing had been since `begin`."""

    def expect(self, messages: list[str]) -> None:
        """These messages are going to be looked up."""

    def alone(self, work: Callable[[], Any]) -> Any:
        """Do some work, all of it written or none, within the transaction."""

    def intact(self) -> bool:
        """Is the transaction still the one that was begun? A database may end it when a statement fails."""

    def reason(self, error: BaseException) -> str:
        """Why nothing could be written, for whoever looks after the program."""

    def close(self) -> None:
        """Let go."""


Settled = tuple[Job, Any, BaseException | None]


class Jobs:
    """Hands jobs to the thread, and what became of them back to whoever waits."""

    def __init__(self, database: Transactions) -> None:
        self._database = database
        self._queue: SimpleQueue[Job | None] = SimpleQueue()
        self._thread = Thread(target=self._run, name="sprung-writer", daemon=True)
        self._closed = False
        self._failing = False       # nothing of the last batch could be written
        self.timed: Callable[[float], None] = lambda seconds: None     # hears how long each commit with a write took
        self._thread.start()

    def put(
        self, plan: Callable[[Shelf], Outcome], message: str | None = None, *, shared: bool = False,
    ) -> asyncio.Future[Any]:
        """Queue a job; a message shares its commit anyway. Raises Refused once the store is closed."""
        if self._closed:
            raise Refused("The store is closed.")
        future = asyncio.get_running_loop().create_future()
        self._queue.put(Job(plan, future, message, shared or message is not None))
        return future

    def close(self) -> None:
        """Finish what is queued, and end the thread. Blocks."""
        if not self._closed:
            self._closed = True
            self._queue.put(None)
        self._thread.join()

    # --- in the thread ---

    def _run(self) -> None:
        job = self._queue.get()
        while job is not None:
            batch, job = self._drain(job)
            tell(self._settle(batch))
            job = job or self._queue.get()
        self._database.close()
        while not self._queue.empty():      # came in while we were closing
            late = self._queue.get()
            if late is not None:
                tell([(late, None, Refused("The store is closed."))])

    def _drain(self, first: Job) -> tuple[list[Job], Job | None]:
        """What can share a commit with the first, and the job that can't and comes next."""
        batch = [first]
        while len(batch) < BATCH and batch[-1].shared:
            try:
                job = self._queue.get_nowait()
            except Empty:
                break
            if job is None:
                self._queue.put(None)       # nothing comes after the end
                break
            if not job.shared:
                return batch, job
            batch.append(job)
        return batch, None

    def _settle(self, batch: list[Job]) -> list[Settled]:
        for attempt in (self._together, self._one_by_one)[:len(batch)]:
            try:
                settled = attempt(batch)
            except Exception as error:
                self._rollback()
                failed = error
            else:
                self._note(None)
                return settled
        self._note(failed)
        return [(job, None, why(failed)) for job in batch]

    def _note(self, failed: Exception | None) -> None:
        """Say once that nothing can be written, and once that it can be again."""
        if failed is not None and not self._failing:
            LOG.error("nothing can be saved, and whoever writes is told so: %s", self._database.reason(failed))
        elif failed is None and self._failing:
            LOG.warning("it can be saved again")
        self._failing = failed is not None

    def _rollback(self) -> None:
        try:
            self._database.rollback()
        except Exception:                   # the next transaction will say so too; whoever waits must be told
            LOG.exception("a transaction could not be rolled back")

    def _commit(self, wrote: bool) -> None:
        began = perf_counter()
        self._database.commit()
        if wrote:
            self.timed(perf_counter() - began)

    def _together(self, batch: list[Job]) -> list[Settled]:
        """All in one transaction; raises where one of them can't be written."""
        database, wrote = self._database, False
        settled: list[Settled] = []
        database.begin()
        database.expect([job.message for job in batch if job.message is not None])
        for job in batch:
            try:
                done = job.plan(database.shelf)
            except Broken:
                raise
            except BaseException as error:  # nothing of it is written yet; this thread has to live on
                settled.append((job, None, why(error)))
                continue
            if done.written is not None:
                database.shelf.keep(done.written)
                wrote = True
            settled.append((job, done.value, done.error and why(done.error)))
        self._commit(wrote)
        return settled

    def _one_by_one(self, batch: list[Job]) -> list[Settled]:
        """All in one transaction, each behind a savepoint."""
        database = self._database
        settled: list[Settled] = []
        database.begin()
        for job in batch:
            try:
                done = database.alone(partial(_whole, job, database.shelf))
                settled.append((job, done.value, done.error and why(done.error)))
            except BaseException as error:
                if not database.intact():
                    raise               # what was done before it is gone too
                settled.append((job, None, why(error)))
        self._commit(True)
        return settled


def _whole(job: Job, shelf: Shelf) -> Outcome:
    done = job.plan(shelf)
    if done.written is not None:
        shelf.keep(done.written)
    return done


def why(error: BaseException) -> BaseException:
    """What the sender hears: a sentence where rows could not be written, else the mistake itself."""
    if isinstance(error, StopIteration):
        return RuntimeError("a step raised StopIteration")      # which no future can hold
    if isinstance(error, Broken):
        refused = Refused(NOT_SAVED)
        refused.__cause__ = error.__cause__
        return refused
    return error


class Waiting(Protocol):
    """Somebody waits for what becomes of it."""

    @property
    def future(self) -> asyncio.Future[Any]: ...


def tell(settled: Sequence[tuple[Waiting, Any, BaseException | None]]) -> None:
    """Let the futures know, in their own loops."""
    loops: dict[asyncio.AbstractEventLoop, list[tuple[Waiting, Any, BaseException | None]]] = {}
    for one in settled:
        loops.setdefault(one[0].future.get_loop(), []).append(one)
    for loop, several in loops.items():
        try:
            loop.call_soon_threadsafe(_set, several)
        except RuntimeError:
            continue                        # that loop is closed: nobody waits any more


def _set(settled: list[tuple[Waiting, Any, BaseException | None]]) -> None:
    for job, value, error in settled:
        if job.future.done():
            continue                        # whoever waited has gone; what was written stays written
        if error is None:
            job.future.set_result(value)
        else:
            job.future.set_exception(error)
